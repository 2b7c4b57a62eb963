// Package reentry answers: which areas are shut by an application, until when, and when may it begin?
//
// Needed is the keep-out rule in whole: how long an application of a product shuts an area, by its label and by law. It
// is made of Resolve, which turns a label's interval into times (so many hours, until dry, none needed; an unknown one is
// refused and no number is assumed), of LeastByLaw, the least interval that law publishes, and of Longest, which holds
// the one against the other. ByToxicity gives the agricultural default where that rule governs.
//
// Interval and KeepOuts say what a treatment shuts: its area, those open to it and those behind any of these, from its
// beginning until the interval after its END. Beginnings is the reverse: all instants at which it may begin so that no
// hour with people overlaps that, unless the client agreed to shut the area.
//
// Absolute time throughout: a keep-out survives midnight and the change of clocks. The package knows no access,
// shift or notice, and that somebody confirmed a surface dry never lengthens or shortens anything here.
package reentry
