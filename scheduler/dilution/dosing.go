package dilution

import (
	"errors"
	"fmt"
	"math/big"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
)

// ErrGround says that a label's rate for the pot or the soil cannot be kept, because a pot or surface is not known or because no one
// mix is right for all of the plants.
var ErrGround = errors.New("the label's rate does not fit the plants")

// Poured is how much mix goes on a plant or group, and on how much pot and soil of all its plants together: what a label's rate
// for the pot or the soil is judged by.
type Poured struct {
	Plant site.PlantID
	Mix   quantity.Volume
	Pot   quantity.Volume
	Soil  quantity.Surface // 0 is not known
}

// PouredOn returns what so much mix goes on when it is poured on a plant or group.
func PouredOn(plant site.Plant, mix quantity.Volume) Poured {
	count := big.NewRat(int64(plant.Count), 1)
	return Poured{Plant: plant.ID, Mix: mix, Pot: plant.PotVolume.Times(count), Soil: plant.SoilSurface.Times(count)}
}

// Portion returns the grams or organisms that a rate gives the plants, exact: in the mix that they get, for their pots or
// for their soil. 0 where that is not known.
func (p Poured) Portion(rate quantity.PortionRate) *big.Rat {
	var of *big.Rat
	switch rate.Basis() {
	case quantity.ForPot:
		of = p.Pot.In(quantity.Litre)
	case quantity.ForSurface:
		of = p.Soil.SquareMetres()
	default:
		of = p.Mix.In(quantity.Litre)
	}
	return of.Mul(of, rate.Each())
}

// mixFor returns the mix that holds the amount of a rate when the plants get what they get: of 120 mL on 1 L of pot a rate for
// 1 L of pot stands in 120 mL.
func (p Poured) mixFor(rate quantity.PortionRate) (quantity.Volume, error) {
	ratio := new(big.Rat)
	switch rate.Basis() {
	case quantity.ForPot:
		if p.Pot.Sign() > 0 {
			ratio.Quo(rate.PerPot.Millilitres(), p.Pot.Millilitres())
		}
	case quantity.ForSurface:
		if p.Soil.Sign() > 0 {
			ratio.Quo(rate.PerSurface.SquareMetres(), p.Soil.SquareMetres())
		}
	default:
		return rate.PerMix, nil
	}
	if mix := p.Mix.Times(ratio); mix.Sign() > 0 {
		return mix, nil
	}
	return quantity.Volume{}, fmt.Errorf("%w: a rate of %v and %v on plant %q, whose pot is %v and whose soil %v: want both known and more than nothing",
		ErrGround, rate, p.Mix, p.Plant, p.Pot, p.Soil)
}

// Dosing is what a label allows in a mix, whichever way the product is dosed: one of its fields is set.
type Dosing struct {
	Liquid    *Limits         `json:"liquid,omitempty"`
	Weight    *WeightLimits   `json:"weight,omitempty"`
	Organisms *OrganismLimits `json:"organisms,omitempty"`
}

// LabelDosing reads off a product's label what a mix of it may hold. A label with one rate means the greatest; the least is
// leastRatePercent of it (1 to 100). A rate for the pot or the soil becomes one for the mix by what is poured: the strength that
// is right for every plant of on. A rate for a volume of mix asks nothing of on, which may then be empty.
//
// Errors name the field: the product is not diluted, the label states no rate or none that is valid, the least is above the
// greatest. ErrGround: a plant's pot or soil is not known, or no strength is right for all of them.
func LabelDosing(p catalogue.Product, leastRatePercent int, on []Poured) (Dosing, error) {
	most := p.Label.MaxPortion
	if p.Form == catalogue.Concentrate || !p.Diluted() {
		limits, err := LabelLimits(p, leastRatePercent)
		return Dosing{Liquid: &limits}, err
	}
	if err := most.Validate(); err != nil {
		return Dosing{}, fmt.Errorf("product %q: label.max_portion: %w", p.Name, err)
	}
	least, slack := *most, big.NewRat(int64(leastRatePercent), 100)
	if own := p.Label.MinPortion; own != nil {
		if err := own.Validate(); err != nil {
			return Dosing{}, fmt.Errorf("product %q: label.min_portion: %w", p.Name, err)
		}
		if !own.Like(*most) || own.Cmp(*most) > 0 {
			return Dosing{}, fmt.Errorf("product %q: label.min_portion %v beside label.max_portion %v: want one kind, and the least not above the greatest", p.Name, own, most)
		}
		least, slack = *own, big.NewRat(1, 1)
	} else if leastRatePercent < 1 || leastRatePercent > 100 {
		return Dosing{}, fmt.Errorf("product %q has one rate and the policy's least is %d percent of it: want 1 to 100", p.Name, leastRatePercent)
	}
	weakest, strongest, err := mixesFor(least, *most, on)
	if err != nil {
		return Dosing{}, fmt.Errorf("product %q: %w", p.Name, err)
	}
	ours, dosing := p.Label.MinPortion == nil, Dosing{}
	if most.Counted() {
		// Less in the same mix is as much in more mix, which keeps organisms whole.
		dosing.Organisms = &OrganismLimits{
			Min: quantity.OrganismRate{Organisms: least.Organisms, Per: weakest.Times(new(big.Rat).Inv(slack))}, Max: quantity.OrganismRate{Organisms: most.Organisms, Per: strongest},
			LeastIsOurs: ours,
		}
		if most.Basis() != quantity.ForMix {
			dosing.Organisms.Label = most.String()
		}
		err = dosing.Organisms.Validate()
	} else {
		dosing.Weight = &WeightLimits{
			Min: quantity.WeightRate{Mass: least.Mass.Times(slack), Per: weakest}, Max: quantity.WeightRate{Mass: most.Mass, Per: strongest},
			LeastIsOurs: ours,
		}
		err = dosing.Weight.Validate()
	}
	if err != nil {
		return Dosing{}, fmt.Errorf("product %q: %w: no mix is right for all plants: %w; want mixes of their own", p.Name, ErrGround, err)
	}
	return dosing, nil
}

