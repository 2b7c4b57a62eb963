package scheduler

import (
	"fmt"
	"slices"
	"strings"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
)

func (v *validator) followUps() {
	ids := unique[ItemID]{}
	for i := range v.p.FollowUps {
		f, path := &v.p.FollowUps[i], fmt.Sprintf("follow_ups[%d]", i)
		ids.add(v, f.ID, path+".id")
		word(v, f.Kind, path+".kind", KindApplication, KindInspectInfested, KindInspectNeighbours, KindIsolation, KindMoveAndReturn,
			KindTrapChange, KindReplacement, KindDryConfirmation, KindSignUp, KindSignDown, KindLeafWashing, KindPatchTest)
		v.within(f.Severity, 0, MaxSeverity, path+".severity")
		known(v, v.siteIDs, f.Site, path+".site", "site")
		v.plantsOf(f.Site, f.Plants, path+".plants")
		v.due(f, path+".due")
		v.prices(f, path)
		v.unless(len(f.Ways) > 0, path+".ways", ReasonMissing, "no way: want at least one")
		ways := unique[WayID]{}
		for k := range f.Ways {
			ways.add(v, f.Ways[k].ID, fmt.Sprintf("%s.ways[%d].id", path, k))
			v.way(f, &f.Ways[k], fmt.Sprintf("%s.ways[%d]", path, k))
		}
	}
}

// plantsOf notes plants that are unknown, of another site, or named twice.
func (v *validator) plantsOf(s SiteID, plants []PlantID, path string) {
	seen := unique[PlantID]{}
	for i, id := range plants {
		at := fmt.Sprintf("%s[%d]", path, i)
		seen.add(v, id, at)
		if known(v, v.plantSite, id, at, "plant") {
			v.unless(v.plantSite[id] == s, at, ReasonUnknown, "plant %q is at site %q: want one of %q", id, v.plantSite[id], s)
		}
	}
}

// prices notes prices that are negative or fall.
func (v *validator) prices(f *FollowUp, path string) {
	least := quantity.Money(0)
	for k, price := range f.PricePerDay {
		at := fmt.Sprintf("%s.price_per_day[%d]", path, k)
		v.unless(price >= least, at, ReasonOrder, "%v after %v: a delay costs nothing less as it grows", price, least)
		v.unless(price <= MaxPrice, at, ReasonRange, "%v: want %v at most", price, MaxPrice)
		least = max(least, price)
	}
	v.price(f.LeftOutPrice, path+".left_out_price")
}

func (v *validator) due(f *FollowUp, path string) {
	d := f.Due
	if d.After == "" {
		v.unless(!d.EarliestOn.IsZero(), path+".earliest_on", ReasonMissing, "no earliest day: want a date, or the item that it follows")
		names := []string{"earliest_on", "ideal_on", "latest_on", "stands_until_on"}
		last := d.EarliestOn
		for i, day := range []civil.Date{d.EarliestOn, d.IdealOn, d.LatestOn, d.StandsUntilOn} {
			if !day.IsZero() {
				v.unless(day >= last, path+"."+names[i], ReasonOrder, "%v is before %v: want the four days in order", day, last)
				last = max(last, day)
			}
		}
		return
	}
	v.unless(d.After != f.ID, path+".after", ReasonCircle, "%q follows itself: want another item", f.ID)
	v.unless(v.isItem(d.After), path+".after", ReasonUnknown, "item %q is neither to be planned nor done", d.After)
	lags := []int{d.EarliestLag, d.IdealLag, d.LatestLag}
	if d.StandsUntilLag != 0 {
		lags = append(lags, d.StandsUntilLag)
	}
	for i, name := range []string{"earliest_lag", "ideal_lag", "latest_lag", "stands_until_lag"}[:len(lags)] {
		v.within(lags[i], 0, MaxLagDays, path+"."+name)
	}
	v.ascending(path, []string{"earliest_lag", "ideal_lag", "latest_lag", "stands_until_lag"}, lags)
}

// isItem says whether an id names a follow-up to plan, one that was done, or an occurrence of a service.
func (v *validator) isItem(id ItemID) bool {
	service, _, occurrence := strings.Cut(string(id), "#")
	return v.item[id] || occurrence && v.serviceID[service]
}

func (v *validator) way(f *FollowUp, w *Way, path string) {
	word(v, w.Kind, path+".kind", InPlace, AtTreatmentPlace, ShutsNothing)
	v.duration(w.MostAway, MaxStretch, path+".most_away")
	v.unless(len(w.Parts) > 0, path+".parts", ReasonMissing, "no part: want at least one")
	out := false
	for k := range w.Parts {
		part, at := &w.Parts[k], fmt.Sprintf("%s.parts[%d]", path, k)
		v.part(f, part, at)
		switch part.Kind {
		case CarryOutPart:
			v.unless(!out, at+".kind", ReasonOrder, "the plants are carried out twice: want a carry back between")
			out = true
		case CarryBackPart:
			v.unless(out, at+".kind", ReasonOrder, "the plants are carried back before they were carried out: want the carry out first")
			out = false
		case WaitPart:
			edge := k == 0 || k == len(w.Parts)-1 || w.Parts[k-1].Kind == WaitPart
			v.unless(!edge, at+".kind", ReasonOrder, "a wait at the edge or after a wait: want it between two pieces of work")
		}
	}
	carries := slices.ContainsFunc(w.Parts, func(p Part) bool { return p.Kind == CarryOutPart })
	v.unless(!out, path+".parts", ReasonMissing, "plants are carried out and not back: want a carry back")
	v.unless(!carries || w.MostAway > 0, path+".most_away", ReasonMissing, "plants are carried away for no stated time: want the greatest")
}

