package planning

import (
	"context"
	"errors"
	"fmt"
	"math/big"
	"slices"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/dilution"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// bookingDays is how far ahead a booking may lie.
const bookingDays = scheduler.MaxHorizonDays

// Book pins a follow-up on a technician at an instant: a visit of its own that no plan moves. It is judged by the
// eight rules beside everything that is published, in one state of the store; then the plan head is locked, and when
// something that it touches has moved meanwhile it is judged again. A follow-up that is pinned already moves, and its
// visit keeps its id.
//
// Fails with NotFound (FOLLOW_UP_UNKNOWN), Invalid (UNKNOWN_TECHNICIAN, UNKNOWN_WAY, OUT_OF_RANGE), Refused
// (BOOKING_BREAKS_RULES with every violation, RATE_ABOVE_LABEL, NOTHING_FITS where vessel and measure cannot show the
// rate) and Conflict (TECHNICIAN_BUSY naming the visits in the way, HELD_ALREADY, CASES_KEEP_MOVING).
func Book(ctx context.Context, s *store.Store, caller firm.Caller, wish firm.Booking, within Within[scheduler.Visit]) (scheduler.Visit, error) {
	for range publishTries {
		var b *booking
		err := s.Reading(ctx, caller, func(tx *store.Tx) (err error) {
			b, err = judged(tx, wish)
			return withOpenings(ctx, tx, wish, err)
		})
		if err != nil {
			return scheduler.Visit{}, err
		}
		err = s.In(ctx, caller, func(tx *store.Tx) error {
			return within.run(tx, func() (scheduler.Visit, error) { return b.visit, b.keep(tx) })
		})
		switch {
		case errors.Is(err, errMoved):
		case err != nil && fault.Of(err).Reason == heldAlready:
			return scheduler.Visit{}, held(ctx, s, caller, b.gathered.Problem, "the visit for "+string(wish.Item), []scheduler.Visit{b.visit}, b.keepOuts,
				func(v scheduler.Visit, _ civil.Instant) bool {
					return v.ID == b.visit.ID || slices.Contains(b.remove, v.ID)
				}, err)
		case err != nil:
			return scheduler.Visit{}, err
		default:
			return b.visit, nil
		}
	}
	return scheduler.Visit{}, keepsMoving("what a visit for " + string(wish.Item) + " touches")
}

// judged gathers and finds the visit that a wish asks for, which breaks no rule.
func judged(tx *store.Tx, wish firm.Booking) (*booking, error) {
	business, err := tx.Business()
	if err != nil {
		return nil, err
	}
	b := &booking{wish: wish}
	if b.gathered, err = Gather(tx, business.Zone.DateOf(tx.Now()), bookingDays); err != nil {
		return nil, err
	}
	b.problem = b.gathered.Problem
	if err := b.readDays(tx); err != nil {
		return nil, err
	}
	for _, step := range []func() error{b.find, b.build, b.fits, b.judge} {
		if err := step(); err != nil {
			return nil, err
		}
	}
	return b, nil
}

// nothingFits is the reason for a rate that vessel and measure cannot show. The rules speak before it.
const nothingFits = "NOTHING_FITS"

type booking struct {
	wish       firm.Booking
	gathered   Gathered
	head       firm.Head
	problem    scheduler.Problem
	followUp   scheduler.FollowUp
	way        scheduler.Way
	technician scheduler.Technician
	shift      scheduler.Shift
	site       site.Site
	visit      scheduler.Visit
	keepOuts   []scheduler.KeepOut
	unfilled   error // why there is no mix for the application

	present published
	days    []scheduler.DayRoute // as published, without the follow-up
	day     scheduler.DayRoute   // with the visit
	shut    []firm.KeepOutFact   // published, without the follow-up's
	upsert  []scheduler.Visit
	remove  []scheduler.VisitID
}

// find looks up what the wish names.
func (b *booking) find() error {
	i := slices.IndexFunc(b.problem.FollowUps, func(f scheduler.FollowUp) bool { return f.ID == b.wish.Item })
	if i < 0 {
		return fault.New(fault.NotFound, "FOLLOW_UP_UNKNOWN", "no open case needs %q within %d days: look at the case's course", b.wish.Item, bookingDays)
	}
	b.followUp = b.problem.FollowUps[i]
	if i = slices.IndexFunc(b.problem.Technicians, func(t scheduler.Technician) bool { return t.ID == b.wish.Technician }); i < 0 {
		return wrongField("technician", "UNKNOWN_TECHNICIAN", "technician %q is not of this business", b.wish.Technician)
	}
	b.technician = b.problem.Technicians[i]
	b.makeRoom()
	b.way = b.followUp.Ways[0]
	if b.wish.Way != "" {
		if i = slices.IndexFunc(b.followUp.Ways, func(w scheduler.Way) bool { return w.Kind == b.wish.Way }); i < 0 {
			return wrongField("way_kind", "UNKNOWN_WAY", "%s has no way of the kind %s: want one of its course's", b.wish.Item, b.wish.Way)
		}
		b.way = b.followUp.Ways[i]
	}
	if slices.ContainsFunc(b.way.Parts, func(p scheduler.Part) bool { return p.Kind == scheduler.WaitPart }) {
		return wrongField("way_kind", "WAY_WITH_RETURN", "way %q has a return that must be planned with it: let a plan place it", b.way.ID)
	}
	b.site = b.problem.Sites[slices.IndexFunc(b.problem.Sites, func(s site.Site) bool { return s.ID == b.followUp.Site })]
	for _, shift := range b.technician.Shifts {
		if shift.During.From <= b.wish.Begins && b.wish.Begins < shift.During.To {
			b.shift = shift
			return nil
		}
	}
	f := fault.New(fault.Refused, "BOOKING_BREAKS_RULES", "%s has no shift at %s", b.technician.Name, b.site.Zone.Format(b.wish.Begins))
	f.Violations = []scheduler.Violation{{Rule: scheduler.RuleShift, Technician: b.technician.ID, Site: b.site.ID, Item: b.wish.Item, Text: f.Message}}
	return f
}

func wrongField(path, reason, text string, args ...any) error {
	return fault.InvalidFields([]catalogue.FieldError{{Path: path, Reason: reason, Text: fmt.Sprintf(text, args...)}})
}

// build makes the visit (sign-in, mixing, the way's parts from the wished beginning) and puts it into its day.
func (b *booking) build() error {
	at := b.wish.Begins
	b.visit = scheduler.Visit{ID: b.wish.Visit, State: scheduler.Pinned, Technician: b.technician.ID, Site: b.site.ID, SignIn: b.site.SignIn}
	mixes, err := b.mixes()
	if err != nil && fault.Of(err).Reason != nothingFits {
		return err
	}
	b.unfilled = err
	b.visit.Arrives = at.Add(-b.site.SignIn - time.Duration(len(mixes))*b.problem.Rules.Mixing)
	for p, part := range b.way.Parts {
		work := scheduler.WorkItem{Item: b.followUp.ID, Kind: b.followUp.Kind, Way: b.way.ID, Part: p, Area: part.Area,
			Plants: b.followUp.Plants, Begins: at, Ends: at.Add(part.Takes), Use: part.Use, MixIndex: -1}
		if part.Use != nil && len(mixes) > 0 {
			work.MixIndex = 0
		}
		at = work.Ends
		b.visit.Work = append(b.visit.Work, work)
	}
	b.visit.Leaves = at
	b.day = b.dayOfShift()
	for i := range mixes {
		mixes[i].Begins = b.visit.Arrives.Add(b.site.SignIn)
		mixes[i].Ready = mixes[i].Begins.Add(b.problem.Rules.Mixing)
		mixes[i].LastUse = b.visit.Leaves
		mixes[i].UseBy = dilution.UseBy(mixes[i].Begins, b.label(mixes[i].Product).MixLife, b.shift.During.To)
		mixes[i].RinseAtBase = true
	}
	for w := range b.visit.Work {
		if b.visit.Work[w].MixIndex >= 0 {
			b.visit.Work[w].MixIndex += len(b.day.Mixes)
		}
	}
	b.joinDay(mixes)
	b.keepOuts = b.shutBy()
	return nil
}

func (b *booking) label(id catalogue.ProductID) catalogue.Label {
	for _, p := range b.problem.Products {
		if p.ID == id {
			return p.Label
		}
	}
	return catalogue.Label{}
}

// mixes fills the vessel for the way's one diluted product, or returns none.
func (b *booking) mixes() ([]scheduler.Mix, error) {
	for _, part := range b.way.Parts {
		if part.Use == nil {
			continue
		}
		i := slices.IndexFunc(b.problem.Products, func(p catalogue.Product) bool { return p.ID == part.Use.Product })
		if i < 0 || !b.problem.Products[i].Diluted() {
			continue
		}
		mix, err := b.fill(b.problem.Products[i], *part.Use)
		if err != nil {
			return nil, err
		}
		return []scheduler.Mix{mix}, nil
	}
	return nil, nil
}

func (b *booking) fill(product catalogue.Product, use scheduler.Use) (scheduler.Mix, error) {
	dosing, err := dilution.LabelDosing(product, b.problem.Rules.LeastRatePercent, scheduler.PouredBy(&use, b.plant))
	if err != nil {
		return scheduler.Mix{}, fault.New(fault.Refused, nothingFits, "%v", err)
	}
	if b.wish.Rate != nil && dosing.Liquid == nil {
		return scheduler.Mix{}, wrongField("rate", "INVALID_RATE", "%v of %s, which is weighed or counted: leave it unset, its label's rate is kept", *b.wish.Rate, product.Name)
	}
	if b.wish.Rate != nil {
		limits := *dosing.Liquid
		if err := b.wish.Rate.Validate(); err != nil {
			return scheduler.Mix{}, wrongField("rate", "INVALID_RATE", "%v", err)
		}
		if times, above := dilution.AboveLabel(b.wish.Rate.Share(), limits); above {
			f := fault.New(fault.Refused, "RATE_ABOVE_LABEL", "%v is %s times the label's greatest rate of %s, %v: book that rate or less",
				*b.wish.Rate, times.FloatString(3), product.Name, *product.Label.MaxRate)
			f.Violations = []scheduler.Violation{{Rule: scheduler.RuleLabel, Technician: b.technician.ID, Site: b.site.ID, Item: b.wish.Item, Text: f.Message}}
			return scheduler.Mix{}, f
		}
		limits.Max = b.wish.Rate
		dosing.Liquid = &limits
	}
	need := quantity.Volume{}
	for _, dose := range use.Doses {
		need = need.Add(dose.Amount)
	}
	need = need.Times(big.NewRat(int64(100+use.ReservePercent), 100))
	var nothing error = fault.New(fault.Refused, nothingFits, "%s has no vessel for %s", b.technician.Name, use.Method)
	for _, vessel := range b.vessels() {
		if !slices.Contains(vessel.Methods, use.Method) {
			continue
		}
		filling, err := dosing.Fill(need, vessel, b.technician.Kit(&product))
		if err != nil {
			nothing = fault.New(fault.Refused, nothingFits, "%s: %v", vessel.Name, err)
			continue
		}
		return scheduler.Mix{Technician: b.technician.ID, Product: product.ID, Vessel: vessel.ID, Measure: filling.Measure, Site: b.site.ID,
			Area: b.site.Water.Area, Need: need, Volume: filling.Volume, Concentrate: filling.Concentrate, Mass: filling.Mass, Organisms: filling.Organisms, Note: filling.Note}, nil
	}
	return scheduler.Mix{}, nothing
}

// plant returns a plant of the Problem.
func (b *booking) plant(id site.PlantID) (site.Plant, bool) {
	i := slices.IndexFunc(b.problem.Plants, func(p scheduler.PlantState) bool { return p.Plant.ID == id })
	if i < 0 {
		return site.Plant{}, false
	}
	return b.problem.Plants[i].Plant, true
}
