// Package quantity answers: how much exactly, and in whose units?
//
// Volumes, rates and shares are exact rationals, so that three quarters of a fluid
// ounce in a 32 ounce sprayer is compared with a label and not with its rounding.
// A unit always says whose it is: "US fl oz" and "imp fl oz" are different units and
// a bare "fl oz" is refused. "1:N" always says which of two things it means.
//
// Rates are kept as the label writes them: by volume (Rate: percent, parts, made up to, added to, from a stock), by weight in
// a volume, for a volume of pot, by number of organisms, for a surface. Each has its reverse.
//
// Units: NIST Handbook 44, Appendix C (US gallon 231 cubic inches = 3.785 411 784 L);
// the imperial gallon is 4.546 09 L by definition; the pound is 0.453 592 37 kg, the foot 0.3048 m.
package quantity
