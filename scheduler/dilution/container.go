package dilution

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
)

// ErrContainers says that the containers do not hold what is needed on that day.
var ErrContainers = errors.New("the containers do not hold enough")

// Container is a container of a product with what is left in it: ready to use, or a concentrate's bottle.
type Container struct {
	ID      string              `json:"id"`
	Product catalogue.ProductID `json:"product"`
	Left    quantity.Volume     `json:"left"`
	// ExpiresOn is the last day printed on it. Unset is unknown, and then nothing is drawn: read it off the container.
	ExpiresOn civil.Date `json:"expires_on"`
	// OpenedOn and KeepsOpenDays shorten that: it is used for so many days from the day it was opened; 0 days is no limit stated.
	OpenedOn      civil.Date `json:"opened_on,omitempty"`
	KeepsOpenDays int        `json:"keeps_open_days,omitempty"`
}

// LastDay returns the last day on which the container may be used; unset when that is not known.
func (c Container) LastDay() civil.Date {
	last := c.ExpiresOn
	if !c.OpenedOn.IsZero() && c.KeepsOpenDays > 0 {
		last = min(last, c.OpenedOn.AddDays(c.KeepsOpenDays))
	}
	return last
}

// Draw is an amount taken from a container.
type Draw struct {
	Container string          `json:"container"`
	Amount    quantity.Volume `json:"amount"`
}

// DrawFrom takes needs of one product, in order, from its containers on a day: first what expires first, then the one with
// least left, then by id, so that open ones are emptied and nothing past its day is used. Draws[i] serves needs[i];
// left are the containers of the product afterwards, in the order of use, those that may not be used included.
//
// Errors: ErrContainers, which says how much is missing and which containers may not be used and why.
func DrawFrom(needs []quantity.Volume, product catalogue.ProductID, on civil.Date, containers []Container) (draws [][]Draw, left []Container, err error) {
	var usable, barred []Container
	for _, c := range containers {
		switch {
		case c.Product != product || c.Left.Sign() <= 0:
		case c.ExpiresOn.IsZero() || c.LastDay() < on:
			barred = append(barred, c)
		default:
			usable = append(usable, c)
		}
	}
	slices.SortStableFunc(usable, func(a, b Container) int {
		return cmp.Or(cmp.Compare(a.LastDay(), b.LastDay()), a.Left.Cmp(b.Left), cmp.Compare(a.ID, b.ID))
	})
	next := 0
	for i, need := range needs {
		if need.Sign() <= 0 {
			return nil, nil, fmt.Errorf("need %d of %v: want more than nothing", i, need)
		}
		var drawn []Draw
		for ; need.Sign() > 0 && next < len(usable); next++ {
			c := &usable[next]
			take := need
			if take.Cmp(c.Left) > 0 {
				take = c.Left
			}
			drawn = append(drawn, Draw{c.ID, take})
			need, c.Left = need.Sub(take), c.Left.Sub(take)
			if c.Left.Sign() > 0 {
				break
			}
		}
		if need.Sign() > 0 {
			return nil, nil, fmt.Errorf("%w: %v of %s is missing on %v%s", ErrContainers, need, product, on, whyBarred(barred))
		}
		draws = append(draws, drawn)
	}
	return draws, append(usable, barred...), nil
}

func whyBarred(barred []Container) string {
	if len(barred) == 0 {
		return ": want another container"
	}
	reasons := make([]string, len(barred))
	for i, c := range barred {
		reasons[i] = fmt.Sprintf("%s was to be used until %v", c.ID, c.LastDay())
		if c.ExpiresOn.IsZero() {
			reasons[i] = c.ID + " has no expiry recorded: read it off the container"
		}
	}
	return "; not used: " + strings.Join(reasons, ", ")
}
