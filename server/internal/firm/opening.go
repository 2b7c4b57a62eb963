package firm

import (
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"fmt"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
)

// OpeningWish is a question of the office about one follow-up.
type OpeningWish struct {
	Item  scheduler.ItemID
	Days  int // from today on; 0 is as a plan usually looks ahead
	Asked scheduler.Asked
}

// FoundOpenings are the openings of a follow-up with what it takes to say them, the site's zone and the names of the crew, and
// to name them: what was asked.
type FoundOpenings struct {
	scheduler.Ranked
	Wish  OpeningWish
	Zone  civil.Zone
	Names map[scheduler.TechnicianID]string
}

// Explained is what keeps a follow-up out with what it takes to say it.
type Explained struct {
	scheduler.Explanation
	Zone  civil.Zone
	Names map[scheduler.TechnicianID]string
}

// OpeningText says an opening for people: "Tue 3 Mar 19:30 by Technician A on a visit that is made anyway, adds 12.30; 1 visit
// arrives at another time".
func OpeningText(o scheduler.Opening, zone civil.Zone, names map[scheduler.TechnicianID]string) string {
	text := fmt.Sprintf("%s to %s by %s", zone.Format(o.Begins), zone.FormatClock(o.Ends), names[o.Technician])
	if o.Joins {
		text += " on a visit that is made anyway"
	}
	if o.Back != nil {
		text += fmt.Sprintf("; the plants are back %s by %s", zone.Format(o.Back.Ends), names[o.Back.Technician])
	}
	switch {
	case o.Added.Total < 0:
		text += fmt.Sprintf("; saves %v", -o.Added.Total)
	default:
		text += fmt.Sprintf("; adds %v", o.Added.Total)
	}
	if o.Delay > 0 {
		text += fmt.Sprintf(", of which the delay costs the case %v by the model's estimate", o.Delay)
	}
	switch n := len(o.Moves); {
	case n == 1:
		text += "; 1 published visit arrives at another time"
	case n > 1:
		text += fmt.Sprintf("; %d published visits arrive at another time", n)
	}
	return text
}

// OpeningMark names an opening so that it can be found again: what was asked, where it lies, and what it is.
type OpeningMark struct {
	Item  scheduler.ItemID `json:"item"`
	Days  int              `json:"days,omitempty"`
	Still bool             `json:"still,omitempty"`
	Slot  scheduler.Slot   `json:"slot"`
	// Is is a hash of all that the opening does: when, by whom, what moves, the day routes as they become, what it adds.
	Is []byte `json:"is"`
}

// MarkOf names an opening that was found for a wish.
func MarkOf(wish OpeningWish, o scheduler.Opening) OpeningMark {
	return OpeningMark{
		Item: wish.Item, Days: wish.Days, Still: wish.Asked.Still,
		Slot: scheduler.Slot{Technician: o.Technician, Begins: o.Begins, Way: o.Way}, Is: doing(o),
	}
}

// doing hashes what an opening does. Of money only the whole counts: how it is shared among visits is no part of what is told.
func doing(o scheduler.Opening) []byte {
	routes := make([]scheduler.DayRoute, len(o.Routes))
	for r, route := range o.Routes {
		route.Cost = scheduler.Cost{}
		route.Visits = append([]scheduler.Visit{}, route.Visits...)
		for v := range route.Visits {
			visit := &route.Visits[v]
			visit.Cost = scheduler.Cost{}
			visit.Work = append([]scheduler.WorkItem{}, visit.Work...)
			for w := range visit.Work {
				visit.Work[w].Cost = scheduler.Cost{}
			}
		}
		routes[r] = route
	}
	text, err := json.Marshal(struct {
		Opening scheduler.Opening
		Routes  []scheduler.DayRoute
		Added   quantity.Money
	}{scheduler.Opening{Technician: o.Technician, Day: o.Day, Begins: o.Begins, Ends: o.Ends, Site: o.Site, Way: o.Way, WayKind: o.WayKind,
		Joins: o.Joins, Back: o.Back, Moves: o.Moves}, routes, o.Added.Total})
	if err != nil {
		panic(fmt.Sprintf("an opening that cannot be written: %v", err))
	}
	sum := sha256.Sum256(text)
	return sum[:16]
}

// Token writes a mark as a text for callers.
func (m OpeningMark) Token() string {
	text, err := json.Marshal(m)
	if err != nil {
		panic(fmt.Sprintf("a mark that cannot be written: %v", err))
	}
	return base64.RawURLEncoding.EncodeToString(text)
}

// ReadOpeningMark reads a token; false where it is none.
func ReadOpeningMark(token string) (m OpeningMark, ok bool) {
	text, err := base64.RawURLEncoding.DecodeString(token)
	if err != nil || json.Unmarshal(text, &m) != nil {
		return OpeningMark{}, false
	}
	return m, m.Item != "" && m.Slot.Technician != "" && m.Days >= 0 && m.Days <= scheduler.MaxHorizonDays && len(m.Is) > 0
}

// BookedOpening is what a booked opening has made.
type BookedOpening struct {
	Visit scheduler.Visit
	Back  *scheduler.Visit // that carries plants back; nil where nothing is carried, or by the same visit
	Moves []scheduler.Move
}
