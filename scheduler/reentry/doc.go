// Package reentry answers: which areas are shut by an application, until when, and when may it begin?
//
// Absolute time throughout: a keep-out survives midnight and the change of clocks. The
// interval has one of four values; an unknown one is refused and no number is assumed.
package reentry
