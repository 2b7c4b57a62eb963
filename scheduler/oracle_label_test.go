package scheduler_test

import (
	"cmp"
	"slices"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
)

// given is one application to one plant: of its history (act -1) or of a timetable.
type given struct {
	act     int
	product *scheduler.Product
	began   int64
	on      civil.Date
}

// overTime: least days between two applications, days between incompatible ones, most in a row, most a year. Where it is
// the order of two of one day that is wrong, the other order mends it.
func (t *timetable) overTime(at []int64, _ []bool) ([]choice, bool) {
	if t.alone {
		return nil, false
	}
	for n := range t.o.p.Plants {
		plant := &t.o.p.Plants[n]
		series := t.given(at, plant)
		wrong := false
		for k := range series {
			wrong = wrong || series[k].act >= 0 && t.o.wrongInSeries(series, k)
		}
		if !wrong {
			continue
		}
		var choices []choice
		for k := range series {
			for _, later := range series[k+1:] {
				if first := series[k]; first.act >= 0 && later.act >= 0 {
					choices = append(choices, orEdge(edge{t.acts[later.act].node, t.acts[first.act].node, 0}))
				}
			}
		}
		return choices, true
	}
	return nil, false
}

// given lists what was and is applied to a plant, by beginning.
func (t *timetable) given(at []int64, plant *scheduler.PlantState) []given {
	var series []given
	zone := t.o.p.Zone
	for _, a := range plant.Applied {
		series = append(series, given{-1, t.o.product(a.Product), int64(a.Began), zone.DateOf(a.Began)})
	}
	for i := range t.acts {
		if a := &t.acts[i]; a.use != nil && slices.Contains(a.plants, plant.Plant.ID) {
			began := t.begins(at, i)
			series = append(series, given{i, t.o.product(a.use.Product), began, zone.DateOf(civil.Instant(began))})
		}
	}
	slices.SortStableFunc(series, func(a, b given) int { return cmp.Compare(a.began, b.began) })
	return series
}

// wrongInSeries says whether an application breaks the label in view of those before it.
func (o *oracle) wrongInSeries(series []given, k int) bool {
	this := series[k]
	row, year, broken := 0, 0, false
	for n := k; n >= 0; n-- {
		other := series[n]
		same := other.product.Material == this.product.Material
		days := this.on.DaysSince(other.on)
		if n < k && days < daysBetween(this.product, other.product) {
			return true
		}
		if same && days < 365 {
			year++
		}
		if counted := other.product.Form != catalogue.Device; counted || n == k {
			group := this.product.Label.ModeOfAction
			goesOn := same || group != "" && other.product.Label.ModeOfAction == group
			broken = broken || !goesOn
			if !broken {
				row++
			}
		}
	}
	label := &this.product.Label
	return label.MostInRow > 0 && row > label.MostInRow || label.MostAYear > 0 && year > label.MostAYear
}

// daysBetween is how many days two labels ask for between two applications to one plant.
func daysBetween(a, b *scheduler.Product) int {
	days := 0
	if a.Material == b.Material {
		days = max(a.Label.LeastDays, b.Label.LeastDays)
	}
	for _, pair := range [][2]*scheduler.Product{{a, b}, {b, a}} {
		for _, i := range pair[0].Label.Incompatible {
			if i.Material == pair[1].Material {
				days = max(days, i.Days)
			}
		}
	}
	return days
}

// lastWatering is how many days after a watering a plant is dry, and its last watering before the plan.
func (o *oracle) lastWatering(id site.PlantID) (latest int, last civil.Date) {
	plant := o.plant(id)
	latest, last = plant.Plant.Watering.Latest, plant.Plant.Watering.Last
	for i := range o.p.Services {
		s := &o.p.Services[i]
		if s.Kind == site.WateringService && slices.ContainsFunc(s.Groups, func(g site.Group) bool { return g.Plant == id }) {
			if latest == 0 {
				latest = s.Latest
			}
			last = max(last, s.Last)
		}
	}
	return latest, last
}

