package scheduler

import (
	"slices"

	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
)

// ChangeKind is a kind of change that may let a follow-up into a plan.
type ChangeKind string

// The kinds of change, those that ask least of others first.
const (
	OtherWay      ChangeKind = "other-way"       // one of its lawful ways: nothing changes
	LaterDay      ChangeKind = "later-day"       // it stands some days longer
	Evening       ChangeKind = "evening"         // people leave earlier on one day
	ConsentToShut ChangeKind = "consent-to-shut" // the client agrees to shut areas for a while
	LicenceFor    ChangeKind = "licence"         // one technician gets one licence
	LargerVessel  ChangeKind = "larger-vessel"   // one technician gets a larger vessel
)

// ChangeKinds lists the kinds in the order in which they are proposed.
var ChangeKinds = [...]ChangeKind{OtherWay, LaterDay, Evening, ConsentToShut, LicenceFor, LargerVessel}

// Change is the smallest single change of its kind that lets a follow-up into a plan. Apply makes it.
type Change struct {
	Kind     ChangeKind `json:"kind"`
	FollowUp ItemID     `json:"follow_up"`
	// Text says the change for people, and what it would lead to.
	Text string `json:"text"`
	// Days is how much longer the follow-up stands (LaterDay).
	Days int `json:"days,omitempty"`
	// Site and Areas are where people leave earlier (Evening) or are kept out (ConsentToShut).
	Site  site.ID       `json:"site,omitempty"`
	Areas []site.AreaID `json:"areas,omitempty"`
	// On and Leave are the day, and the clock time of the site by which people have left (Evening).
	On    civil.Date  `json:"on,omitempty"`
	Leave civil.Clock `json:"leave,omitempty"`
	// Shut is for how long (ConsentToShut).
	Shut civil.Interval `json:"shut"`
	// Technician gets Licence (LicenceFor), or Vessel in the place of that of the same id (LargerVessel).
	Technician TechnicianID `json:"technician,omitempty"`
	Licence    *Licence     `json:"licence,omitempty"`
	Vessel     *Vessel      `json:"vessel,omitempty"`
	// Delay is what the day of Opening costs the case.
	Delay quantity.Money `json:"delay"`
	// Opening is the cheapest that the change lets in.
	Opening Opening `json:"opening"`
}

// Apply returns the Problem with the change made; the given one stays as it is.
func (ch *Change) Apply(p Problem) Problem {
	switch ch.Kind {
	case LaterDay:
		p.FollowUps = slices.Clone(p.FollowUps)
		for i := range p.FollowUps {
			if f := &p.FollowUps[i]; f.ID == ch.FollowUp {
				f.Due = standsLonger(f.Due, ch.Days)
			}
		}
	case Evening, ConsentToShut:
		p.Sites = slices.Clone(p.Sites)
		for i := range p.Sites {
			if p.Sites[i].ID == ch.Site {
				p.Sites[i] = ch.atSite(p.Sites[i])
			}
		}
	case LicenceFor, LargerVessel:
		p.Technicians = slices.Clone(p.Technicians)
		for i := range p.Technicians {
			if p.Technicians[i].ID == ch.Technician {
				p.Technicians[i] = ch.forTechnician(p.Technicians[i])
			}
		}
	case OtherWay:
	}
	return p
}

// standsLonger lets a follow-up stand some days longer.
func standsLonger(d Due, days int) Due {
	if !d.StandsUntilOn.IsZero() {
		d.StandsUntilOn = d.StandsUntilOn.AddDays(days)
	}
	if d.StandsUntilLag > 0 {
		d.StandsUntilLag += days
	}
	return d
}

func (ch *Change) atSite(s site.Site) site.Site {
	if ch.Kind == ConsentToShut {
		s.Agreement.ShutAreas = slices.Clone(s.Agreement.ShutAreas)
		for _, area := range ch.Areas {
			s.Agreement.ShutAreas = append(s.Agreement.ShutAreas, site.ShutArea{Area: area, From: ch.Shut.From, To: ch.Shut.To})
		}
		return s
	}
	s.Areas = slices.Clone(s.Areas)
	for a := range s.Areas {
		if slices.Contains(ch.Areas, s.Areas[a].ID) {
			s.Areas[a].People = leftBy(s.Areas[a].People, ch.On, ch.Leave)
		}
	}
	return s
}

// leftBy cuts people's hours of one day at a clock time.
func leftBy(people civil.Calendar, on civil.Date, leave civil.Clock) civil.Calendar {
	cut := civil.Exception{On: on}
	for _, w := range people.WindowsOn(on) {
		if w.Closes = min(w.Closes, leave); w.Opens < w.Closes {
			cut.Windows = append(cut.Windows, w)
		}
	}
	people.Exceptions = slices.DeleteFunc(slices.Clone(people.Exceptions), func(e civil.Exception) bool { return e.On == on })
	people.Exceptions = append(people.Exceptions, cut)
	return people
}

func (ch *Change) forTechnician(t Technician) Technician {
	if ch.Licence != nil {
		t.Licences = append(slices.Clone(t.Licences), *ch.Licence)
	}
	if ch.Vessel != nil {
		t.Vessels = slices.Clone(t.Vessels)
		for v := range t.Vessels {
			if t.Vessels[v].ID == ch.Vessel.ID {
				t.Vessels[v] = *ch.Vessel
			}
		}
	}
	return t
}
