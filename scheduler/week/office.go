package week

import (
	"slices"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
	"vernation/scheduler/travel"
)

// office plans by hand: it fills the days of its technicians one visit after another and never takes one back.
type office struct {
	p         *scheduler.Problem
	sites     map[site.ID]*site.Site
	plants    map[site.PlantID]*scheduler.PlantState
	products  map[catalogue.ProductID]*catalogue.Product
	followUps map[scheduler.ItemID]*scheduler.FollowUp
	services  map[scheduler.ItemID]*site.Service // by occurrence, once occurrences has listed them
	waterings map[site.PlantID][]scheduler.ItemID
	previous  map[scheduler.ItemID]scheduler.ItemID // the occurrence before another
	place     map[travel.PlaceID]int
	notice    map[site.ID]time.Duration
	replaces  map[string][]scheduler.ItemID           // service to the follow-ups that take plants out of it on their day
	instead   map[scheduler.ItemID][]string           // the other way round
	before    map[scheduler.ItemID][]scheduler.ItemID // what must be over before an item, where both are planned
	behind    map[scheduler.ItemID][]scheduler.ItemID

	days   []*day
	at     map[site.ID][]*day // days with a visit at a site
	done   map[scheduler.ItemID]civil.Instant
	placed map[scheduler.ItemID]stay
}

// stay is when and on which day an item is planned.
type stay struct {
	on           *day
	begins, ends civil.Instant
}

// day is one shift of a technician, its visits in order, and the day route that they make.
type day struct {
	technician *scheduler.Technician
	shift      scheduler.Shift
	stops      []stop
	route      scheduler.DayRoute
	keepOuts   []keepOut
}

// keepOut is a keep-out with all areas that it shuts.
type keepOut struct {
	scheduler.KeepOut
	shut []site.AreaID
}

// stop is a visit in the making. A trip of its own begins and ends at the base.
type stop struct {
	site  *site.Site
	items []scheduler.ItemID
	trip  bool
}

func newOffice(p *scheduler.Problem) *office {
	o := &office{
		p: p, sites: map[site.ID]*site.Site{}, plants: map[site.PlantID]*scheduler.PlantState{}, products: map[catalogue.ProductID]*catalogue.Product{},
		followUps: map[scheduler.ItemID]*scheduler.FollowUp{}, services: map[scheduler.ItemID]*site.Service{}, place: map[travel.PlaceID]int{}, previous: map[scheduler.ItemID]scheduler.ItemID{}, waterings: map[site.PlantID][]scheduler.ItemID{},
		notice: map[site.ID]time.Duration{}, replaces: map[string][]scheduler.ItemID{}, instead: map[scheduler.ItemID][]string{},
		before: map[scheduler.ItemID][]scheduler.ItemID{}, behind: map[scheduler.ItemID][]scheduler.ItemID{},
		at: map[site.ID][]*day{}, done: map[scheduler.ItemID]civil.Instant{}, placed: map[scheduler.ItemID]stay{},
	}
	for i := range p.Sites {
		o.sites[p.Sites[i].ID] = &p.Sites[i]
	}
	for i := range p.Plants {
		o.plants[p.Plants[i].Plant.ID] = &p.Plants[i]
	}
	for i := range p.Products {
		o.products[p.Products[i].ID] = &p.Products[i]
	}
	for i := range p.FollowUps {
		o.followUps[p.FollowUps[i].ID] = &p.FollowUps[i]
	}
	for i, id := range p.Travel.Places {
		o.place[id] = i
	}
	for _, notice := range p.Rules.NoticeLead {
		o.notice[notice.Site] = notice.Lead
	}
	for _, d := range p.Done {
		o.done[d.ID] = d.Began
	}
	o.link()
	for i := range p.Technicians {
		for _, shift := range p.Technicians[i].Shifts {
			o.days = append(o.days, &day{technician: &p.Technicians[i], shift: shift})
		}
	}
	slices.SortStableFunc(o.days, func(a, b *day) int { return int(a.shift.Day - b.shift.Day) })
	return o
}

func (o *office) link() {
	for _, link := range o.p.Links {
		switch link.Kind {
		case scheduler.InsteadOf:
			o.replaces[string(link.To)] = append(o.replaces[string(link.To)], link.From)
			o.instead[link.From] = append(o.instead[link.From], string(link.To))
		case scheduler.Order, scheduler.LeastLag, scheduler.Needs:
			o.before[link.To] = append(o.before[link.To], link.From)
			o.behind[link.From] = append(o.behind[link.From], link.To)
		}
	}
}

// occurrence is one time at which a service is asked for.
type occurrence struct {
	id      scheduler.ItemID
	service *site.Service
	ideal   civil.Date
}

