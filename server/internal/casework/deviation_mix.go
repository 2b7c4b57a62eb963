package casework

import (
	"slices"

	"vernation/scheduler"
	"vernation/scheduler/dilution"
	"vernation/scheduler/quantity"
	"vernation/server/internal/firm"
)

// mixLife: used after the mix life of the label. A report does not tell when a mix was made, but it was made before its
// first use: what lies further after that than the label allows is too old for certain.
func (t *telling) mixLife(a application) {
	life := a.product.Label.MixLife
	if life <= 0 || !a.product.Diluted() {
		return
	}
	first := a.Began
	for _, item := range t.sameMix(a) {
		first = min(first, item.Began)
	}
	if a.Ended > first.Add(life) {
		t.breach(a, scheduler.RuleMix, "the mix of %s was in use from %s and still at %s; its label allows a mix for %v",
			a.product.Name, t.site.Zone.Format(first), t.site.Zone.Format(a.Ended), life)
	}
}

// sameMix lists the items of the report that drew on the mix of an application: told with the same vessel, product,
// concentrate and volume, as long as all that was applied fits into that volume. What does not fit was mixed anew.
func (t *telling) sameMix(a application) []firm.ReportItem {
	if a.made.Volume.IsZero() {
		return []firm.ReportItem{a.ReportItem}
	}
	var alike []firm.ReportItem
	used := quantity.Volume{}
	for _, item := range t.report.Items {
		made := item.Application
		if made == nil || made.Product != a.made.Product || made.Vessel != a.made.Vessel ||
			!made.Concentrate.Equal(a.made.Concentrate) || !made.Volume.Equal(a.made.Volume) ||
			!made.Mass.Equal(a.made.Mass) || made.Organisms != a.made.Organisms {
			continue
		}
		alike, used = append(alike, item), used.Add(made.Applied)
	}
	if used.Cmp(a.made.Volume) > 0 {
		return []firm.ReportItem{a.ReportItem}
	}
	return alike
}

// vesselHolds: more was mixed than the technician's vessel holds, or in a vessel that is not the technician's.
func (t *telling) vesselHolds(a application) {
	if a.made.Vessel == "" || !a.product.Diluted() {
		return
	}
	who := t.technician()
	i := slices.IndexFunc(who.Vessels, func(v dilution.Vessel) bool { return v.ID == a.made.Vessel })
	switch {
	case i < 0:
		t.breach(a, scheduler.RuleMix, "%s was mixed in %s, which is no vessel of %s", a.product.Name, a.made.Vessel, who.Name)
	case a.made.Volume.Cmp(who.Vessels[i].Capacity) > 0:
		t.breach(a, scheduler.RuleMix, "%v of %s were mixed in the %s, which holds %v", a.made.Volume, a.product.Name, who.Vessels[i].Name, who.Vessels[i].Capacity)
	}
}

// leftover: what was left of a mix went into a drain.
func (t *telling) leftover(a application) {
	if a.made.LeftWent != firm.IntoDrain {
		return
	}
	rest := "the rest"
	if left := a.made.Left; left != nil {
		rest = left.String()
	}
	t.breach(a, scheduler.RuleLabel, "%s of the mix went into a drain: a rest goes onto plants that the label allows or home in the labelled container, never into a drain", rest)
}
