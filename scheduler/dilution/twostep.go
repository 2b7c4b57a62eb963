package dilution

import (
	"fmt"
	"math/big"

	"vernation/scheduler/quantity"
)

// TwoStep is a dilution through a stock: concentrate into a stock vessel, then a dose of that stock into the vessel.
type TwoStep struct {
	// Stock is the first step; its Need is the dose of the second.
	Stock Filling `json:"stock"`
	// Filling is the second: its Concentrate is stock, its Share the share of stock in the mix.
	Filling Filling `json:"filling"`
	// Share is of the product's own concentrate in the finished mix, exact: the product of both shares.
	Share *big.Rat `json:"share"`
}

// maxTries bounds the pairs of a stock and a dose that FillInTwo looks at.
const maxTries = 100_000

// FillInTwo finds a dilution in two steps where the dose of one step is too small to read: at the least mark of the vessel
// that works the least stock, the largest dose of it, and then the strongest one, never above the label in the finished
// mix. The stock is made with one filling of one measure and the dose taken with at most MaxMeasures.
//
// A stock is itself a mix: the label's mix life counts from it, and it is marked and rinsed as one. Whether the label
// allows it is the reader's to see.
//
// Errors: those of Fill, for vessel and stock vessel alike; ErrMarks when no pair of marks fits.
func FillInTwo(need quantity.Volume, limits Limits, vessel, stockVessel Vessel, measures []Measure) (TwoStep, error) {
	usable, converted, err := fillable(need, limits, vessel, measures)
	if err != nil {
		return TwoStep{}, err
	}
	if err := stockVessel.Validate(); err != nil {
		return TwoStep{}, err
	}
	if stockVessel.Marks.System() != vessel.Marks.System() {
		return TwoStep{}, fmt.Errorf("%w: vessel %q is %s and the stock vessel %q is %s: want both in one", ErrSystems,
			vessel.Name, vessel.Marks.System(), stockVessel.Name, stockVessel.Marks.System())
	}
	first, last, err := marksFor(need, vessel)
	if err != nil {
		return TwoStep{}, err
	}
	s := stocks{limits: limits, vessel: stockVessel, measures: usable}
	for mark := first; mark <= last; mark++ {
		volume := atMark(mark, vessel.Marks)
		two, found := s.forVolume(need, volume)
		if found {
			two.Filling.Note = note(volume, atMark(first, vessel.Marks), converted)
			return two, nil
		}
		if s.tries >= maxTries {
			break
		}
	}
	return TwoStep{}, fmt.Errorf("%w: no stock in %q and dose of it in %q lies between %v and %v: want a finer measure or a larger vessel",
		ErrMarks, stockVessel.Name, vessel.Name, *limits.Min, *limits.Max)
}

// stocks is the search for a stock.
type stocks struct {
	limits   Limits
	vessel   Vessel
	measures []Measure
	tries    int
}

func (s *stocks) forVolume(need, volume quantity.Volume) (TwoStep, bool) {
	least, greatest := s.limits.Min.ConcentrateFor(volume), s.limits.Max.ConcentrateFor(volume)
	for mark := int64(1); mark <= markBelow(s.vessel.Capacity, s.vessel.Marks); mark++ {
		stock := atMark(mark, s.vessel.Marks)
		room := stock.Sub(s.vessel.Dead)
		for _, measure := range s.measures {
			fullTo := markBelow(measure.Capacity, measure.Marks)
			for marks := min(markBelow(room, measure.Marks), fullTo*MaxMeasures); marks > 0 && s.tries < maxTries; marks-- {
				s.tries++
				d := dose{measure, marks, fullTo}
				// So much of the stock must hold the concentrate: the share of the stock that is drawn.
				drawn := Strength(d.volume(), stock)
				scale := drawn.Inv(drawn)
				one, ok := s.stockDose(least.Times(scale), greatest.Times(scale))
				if !ok || one.volume().Cmp(stock) >= 0 {
					continue
				}
				two := TwoStep{Stock: one.filling(d.volume(), stock), Filling: d.filling(need, volume)}
				two.Share = new(big.Rat).Mul(two.Stock.Share, two.Filling.Share)
				return two, true
			}
		}
	}
	return TwoStep{}, false
}

// stockDose returns the strongest single filling of a measure between two amounts of concentrate.
func (s *stocks) stockDose(least, greatest quantity.Volume) (dose, bool) {
	var best dose
	for _, measure := range s.measures {
		fullTo := markBelow(measure.Capacity, measure.Marks)
		d := dose{measure, min(fullTo, markBelow(greatest, measure.Marks)), fullTo}
		if d.marks > 0 && d.volume().Cmp(least) >= 0 && (best.marks == 0 || d.volume().Cmp(best.volume()) > 0) {
			best = d
		}
	}
	return best, best.marks > 0
}
