// Package dilution answers: how much concentrate in how much water, read off which marks?
//
// LabelLimits reads a label. Fill, FillPowder and FillOrganisms choose a finished volume and a dose that vessel and measure
// can show and that never pass the label; FillInTwo goes through a stock where one dose is too small to read; DrawFrom
// takes what is ready to use from its containers before it expires. Mixes says which applications of one product share a
// mix, Route the same for several products and vessels with the fewest mixes and rinses. MakeSheet writes what the person
// who mixes reads, MakeLoadList what is loaded for a day. Strength, AboveLabel and Account judge what was reported
// afterwards. Household computes the dilutions that are passed on by word of mouth; whether they are lawful is not
// decided here.
//
// All arithmetic is exact; rounding happens only when a number is shown. The package knows no travel, no stock beyond the
// containers it is given and no clock beyond the instants it is given, and no product: numbers come from labels.
package dilution
