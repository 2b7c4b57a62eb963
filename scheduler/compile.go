package scheduler

import (
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/dilution"
	"vernation/scheduler/internal/instance"
	"vernation/scheduler/site"
	"vernation/scheduler/travel"
)

// compiled is a Problem as numbers, with what leads back from them. The rules licence, label and access are filters here: which
// ways there are at all, on which technician-days, and at which beginnings; what they refuse is kept with its reason.
type compiled struct {
	p      *Problem
	rates  *Rates
	in     *instance.Instance
	origin civil.Instant  // second 0
	span   civil.Interval // the horizon with the nights around it

	siteIndex  map[site.ID]int32
	areaIndex  map[site.AreaID]int32
	plantIndex map[site.PlantID]int32
	crewIndex  map[TechnicianID]int32
	products   map[catalogue.ProductID]*catalogue.Product
	areas      []*site.Area // by area index

	items   []itemRef
	index   map[ItemID]int32
	refused [][]Reason // by item
	// refusedWays are, by follow-up and way, why a way cannot be gone at all; nil where it can.
	refusedWays [][][]Reason
	shifts      []shiftRef
	mixed       []mixedKind
	dosings     []dilution.Dosing // of mixed; empty where none can be made, and then no vessel takes it
	// substances are what caps of labels count, by number.
	substances []string
	done       map[ItemID]doneItem
	facts      []KeepOut // of fixed visits, in their order
}

// itemRef leads from an item of the kernel to the Problem.
type itemRef struct {
	id         ItemID
	follow     *FollowUp // nil for a service
	away       *away     // set when only the carry back of a follow-up is left to do
	service    *site.Service
	occurrence int
}

// shiftRef leads from a technician-day of the kernel to the Problem.
type shiftRef struct {
	technician int
	shift      int
}

// mixedKind is one product as applied by one method at one strength: the vessels that take it are the same, and one mix may
// serve all of its uses.
type mixedKind struct {
	product  catalogue.ProductID
	method   catalogue.Method
	strength string // key of its dosing; "" where the label gives one for every use
}

// doneItem is an item that was really done or stands in a fixed visit.
type doneItem struct {
	began, ended civil.Instant
	zone         civil.Zone
}

// nightHours is how far around the horizon windows are read: a shift or window that opened the day before may still run.
const nightHours = 48

// compile turns a valid Problem into numbers.
func compile(p *Problem, rates *Rates) *compiled {
	c := &compiled{
		p: p, rates: rates, in: &instance.Instance{},
		origin:    p.Zone.At(p.FirstDay, 0),
		siteIndex: map[site.ID]int32{}, areaIndex: map[site.AreaID]int32{}, plantIndex: map[site.PlantID]int32{},
		crewIndex: map[TechnicianID]int32{}, products: map[catalogue.ProductID]*catalogue.Product{},
		index: map[ItemID]int32{}, done: map[ItemID]doneItem{},
	}
	end := p.Zone.At(p.FirstDay.AddDays(p.Days), 0)
	c.span = civil.Interval{From: c.origin - nightHours*3600, To: end + nightHours*3600}
	for i := range p.Products {
		c.products[p.Products[i].ID] = &p.Products[i]
	}
	c.compileRules()
	c.compileSites()
	c.compilePlants()
	c.compileCrew()
	c.readDone()
	c.compileShifts()
	c.compileFacts()
	c.compileItems()
	c.compileLinks()
	c.compileBefore()
	c.boundEarliest()
	return c
}

func (c *compiled) compileRules() {
	r, rules := c.rates, &c.p.Rules
	c.in.LastDay = instance.Day(c.p.Days - 1)
	c.in.BreakAfter = c.length(int64(rules.BreakAfter.Seconds()))
	if rules.BreakAfter == 0 {
		c.in.BreakAfter = instance.Far
	}
	c.in.MostWork = instance.Seconds(rules.MostWork.Seconds())
	c.in.Mixing = instance.Seconds(rules.Mixing.Seconds())
	c.in.Rinsing = instance.Seconds(rules.Rinsing.Seconds())
	c.in.Sanitation = instance.Seconds(rules.Sanitation.Seconds())
	c.in.Rates = instance.Rates{
		LeastPaidMinutes: instance.Cost(r.LeastPaidMinutes.Amount),
		VehicleMinute:    instance.Cost(r.VehicleMinute.Amount),
		Visit:            instance.Cost(r.Visit.Amount),
		OtherTechnician:  instance.Cost(r.OtherTechnician.Amount),
		OtherWeekday:     instance.Cost(r.OtherWeekday.Amount),
		SanitationMinute: instance.Cost(r.SanitationMinute.Amount),
		UnevenMinute:     instance.Cost(r.UnevenMinute.Amount),
	}
}

// length bounds a length of time to what the kernel counts.
func (c *compiled) length(seconds int64) instance.Seconds {
	return instance.Seconds(min(seconds, int64(instance.Far)))
}

// second turns an instant into seconds from the origin, bounded to what the kernel counts.
func (c *compiled) second(i civil.Instant) instance.Seconds {
	return instance.Seconds(max(-int64(instance.Far), min(int64(i-c.origin), int64(instance.Far))))
}

// instant turns seconds from the origin into an instant.
func (c *compiled) instant(s instance.Seconds) civil.Instant { return c.origin + civil.Instant(s) }

// day turns a date into days from the first day of the horizon.
func (c *compiled) day(d civil.Date) instance.Day { return instance.Day(d.DaysSince(c.p.FirstDay)) }

func (c *compiled) windows(runs []civil.Interval) []instance.Window {
	windows := make([]instance.Window, len(runs))
	for i, run := range runs {
		windows[i] = instance.Window{From: c.second(run.From), To: c.second(run.To)}
	}
	return windows
}

// placeOf returns the index of a place of the travel matrix.
func (c *compiled) placeOf(place travel.PlaceID) int32 { return int32(c.p.Travel.Index(place)) }
