package week

import (
	"time"

	"vernation/scheduler"
	"vernation/scheduler/travel"
)

// Measured is what a plan comes to.
type Measured struct {
	FollowUps, PlannedFollowUps int
	// Riding are the planned follow-ups that begin on a visit on which a service is done too.
	Riding int
	// Services are the occurrences that the plan holds or names as unplanned.
	Services, PlannedServices int
	Routes, Visits            int
	Metres                    int64         // driven; 0 where the Problem does not know
	Driven                    time.Duration // between places, at each technician's speed
	Worked                    time.Duration // from departure to return without the break
}

// RidingPercent is the share of the planned follow-ups that ride on a service visit, 0 to 100; 0 without any.
func (m Measured) RidingPercent() float64 {
	if m.PlannedFollowUps == 0 {
		return 0
	}
	return 100 * float64(m.Riding) / float64(m.PlannedFollowUps)
}

// Measure says what a plan of a Problem comes to. It counts; it does not judge: that is scheduler.Check's.
func Measure(p scheduler.Problem, plan scheduler.Plan) Measured {
	m := Measured{FollowUps: len(p.FollowUps), Routes: len(plan.Routes)}
	follow := map[scheduler.ItemID]bool{}
	for _, f := range p.FollowUps {
		follow[f.ID] = true
	}
	crew := map[scheduler.TechnicianID]*scheduler.Technician{}
	for i := range p.Technicians {
		crew[p.Technicians[i].ID] = &p.Technicians[i]
	}
	place := map[travel.PlaceID]int{}
	for i, id := range p.Travel.Places {
		place[id] = i
	}
	seen := map[scheduler.ItemID]bool{}
	for _, route := range plan.Routes {
		m.Visits += len(route.Visits)
		m.Worked += route.Returns.Sub(route.Departs) - route.Break.Length()
		t := crew[route.Technician]
		at := place[t.Base]
		for _, visit := range route.Visits {
			m.count(visit, follow, seen)
			m.drive(&p.Travel, t, at, place[travel.PlaceID(visit.Site)])
			at = place[travel.PlaceID(visit.Site)]
		}
		m.drive(&p.Travel, t, at, place[t.Base])
	}
	m.Services = m.PlannedServices
	for _, u := range plan.Unplanned {
		if !follow[u.Item] {
			m.Services++
		}
	}
	return m
}

// count counts the items of a visit that begin with it.
func (m *Measured) count(visit scheduler.Visit, follow, seen map[scheduler.ItemID]bool) {
	served := false
	for _, w := range visit.Work {
		served = served || w.Service != ""
	}
	for _, w := range visit.Work {
		switch {
		case seen[w.Item]:
		case !follow[w.Item]:
			m.PlannedServices++
		default:
			m.PlannedFollowUps++
			if served {
				m.Riding++
			}
		}
		seen[w.Item] = true
	}
}

func (m *Measured) drive(matrix *travel.Matrix, t *scheduler.Technician, from, to int) {
	entry := from*len(matrix.Places) + to
	if len(matrix.Metres) > 0 {
		m.Metres += int64(matrix.Metres[entry])
	}
	seconds := (int64(matrix.Seconds[entry])*100 + int64(t.SpeedPercent) - 1) / int64(t.SpeedPercent)
	m.Driven += time.Duration(seconds) * time.Second
}
