package firm

import (
	"fmt"

	"vernation/scheduler"
	"vernation/scheduler/civil"
)

// OpeningWish is a question of the office about one follow-up.
type OpeningWish struct {
	Item  scheduler.ItemID
	Days  int // from today on; 0 is as a plan usually looks ahead
	Asked scheduler.Asked
}

// FoundOpenings are the openings of a follow-up with what it takes to say them: the site's zone and the names of the crew.
type FoundOpenings struct {
	scheduler.Ranked
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
