package dilution

import (
	"fmt"
	"math/big"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/quantity"
)

// WeightLimits are the least and the greatest weight of a powder in a finished mix.
type WeightLimits struct {
	Min quantity.WeightRate `json:"min"`
	Max quantity.WeightRate `json:"max"`
	// LeastIsOurs says that the label has one rate: Max is it, and Min a share of it by the business's policy.
	LeastIsOurs bool `json:"least_is_ours,omitempty"`
}

// Validate says what is wrong with the limits, or nil.
func (l WeightLimits) Validate() error {
	if err := l.Min.Validate(); err != nil {
		return fmt.Errorf("least rate: %w", err)
	}
	if err := l.Max.Validate(); err != nil {
		return fmt.Errorf("greatest rate: %w", err)
	}
	if l.Min.Cmp(l.Max) > 0 {
		return fmt.Errorf("the least rate, %v, is stronger than the greatest, %v: want them the other way round", l.Min, l.Max)
	}
	return nil
}

// Scale is what a powder is weighed with.
type Scale struct {
	Name     string        `json:"name"`
	Capacity quantity.Mass `json:"capacity"`
	Marks    quantity.Mass `json:"marks"` // the least step that it shows
}

// Validate says what is wrong with the scale, or nil.
func (s Scale) Validate() error {
	switch {
	case s.Name == "":
		return fmt.Errorf("scale without a name: want what is written on it, such as pocket scale")
	case s.Marks.Sign() <= 0:
		return fmt.Errorf("scale %q: steps of %v: want more than nothing", s.Name, s.Marks)
	case s.Marks.Cmp(s.Capacity) > 0:
		return fmt.Errorf("scale %q: steps of %v up to %v: want at least one step", s.Name, s.Marks, s.Capacity)
	}
	return nil
}

// PowderFilling is what to fill where the product is weighed: a mark of the vessel and a reading of the scale.
type PowderFilling struct {
	Need   quantity.Volume `json:"need"`
	Volume quantity.Volume `json:"volume"` // finished mix, a mark of the vessel; the powder's own volume lies in it
	Powder quantity.Mass   `json:"powder"`
	Scale  string          `json:"scale"`
	// Weighings is how often the scale is used for one dose, MaxMeasures at most.
	Weighings int64 `json:"weighings"`
	// Note says why a larger mark than the least was taken; "" for no reason.
	Note string `json:"note,omitempty"`
}

// FillPowder chooses the finished volume and the weight together, as Fill does: the least mark of the vessel at or above
// need and dead volume for which a reading of a scale lies between the limits that LabelDosing read; there the strongest
// reading, never above the label. Pounds and grams may meet any vessel, since no unit of weight has two meanings here; the
// volume that the label speaks of must be of the vessel's system or convert without two meanings, as with Fill.
//
// Errors: ErrVessel, ErrMarks, ErrSystems, or what is wrong with vessel, scale, limits or need.
func FillPowder(need quantity.Volume, limits WeightLimits, vessel Vessel, scales []Scale) (PowderFilling, error) {
	if err := limits.Validate(); err != nil {
		return PowderFilling{}, err
	}
	var steps []scale
	for _, s := range scales {
		if err := s.Validate(); err != nil {
			return PowderFilling{}, err
		}
		steps = append(steps, scale{s.Marks.Grams(), floor(new(big.Rat).Quo(s.Capacity.Grams(), s.Marks.Grams()))})
	}
	between := func(volume quantity.Volume) (least, greatest *big.Rat) {
		return limits.Min.MassFor(volume).Grams(), limits.Max.MassFor(volume).Grams()
	}
	converted, err := convertedInto(limits.Max.Per.System(), limits.Max.String(), vessel)
	if err != nil {
		return PowderFilling{}, err
	}
	p, err := fillPortions(need, vessel, between, steps, converted)
	if err != nil {
		return PowderFilling{}, fmt.Errorf("%w (label: %v to %v)", err, limits.Min, limits.Max)
	}
	chosen := scales[p.reading.scale]
	return PowderFilling{
		Need: need, Volume: p.volume, Powder: chosen.Marks.Times(big.NewRat(p.reading.marks, 1)),
		Scale: chosen.Name, Weighings: p.reading.times, Note: p.note,
	}, nil
}

// GramsPerLitre is the strength of the mix, exact.
func (f PowderFilling) GramsPerLitre() *big.Rat {
	return quantity.WeightRate{Mass: f.Powder, Per: f.Volume}.GramsPerLitre()
}

// OrganismLimits are the least and the greatest number of living organisms in a finished mix.
type OrganismLimits struct {
	Min quantity.OrganismRate `json:"min"`
	Max quantity.OrganismRate `json:"max"`
	// LeastIsOurs says that the label has one rate: Max is it, and Min a share of it by the business's policy.
	LeastIsOurs bool `json:"least_is_ours,omitempty"`
	// Label is the greatest rate in the label's words where it is one for the pot or the soil, which Min and Max are read from; else "".
	Label string `json:"label,omitempty"`
}

// Validate says what is wrong with the limits, or nil.
func (l OrganismLimits) Validate() error {
	if err := l.Min.Validate(); err != nil {
		return fmt.Errorf("least rate: %w", err)
	}
	if err := l.Max.Validate(); err != nil {
		return fmt.Errorf("greatest rate: %w", err)
	}
	if l.Min.PerLitre().Cmp(l.Max.PerLitre()) > 0 {
		return fmt.Errorf("the least rate, %v, is more than the greatest, %v: want them the other way round", l.Min, l.Max)
	}
	return nil
}

