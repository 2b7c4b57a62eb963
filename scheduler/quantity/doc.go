// Package quantity answers: how much exactly, and in whose units?
//
// Volumes, rates and shares are exact rationals, so that three quarters of a fluid
// ounce in a 32 ounce sprayer is compared with a label and not with its rounding.
// A unit always says whose it is: "US fl oz" and "imp fl oz" are different units and
// a bare "fl oz" is refused. "1:N" always says which of two things it means.
//
// Units: NIST Handbook 44, Appendix C (US gallon 231 cubic inches = 3.785 411 784 L);
// the imperial gallon is 4.546 09 L by definition.
package quantity
