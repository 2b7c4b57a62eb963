package scheduler

import (
	"fmt"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/site"
)

func (v *validator) materials() {
	ids := unique[MaterialID]{}
	for i, m := range v.p.Materials {
		path := fmt.Sprintf("materials[%d]", i)
		ids.add(v, m.ID, path+".id")
		word(v, m.Law, path+".law", catalogue.RegisteredProduct, catalogue.ExemptByRule, catalogue.DeviceOrOrganism, catalogue.PhysicalWork, catalogue.HouseholdRemedy)
	}
}

func (v *validator) products() {
	ids := unique[ProductID]{}
	for i := range v.p.Products {
		product, path := &v.p.Products[i], fmt.Sprintf("products[%d]", i)
		ids.add(v, product.ID, path+".id")
		known(v, v.materialID, product.Material, path+".material", "material")
		word(v, product.Form, path+".form", catalogue.Concentrate, catalogue.ReadyToUse, catalogue.Solid, catalogue.Living, catalogue.Device, catalogue.NoSupply)
		for k, pack := range product.Packs {
			v.read(pack.Validate(), fmt.Sprintf("%s.packs[%d]", path, k))
		}
		v.label(product, path+".label")
	}
}

func (v *validator) label(product *Product, path string) {
	label := &product.Label
	v.entry(label.Entry, path+".entry")
	v.rates(product, path)
	v.portions(&product.Label, path)
	v.within(label.LeastDays, 0, MaxLagDays, path+".least_days")
	v.within(label.MostInRow, 0, MaxLagDays, path+".most_in_row")
	v.within(label.MostAYear, 0, MaxLagDays, path+".most_a_year")
	v.duration(label.MixLife, MaxStretch, path+".mix_life")
	if label.MinCelsius != nil && label.MaxCelsius != nil {
		v.unless(*label.MinCelsius <= *label.MaxCelsius, path+".max_celsius", ReasonOrder, "%g to %g °C: want them to rise", *label.MinCelsius, *label.MaxCelsius)
	}
	if h := label.MaxHardness; h != nil {
		v.unless(*h >= 0 && *h <= site.MaxHardnessMgL, path+".max_hardness", ReasonRange, "%g mg/L: want 0 to %d, or none when no limit is stated", *h, site.MaxHardnessMgL)
	}
	for i, w := range label.Hours {
		v.read(w.Validate(), fmt.Sprintf("%s.hours[%d]", path, i))
	}
	for i, keep := range label.KeepAway {
		word(v, keep.Thing, fmt.Sprintf("%s.keep_away[%d].thing", path, i), catalogue.SensitiveThings[:]...)
	}
	for i, other := range label.Incompatible {
		v.within(other.Days, 0, MaxLagDays, fmt.Sprintf("%s.incompatible[%d].days", path, i))
	}
	for i, kind := range label.Places {
		word(v, kind, fmt.Sprintf("%s.places[%d]", path, i), catalogue.PlaceKinds[:]...)
	}
}

func (v *validator) entry(e catalogue.Entry, path string) {
	word(v, e.Kind, path+".kind", catalogue.EntryHours, catalogue.EntryUntilDry, catalogue.EntryNone, catalogue.EntryUnknown)
	v.duration(e.Hours, MaxStretch, path+".hours")
	v.unless(e.Kind != catalogue.EntryHours || e.Hours > 0, path+".hours", ReasonMissing, "the interval is a number of hours but none is given: want it, or the kind unknown")
	v.unless(e.Kind != catalogue.EntryNone || e.Reason != "", path+".reason", ReasonMissing, "no interval is needed but nothing says why: want the reason")
}

// rates notes rates that do not read, do not rise, or are missing where a product is diluted.
func (v *validator) rates(product *Product, path string) {
	least, most := product.Label.MinRate, product.Label.MaxRate
	v.unless(most != nil || product.Form != catalogue.Concentrate, path+".max_rate", ReasonMissing, "a concentrate without a rate: want the label's greatest")
	if most != nil {
		v.read(most.Validate(), path+".max_rate")
	}
	if least != nil {
		v.read(least.Validate(), path+".min_rate")
		v.unless(most != nil && least.Cmp(*most) <= 0, path+".min_rate", ReasonOrder, "the least rate is above the greatest: want them to rise")
	}
}

// portions notes rates by weight or number that do not read, do not rise, or are of two kinds.
func (v *validator) portions(label *catalogue.Label, path string) {
	least, most := label.MinPortion, label.MaxPortion
	if most != nil {
		v.read(most.Validate(), path+".max_portion")
	}
	if least != nil {
		v.read(least.Validate(), path+".min_portion")
		v.unless(most != nil && least.Like(*most) && least.Cmp(*most) <= 0, path+".min_portion", ReasonOrder, "the least rate is above the greatest or of another kind: want one kind, rising")
	}
}
