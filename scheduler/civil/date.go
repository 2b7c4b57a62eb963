package civil

import (
	"fmt"
	"time"
)

// Date is a day of the calendar without a zone, counted in days since 1970-01-01.
// The zero Date means "unset" wherever a field says that it may be unset.
type Date int32

// NewDate returns the date of a year, month and day; days past the end of a month run on.
func NewDate(year int, month time.Month, day int) Date {
	return Date(time.Date(year, month, day, 0, 0, 0, 0, time.UTC).Unix() / secondsPerDay)
}

// ParseDate reads "2026-03-02".
func ParseDate(text string) (Date, error) {
	t, err := time.Parse(time.DateOnly, text)
	if err != nil {
		return 0, fmt.Errorf("date %q: want year-month-day such as 2026-03-02", text)
	}
	return Date(t.Unix() / secondsPerDay), nil
}

// IsZero says whether the date is unset.
func (d Date) IsZero() bool { return d == 0 }

// AddDays returns the date so many days later (earlier when negative).
func (d Date) AddDays(days int) Date { return d + Date(days) }

// DaysSince returns the number of days from the earlier date to this one.
func (d Date) DaysSince(earlier Date) int { return int(d - earlier) }

// Weekday returns the day of the week.
func (d Date) Weekday() Weekday { return Weekday(d.time().Weekday()) }

// YearMonthDay returns the parts of the date.
func (d Date) YearMonthDay() (year int, month time.Month, day int) { return d.time().Date() }

// String writes "2026-03-02", or "" when unset.
func (d Date) String() string {
	if d == 0 {
		return ""
	}
	return d.time().Format(time.DateOnly)
}

// Short writes "Mon 2 Mar" for people.
func (d Date) Short() string { return d.time().Format("Mon 2 Jan") }

// MarshalText writes the date as String does.
func (d Date) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads "2026-03-02"; an empty text is the unset date.
func (d *Date) UnmarshalText(text []byte) error {
	if len(text) == 0 {
		*d = 0
		return nil
	}
	parsed, err := ParseDate(string(text))
	if err != nil {
		return err
	}
	*d = parsed
	return nil
}

func (d Date) time() time.Time { return time.Unix(int64(d)*secondsPerDay, 0).UTC() }

const secondsPerDay = 24 * 60 * 60

// Weekday is a day of the week, Sunday = 0, written "mon" in data.
type Weekday int8

var weekdayNames = [...]string{"sun", "mon", "tue", "wed", "thu", "fri", "sat"}

// String writes the day in the three letters used in data.
func (w Weekday) String() string {
	if w < 0 || int(w) >= len(weekdayNames) {
		return fmt.Sprintf("weekday(%d)", int8(w))
	}
	return weekdayNames[w]
}

// MarshalText writes the day as String does.
func (w Weekday) MarshalText() ([]byte, error) { return []byte(w.String()), nil }

// UnmarshalText reads "mon".
func (w *Weekday) UnmarshalText(text []byte) error {
	for i, name := range weekdayNames {
		if name == string(text) {
			*w = Weekday(i)
			return nil
		}
	}
	return fmt.Errorf("weekday %q: want one of sun, mon, tue, wed, thu, fri, sat", text)
}

// Clock is a time of day in seconds since midnight. It may pass 24:00, up to 48:00,
// where it closes a window that opened the day before.
type Clock int32

// MaxClock is the latest closing of a window: the end of the day after it opened.
const MaxClock Clock = 2 * secondsPerDay

// NewClock returns the clock time of an hour (0 to 48) and minute.
func NewClock(hour, minute int) Clock { return Clock(hour*3600 + minute*60) }

// ParseClock reads "07:30", "24:00", "32:00" or "07:30:15".
func ParseClock(text string) (Clock, error) {
	var parts [3]int // hours, minutes, seconds
	shape := len(text) == len("07:30") || len(text) == len("07:30:15")
	for i := 0; i < len(text) && shape; i++ {
		if i%3 == 2 {
			shape = text[i] == ':'
			continue
		}
		digit := int(text[i]) - '0'
		shape = digit >= 0 && digit <= 9
		parts[i/3] = parts[i/3]*10 + digit
	}
	h, m, s := parts[0], parts[1], parts[2]
	if !shape || m > 59 || s > 59 {
		return 0, fmt.Errorf("clock time %q: want hours and minutes such as 07:30 or 22:00", text)
	}
	c := Clock(h*3600 + m*60 + s)
	if c > MaxClock {
		return 0, fmt.Errorf("clock time %q: later than 48:00", text)
	}
	return c, nil
}

// String writes "07:30", with seconds only where there are any.
func (c Clock) String() string {
	if c%60 != 0 {
		return fmt.Sprintf("%02d:%02d:%02d", c/3600, c/60%60, c%60)
	}
	return fmt.Sprintf("%02d:%02d", c/3600, c/60%60)
}

// MarshalText writes the clock time as String does.
func (c Clock) MarshalText() ([]byte, error) { return []byte(c.String()), nil }

// UnmarshalText reads what ParseClock reads.
func (c *Clock) UnmarshalText(text []byte) error {
	parsed, err := ParseClock(string(text))
	if err != nil {
		return err
	}
	*c = parsed
	return nil
}
