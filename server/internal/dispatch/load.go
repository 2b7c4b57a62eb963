package dispatch

import (
	"fmt"
	"math/big"
	"slices"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/dilution"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
)

// makeLoad says what comes along in the morning: what the mixes take and what is used without one, keys, cards and signs.
func (d *explaining) makeLoad() error {
	var loads []dilution.Load
	for _, mix := range d.route.Route.Mixes {
		load, err := d.loadOf(mix)
		if err != nil {
			return err
		}
		loads = append(loads, load)
	}
	for _, v := range d.route.Visits {
		for _, key := range v.Site.Keys {
			if !slices.Contains(d.route.Load.Keys, key) {
				d.route.Load.Keys = append(d.route.Load.Keys, key)
			}
		}
		for _, work := range v.Visit.Work {
			if work.Use != nil && work.MixIndex < 0 {
				loads = append(loads, d.unmixed(*work.Use))
			}
			if text := d.thingsFor(v.Site, work); text != "" {
				d.route.Load.Others = append(d.route.Load.Others, text)
			}
		}
	}
	var products []catalogue.ProductID
	for _, load := range loads {
		products = append(products, load.Product.ID)
	}
	if len(products) == 0 { // of no product in particular the store would give the lots of all
		d.route.Load.LoadList = dilution.MakeLoadList(d.day, nil, nil)
		return nil
	}
	lots, err := d.tx.Lots(products...)
	if err != nil {
		return err
	}
	d.route.Load.LoadList = dilution.MakeLoadList(d.day, loads, liquids(lots))
	return nil
}

// liquids are the lots that hold a volume, as containers to draw from.
func liquids(lots []firm.Lot) []dilution.Container {
	var containers []dilution.Container
	for _, lot := range lots {
		if lot.Pack.Kind() == dilution.ByVolume {
			containers = append(containers, dilution.Container{
				ID: lot.ID, Product: lot.Product, Left: lot.Left().Volume,
				ExpiresOn: lot.ExpiresOn, OpenedOn: lot.OpenedOn, KeepsOpenDays: lot.KeepsOpenDays,
			})
		}
	}
	return containers
}

// loadOf is what one mix takes. Its water is loaded where the site's will not do; as much as the vessel is filled to.
func (d *explaining) loadOf(mix scheduler.Mix) (dilution.Load, error) {
	at, known := d.sites[mix.Site]
	if !known {
		var err error
		if at, err = d.tx.Site(mix.Site); err != nil {
			return dilution.Load{}, err
		}
	}
	product := d.products[mix.Product]
	water := mix.Volume
	if mix.Concentrate.Sign() > 0 {
		water = mix.Volume.Sub(mix.Concentrate)
	}
	load := dilution.Load{
		Product: product, Concentrate: mix.Concentrate, Powder: mix.Mass, Organisms: mix.Organisms, Water: water,
		Carried: dilution.BringsWater(product, at.Water.Area != "", at.Water.HardnessMgL), Measure: mix.Measure,
	}
	if product.Form == catalogue.Living {
		load.Measure = "" // a pack, which is no measure to bring
	}
	for _, vessel := range d.member.Vessels {
		if vessel.ID == mix.Vessel {
			load.Vessel = vessel.Name
		}
	}
	return load, nil
}

// unmixed is what an application takes of a product that is not mixed: ready to use, strewn dry, released or hung.
func (d *explaining) unmixed(use scheduler.Use) dilution.Load {
	load := dilution.Load{Product: d.products[use.Product]}
	for _, dose := range use.Doses {
		load.Concentrate, load.Powder = load.Concentrate.Add(dose.Amount), load.Powder.Add(dose.Mass)
		load.Organisms += dose.Organisms
	}
	load.Concentrate = load.Concentrate.Times(big.NewRat(int64(100+use.ReservePercent), 100))
	if load.Product.Form == catalogue.Living {
		load.Concentrate = quantity.Volume{} // living goods are counted
	}
	return load
}

// thingsFor names what a work item takes that is no product of a label: cards, signs.
func (d *explaining) thingsFor(at site.Site, work scheduler.WorkItem) string {
	where := fmt.Sprintf("%s, %s", at.Name, nameOf(at, work.Area))
	switch work.Kind {
	case scheduler.KindTrapChange:
		return fmt.Sprintf("cards to hang or change: %s, at %s", where, d.plantsText(work))
	case scheduler.KindSignUp:
		return "a sign to put up: " + where
	case scheduler.KindReplacement:
		return fmt.Sprintf("plants to put in the place of others: %s, for %s", where, d.plantsText(work))
	}
	return ""
}
