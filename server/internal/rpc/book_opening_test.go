package rpc_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/server/internal/convert"
	"vernation/server/internal/firm"
	"vernation/server/internal/planning"
	"vernation/server/internal/store"
)

// stored is what is published, as a plan over four weeks, and the Problem that it is judged by: nothing is fixed but what was
// done, so that the eight rules speak of every visit.
func (w *works) stored(t *testing.T) (problem scheduler.Problem, plan scheduler.Plan, pinned []scheduler.Visit) {
	t.Helper()
	err := w.Store.Reading(t.Context(), w.Office, func(tx *store.Tx) error {
		today := w.zone.DateOf(tx.Now())
		gathered, err := planning.Gather(tx, today, 28)
		if err != nil {
			return err
		}
		problem = gathered.Problem
		problem.Fixed, problem.Mixes = nil, nil
		visits, err := tx.Visits(store.VisitFilter{From: tx.Now()})
		if err != nil {
			return err
		}
		routes, err := tx.Routes(store.RouteFilter{From: today})
		if err != nil {
			return err
		}
		for _, r := range routes {
			route := scheduler.DayRoute{Technician: r.Technician, Day: r.Day, Departs: r.Departs, Returns: r.Returns, Break: r.Break, Mixes: r.Mixes}
			for _, v := range visits {
				if v.Technician == r.Technician && r.Departs <= v.Arrives && v.Arrives < r.Returns {
					if v.State == scheduler.Pinned {
						pinned = append(pinned, v)
					}
					v.State = scheduler.Published
					route.Visits = append(route.Visits, v)
				}
			}
			plan.Routes = append(plan.Routes, drawnOn(route))
		}
		keepOuts, err := tx.KeepOuts(civil.Interval{From: tx.Now()})
		for _, k := range keepOuts {
			plan.KeepOuts = append(plan.KeepOuts, k.KeepOut)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return problem, plan, pinned
}

// drawnOn is a day route without the mixes that no work draws on: they keep the places of those behind them, and nobody makes them.
func drawnOn(route scheduler.DayRoute) scheduler.DayRoute {
	mixes, at := []scheduler.Mix{}, map[int]int{}
	for i, mix := range route.Mixes {
		for _, v := range route.Visits {
			if _, known := at[i]; !known && slices.ContainsFunc(v.Work, func(w scheduler.WorkItem) bool { return w.MixIndex == i }) {
				at[i] = len(mixes)
				mixes = append(mixes, mix)
			}
		}
	}
	route.Mixes = mixes
	for v := range route.Visits {
		for w := range route.Visits[v].Work {
			if work := &route.Visits[v].Work[w]; work.MixIndex >= 0 {
				work.MixIndex = at[work.MixIndex]
			}
		}
	}
	return route
}

// arrivals are when the published visits arrive.
func arrivals(plan scheduler.Plan) map[scheduler.VisitID]civil.Instant {
	at := map[scheduler.VisitID]civil.Instant{}
	for _, route := range plan.Routes {
		for _, v := range route.Visits {
			at[v.ID] = v.Arrives
		}
	}
	return at
}

// standsAsTold holds that a booked opening gave what it said: its work where it said, what it moves moved and nothing else, and
// every rule kept.
func (w *works) standsAsTold(t *testing.T, item string, o *vernationv1.Opening, booked *vernationv1.BookOpeningResponse, before scheduler.Plan) {
	t.Helper()
	visit := booked.GetVisit()
	work := slices.IndexFunc(visit.GetWorkItems(), func(i *vernationv1.WorkItem) bool { return i.GetItem() == item })
	if work < 0 || !visit.GetWorkItems()[work].GetBegins().AsTime().Equal(o.GetBegins().AsTime()) || visit.GetTechnician() != o.GetTechnician() ||
		visit.GetState() != vernationv1.VisitState_VISIT_STATE_PINNED {
		t.Errorf("booked %v: want %s pinned as told: %s", visit, item, o.GetText())
	}
	if (o.GetCarryBack() != nil) != (booked.GetCarryBackVisit() != nil || work >= 0 && len(visit.GetWorkItems()) > 0 && o.GetCarryBack().GetTechnician() == visit.GetTechnician() && o.GetCarryBack().GetEnds().AsTime().Equal(visit.GetLeaves().AsTime())) {
		t.Errorf("carry back %v by visit %v", o.GetCarryBack(), booked.GetCarryBackVisit())
	}
	problem, plan, pinned := w.stored(t)
	for _, v := range scheduler.Check(problem, plan) {
		// A watering that the office pinned stays as it is, though the drench that took a plant's place in it is now on another day.
		if v.Rule == scheduler.RuleTiming && slices.ContainsFunc(pinned, func(p scheduler.Visit) bool {
			return p.Technician == v.Technician && v.During.From >= p.Arrives && v.During.To <= p.Leaves
		}) &&
			strings.Contains(v.Text, "leaves out plant") {
			continue
		}
		t.Errorf("booked as told (%s), what is published breaks a rule: %v", o.GetText(), v)
	}
	told := map[scheduler.VisitID]civil.Instant{}
	for _, m := range o.GetMoves() {
		told[convert.ID[scheduler.VisitID](m.GetVisit())] = convert.InstantFrom(m.GetWouldArrive())
	}
	now := arrivals(plan)
	for id, was := range arrivals(before) {
		at, there := now[id]
		want, moves := told[id]
		switch {
		case moves && at != want:
			t.Errorf("visit %s arrives %s: want %s as told", id, w.zone.Format(at), w.zone.Format(want))
		case !moves && there && at != was && id != convert.ID[scheduler.VisitID](visit.GetName()):
			t.Errorf("visit %s moved from %s to %s untold", id, w.zone.Format(was), w.zone.Format(at))
		}
	}
}

// drawOpening draws an opening of an item: ranked, or beginning while a published visit lasts; of a kind that was not seen yet
// where there is one. nil is none.
func (w *works) drawOpening(t *testing.T, item string, draw *rand.Rand, published scheduler.Plan, seen map[string]int) *vernationv1.Opening {
	t.Helper()
	asked := &vernationv1.FindOpeningsRequest{Parent: w.name(""), Item: item, MaxOpenings: 40, NothingMoves: draw.IntN(4) == 0}
	for _, route := range published.Routes {
		for _, v := range route.Visits {
			if v.Technician == "tech-a" && len(asked.Slots) < 40 {
				within := v.Arrives.Add(time.Duration(draw.IntN(3)) * 10 * time.Minute)
				asked.Slots = append(asked.Slots, &vernationv1.Slot{Technician: w.name("technicians/tech-a"), Begins: timestamppb.New(within.Time())})
			}
		}
	}
	found, err := w.plans().FindOpenings(w.office, asked)
	if err != nil {
		return nil
	}
	openings := found.GetOpenings()
	for _, answer := range found.GetSlots() {
		if answer.GetOpening() != nil {
			openings = append(openings, answer.GetOpening())
		}
	}
	if len(openings) == 0 {
		return nil
	}
	for _, o := range openings {
		if o.GetJoins() && seen["joins"] == 0 || len(o.GetMoves()) > 0 && seen["moves"] < 3 {
			return o
		}
	}
	return openings[draw.IntN(len(openings))]
}

func TestBookOpening_GivesWhatTheOpeningSaidAndKeepsEveryRule(t *testing.T) {
	t.Parallel()
	seen := map[string]int{}
	for seed := range uint64(2) {
		w := openWorks(t)
		draw := rand.New(rand.NewPCG(seed, 5))
		w.publish(t, w.makePlan(t, 14))
		for n := range 1 + int(seed) {
			for _, of := range []string{"gnats/inspect-neighbours", "mealybugs/inspect-neighbours", "gnats/application", "mealybugs/application"} {
				item := fmt.Sprintf("%s/1/%d", of, n+1)
				_, before, _ := w.stored(t)
				o := w.drawOpening(t, item, draw, before, seen)
				if o == nil {
					continue // it waits, or nothing is free
				}
				asked := &vernationv1.BookOpeningRequest{Parent: w.name(""), Token: o.GetToken(), RequestId: request()}
				booked, err := w.plans().BookOpening(w.office, asked)
				if err != nil {
					t.Fatalf("%s: %s is refused: %v", item, o.GetText(), err)
				}
				w.standsAsTold(t, item, o, booked, before)
				if again, err := w.plans().BookOpening(w.office, asked); err != nil || !proto.Equal(again, booked) {
					t.Errorf("the same request again = %v, %v; want the first answer", again, err)
				}
				for kind, is := range map[string]bool{"joins": o.GetJoins(), "moves": len(o.GetMoves()) > 0, "own": o.GetBookable()} {
					if is {
						seen[kind]++
					}
				}
			}
		}
	}
	if seen["joins"] == 0 || seen["moves"] == 0 || seen["own"] == 0 {
		t.Errorf("booked %v: want openings of each kind among them", seen)
	}
}

func TestBookOpening_ThatIsNotWhatItWasIsRefusedByName(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	w.publish(t, w.makePlan(t, 7))
	found := w.openings(t, nil)
	first, last := found.GetOpenings()[0], found.GetOpenings()[len(found.GetOpenings())-1]
	book := func(token string) error {
		_, err := w.plans().BookOpening(w.office, &vernationv1.BookOpeningRequest{Parent: w.name(""), Token: token, RequestId: request()})
		return err
	}
	expectField(t, book("b3BlbmluZw"), "token", "OPENING_UNKNOWN")
	if err := book(first.GetToken()); err != nil {
		t.Fatal(err)
	}
	expect(t, book(last.GetToken()), codes.Aborted, "OPENING_STALE") // for the follow-up is pinned now

	other := openWorks(t)
	other.publish(t, other.makePlan(t, 7))
	o := other.openings(t, nil).GetOpenings()[0]
	mark, ok := firm.ReadOpeningMark(o.GetToken())
	if !ok {
		t.Fatalf("token %q cannot be read", o.GetToken())
	}
	mark.Is[0]++
	_, err := other.plans().BookOpening(other.office, &vernationv1.BookOpeningRequest{Parent: other.name(""), Token: mark.Token(), RequestId: request()})
	expect(t, err, codes.Aborted, "OPENING_STALE")
}
