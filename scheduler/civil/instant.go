package civil

import (
	"fmt"
	"time"
)

// Instant is a moment of absolute time in whole seconds since 1970-01-01T00:00:00Z.
// The zero Instant means "unset" wherever a field says that it may be unset.
type Instant int64

// InstantOf cuts a time to whole seconds.
func InstantOf(t time.Time) Instant { return Instant(t.Unix()) }

// ParseInstant reads RFC 3339 text such as 2026-03-02T17:00:00Z; fractions of a second are cut.
func ParseInstant(text string) (Instant, error) {
	t, err := time.Parse(time.RFC3339, text)
	if err != nil {
		return 0, fmt.Errorf("instant %q: want RFC 3339 such as 2026-03-02T17:00:00Z", text)
	}
	return InstantOf(t), nil
}

// IsZero says whether the instant is unset.
func (i Instant) IsZero() bool { return i == 0 }

// Add returns the instant so much later, in whole seconds.
func (i Instant) Add(d time.Duration) Instant { return i + Instant(d/time.Second) }

// Sub returns the time from the earlier instant to this one.
func (i Instant) Sub(earlier Instant) time.Duration { return time.Duration(i-earlier) * time.Second }

// Time returns the instant in UTC.
func (i Instant) Time() time.Time { return time.Unix(int64(i), 0).UTC() }

// String writes RFC 3339 in UTC, or "" when unset.
func (i Instant) String() string {
	if i == 0 {
		return ""
	}
	return i.Time().Format(time.RFC3339)
}

// MarshalText writes the instant as String does.
func (i Instant) MarshalText() ([]byte, error) { return []byte(i.String()), nil }

// UnmarshalText reads what ParseInstant reads; an empty text is the unset instant.
func (i *Instant) UnmarshalText(text []byte) error {
	if len(text) == 0 {
		*i = 0
		return nil
	}
	parsed, err := ParseInstant(string(text))
	if err != nil {
		return err
	}
	*i = parsed
	return nil
}

// Zone is a time zone of the IANA database, such as America/New_York. The zero Zone is UTC.
type Zone struct{ location *time.Location }

// LoadZone finds a zone by its IANA name. "Local" and "" are refused: a plan must not depend on a machine.
func LoadZone(name string) (Zone, error) {
	if name == "" || name == "Local" {
		return Zone{}, fmt.Errorf("time zone %q: want a name of the IANA database such as America/New_York", name)
	}
	location, err := time.LoadLocation(name)
	if err != nil {
		return Zone{}, fmt.Errorf("time zone %q does not exist: want a name of the IANA database such as America/New_York", name)
	}
	return Zone{location}, nil
}

// Name returns the IANA name.
func (z Zone) Name() string { return z.Location().String() }

// String returns the IANA name.
func (z Zone) String() string { return z.Name() }

// Location returns the zone for the standard library.
func (z Zone) Location() *time.Location {
	if z.location == nil {
		return time.UTC
	}
	return z.location
}

// Equal says whether two zones have the same name.
func (z Zone) Equal(other Zone) bool { return z.Name() == other.Name() }

// MarshalText writes the IANA name.
func (z Zone) MarshalText() ([]byte, error) { return []byte(z.Name()), nil }

// UnmarshalText reads what LoadZone reads.
func (z *Zone) UnmarshalText(text []byte) error {
	parsed, err := LoadZone(string(text))
	if err != nil {
		return err
	}
	*z = parsed
	return nil
}

// DateOf returns the civil date that the wall clock of the zone shows at an instant.
func (z Zone) DateOf(i Instant) Date {
	year, month, day := time.Unix(int64(i), 0).In(z.Location()).Date()
	return NewDate(year, month, day)
}

// ClockOf returns the clock time that the wall clock of the zone shows at an instant.
func (z Zone) ClockOf(i Instant) Clock {
	h, m, s := time.Unix(int64(i), 0).In(z.Location()).Clock()
	return Clock(h*3600 + m*60 + s)
}

// At returns the first instant at which the zone's wall clock reads the date and clock time or later;
// so a time that the change of clocks skips is the instant of the change.
func (z Zone) At(d Date, c Clock) Instant {
	runs := z.Runs(d, Window{Opens: c, Closes: MaxClock + secondsPerDay})
	return runs[0].From
}

// Format writes an instant for people: "Tue 3 Mar 19:30".
func (z Zone) Format(i Instant) string {
	return time.Unix(int64(i), 0).In(z.Location()).Format("Mon 2 Jan 15:04")
}

// FormatClock writes the clock time of an instant for people: "19:30".
func (z Zone) FormatClock(i Instant) string {
	return time.Unix(int64(i), 0).In(z.Location()).Format("15:04")
}
