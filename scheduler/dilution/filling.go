package dilution

import (
	"errors"
	"fmt"
	"math/big"

	"vernation/scheduler/quantity"
)

// The reasons for which nothing fits, found by errors.Is.
var (
	// ErrVessel: the need and the dead volume are more than the vessel's last mark.
	ErrVessel = errors.New("the vessel is too small")
	// ErrMarks: no mark of a measure lies between the label's least and greatest rate at any mark of the vessel.
	ErrMarks = errors.New("no mark of a measure fits")
	// ErrSystems: label, vessel and measure are in units that must not be mixed.
	ErrSystems = errors.New("units of two systems")
)

// MaxMeasures bounds how often one measure is filled for one dose: beyond it people lose count.
const MaxMeasures = 10

// Filling is what to fill: a mark of the vessel and a mark of the measure, and the strength that they make.
type Filling struct {
	Need        quantity.Volume `json:"need"`        // what the plants take, reserve included
	Volume      quantity.Volume `json:"volume"`      // finished mix, a mark of the vessel
	Concentrate quantity.Volume `json:"concentrate"` // a whole number of marks of the measure
	Water       quantity.Volume `json:"water"`       // Volume - Concentrate
	Measure     string          `json:"measure"`
	// FullMeasures is how often the measure is filled to its last mark, before one more to LastMeasure where that is not 0.
	FullMeasures int64           `json:"full_measures"`
	LastMeasure  quantity.Volume `json:"last_measure"`
	Share        *big.Rat        `json:"share"` // of concentrate in the mix, exact, 0 to 1
	// Note says why a larger mark than the least was taken and which units were converted; "" for neither.
	Note string `json:"note,omitempty"`
}

// Fill chooses the finished volume and the dose together: the least mark of the vessel at or above need and dead
// volume for which marks of a measure lie between the limits. A larger mark is taken for that reason only, and
// Note says so. At that mark it takes the strongest dose, then the measure that is filled fewest times, then the
// first in the list. The dose is never above the label: the marks themselves are compared, not their rounding.
//
// A dose above a measure's last mark is several measures: so many to the last mark and one to a lower one, at
// most MaxMeasures in all.
//
// Vessel and measure must be of one system of units, so that one sheet speaks one language. The label may be
// metric where they are not, or the other way round, since the conversion is exact and no unit has two
// meanings there; it is said in Note. A US label with an imperial vessel, or the reverse, is refused.
//
// Errors: ErrVessel, ErrMarks (which says what marks would fit), ErrSystems, or what is wrong with vessel,
// measure or need. Cost: marks of the vessel times measures.
func Fill(need quantity.Volume, limits Limits, vessel Vessel, measures []Measure) (Filling, error) {
	usable, converted, err := fillable(need, limits, vessel, measures)
	if err != nil {
		return Filling{}, err
	}
	first, last, err := marksFor(need, vessel)
	if err != nil {
		return Filling{}, err
	}
	for mark := first; mark <= last; mark++ {
		dose, found := bestDose(atMark(mark, vessel.Marks), limits, usable)
		if !found {
			continue
		}
		filling := dose.filling(need, atMark(mark, vessel.Marks))
		filling.Note = note(filling.Volume, atMark(first, vessel.Marks), converted)
		return filling, nil
	}
	return Filling{}, noMark(first, last, limits, vessel, usable)
}

// marksFor returns the first mark of a vessel at or above a need and the dead volume, and the last; ErrVessel when there
// is none.
func marksFor(need quantity.Volume, vessel Vessel) (first, last int64, err error) {
	first, last = markAbove(need.Add(vessel.Dead), vessel.Marks), markBelow(vessel.Capacity, vessel.Marks)
	if first > last {
		return 0, 0, fmt.Errorf("%w: %v needed and %v dead are more than the last mark of %q at %v: want a larger vessel or two mixes",
			ErrVessel, need.As(vessel.Marks.Unit()), vessel.Dead, vessel.Name, atMark(last, vessel.Marks))
	}
	return first, last, nil
}

// fillable checks what is given and returns the measures of the vessel's system, and a sentence when the
// label's units were converted.
func fillable(need quantity.Volume, limits Limits, vessel Vessel, measures []Measure) (usable []Measure, converted string, err error) {
	if need.Sign() <= 0 {
		return nil, "", fmt.Errorf("need of %v: want more than nothing", need)
	}
	if err := vessel.Validate(); err != nil {
		return nil, "", err
	}
	if len(measures) == 0 {
		return nil, "", fmt.Errorf("%w: there is no measure: want one to dose with", ErrMarks)
	}
	system := vessel.Marks.System()
	for _, measure := range measures {
		if err := measure.Validate(); err != nil {
			return nil, "", err
		}
		if measure.Marks.System() == system {
			usable = append(usable, measure)
		}
	}
	if len(usable) == 0 {
		return nil, "", fmt.Errorf("%w: vessel %q is %s and no measure is: want one that is", ErrSystems, vessel.Name, system)
	}
	converted, err = convertedInto(limits.Max.Concentrate.System(), limits.Max.String(), vessel)
	return usable, converted, err
}

// convertedInto says that a label's rate was converted for a vessel of another system, "" where it was not. A US label with
// an imperial vessel, or the reverse, is refused: an ounce or gallon has two meanings there.
func convertedInto(label quantity.System, rate string, vessel Vessel) (string, error) {
	system := vessel.Marks.System()
	switch {
	case label == system:
		return "", nil
	case label != quantity.Metric && system != quantity.Metric:
		return "", fmt.Errorf("%w: the label's rate is %s and vessel %q is %s, whose ounces and gallons differ: want a %s or a metric vessel and measure",
			ErrSystems, label, vessel.Name, system, label)
	}
	return fmt.Sprintf("The label's rate of %s is %s; vessel and measure are %s: converted exactly.", rate, label, system), nil
}

