// Package civil answers: which instants does a wall-clock rule mean?
//
// It knows dates, clock times, time zones and windows of opening. Everything
// that a plan compares is an Instant, whole seconds of absolute time, and every
// interval is half open: [From, To). Touching is not overlapping.
//
// A window belongs to the day on which it opens and may close after 24:00. An
// instant is in a window when the wall clock of the zone reads inside it; so the
// night in which clocks go forward has an hour less, the one in which they go back
// an hour more, and a window that lies in a repeated hour is met twice.
//
// The package has no clock of its own. The time zone database travels in the binary.
package civil