// occurrences are the times at which the services are asked for, in the order of their ideal days.
func (o *office) occurrences() []occurrence {
	var all []occurrence
	last := o.p.FirstDay.AddDays(o.p.Days - 1)
	for i := range o.p.Services {
		s := &o.p.Services[i]
		ideal := s.Last.AddDays(s.Ideal)
		for n := 1; max(ideal, o.p.FirstDay) <= last; n++ {
			id := scheduler.OccurrenceID(s.ID, n)
			ideal = max(ideal, o.p.FirstDay)
			o.services[id], o.previous[id] = s, scheduler.OccurrenceID(s.ID, n-1)
			all = append(all, occurrence{id, s, ideal})
			for _, group := range s.Groups {
				if s.Kind == site.WateringService && !slices.Contains(o.waterings[group.Plant], id) {
					o.waterings[group.Plant] = append(o.waterings[group.Plant], id)
				}
			}
			ideal = ideal.AddDays(s.Ideal)
		}
	}
	slices.SortStableFunc(all, func(a, b occurrence) int { return int(a.ideal - b.ideal) })
	return all
}

// mayEnter says whether a technician may come to a site on a day at all: keys, and what is fixed by agreement.
func (o *office) mayEnter(d *day, s *site.Site) bool {
	agreement := s.Agreement
	weekday := d.shift.Day.Weekday()
	if agreement.TechnicianFixed && agreement.UsualTechnician != string(d.technician.ID) ||
		agreement.DayFixed && *agreement.UsualDay != weekday {
		return false
	}
	return !slices.ContainsFunc(s.Keys, func(key site.KeyID) bool {
		return !slices.ContainsFunc(d.technician.Keys, func(held scheduler.KeyHeld) bool {
			return held.Key == key && held.From <= d.shift.Day && (held.To.IsZero() || d.shift.Day <= held.To)
		})
	})
}

// mayApply says whether a technician holds a licence that a product's label asks for at a site, alone or under another.
func (o *office) mayApply(d *day, s *site.Site, product *catalogue.Product) bool {
	if len(product.Label.Categories) == 0 {
		return true
	}
	return slices.ContainsFunc(d.technician.Licences, func(l scheduler.Licence) bool {
		return l.Jurisdiction == s.Jurisdiction && slices.Contains(product.Label.Categories, l.Category) &&
			l.From <= d.shift.Day && (l.To.IsZero() || d.shift.Day <= l.To) &&
			(l.Under == "" || slices.Contains(o.p.Rules.Supervision, s.Jurisdiction)) &&
			slices.ContainsFunc(o.p.Rules.Categories, func(c scheduler.CategoryCover) bool {
				return c.Jurisdiction == l.Jurisdiction && c.Category == l.Category && slices.Contains(c.Covers, s.Kind)
			})
	})
}

// drive is how long a technician takes from one place to another.
func (o *office) drive(t *scheduler.Technician, from, to travel.PlaceID) time.Duration {
	seconds := int64(o.p.Travel.Seconds[o.place[from]*len(o.p.Travel.Places)+o.place[to]])
	return time.Duration((seconds*100+int64(t.SpeedPercent)-1)/int64(t.SpeedPercent)) * time.Second
}

// window is the first and the last day on which a follow-up may begin, in view of what is planned; ok is false while the item
// that it counts from is not.
func (o *office) window(f *scheduler.FollowUp) (earliest, until civil.Date, ok bool) {
	last := o.p.FirstDay.AddDays(o.p.Days - 1)
	earliest, until = f.Due.EarliestOn, f.Due.StandsUntilOn
	if f.Due.After != "" {
		began, done := o.done[f.Due.After]
		if before, planned := o.placed[f.Due.After]; planned {
			began, done = before.begins, true
		}
		if !done {
			return 0, 0, false
		}
		on := o.sites[f.Site].Zone.DateOf(began)
		earliest, until = on.AddDays(f.Due.EarliestLag), 0
		if f.Due.StandsUntilLag > 0 {
			until = on.AddDays(f.Due.StandsUntilLag)
		}
	}
	if until.IsZero() || until > last {
		until = last
	}
	return max(earliest, o.p.FirstDay), until, true
}

// try puts stops in the place of a day's, and keeps them when they make a lawful day route.
func (o *office) try(d *day, stops []stop) bool {
	made, ok := o.build(d, stops)
	if !ok {
		return false
	}
	for _, visit := range d.route.Visits {
		for _, w := range visit.Work {
			delete(o.placed, w.Item)
		}
	}
	d.stops, d.route, d.keepOuts = stops, made.route, made.keepOuts
	for id, stay := range made.stays {
		o.placed[id] = stay
	}
	for _, s := range stops {
		if !slices.Contains(o.at[s.site.ID], d) {
			o.at[s.site.ID] = append(o.at[s.site.ID], d)
		}
	}
	return true
}

// with are the stops of a day with an item added to one of them.
func (d *day) with(at int, item scheduler.ItemID) []stop {
	stops := slices.Clone(d.stops)
	stops[at].items = append(slices.Clone(stops[at].items), item)
	return stops
}

// inserted are the stops of a day with another at a position; nil where two visits at one site would follow one another.
func (d *day) inserted(at int, s stop) []stop {
	if at > 0 && d.stops[at-1].site == s.site || at < len(d.stops) && d.stops[at].site == s.site {
		return nil
	}
	return slices.Insert(slices.Clone(d.stops), at, s)
}
