package scheduler

import (
	"fmt"
	"math"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/site"
	"vernation/scheduler/travel"
)

func (v *validator) sites() {
	ids, areas := unique[SiteID]{}, unique[AreaID]{}
	for i := range v.p.Sites {
		s, path := &v.p.Sites[i], fmt.Sprintf("sites[%d]", i)
		ids.add(v, s.ID, path+".id")
		known(v, v.place, travel.PlaceID(s.ID), path+".id", "the matrix's place")
		v.unless(s.Jurisdiction != "", path+".jurisdiction", ReasonMissing, "no jurisdiction: want a code such as US-PA")
		word(v, s.Kind, path+".kind", catalogue.PlaceKinds[:]...)
		v.read(s.Access.Validate(), path+".access")
		v.duration(s.SignIn, MaxShift, path+".sign_in")
		if s.Water.Area != "" {
			v.areaOf(s.ID, s.Water.Area, path+".water.area")
		}
		if h := s.Water.HardnessMgL; h != nil {
			v.unless(*h >= 0 && *h <= site.MaxHardnessMgL, path+".water.hardness_mg_l", ReasonRange, "%g mg/L: want 0 to %d, or none when unknown", *h, site.MaxHardnessMgL)
		}
		for k := range s.Areas {
			areas.add(v, s.Areas[k].ID, fmt.Sprintf("%s.areas[%d].id", path, k))
			v.area(s, &s.Areas[k], fmt.Sprintf("%s.areas[%d]", path, k))
		}
		v.reachable(s, path)
		v.agreement(s, path+".agreement")
		v.barred(s, path)
	}
}

// areaOf notes an area that is not of the site.
func (v *validator) areaOf(s SiteID, id AreaID, path string) {
	v.unless(id != "" && v.areaSite[id] == s, path, ReasonUnknown, "area %q is not one of site %q", id, s)
}

func (v *validator) area(s *Site, a *Area, path string) {
	if a.Kind != "" {
		word(v, a.Kind, path+".kind", catalogue.PlaceKinds[:]...)
	}
	v.read(a.People.Validate(), path+".people")
	v.read(a.Ventilation.Validate(), path+".ventilation")
	for i, id := range a.OpenTo {
		v.areaOf(s.ID, id, fmt.Sprintf("%s.open_to[%d]", path, i))
	}
	if a.ReachedOnlyThrough != "" {
		v.areaOf(s.ID, a.ReachedOnlyThrough, path+".reached_only_through")
	}
	for i, thing := range a.Sensitive {
		word(v, thing, fmt.Sprintf("%s.sensitive[%d]", path, i), catalogue.SensitiveThings[:]...)
	}
	for i, season := range a.Climate {
		at := fmt.Sprintf("%s.climate[%d]", path, i)
		finite := !math.IsNaN(season.Coldest+season.Usual+season.Warmest) && !math.IsInf(season.Coldest+season.Usual+season.Warmest, 0)
		v.unless(finite && season.Coldest <= season.Usual && season.Usual <= season.Warmest, at, ReasonOrder,
			"coldest %g, usual %g, warmest %g: want them to rise", season.Coldest, season.Usual, season.Warmest)
		for _, m := range season.Months {
			v.unless(m >= time.January && m <= time.December, at+".months", ReasonRange, "month %d: want 1 to 12", m)
		}
	}
	if h := a.Humidity; h != nil {
		v.unless(0 <= h.Least && h.Least <= h.Usual && h.Usual <= h.Greatest && h.Greatest <= 100, path+".humidity", ReasonOrder,
			"least %g, usual %g, greatest %g %%: want them to rise from 0 to 100", h.Least, h.Usual, h.Greatest)
	}
	if t := a.Treatment; t != nil {
		v.read(t.Hours.Validate(), path+".treatment.hours")
		v.within(t.Capacity, 0, site.MaxPlantCount, path+".treatment.capacity")
	}
}

// reachable notes areas that are reached only through themselves.
func (v *validator) reachable(s *Site, path string) {
	through := map[AreaID]AreaID{}
	for _, a := range s.Areas {
		through[a.ID] = a.ReachedOnlyThrough
	}
	for i, a := range s.Areas {
		at := a.ReachedOnlyThrough
		for range s.Areas {
			if at == "" || at == a.ID {
				break
			}
			at = through[at]
		}
		v.unless(at != a.ID || a.ID == "", fmt.Sprintf("%s.areas[%d].reached_only_through", path, i), ReasonCircle,
			"area %q is reached only through itself: want one that can be entered", a.ID)
	}
}

