package reentry

import (
	"errors"
	"fmt"
	"time"

	"vernation/scheduler/catalogue"
)

// ErrUnknown says that a label's interval before entry is not known. Such an application is refused.
var ErrUnknown = errors.New("the interval before entry is unknown: read it from the label; no number is assumed for it")

// MaxKeepOut bounds an interval before entry.
const MaxKeepOut = 60 * 24 * time.Hour

// Resolve turns a label's interval into the time for which an area stays shut after the END of an application:
// keepOut when the whole interval lies in ventilation hours, unventilated when any of it does not.
//
// Until dry takes the business's least time for the method, scaled by factorPercent where ventilation is off
// (100 or more; 150 is half as long again). Hours are the label's, whatever the ventilation. None needed gives
// 0 and 0, which shut nothing. Unknown is ErrUnknown. Every other error says which field is wrong.
func Resolve(entry catalogue.Entry, method catalogue.Method, untilDry map[catalogue.Method]time.Duration, factorPercent int) (keepOut, unventilated time.Duration, err error) {
	switch entry.Kind {
	case catalogue.EntryHours:
		keepOut, unventilated = entry.Hours, entry.Hours
		if keepOut <= 0 {
			return 0, 0, fmt.Errorf("interval of %v: want more than nothing; where none is needed say %q and why", keepOut, catalogue.EntryNone)
		}
	case catalogue.EntryUntilDry:
		if factorPercent < 100 {
			return 0, 0, fmt.Errorf("factor of %d percent where ventilation is off: want 100 or more", factorPercent)
		}
		keepOut = untilDry[method]
		if keepOut <= 0 {
			return 0, 0, fmt.Errorf("until dry by %q: the policy has no least time for this method: want one", method)
		}
		unventilated = wholeSeconds(keepOut * time.Duration(factorPercent) / 100)
	case catalogue.EntryNone:
		if entry.Reason == "" {
			return 0, 0, errors.New("no interval needed, without a reason: want the label's or the method's reason")
		}
		return 0, 0, nil
	case catalogue.EntryUnknown, "":
		return 0, 0, ErrUnknown
	default:
		return 0, 0, fmt.Errorf("interval of kind %q: want %q, %q, %q or %q", entry.Kind,
			catalogue.EntryHours, catalogue.EntryUntilDry, catalogue.EntryNone, catalogue.EntryUnknown)
	}
	if unventilated > MaxKeepOut {
		return 0, 0, fmt.Errorf("interval of %v: want %v at most", unventilated, MaxKeepOut)
	}
	return wholeSeconds(keepOut), unventilated, nil
}

// wholeSeconds rounds up, the safe side for an interval.
func wholeSeconds(d time.Duration) time.Duration {
	seconds := d.Truncate(time.Second)
	if seconds < d {
		seconds += time.Second
	}
	return seconds
}
