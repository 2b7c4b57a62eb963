package planning

import (
	"cmp"
	"maps"
	"math/big"
	"slices"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/dilution"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// taking is what a plan takes of one product at a time.
type taking struct {
	on   civil.Date
	load dilution.Load
}

// StockLevels says of every product of which there are lots, or that a plan takes, what there is, what the plan takes from now on, and what
// must be had for it; in order of product. The plan is a kept one by name, or with "" the published visits.
//
// Fails with NotFound for the plan.
func StockLevels(tx *store.Tx, plan string) ([]firm.StockLevel, error) {
	s := stocktaking{tx: tx, levels: map[catalogue.ProductID]*firm.StockLevel{}, takings: map[catalogue.ProductID][]taking{}}
	for _, step := range []func() error{s.readShelf, func() error { return s.readPlan(plan) }} {
		if err := step(); err != nil {
			return nil, err
		}
	}
	var levels []firm.StockLevel
	for _, id := range slices.Sorted(maps.Keys(s.levels)) {
		s.reckon(s.levels[id])
		levels = append(levels, *s.levels[id])
	}
	return levels, nil
}

type stocktaking struct {
	tx       *store.Tx
	business firm.Business
	products map[catalogue.ProductID]catalogue.Product
	lots     map[catalogue.ProductID][]firm.Lot
	unbooked map[catalogue.ProductID][]dilution.Amount
	takings  map[catalogue.ProductID][]taking
	levels   map[catalogue.ProductID]*firm.StockLevel
}

func (s *stocktaking) readShelf() (err error) {
	if s.business, err = s.tx.Business(); err != nil {
		return err
	}
	products, err := s.tx.AllProducts()
	if err != nil {
		return err
	}
	s.products, s.lots = map[catalogue.ProductID]catalogue.Product{}, map[catalogue.ProductID][]firm.Lot{}
	for _, p := range products {
		s.products[p.ID] = p
	}
	lots, err := s.tx.Lots()
	if err != nil {
		return err
	}
	for _, l := range lots {
		s.lots[l.Product] = append(s.lots[l.Product], l)
		s.level(l.Product)
	}
	s.unbooked, err = s.tx.Unbooked()
	return err
}

// level is the entry of a product, made when there is none.
func (s *stocktaking) level(id catalogue.ProductID) *firm.StockLevel {
	if s.levels[id] == nil {
		s.levels[id] = &firm.StockLevel{Product: s.products[id], Living: s.products[id].Form == catalogue.Living}
	}
	return s.levels[id]
}

// readPlan takes what is to be mixed, drawn or strewn from now on.
func (s *stocktaking) readPlan(name string) error {
	var routes []scheduler.DayRoute
	if name == "" {
		published, err := s.published()
		if err != nil {
			return err
		}
		routes = published
	} else {
		kept, err := s.tx.Plan(name)
		if err != nil {
			return err
		}
		routes = kept.Plan.Routes
	}
	for _, route := range routes {
		drawnOn := map[int]bool{}
		for _, visit := range route.Visits {
			for _, work := range visit.Work {
				if work.Use != nil && work.MixIndex < 0 && work.Begins >= s.tx.Now() {
					s.takeUse(work)
				}
				drawnOn[work.MixIndex] = true
			}
		}
		for i, mix := range route.Mixes {
			if mix.Begins >= s.tx.Now() && drawnOn[i] {
				s.take(mix.Begins, dilution.Load{Product: s.products[mix.Product], Concentrate: mix.Concentrate, Powder: mix.Mass, Organisms: mix.Organisms})
			}
		}
	}
	return nil
}

// published are the published day routes from today on, with their visits.
func (s *stocktaking) published() ([]scheduler.DayRoute, error) {
	today := s.business.Zone.DateOf(s.tx.Now())
	routes, err := s.tx.Routes(store.RouteFilter{From: today - 1, To: today.AddDays(farAhead)})
	if err != nil {
		return nil, err
	}
	visits, err := s.tx.Visits(store.VisitFilter{From: s.tx.Now().Add(-scheduler.MaxShift), To: s.business.Zone.At(today.AddDays(farAhead), 0),
		States: []scheduler.VisitState{scheduler.Published, scheduler.Announced, scheduler.Pinned, scheduler.Begun}})
	if err != nil {
		return nil, err
	}
	days := make([]scheduler.DayRoute, len(routes))
	for i, r := range routes {
		days[i] = scheduler.DayRoute{Technician: r.Technician, Day: r.Day, Mixes: r.Mixes}
		for _, v := range visits {
			if v.Technician == r.Technician && r.Departs <= v.Arrives && v.Arrives < r.Returns {
				days[i].Visits = append(days[i].Visits, v)
			}
		}
	}
	return days, nil
}

// takeUse takes what is applied without a mix: ready to use or strewn, with its reserve.
func (s *stocktaking) takeUse(work scheduler.WorkItem) {
	product, known := s.products[work.Use.Product]
	if !known || product.Diluted() {
		return // of a mix that is made already
	}
	reserve := big.NewRat(int64(100+work.Use.ReservePercent), 100)
	load := dilution.Load{Product: product}
	for _, dose := range work.Use.Doses {
		load.Powder = load.Powder.Add(dose.Mass)
		load.Organisms += dose.Organisms
		if product.Form == catalogue.ReadyToUse {
			load.Concentrate = load.Concentrate.Add(dose.Amount.Times(reserve))
		}
	}
	s.take(work.Begins, load)
}

func (s *stocktaking) take(at civil.Instant, load dilution.Load) {
	id := load.Product.ID
	s.level(id)
	s.takings[id] = append(s.takings[id], taking{s.business.Zone.DateOf(at), load})
}

// reckon lays what is taken over what there is: each use from the lot that expires first of those that may still be used on
// its day.
func (s *stocktaking) reckon(level *firm.StockLevel) {
	product := level.Product
	today := s.business.Zone.DateOf(s.tx.Now())
	like := s.like(product)
	var held []dilution.Held
	usable, unusable := new(big.Rat), new(big.Rat)
	for _, l := range s.lots[product.ID] {
		h := l.Held()
		held = append(held, h)
		switch {
		case h.Last.IsZero() || h.Last < today:
			unusable.Add(unusable, h.Left)
		case h.Left.Sign() > 0:
			usable.Add(usable, h.Left)
			if level.NextExpiry.IsZero() || h.Last < level.NextExpiry {
				level.NextExpiry = h.Last
			}
		}
	}
	slices.SortStableFunc(s.takings[product.ID], func(a, b taking) int { return cmp.Compare(a.on, b.on) })
	needed, short := new(big.Rat), new(big.Rat)
	for _, t := range s.takings[product.ID] {
		amount := loaded(t.load)
		if like.Sign() == 0 {
			like = amount
		}
		needed.Add(needed, amount.Base())
		_, missing := dilution.Take(amount.Base(), t.on, held)
		if missing.Sign() > 0 && short.Sign() == 0 {
			s.arrange(level, t.on)
		}
		short.Add(short, missing)
		if level.FirstUse.IsZero() {
			level.FirstUse = t.on
		}
		level.LastUse = t.on
	}
	after := new(big.Rat)
	for _, h := range held {
		if h.Last >= max(today, level.LastUse) && h.Left.Sign() > 0 {
			after.Add(after, h.Left)
		}
	}
	unbooked := new(big.Rat)
	for _, amount := range s.unbooked[product.ID] {
		unbooked.Add(unbooked, amount.Base())
	}
	level.Usable, level.Unusable, level.Needed, level.Short = like.Of(usable), like.Of(unusable), like.Of(needed), like.Of(short)
	level.After, level.Unbooked = like.Of(after), like.Of(unbooked)
	level.RunsLow = needed.Sign() > 0 && (short.Sign() > 0 || after.Cmp(needed) < 0)
}

// like is an amount in the unit in which a product is told: that of its lots.
func (s *stocktaking) like(product catalogue.Product) dilution.Amount {
	if lots := s.lots[product.ID]; len(lots) > 0 {
		return lots[0].Pack
	}
	return dilution.Amount{}
}

// loaded is what a load takes out of the containers.
func loaded(load dilution.Load) dilution.Amount {
	switch dilution.MeasuredBy(load.Product.Form) {
	case dilution.ByMass:
		return dilution.Amount{Mass: load.Powder}
	case dilution.ByNumber:
		return dilution.Amount{Organisms: load.Organisms}
	}
	return dilution.Amount{Volume: load.Concentrate}
}

// arrange says by when what is missing on a day must be delivered and ordered: living goods on one of their weekdays, all
// with the policy's days for an order.
func (s *stocktaking) arrange(level *firm.StockLevel, on civil.Date) {
	level.DeliverOn = on
	if days := level.Product.DeliveryDays; len(days) > 0 {
		for range 7 {
			if slices.Contains(days, level.DeliverOn.Weekday()) {
				break
			}
			level.DeliverOn = level.DeliverOn.AddDays(-1)
		}
	}
	level.OrderBy = level.DeliverOn.AddDays(-s.business.Policy.OrderDays)
}