// lawfulAtAll says whether a label, the law, the agreement and the health of the plants allow an application whenever and
// by whomever it is made.
func (o *oracle) lawfulAtAll(f *scheduler.FollowUp, s *scheduler.Site, part *scheduler.Part) bool {
	use := part.Use
	product, area := o.product(use.Product), o.area(part.Area)
	if product == nil || area == nil {
		return false
	}
	label := &product.Label
	law := o.p.Materials[slices.IndexFunc(o.p.Materials, func(m scheduler.MaterialFacts) bool { return m.ID == product.Material })].Law
	kind := s.Kind
	if area.Kind != "" {
		kind = area.Kind
	}
	refused := law == catalogue.HouseholdRemedy && product.LawfulBecause[s.Jurisdiction] == "" ||
		law == catalogue.RegisteredProduct && (product.Registration == "" || !slices.Contains(product.Jurisdictions, s.Jurisdiction)) ||
		label.Entry.Kind == catalogue.EntryUnknown || use.Entry != label.Entry.Kind ||
		use.Entry == catalogue.EntryHours && use.KeepOut < label.Entry.Hours ||
		!slices.Contains(label.Places, kind) || !slices.Contains(label.Pests, f.Pest) ||
		slices.Contains(s.Agreement.RefusedMaterials, product.Material) || slices.Contains(s.Agreement.RefusedMethods, use.Method)
	for i := range s.Areas {
		near := &s.Areas[i]
		open := near.ID == area.ID || slices.Contains(near.OpenTo, area.ID) || slices.Contains(area.OpenTo, near.ID)
		for _, keep := range label.KeepAway {
			refused = refused || open && keep.Condition == "" && slices.Contains(near.Sensitive, keep.Thing)
		}
	}
	for _, id := range f.Plants {
		refused = refused || o.harms(product, o.plant(id))
	}
	return !refused
}

func (o *oracle) harms(product *scheduler.Product, plant *scheduler.PlantState) bool {
	verdict := catalogue.PatchTest
	for _, t := range plant.Tolerance {
		if t.Material == product.Material {
			verdict = t.Verdict
		}
	}
	if plant.Plant.NotInCare || verdict == catalogue.MustNot || slices.Contains(product.Label.MustNot, plant.Plant.Species) {
		return true
	}
	if product.Form == catalogue.Device {
		return false
	}
	return plant.Plant.InFlower && !product.Label.OpenFlowers || plant.Plant.Edible && !product.Label.EdiblePlants ||
		verdict == catalogue.PatchTest && !slices.Contains(plant.PatchTested, product.Material)
}

// licensedOn says whether a technician may apply a product in an area on a day.
func (o *oracle) licensedOn(t *scheduler.Technician, product *scheduler.Product, s *scheduler.Site, kind catalogue.PlaceKind, day civil.Date) bool {
	if len(product.Label.Categories) == 0 {
		return true
	}
	holds := func(t *scheduler.Technician, category string, under scheduler.TechnicianID) bool {
		return slices.ContainsFunc(t.Licences, func(l scheduler.Licence) bool {
			return l.Jurisdiction == s.Jurisdiction && l.Category == category && l.Under == under && l.From <= day && (l.To.IsZero() || day <= l.To)
		})
	}
	for _, category := range product.Label.Categories {
		covers := slices.ContainsFunc(o.p.Rules.Categories, func(c scheduler.CategoryCover) bool {
			return c.Jurisdiction == s.Jurisdiction && c.Category == category && slices.Contains(c.Covers, kind)
		})
		if !covers {
			continue
		}
		if holds(t, category, "") {
			return true
		}
		for i := range o.p.Technicians {
			boss := &o.p.Technicians[i]
			if boss.ID != t.ID && slices.Contains(o.p.Rules.Supervision, s.Jurisdiction) && holds(t, category, boss.ID) && holds(boss, category, "") {
				return true
			}
		}
	}
	return false
}

