package civil

import (
	"fmt"
	"time"
	_ "time/tzdata" // the zone database travels in the binary
)

// Window is a stretch of wall-clock time [Opens, Closes) of the day on which it opens.
type Window struct {
	Opens  Clock `json:"opens"`
	Closes Clock `json:"closes"`
}

// Validate says what is wrong with the window, or nil.
func (w Window) Validate() error {
	switch {
	case w.Opens < 0 || w.Opens >= secondsPerDay:
		return fmt.Errorf("window opens at %v: want 00:00 to 23:59:59", w.Opens)
	case w.Closes <= w.Opens:
		return fmt.Errorf("window from %v to %v ends as it begins or before: want it to close later (past midnight is written 24:00 and on)", w.Opens, w.Closes)
	case w.Closes > MaxClock:
		return fmt.Errorf("window closes at %v: want 48:00 at most", w.Closes)
	}
	return nil
}

// Weekly is a window that opens on the same days of every week.
type Weekly struct {
	Days   []Weekday `json:"days"`
	Window `yaml:",inline"`
}

// Exception replaces the windows that would open on one date. No windows means shut all day.
type Exception struct {
	On      Date     `json:"on"`
	Windows []Window `json:"windows,omitempty"`
}

// Calendar says when something is open (access), occupied (people's hours) or running (ventilation).
// The zero Calendar is never open.
type Calendar struct {
	// Always is open at every instant; Weekly and Exceptions are then empty.
	Always     bool        `json:"always,omitempty"`
	Weekly     []Weekly    `json:"weekly,omitempty"`
	Exceptions []Exception `json:"exceptions,omitempty"`
}

// EntryError is what is wrong with one entry of a calendar.
type EntryError struct {
	Entry string // "weekly[0]", "exceptions[2]"; "" is the calendar as a whole
	Err   error
}

// Error writes "weekly[0]: …".
func (e *EntryError) Error() string {
	if e.Entry == "" {
		return e.Err.Error()
	}
	return e.Entry + ": " + e.Err.Error()
}

// Unwrap returns what is wrong without the entry's name.
func (e *EntryError) Unwrap() error { return e.Err }

// Validate says what is wrong with the calendar, or nil. The error names the entry.
func (c Calendar) Validate() error {
	if faults := c.Faults(); len(faults) > 0 {
		return faults[0]
	}
	return nil
}

// Faults returns everything that is wrong with the calendar, entry by entry; empty when nothing is.
func (c Calendar) Faults() []*EntryError {
	var faults []*EntryError
	add := func(entry, format string, args ...any) {
		faults = append(faults, &EntryError{entry, fmt.Errorf(format, args...)})
	}
	if c.Always && (len(c.Weekly) > 0 || len(c.Exceptions) > 0) {
		add("", "always and windows at once: want one or the other")
	}
	for i, weekly := range c.Weekly {
		entry := fmt.Sprintf("weekly[%d]", i)
		if len(weekly.Days) == 0 {
			add(entry, "no days: want at least one such as mon")
		}
		for _, day := range weekly.Days {
			if day < 0 || int(day) >= len(weekdayNames) {
				add(entry, "%v is no day of the week", day)
			}
		}
		if err := weekly.Validate(); err != nil {
			add(entry, "%w", err)
		}
	}
	dates := map[Date]bool{}
	for i, exception := range c.Exceptions {
		entry := fmt.Sprintf("exceptions[%d]", i)
		if exception.On.IsZero() || dates[exception.On] {
			add(entry, "date %q is missing or there twice", exception.On)
		}
		dates[exception.On] = true
		for _, w := range exception.Windows {
			if err := w.Validate(); err != nil {
				add(entry, "%w", err)
			}
		}
	}
	return faults
}

// WindowsOn returns the windows that open on a date; for an Always calendar the whole day.
func (c Calendar) WindowsOn(d Date) []Window {
	if c.Always {
		return []Window{{0, secondsPerDay}}
	}
	for _, exception := range c.Exceptions {
		if exception.On == d {
			return exception.Windows
		}
	}
	var windows []Window
	for _, weekly := range c.Weekly {
		for _, day := range weekly.Days {
			if day == d.Weekday() {
				windows = append(windows, weekly.Window)
			}
		}
	}
	return windows
}

// Open returns the unbroken runs of open instants within a span, merged and clipped to it.
func (c Calendar) Open(z Zone, span Interval) []Interval {
	if span.Empty() {
		return nil
	}
	if c.Always {
		return []Interval{span}
	}
	var runs []Interval
	// A window opened two days before may still be open: it closes by 48:00 of the wall clock.
	for d := z.DateOf(span.From).AddDays(-2); d <= z.DateOf(span.To).AddDays(1); d++ {
		for _, w := range c.WindowsOn(d) {
			runs = append(runs, z.Runs(d, w)...)
		}
	}
	return Intersect(Merge(runs), []Interval{span})
}

// Runs returns the instants at which the zone's wall clock reads inside a window of a date:
// one run as a rule, two where clocks go back inside it, none where it lies in a skipped hour.
func (z Zone) Runs(d Date, w Window) []Interval {
	midnight := int64(d) * secondsPerDay // of the wall clock, as if it were UTC
	from := Instant(midnight + int64(w.Opens) - maxOffsetSeconds)
	to := Instant(midnight + int64(w.Closes) + maxOffsetSeconds)
	var runs []Interval
	for t := from; t < to; {
		at := time.Unix(int64(t), 0).In(z.Location())
		_, offset := at.Zone()
		_, zoneEnds := at.ZoneBounds()
		end := to
		if !zoneEnds.IsZero() {
			end = min(end, Instant(zoneEnds.Unix()))
		}
		run := Interval{
			From: max(t, Instant(midnight+int64(w.Opens)-int64(offset))),
			To:   min(end, Instant(midnight+int64(w.Closes)-int64(offset))),
		}
		if !run.Empty() {
			runs = append(runs, run)
		}
		t = end
	}
	return Merge(runs)
}

// maxOffsetSeconds is more than any zone has ever been from UTC (under 16 hours).
const maxOffsetSeconds = 26 * 60 * 60
