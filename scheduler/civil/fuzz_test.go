package civil_test

import (
	"testing"

	"vernation/scheduler/civil"
)

func FuzzParse_ReadsWhatItWrites(f *testing.F) {
	for _, text := range []string{"2026-03-08", "07:30", "32:00", "07:30:15", "48:00", "2026-03-08T06:28:00Z", "2026-03-08T06:28:00.9-05:00", "1970-01-01"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if d, err := civil.ParseDate(text); err == nil && !d.IsZero() && d.String() != text {
			t.Errorf("date %q is written %q", text, d)
		}
		if c, err := civil.ParseClock(text); err == nil {
			if again, err := civil.ParseClock(c.String()); err != nil || again != c || c < 0 || c > civil.MaxClock {
				t.Errorf("clock time %q is %v, read again as %v, %v", text, c, again, err)
			}
		}
		if i, err := civil.ParseInstant(text); err == nil && !i.IsZero() {
			if again, err := civil.ParseInstant(i.String()); err != nil || again != i {
				t.Errorf("instant %q is %v, read again as %v, %v", text, i, again, err)
			}
		}
	})
}