// beginnings are the instants at which a part may begin when a technician does it, by all that depends on the day and the
// hour but not on what else is planned.
func (o *oracle) beginnings(f *scheduler.FollowUp, w *scheduler.Way, part *scheduler.Part, t *scheduler.Technician) []civil.Interval {
	s, area := o.site(f.Site), o.area(part.Area)
	runs := []civil.Interval{o.span}
	if len(part.Windows) > 0 {
		runs = o.everyDay(s, part.Windows)
	}
	if w.Kind == scheduler.AtTreatmentPlace && area.Treatment != nil {
		runs = civil.Intersect(runs, fitting(area.Treatment.Hours.Open(s.Zone, o.span), part.Takes))
	}
	if part.Use == nil {
		return runs
	}
	product := o.product(part.Use.Product)
	if len(product.Label.Hours) > 0 {
		runs = civil.Intersect(runs, fitting(o.everyDay(s, product.Label.Hours), part.Takes))
	}
	runs = civil.Intersect(runs, o.announced(f, s))
	kind := s.Kind
	if area.Kind != "" {
		kind = area.Kind
	}
	return civil.Intersect(runs, o.daysOn(s, func(day civil.Date) bool {
		return o.licensedOn(t, product, s, kind, day) && consented(s, part.Use.Method, product.Material, day) && temperate(area, product, day) && o.apartFromHistory(f, product, day)
	}))
}

// fitting turns runs into the beginnings of what takes so long.
func fitting(runs []civil.Interval, takes time.Duration) []civil.Interval {
	var fit []civil.Interval
	for _, run := range runs {
		if last := run.To.Add(-takes) + 1; run.From < last {
			fit = append(fit, civil.Interval{From: run.From, To: last})
		}
	}
	return fit
}

func (o *oracle) everyDay(s *scheduler.Site, windows []civil.Window) []civil.Interval {
	var runs []civil.Interval
	for day := s.Zone.DateOf(o.span.From); day <= s.Zone.DateOf(o.span.To); day++ {
		for _, w := range windows {
			runs = append(runs, s.Zone.Runs(day, w)...)
		}
	}
	return civil.Merge(runs)
}

func (o *oracle) daysOn(s *scheduler.Site, holds func(civil.Date) bool) []civil.Interval {
	var runs []civil.Interval
	for day := s.Zone.DateOf(o.span.From); day <= s.Zone.DateOf(o.span.To); day++ {
		if holds(day) {
			runs = append(runs, civil.Interval{From: s.Zone.At(day, 0), To: s.Zone.At(day+1, 0)})
		}
	}
	return civil.Merge(runs)
}

func (o *oracle) announced(f *scheduler.FollowUp, s *scheduler.Site) []civil.Interval {
	rules := &o.p.Rules
	for _, notice := range rules.NoticeLead {
		if notice.Site != s.ID {
			continue
		}
		runs := []civil.Interval{{From: o.p.Now.Add(rules.PublishingDelay).Add(notice.Lead), To: o.span.To}}
		for _, sent := range o.p.Notices {
			if sent.Item == f.ID && !sent.Used {
				runs = append(runs, civil.Interval{From: sent.Begins.Add(-rules.NoticeTolerance), To: sent.Begins.Add(rules.NoticeTolerance) + 1})
			}
		}
		return civil.Merge(runs)
	}
	return []civil.Interval{o.span}
}

func consented(s *scheduler.Site, method catalogue.Method, material catalogue.MaterialID, day civil.Date) bool {
	return !slices.Contains(s.Agreement.ConsentNeeded, method) || slices.ContainsFunc(s.Agreement.Consents, func(c site.Consent) bool {
		return c.Method == method && (c.Material == "" || c.Material == material) && c.From <= day && (c.To.IsZero() || day <= c.To)
	})
}

func temperate(area *scheduler.Area, product *scheduler.Product, day civil.Date) bool {
	label := &product.Label
	season, known := area.Climate.On(day)
	return (label.MinCelsius == nil || known && season.Coldest >= *label.MinCelsius) &&
		(label.MaxCelsius == nil || known && season.Warmest <= *label.MaxCelsius)
}

func (o *oracle) apartFromHistory(f *scheduler.FollowUp, product *scheduler.Product, day civil.Date) bool {
	for _, id := range f.Plants {
		for _, a := range o.plant(id).Applied {
			if apart := day.DaysSince(o.p.Zone.DateOf(a.Began)); apart < daysBetween(product, o.product(a.Product)) {
				return false
			}
		}
	}
	return true
}
