// Package dilution answers: how much concentrate in how much water, read off which marks?
//
// LabelLimits reads a label, Fill chooses a finished volume and a dose that vessel and measure can show and that
// never pass the label, Mixes says which applications of a day route share a mix, MakeSheet writes what the person
// who mixes reads, and Strength, AboveLabel and Balance judge what was reported afterwards. Household computes
// the dilutions that are passed on by word of mouth; whether they are lawful is not decided here.
//
// All arithmetic is exact; rounding happens only when a number is shown. The package knows no route, no stock
// and no clock beyond the instants it is given, and no product: numbers come from labels.
package dilution