func (v *validator) barred(s *Site, path string) {
	for i, b := range s.Barred {
		at := fmt.Sprintf("%s.barred[%d]", path, i)
		v.unless(b.Product != "", at+".product", ReasonMissing, "missing: want the product that is barred")
		v.unless(b.Incident != "", at+".incident", ReasonMissing, "missing: want the incident that bars it")
	}
}

func (v *validator) agreement(s *Site, path string) {
	a := s.Agreement
	if a.NoticeLead != nil {
		v.duration(*a.NoticeLead, MaxStretch, path+".notice_lead")
	}
	for i, shut := range a.ShutAreas {
		at := fmt.Sprintf("%s.shut_areas[%d]", path, i)
		v.areaOf(s.ID, shut.Area, at+".area")
		v.unless(shut.From < shut.To, at, ReasonOrder, "shut from %v to %v: want it to end later than it begins", shut.From, shut.To)
	}
	for i, c := range a.Consents {
		at := fmt.Sprintf("%s.consents[%d]", path, i)
		v.unless(c.To.IsZero() || c.From <= c.To, at, ReasonOrder, "from %v to %v: want its last day later", c.From, c.To)
		v.method(c.Method, at+".method")
	}
	if a.TechnicianFixed {
		known(v, v.crew, TechnicianID(a.UsualTechnician), path+".usual_technician", "technician")
	}
	v.unless(!a.DayFixed || a.UsualDay != nil, path+".usual_day", ReasonMissing, "the day is fixed but not named: want one such as mon")
	if a.UsualDay != nil {
		v.within(int(*a.UsualDay), 0, 6, path+".usual_day")
	}
	if a.IsolationArea != "" {
		v.areaOf(s.ID, a.IsolationArea, path+".isolation_area")
	}
	if a.AskAbove != nil {
		v.price(*a.AskAbove, path+".ask_above")
	}
	for i, method := range a.RefusedMethods {
		v.method(method, fmt.Sprintf("%s.refused_methods[%d]", path, i))
	}
	for i, method := range a.ConsentNeeded {
		v.method(method, fmt.Sprintf("%s.consent_needed[%d]", path, i))
	}
	v.within(a.ResponseDays, 0, MaxLagDays, path+".response_days")
}

func (v *validator) plants() {
	ids := unique[PlantID]{}
	for i := range v.p.Plants {
		state, path := &v.p.Plants[i], fmt.Sprintf("plants[%d]", i)
		plant := &state.Plant
		ids.add(v, plant.ID, path+".plant.id")
		if known(v, v.siteIDs, plant.Site, path+".plant.site", "site") {
			v.areaOf(plant.Site, plant.Area, path+".plant.area")
		}
		v.within(plant.Count, 1, site.MaxPlantCount, path+".plant.count")
		v.within(plant.HeightCM, 0, site.MaxHeightCM, path+".plant.height_cm")
		v.unless(plant.PotVolume.Sign() >= 0, path+".plant.pot_volume", ReasonRange, "%v: want 0 or more", plant.PotVolume)
		if plant.Replacement != nil {
			v.price(*plant.Replacement, path+".plant.replacement")
		}
		word(v, state.Health, path+".health", Clean, Neighbour, SuspectedInfested, ConfirmedInfested)
		v.lags(path+".plant.watering", plant.Watering.Earliest, plant.Watering.Ideal, plant.Watering.Latest)
		for k, t := range state.Tolerance {
			word(v, t.Verdict, fmt.Sprintf("%s.tolerance[%d].verdict", path, k), catalogue.Stands, catalogue.PatchTest, catalogue.MustNot)
		}
		for k, a := range state.Applied {
			at := fmt.Sprintf("%s.applied[%d]", path, k)
			v.unless(!a.Began.IsZero() && a.Began <= a.Ended, at, ReasonOrder, "began %v, ended %v: want both, the end not before", a.Began, a.Ended)
		}
	}
}

// lags notes lags in days that are negative, too long or fall.
func (v *validator) lags(path string, earliest, ideal, latest int) {
	v.within(earliest, 0, MaxLagDays, path+".earliest")
	v.within(latest, 0, MaxLagDays, path+".latest")
	v.ascending(path, []string{"earliest", "ideal", "latest"}, []int{earliest, ideal, latest})
}
