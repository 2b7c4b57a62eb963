// Package dilution answers: how much concentrate in how much water, read off which marks?
//
// It chooses a finished volume and a dose that vessel and measure can show, never above the
// label, and writes the mix sheet. All arithmetic is exact; rounding happens only when a
// number is shown. It knows no route and no clock beyond the instants it is given.
package dilution
