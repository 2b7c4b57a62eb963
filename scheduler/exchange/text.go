package exchange

import (
	"encoding"
	"fmt"
	"math/big"
	"reflect"
	"regexp"
	"strings"
	"time"

	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
)

// timeUnits are the units of a duration, longest first, by their SI symbols.
var timeUnits = []struct {
	symbol string
	length time.Duration
}{{"h", time.Hour}, {"min", time.Minute}, {"s", time.Second}}

var durationText = regexp.MustCompile(`^(-?(?:0|[1-9][0-9]{0,15})(?:\.[0-9]{1,12})?) (h|min|s)$`)

// formatDuration writes a duration exactly: "90 min", "4 h", "1.5 s".
func formatDuration(d time.Duration) string {
	for _, unit := range timeUnits {
		if d%unit.length == 0 && d != 0 {
			return fmt.Sprintf("%d %s", d/unit.length, unit.symbol)
		}
	}
	return quantity.Decimal(big.NewRat(int64(d), int64(time.Second)), 9) + " s"
}

// parseDuration reads a number and one of h, min and s.
func parseDuration(text string) (time.Duration, error) {
	parts := durationText.FindStringSubmatch(text)
	if parts == nil {
		return 0, fmt.Errorf("duration %q: want a number and one of h, min and s, such as 90 min", text)
	}
	number, _ := new(big.Rat).SetString(parts[1])
	for _, unit := range timeUnits {
		if unit.symbol == parts[2] {
			number.Mul(number, big.NewRat(int64(unit.length), 1))
		}
	}
	if !number.IsInt() || !number.Num().IsInt64() {
		return 0, fmt.Errorf("duration %q: want whole nanoseconds, and no more than 292 years", text)
	}
	return time.Duration(number.Num().Int64()), nil
}

// parseText reads a text into a value whose type reads texts. What stands for an unset value is refused: such a field is
// left out.
func parseText(into reflect.Value, text string) error {
	if into.Type() == durationType {
		d, err := parseDuration(text)
		into.SetInt(int64(d))
		return err
	}
	if err := into.Addr().Interface().(encoding.TextUnmarshaler).UnmarshalText([]byte(text)); err != nil {
		return err
	}
	switch value := into.Interface().(type) {
	case civil.Instant:
		return properInstant(value, text)
	case civil.Date:
		if value.IsZero() {
			return fmt.Errorf("date %q: want one that is not 1970-01-01, which stands for an unset one; leave the field out", text)
		}
	case quantity.Mass:
		if _, err := quantity.ParseMass(value.Exact()); err != nil {
			return fmt.Errorf("mass %q: want fewer digits", text)
		}
	case quantity.Surface:
		if _, err := quantity.ParseSurface(value.Exact()); err != nil {
			return fmt.Errorf("surface %q: want fewer digits", text)
		}
	case quantity.Volume:
		if _, err := quantity.ParseVolume(value.Exact()); err != nil {
			return fmt.Errorf("volume %q: want fewer digits", text)
		}
	}
	return nil
}

func properInstant(i civil.Instant, text string) error {
	year := i.Time().Year()
	switch {
	case i.IsZero():
		return fmt.Errorf("instant %q: want one that is not 1970-01-01T00:00:00Z, which stands for an unset one; leave the field out", text)
	case strings.ContainsAny(text, ".,"):
		return fmt.Errorf("instant %q: want whole seconds", text)
	case year < 1 || year > 9999:
		return fmt.Errorf("instant %q: want a year of 1 to 9999 in UTC", text)
	}
	return nil
}