// Pack is a container of living organisms; a product's record holds those that it comes in.
type Pack = catalogue.Pack

// maxPacks bounds the packs of one filling.
const maxPacks = 100

// OrganismFilling is what to fill where the product is alive: packs, or parts of one, in a mark of the vessel.
type OrganismFilling struct {
	Need      quantity.Volume `json:"need"`
	Volume    quantity.Volume `json:"volume"` // finished mix, a mark of the vessel
	Pack      string          `json:"pack"`
	Parts     int64           `json:"parts"` // of the pack, each a PartsOf-th of it
	PartsOf   int64           `json:"parts_of"`
	Organisms int64           `json:"organisms"` // in the mix
	// Note says why a larger mark than the least was taken; "" for no reason.
	Note string `json:"note,omitempty"`
}

// FillOrganisms chooses the finished volume and the parts of a pack together, as Fill does, within the limits that
// LabelDosing read. What of an opened pack is left does not keep: the label says how long.
//
// Errors: ErrVessel, ErrMarks, ErrSystems, or what is wrong with vessel, pack, limits or need.
func FillOrganisms(need quantity.Volume, limits OrganismLimits, vessel Vessel, packs []Pack) (OrganismFilling, error) {
	if err := limits.Validate(); err != nil {
		return OrganismFilling{}, err
	}
	var steps []scale
	for _, p := range packs {
		if err := p.Validate(); err != nil {
			return OrganismFilling{}, err
		}
		steps = append(steps, scale{big.NewRat(p.Organisms, p.Parts), p.Parts * maxPacks / MaxMeasures})
	}
	between := func(volume quantity.Volume) (least, greatest *big.Rat) {
		return limits.Min.For(volume), limits.Max.For(volume)
	}
	rate := limits.Max.String()
	if limits.Label != "" {
		rate = limits.Label
	}
	converted, err := convertedInto(limits.Max.Per.System(), rate, vessel)
	if err != nil {
		return OrganismFilling{}, err
	}
	p, err := fillPortions(need, vessel, between, steps, converted)
	if err != nil {
		return OrganismFilling{}, fmt.Errorf("%w (label: %v to %v)", err, limits.Min, limits.Max)
	}
	chosen := packs[p.reading.scale]
	return OrganismFilling{
		Need: need, Volume: p.volume, Pack: chosen.Name, Parts: p.reading.marks, PartsOf: chosen.Parts,
		Organisms: floor(p.reading.amount(steps)), Note: p.note,
	}, nil
}

// Counted returns the filling that so many organisms from a pack make: the reverse of what FillOrganisms chose. ok is false where
// they are no whole parts of it.
func Counted(pack Pack, organisms int64, need, volume quantity.Volume, note string) (f OrganismFilling, ok bool) {
	if pack.Validate() != nil || organisms <= 0 || organisms%(pack.Organisms/pack.Parts) != 0 {
		return OrganismFilling{}, false
	}
	return OrganismFilling{
		Need: need, Volume: volume, Pack: pack.Name, Parts: organisms / (pack.Organisms / pack.Parts), PartsOf: pack.Parts, Organisms: organisms, Note: note,
	}, true
}

// Packs writes how much of the pack goes in: "2 packs", "3/4 of a pack", "1 1/4 packs".
func (f OrganismFilling) Packs() string {
	whole, rest := f.Parts/f.PartsOf, big.NewRat(f.Parts%f.PartsOf, f.PartsOf)
	switch {
	case whole == 0:
		return rest.RatString() + " of a pack"
	case rest.Sign() == 0 && whole == 1:
		return "1 pack"
	case rest.Sign() == 0:
		return fmt.Sprintf("%d packs", whole)
	}
	return fmt.Sprintf("%d %s packs", whole, rest.RatString())
}

// portions is a mark of a vessel and a reading that fits it.
type portions struct {
	volume  quantity.Volume
	reading reading
	note    string
}

// fillPortions finds the least mark of a vessel for which a reading lies between two amounts that depend on the volume.
// converted is what was converted, for the note.
func fillPortions(need quantity.Volume, vessel Vessel, between func(quantity.Volume) (least, greatest *big.Rat), scales []scale, converted string) (portions, error) {
	if need.Sign() <= 0 {
		return portions{}, fmt.Errorf("need of %v: want more than nothing", need)
	}
	if err := vessel.Validate(); err != nil {
		return portions{}, err
	}
	if len(scales) == 0 {
		return portions{}, fmt.Errorf("%w: there is nothing to dose with", ErrMarks)
	}
	first, last, err := marksFor(need, vessel)
	if err != nil {
		return portions{}, err
	}
	for mark := first; mark <= last; mark++ {
		volume := atMark(mark, vessel.Marks)
		least, greatest := between(volume)
		if r, found := strongest(least, greatest, scales); found {
			return portions{volume, r, note(volume, atMark(first, vessel.Marks), converted)}, nil
		}
	}
	return portions{}, fmt.Errorf("%w: at no mark of %q from %v to %v does a reading lie within the label: want a larger vessel or finer steps",
		ErrMarks, vessel.Name, atMark(first, vessel.Marks), atMark(last, vessel.Marks))
}