func (v *validator) part(f *FollowUp, part *Part, path string) {
	word(v, part.Kind, path+".kind", WorkPart, ApplicationPart, CarryOutPart, WaitPart, CarryBackPart)
	v.duration(part.Takes, MaxStretch, path+".takes")
	for i, w := range part.Windows {
		v.read(w.Validate(), fmt.Sprintf("%s.windows[%d]", path, i))
	}
	if part.Kind == WaitPart {
		v.unless(part.Use == nil, path+".use", ReasonMisplaced, "a wait applies nothing")
		return
	}
	v.areaOf(f.Site, part.Area, path+".area")
	v.within(part.Persons, 1, MaxPersons, path+".persons")
	switch {
	case part.Kind == ApplicationPart && part.Use == nil:
		v.add(path+".use", ReasonMissing, "an application of nothing: want product, method and doses")
	case part.Kind != ApplicationPart && part.Use != nil:
		v.add(path+".use", ReasonMisplaced, "a part of kind %s applies nothing: want an application", part.Kind)
	case part.Use != nil:
		v.use(f, part.Use, path+".use")
	}
}

func (v *validator) use(f *FollowUp, use *Use, path string) {
	known(v, v.product, use.Product, path+".product", "product")
	v.method(use.Method, path+".method")
	word(v, use.Entry, path+".entry", catalogue.EntryHours, catalogue.EntryUntilDry, catalogue.EntryNone, catalogue.EntryUnknown)
	v.within(use.ReservePercent, 0, 1_000, path+".reserve_percent")
	v.duration(use.KeepOut, MaxStretch, path+".keep_out")
	v.duration(use.KeepOutUnventilated, MaxStretch, path+".keep_out_unventilated")
	v.unless(use.KeepOutUnventilated == 0 || use.KeepOutUnventilated >= use.KeepOut, path+".keep_out_unventilated", ReasonOrder,
		"%v without ventilation, %v with: want it as long or longer", use.KeepOutUnventilated, use.KeepOut)
	needed := use.Entry == catalogue.EntryHours || use.Entry == catalogue.EntryUntilDry
	v.unless(!needed || use.KeepOut > 0, path+".keep_out", ReasonMissing, "the interval is %s but takes no time: want how long the area stays shut", use.Entry)
	dosed := unique[PlantID]{}
	for i, dose := range use.Doses {
		at := fmt.Sprintf("%s.doses[%d]", path, i)
		dosed.add(v, dose.Plant, at+".plant")
		v.unless(slices.Contains(f.Plants, dose.Plant), at+".plant", ReasonUnknown, "plant %q is not one of the follow-up's", dose.Plant)
		v.unless(dose.Amount.Sign() >= 0, at+".amount", ReasonRange, "%v: want 0 or more", dose.Amount)
	}
	if product := v.product[use.Product]; product != nil && product.Diluted() {
		v.unless(len(f.Plants) > 0, path+".doses", ReasonMissing, "%s goes on no plant: want the plants", product.Name)
		for _, id := range f.Plants {
			k := slices.IndexFunc(use.Doses, func(d Dose) bool { return d.Plant == id })
			v.unless(k >= 0 && use.Doses[max(k, 0)].Amount.Sign() > 0, path+".doses", ReasonMissing, "no amount of %s for plant %q: want one for each plant", product.Name, id)
		}
	}
}

func (v *validator) services() {
	ids := unique[string]{}
	for i := range v.p.Services {
		s, path := &v.p.Services[i], fmt.Sprintf("services[%d]", i)
		ids.add(v, s.ID, path+".id")
		v.unless(!strings.Contains(s.ID, "#"), path+".id", ReasonUnreadable, "%q holds #, which parts a service from the number of its occurrence", s.ID)
		known(v, v.siteIDs, s.Site, path+".site", "site")
		word(v, s.Kind, path+".kind", site.WateringService, site.GroomingService, site.FertilisingService)
		v.within(s.Ideal, 1, MaxLagDays, path+".ideal")
		v.lags(path, s.Earliest, s.Ideal, s.Latest)
		v.unless(len(s.Groups) > 0, path+".groups", ReasonMissing, "no plants: want at least one group")
		var plants []PlantID
		for k, g := range s.Groups {
			v.within(g.Minutes, 0, int(MaxShift.Minutes()), fmt.Sprintf("%s.groups[%d].minutes", path, k))
			plants = append(plants, g.Plant)
		}
		v.plantsOf(s.Site, plants, path+".groups")
	}
}
