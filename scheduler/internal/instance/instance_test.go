package instance_test

import (
	"testing"

	"vernation/scheduler/internal/instance"
)

// Three days of which the second has 23 hours, as where clocks go forward.
var site = instance.Site{FirstMidnight: -1, Midnights: []instance.Seconds{-86_400, 0, 82_800, 169_200}}

func TestDayOf_FollowsTheMidnightsOfTheZone(t *testing.T) {
	t.Parallel()
	for at, want := range map[instance.Seconds]instance.Day{-86_400: -1, -1: -1, 0: 0, 82_799: 0, 82_800: 1, 169_199: 1, 169_200: 2} {
		if day := site.DayOf(at); day != want {
			t.Errorf("second %d lies on day %d, want %d", at, day, want)
		}
	}
}

func TestMidnight_IsFarPastTheKnownDays(t *testing.T) {
	t.Parallel()
	for day, want := range map[instance.Day]instance.Seconds{-9: -86_400, -1: -86_400, 1: 82_800, 2: 169_200, 3: instance.Far} {
		if at := site.Midnight(day); at != want {
			t.Errorf("day %d begins at %d, want %d", day, at, want)
		}
	}
}

func TestPriceOf_HoldsPastItsEnd(t *testing.T) {
	t.Parallel()
	item := instance.Item{Price: []instance.Cost{0, 10, 30}}
	for days, want := range map[instance.Day]instance.Cost{-1: 0, 0: 0, 1: 10, 2: 30, 9: 30} {
		if price := item.PriceOf(days); price != want {
			t.Errorf("%d days late cost %d, want %d", days, price, want)
		}
	}
	if price := (&instance.Item{}).PriceOf(5); price != 0 {
		t.Errorf("an item without prices costs %d, want nothing", price)
	}
}