// scale is what a dose is read off: the worth of one mark and the number of the last one. The unit is its user's.
type scale struct {
	mark *big.Rat
	last int64
}

// reading is a number of marks of one scale, by index.
type reading struct {
	scale int
	marks int64
	times int64 // how often the scale is filled, MaxMeasures at most
}

func (r reading) amount(scales []scale) *big.Rat {
	return new(big.Rat).Mul(big.NewRat(r.marks, 1), scales[r.scale].mark)
}

// strongest returns the reading between two amounts, both included, that is the greatest, then takes the fewest
// fillings of the scale, then comes first.
func strongest(least, greatest *big.Rat, scales []scale) (best reading, found bool) {
	var most *big.Rat
	for i, s := range scales {
		r := reading{scale: i, marks: min(floor(new(big.Rat).Quo(greatest, s.mark)), s.last*MaxMeasures)}
		r.times = (r.marks + s.last - 1) / s.last
		amount := r.amount(scales)
		if r.marks == 0 || amount.Cmp(least) < 0 {
			continue
		}
		if !found || amount.Cmp(most) > 0 || amount.Cmp(most) == 0 && r.times < best.times {
			best, most, found = r, amount, true
		}
	}
	return best, found
}

func floor(r *big.Rat) int64 { return new(big.Int).Quo(r.Num(), r.Denom()).Int64() }

// dose is a number of marks of one measure.
type dose struct {
	measure Measure
	marks   int64
	fullTo  int64 // the last mark of the measure
}

// bestDose returns the dose for a volume that is strongest, then takes fewest measures, then comes first.
func bestDose(volume quantity.Volume, limits Limits, measures []Measure) (best dose, found bool) {
	scales := make([]scale, len(measures))
	for i, measure := range measures {
		scales[i] = scale{measure.Marks.Millilitres(), markBelow(measure.Capacity, measure.Marks)}
	}
	r, found := strongest(limits.Min.ConcentrateFor(volume).Millilitres(), limits.Max.ConcentrateFor(volume).Millilitres(), scales)
	if !found {
		return dose{}, false
	}
	return dose{measures[r.scale], r.marks, scales[r.scale].last}, true
}

func (d dose) volume() quantity.Volume { return atMark(d.marks, d.measure.Marks) }

func (d dose) filling(need, volume quantity.Volume) Filling {
	return Filling{
		Need: need, Volume: volume, Concentrate: d.volume(), Water: volume.Sub(d.volume()),
		Measure: d.measure.Name, FullMeasures: d.marks / d.fullTo, LastMeasure: atMark(d.marks%d.fullTo, d.measure.Marks),
		Share: Strength(d.volume(), volume),
	}
}

// note says why a larger mark than the least was taken, and what was converted.
func note(volume, least quantity.Volume, converted string) string {
	if volume.Equal(least) {
		return converted
	}
	larger := fmt.Sprintf("Made to %v although %v would be enough: there no mark of a measure lies within the label.", volume, least)
	if converted == "" {
		return larger
	}
	return larger + " " + converted
}

// maxHalvings bounds the search for finer marks; marks a 64th as wide are finer than any eye.
const maxHalvings = 6

// noMark says which marks would fit: the widest got by halving those of a measure, at the least mark of the vessel that works.
func noMark(first, last int64, limits Limits, vessel Vessel, measures []Measure) error {
	refused := fmt.Errorf("%w: at no mark of %q from %v to %v does a mark of a measure lie between %v and %v", ErrMarks,
		vessel.Name, atMark(first, vessel.Marks), atMark(last, vessel.Marks), *limits.Min, *limits.Max)
	for halvings := int64(1); halvings <= maxHalvings; halvings++ {
		finer := make([]Measure, len(measures))
		for i, measure := range measures {
			finer[i] = measure
			finer[i].Marks = measure.Marks.Times(big.NewRat(1, 1<<halvings))
		}
		for mark := first; mark <= last; mark++ {
			volume := atMark(mark, vessel.Marks)
			if d, found := bestDose(volume, limits, finer); found {
				return fmt.Errorf("%w; marks every %s would: %s in %v is %s %%", refused, Fraction(d.measure.Marks), Fraction(d.volume()),
					volume, quantity.Percent(Strength(d.volume(), volume), 3))
			}
		}
	}
	return fmt.Errorf("%w; want a larger vessel or a finer measure", refused)
}

// Fraction writes a volume as it stands on a measure: "5/8 US fl oz", "2 3/8 US fl oz", "12.5 mL". Metric volumes
// and those that are no short fraction are written as decimals.
func Fraction(v quantity.Volume) string {
	amount := v.In(v.Unit())
	if v.System() == quantity.Metric || amount.IsInt() || amount.Sign() < 0 || amount.Denom().Cmp(big.NewInt(1<<maxHalvings)) > 0 {
		return v.String()
	}
	whole, rest := new(big.Int).QuoRem(amount.Num(), amount.Denom(), new(big.Int))
	fraction := fmt.Sprintf("%v/%v %s", rest, amount.Denom(), v.Unit())
	if whole.Sign() == 0 {
		return fraction
	}
	return whole.String() + " " + fraction
}
