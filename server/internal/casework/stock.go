package casework

import (
	"fmt"
	"math/big"
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/dilution"
	"vernation/server/internal/firm"
)

// bookUse takes what the report applied from the shelf: what its records tell, with the rest of each mix, from the lot that
// expires first. A record that follows another one puts back what was taken for that first. What no lot on record could give
// is kept as taken from none. A business that keeps no lots of a product is not asked for any.
func (t *telling) bookUse() error {
	back, err := t.takenBack()
	if err != nil {
		return err
	}
	if err := t.tx.InsertMovements(back); err != nil {
		return err
	}
	used := t.used()
	var products []catalogue.ProductID
	for _, u := range used {
		products = append(products, u.product.ID)
	}
	if len(products) == 0 {
		return nil
	}
	if err := t.tx.LockLots(products); err != nil {
		return err
	}
	lots, err := t.tx.Lots(products...)
	if err != nil {
		return err
	}
	held := map[catalogue.ProductID][]dilution.Held{}
	for _, l := range lots {
		held[l.Product] = append(held[l.Product], l.Held())
	}
	var taken []firm.Movement
	for _, u := range used {
		if len(held[u.product.ID]) > 0 {
			taken = append(taken, u.take(held[u.product.ID])...)
		}
	}
	return t.tx.InsertMovements(taken)
}

// takenBack puts back what was taken for the records that those of the report correct.
func (t *telling) takenBack() ([]firm.Movement, error) {
	following := map[string]string{}
	var corrected []string
	for _, r := range t.records {
		if r.Corrects != "" {
			following[r.Corrects] = r.ID
			corrected = append(corrected, r.Corrects)
		}
	}
	if len(corrected) == 0 {
		return nil, nil
	}
	before, err := t.tx.UsesOf(corrected)
	if err != nil {
		return nil, err
	}
	for i := range before {
		m := &before[i]
		m.Out, m.Record = false, following[m.Record]
		m.ID, m.Note = fmt.Sprintf("%s/back/%d", m.Record, i+1), "put back: its record was corrected"
	}
	return before, nil
}

// use is what one application took from the shelf.
type use struct {
	application
	record string
	amount dilution.Amount
}

// take takes a use from lots and tells each of its parts.
func (u use) take(lots []dilution.Held) []firm.Movement {
	taken, missing := dilution.Take(u.amount.Base(), u.on, lots)
	if missing.Sign() > 0 {
		taken = append(taken, dilution.Taken{Amount: missing})
	}
	var movements []firm.Movement
	for i, part := range taken {
		movements = append(movements, firm.Movement{
			ID: fmt.Sprintf("%s/use/%d", u.record, i+1), Product: u.product.ID, Lot: part.Lot, Kind: firm.StockUsed, At: u.Began,
			Amount: u.amount.Of(part.Amount), Out: true, Record: u.record,
		})
	}
	return movements
}

// used are what the applications of the report took from the shelf. Several draw on one mix where they tell the same vessel
// and amounts: it was made as often as what was applied asks for, and what is left of it goes with the last of them.
func (t *telling) used() []use {
	var all []use
	applications := t.applications()
	for i, a := range applications {
		if a.product.ID == "" {
			continue
		}
		amount := drawn(a.made, a.product.Form)
		if !a.made.Volume.IsZero() && a.product.Form != catalogue.ReadyToUse {
			amount = shareOfMix(applications, i, amount)
		}
		if amount.Sign() > 0 && amount.Kind() == dilution.MeasuredBy(a.product.Form) {
			all = append(all, use{a, recordID(t.report.ID, a.index), amount})
		}
	}
	return all
}

// drawn is what was taken out of the containers for a mix, or what was applied ready to use or dry.
func drawn(made firm.Applied, form catalogue.Form) dilution.Amount {
	switch dilution.MeasuredBy(form) {
	case dilution.ByMass:
		return dilution.Amount{Mass: made.Mass}
	case dilution.ByNumber:
		return dilution.Amount{Organisms: made.Organisms}
	case dilution.ByVolume:
		if form == catalogue.ReadyToUse {
			return dilution.Amount{Volume: made.Applied}
		}
		return dilution.Amount{Volume: made.Concentrate}
	}
	return dilution.Amount{}
}

// shareOfMix is what of a mix's concentrate falls to one application: what it applied, and to the last one that draws on the
// mix all that is left of it.
func shareOfMix(applications []application, at int, inMix dilution.Amount) dilution.Amount {
	a := applications[at]
	onPlants, before, last := new(big.Rat), new(big.Rat), at
	for i, other := range applications {
		if !sameMix(other, a) {
			continue
		}
		onPlants.Add(onPlants, other.made.Applied.Millilitres())
		if i < at {
			before.Add(before, other.made.Applied.Millilitres())
		}
		last = max(last, i)
	}
	volume := a.made.Volume.Millilitres()
	if at < last {
		return inMix.Times(new(big.Rat).Quo(a.made.Applied.Millilitres(), volume))
	}
	mixes := new(big.Rat).SetInt(ceil(new(big.Rat).Quo(onPlants, volume)))
	if mixes.Sign() == 0 {
		mixes.SetInt64(1) // made, and nothing of it applied
	}
	return inMix.Times(mixes.Sub(mixes, new(big.Rat).Quo(before, volume)))
}

// ceil is the least whole number that is not less.
func ceil(r *big.Rat) *big.Int {
	whole, rest := new(big.Int).DivMod(r.Num(), r.Denom(), new(big.Int))
	if rest.Sign() > 0 {
		whole.Add(whole, big.NewInt(1))
	}
	return whole
}

// sameMix says whether two applications tell of one mix.
func sameMix(a, b application) bool {
	return slices.Equal([]string{string(a.product.ID), string(a.made.Vessel)}, []string{string(b.product.ID), string(b.made.Vessel)}) &&
		a.made.Concentrate.Equal(b.made.Concentrate) && a.made.Volume.Equal(b.made.Volume) && a.made.Mass.Equal(b.made.Mass) &&
		a.made.Organisms == b.made.Organisms
}
