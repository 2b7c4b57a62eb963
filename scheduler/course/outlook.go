package course

import (
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
)

// Outlook is what the model expects of a case, day by day, when everything is done on its ideal day: the curve behind the
// proof, an estimate. It has no days where nothing is to be applied.
type Outlook struct {
	// Stages are those that the model counts together, in the sequence of life; one alone as a rule.
	Stages [][]catalogue.StageID `json:"stages"`
	Days   []OutlookDay          `json:"days"`
	// AtFirst is the number of insects that the model begins with, by the policy's numbers for a severity.
	AtFirst     float64  `json:"at_first"`
	Assumptions []string `json:"assumptions,omitempty"`
	Caution     string   `json:"caution"`
}

// OutlookDay is one day of an Outlook, right after what is applied on it.
type OutlookDay struct {
	On civil.Date `json:"on"`
	// Expected are living insects by stage, as Outlook.Stages lists them; All is their sum, of which the course's ExpectedLeft is a
	// share.
	Expected []float64 `json:"expected"`
	All      float64   `json:"all"`
	Free     float64   `json:"free"`              // chance that none is left
	Applied  []Applied `json:"applied,omitempty"` // made, or planned to be
}

// Applied is what goes on the plants on one day of an Outlook.
type Applied struct {
	Product  catalogue.ProductID  `json:"product,omitempty"` // "" for physical work that needs none
	Material catalogue.MaterialID `json:"material"`
}

// MaxOutlookDays bounds an Outlook.
const MaxOutlookDays = 366

// Foresee returns the outlook of a case, from its first application to the end of the inspections that follow the last. The only
// error is *InvalidInput, as Compute's.
func Foresee(in Input) (Outlook, error) {
	c, err := Compute(in)
	if err != nil {
		return Outlook{}, err
	}
	o := Outlook{Assumptions: c.Assumptions, Caution: estimateCaution}
	s := read(in.ordered())
	if c.Material == "" || c.Ended != nil {
		return o, nil
	}
	lawful, _ := s.choose()
	p := lawful[0]
	whole, _ := p.whole()
	last := whole.lastOn
	if !c.Looks.FirstOn.IsZero() {
		last = max(last, c.Looks.FirstOn.AddDays(max(0, c.Looks.Needed-1)*in.Policy.LookEveryDays))
	}
	days := min(last.DaysSince(whole.beganOn)+1, MaxOutlookDays)
	for i := range days {
		o.Days = append(o.Days, OutlookDay{On: whole.beganOn.AddDays(i), Free: 1})
	}
	for _, q := range p.sequences {
		s.foresee(&o, p, q)
	}
	for i := range o.Days {
		o.Days[i].Free = roundTo(min(o.Days[i].Free, in.Policy.MostChance), 4)
		for j, expected := range o.Days[i].Expected {
			o.Days[i].All += expected
			o.Days[i].Expected[j] = roundTo(expected, 4)
		}
		o.Days[i].All = roundTo(o.Days[i].All, 4)
	}
	return o, nil
}

// foresee adds one sequence to an outlook. Before its first application its brood is taken to be as it is then.
func (s *story) foresee(o *Outlook, p *candidate, q *sequence) {
	x := newPricing(s, q, p)
	o.AtFirst += x.start
	if o.Stages == nil {
		for _, joint := range x.model.stretches {
			var ids []catalogue.StageID
			for _, stage := range s.pest.Stages[joint.first : joint.last+1] {
				ids = append(ids, stage.ID)
			}
			o.Stages = append(o.Stages, ids)
		}
		for i := range o.Days {
			o.Days[i].Expected = make([]float64, len(o.Stages))
		}
	}
	brood := x.model.begin(x.start)
	for i := range o.Days {
		day := o.Days[i].On.DaysSince(q.beganOn)
		if day < 0 {
			x.model.count(brood, o.Days[i].Expected)
			o.Days[i].Free = 0
			continue
		}
		x.model.live(&brood, x.days, day)
		after := brood.clone()
		x.model.applyOn(&after, x.days)
		x.model.count(after, o.Days[i].Expected)
		gone := x.model.back(make([]float64, len(x.model.start)), x.days, day, 0)
		o.Days[i].Free *= x.model.free(x.start, gone, x.plants, 1)
	}
	for _, r := range q.rounds {
		o.note(r.on, Applied{r.product, r.used})
	}
	for _, one := range q.planned {
		o.note(one.on, Applied{one.by.product.ID, one.by.material.ID})
	}
}

// note says once that something goes on the plants on a day.
func (o *Outlook) note(on civil.Date, a Applied) {
	i := slices.IndexFunc(o.Days, func(d OutlookDay) bool { return d.On == on })
	if i >= 0 && !slices.Contains(o.Days[i].Applied, a) {
		o.Days[i].Applied = append(o.Days[i].Applied, a)
	}
}

// count adds the insects of a brood by stage.
func (m *cohort) count(b living, to []float64) {
	for i := range b.covered {
		to[m.of[i]] += b.covered[i] + b.hidden[i]
	}
}

// EndsOn is the day of the last follow-up when each is done on its ideal day; unset where there is none.
func (c Course) EndsOn() civil.Date {
	var last civil.Date
	for _, f := range c.FollowUps {
		last = max(last, f.Expected)
	}
	return last
}