// mixesFor returns the mix that holds the amount of the least rate and that of the greatest, so that every plant gets no less
// and no more. A rate for a volume of mix is right for all plants, and for none named.
func mixesFor(least, most quantity.PortionRate, on []Poured) (weakest, strongest quantity.Volume, err error) {
	if most.Basis() == quantity.ForMix {
		return least.PerMix, most.PerMix, nil
	}
	if len(on) == 0 {
		return weakest, strongest, fmt.Errorf("%w: a rate of %v without a plant: want what the mix is poured on", ErrGround, most)
	}
	for i, p := range on {
		low, err := p.mixFor(least)
		if err != nil {
			return weakest, strongest, err
		}
		high, err := p.mixFor(most)
		if err != nil {
			return weakest, strongest, err
		}
		if i == 0 || low.Cmp(weakest) < 0 {
			weakest = low
		}
		if i == 0 || high.Cmp(strongest) > 0 {
			strongest = high
		}
	}
	return weakest, strongest, nil
}

// Kit is what a dose is taken with: measures for what is poured, scales for what is weighed, packs of what is counted.
type Kit struct {
	Measures []Measure
	Scales   []Scale
	Packs    []Pack
}

// Batch is one filling, whichever way the product is dosed: of Concentrate, Mass and Organisms one is more than nothing.
type Batch struct {
	Volume      quantity.Volume // finished mix, a mark of the vessel
	Concentrate quantity.Volume
	Mass        quantity.Mass
	Organisms   int64
	Measure     string // name of the measure, the scale or the pack
	Note        string
}

// Fill chooses the finished volume and the dose as Fill, FillPowder or FillOrganisms does. Errors: theirs.
func (d Dosing) Fill(need quantity.Volume, vessel Vessel, kit Kit) (Batch, error) {
	switch {
	case d.Weight != nil:
		f, err := FillPowder(need, *d.Weight, vessel, kit.Scales)
		return Batch{Volume: f.Volume, Mass: f.Powder, Measure: f.Scale, Note: f.Note}, err
	case d.Organisms != nil:
		f, err := FillOrganisms(need, *d.Organisms, vessel, kit.Packs)
		return Batch{Volume: f.Volume, Organisms: f.Organisms, Measure: f.Pack, Note: f.Note}, err
	case d.Liquid != nil:
		f, err := Fill(need, *d.Liquid, vessel, kit.Measures)
		return Batch{Volume: f.Volume, Concentrate: f.Concentrate, Measure: f.Measure, Note: f.Note}, err
	}
	panic("dilution: a dosing without limits: want one that LabelDosing read")
}

// Key names the strengths that the dosing allows, exactly: two uses of one product may share a mix only when theirs is one.
func (d Dosing) Key() string {
	switch {
	case d.Weight != nil:
		return d.Weight.Min.GramsPerLitre().RatString() + " to " + d.Weight.Max.GramsPerLitre().RatString() + " g/L"
	case d.Organisms != nil:
		return d.Organisms.Min.PerLitre().RatString() + " to " + d.Organisms.Max.PerLitre().RatString() + " organisms/L"
	}
	return ""
}

// Dosed is an application as it was made with a product that is weighed or counted: what went into Volume of mix and how much of
// that was Applied; with no Volume it was strewn dry, and all of it went onto the plants.
type Dosed struct {
	Mass      quantity.Mass
	Organisms int64
	Volume    quantity.Volume
	Applied   quantity.Volume
}

// amount is what went into the mix or was strewn, in grams or organisms as the rate speaks.
func (d Dosed) amount(rate quantity.PortionRate) *big.Rat {
	if rate.Counted() {
		return new(big.Rat).SetInt64(d.Organisms)
	}
	return d.Mass.Grams()
}

// OnPlants returns the grams or organisms, as the rate speaks, that came onto the plants.
func (d Dosed) OnPlants(rate quantity.PortionRate) *big.Rat {
	amount := d.amount(rate)
	if d.Volume.Sign() > 0 {
		amount.Mul(amount, new(big.Rat).Quo(d.Applied.Millilitres(), d.Volume.Millilitres()))
	}
	return amount
}

// TimesRate returns how many times a rate the application was: of the mix, or of what the plants together got for their pots or
// soil. known is false where nothing was dosed, or the mix, the pots or the soil are not known.
func (d Dosed) TimesRate(rate quantity.PortionRate, plants []site.Plant) (times *big.Rat, known bool) {
	got, right := d.amount(rate), new(big.Rat)
	if rate.Basis() == quantity.ForMix {
		right = Poured{Mix: d.Volume}.Portion(rate)
	} else {
		got = d.OnPlants(rate)
		for _, plant := range plants {
			portion := PouredOn(plant, quantity.Volume{}).Portion(rate)
			if portion.Sign() <= 0 {
				return nil, false
			}
			right.Add(right, portion)
		}
	}
	if got.Sign() <= 0 || right.Sign() <= 0 {
		return nil, false
	}
	return got.Quo(got, right), true
}
