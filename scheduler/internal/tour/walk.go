package tour

import (
	"vernation/scheduler/internal/instance"
)

// Short names of the kernel's units.
type (
	// Seconds is instance.Seconds.
	Seconds = instance.Seconds
	// Day is instance.Day.
	Day = instance.Day
	// Cost is instance.Cost.
	Cost = instance.Cost
)

// Ref names one block: item, index of its way, leg and block.
type Ref struct {
	Item            int32
	Way, Leg, Block int16
}

// Stop is one visit in the making. Refs are in canonical order: see Before.
type Stop struct {
	Site  int32
	Fixed int32 // of the shift's fixed visits, or None
	Refs  []Ref
}

// Times are when and where an item is placed.
type Times struct {
	Placed             bool
	Way                int16
	Tour, Stop         int32 // of the first leg
	Begins, Ends       Seconds
	Day                Day     // of its beginning, at its site
	OpenFrom           Seconds // end of the keep-out that its application makes
	Returned           bool    // the second leg is placed
	BackTour           int32
	BackBegin, BackEnd Seconds
}

// End returns when all of the item has ended.
func (t Times) End() Seconds { return max(t.Ends, t.BackEnd) }

// Stretch is a stretch of time that a tour, or a fact (Tour None), takes.
type Stretch struct {
	instance.Window
	Tour int32
}

// Pause is when the break of a tour begins, 0 where none is taken, and whether it is taken on arrival at a stop.
type Pause struct {
	From    Seconds
	Arrived bool
}

// Around is what a walk sees of everything else. The walk does not change it.
type Around struct {
	Shut    [][]Stretch // by area: nobody may be in it
	Present [][]Stretch // by area: somebody of ours is in it
	Placed  []Times     // by item
	Break   []Pause     // by tour; nil is not known
	Breaks  [][]Stretch // by site: breaks that lie in a visit there, in whatever area is open
}

// Piece is one work item as it came to lie.
type Piece struct {
	Ref
	Piece        int16
	Stop         int32
	Mix          int32 // index into Mixes, or None
	Begins, Ends Seconds
}

// Mix is one filling.
type Mix struct {
	Product, Vessel      int32
	Need                 int64 // nanolitres
	Stop                 int32 // of first use
	Area                 int32 // None: made with carried water, in no area
	Begins, Ready        Seconds
	LastUse, UseBy       Seconds
	RinseFrom, RinseTo   Seconds
	AtBase               bool
	RinseStop, RinseArea int32
	lastPiece            int // of the mixed pieces in order
	rinseSlot            int
}

// Treatment is the applications of one visit in one area.
type Treatment struct {
	Area, Stop    int32
	Item          int32 // of the longest interval
	Begins, Ends  Seconds
	Keep, Unaired Seconds
	OpenFrom      Seconds
}

// Visit is a stop with its times and cost.
type Visit struct {
	Arrives, Leaves Seconds
	Parts           Parts
}

// Walk is a technician-day with its times.
type Walk struct {
	Departs, Returns Seconds
	Break            instance.Window // empty when none is taken
	BreakArrived     bool            // it is taken on arrival at a stop
	Visits           []Visit         // by stop
	Pieces           []Piece         // in order
	Mixes            []Mix
	Treatments       []Treatment
	Own              Parts // what belongs to the day and to no visit
	Changes          Cost  // published visits that it does not keep
	Cost             Cost  // sum of all of these
	Work             Seconds
}

// Walker walks tours. It holds scratch space and is not safe for concurrent use.
type Walker struct {
	in     *instance.Instance
	around *Around
	rules  rules
	areas  [][]int32 // by site
	varies []bool    // by item: it takes less time on days on which follow-ups replace some of its plants

	tour   int32
	shift  *instance.Shift
	stops  []Stop
	hold   []Seconds // by stop: published arrival to keep, or Far
	slots  []slot
	need   []fill // planned fillings
	drawn  []int  // by mixed piece in order: its filling
	splits []int  // mixed pieces that must open a new filling
	own    []Times
	seen   []int32 // by item: epoch in which it stands in this tour
	epoch  int32
	walk   Walk
	// starts are the earliest starts by slot, early the walk that has them; best and held are walks to compare with.
	starts            []Seconds
	early, best, held Walk
	reached           []Seconds // by slot and behind the last: the earliest time at which the one before has ended
	by                []Seconds // by slot and behind the last: the latest time for it to begin
	// vessel[v] says that the vessel is in use or not yet rinsed.
	vessel  []bool
	kept    []bool    // vessel as it was when save was called last
	rinsed  []Seconds // by slot: how long was rinsed behind it so far
	days    []Day     // of applications that a cap counts
	others  []Day     // of those between them
	waits   Seconds   // how long the day waits behind its first arrival, at the earliest times
	breakAt int       // the slot before which the break lies, -1 for none
	arrived bool      // the break before the first slot of a stop is taken there, not where the day comes from
	cause   Cause
}

// slot is a block, or a fixed visit, in the order of the day.
type slot struct {
	ref          Ref
	stop         int32
	block        *instance.Block // nil: fixed visit
	first, count int             // its pieces in walk.Pieces
	starts       Seconds         // mixing before its first piece included
	length       Seconds         // to the end of its last piece
	rinse        Seconds         // after that
	latest       Seconds         // the last beginning of its first piece
	fill         int             // first of need for its pieces, by order
}

// NewWalker returns a walker over an instance and what is around.
func NewWalker(in *instance.Instance, around *Around) *Walker {
	// No item is of a tour being walked before the first walk.
	w := &Walker{in: in, around: around, epoch: 1, own: make([]Times, len(in.Items)), seen: make([]int32, len(in.Items))}
	w.areas = make([][]int32, len(in.Sites))
	for area := range in.Areas {
		site := in.Areas[area].Site
		w.areas[site] = append(w.areas[site], int32(area))
	}
	w.varies = make([]bool, len(in.Items))
	for i := range in.Items {
		w.varies[i] = varies(&in.Items[i])
	}
	w.rules = rules{shiftRule{w}, accessRule{w}, timingRule{w}, labelRule{w}, reentryRule{w}, mixRule{w}, pinnedRule{w}}
	return w
}

// Varies says whether an item takes less time on days on which follow-ups replace some of its plants.
func (w *Walker) Varies(item int32) bool { return w.varies[item] }

// varies says whether follow-ups may replace some of an item's plants.
func varies(item *instance.Item) bool {
	for w := range item.Ways {
		for l := range item.Ways[w].Legs {
			for b := range item.Ways[w].Legs[l].Blocks {
				for p := range item.Ways[w].Legs[l].Blocks[b].Pieces {
					for _, group := range item.Ways[w].Legs[l].Blocks[b].Pieces[p].Groups {
						if len(group.ReplacedBy) > 0 {
							return true
						}
					}
				}
			}
		}
	}
	return false
}

// Walk simulates a tour. The result is the walker's own until the next call: Clone keeps it.
// ok is false when a rule speaks against it; Why then says which.
func (w *Walker) Walk(tour int32, stops []Stop) (walk *Walk, ok bool) {
	w.tour, w.shift, w.stops = tour, &w.in.Shifts[tour], stops
	defer func() { w.epoch++ }() // from here on no item is of a tour being walked
	w.cause = Cause{Item: instance.None}
	w.prepare()
	if !w.rules.mix.extend() {
		return nil, false
	}
	held := w.holdPublished()
	best, ok := w.bestBreak()
	if !held {
		return best, ok
	}
	if ok {
		best.into(&w.held)
	}
	w.freeArrivals()
	if free, freeOK := w.bestBreak(); freeOK && (!ok || free.Cost < w.held.Cost) {
		return free, true
	}
	if ok {
		w.walk, w.held = w.held, w.walk
		return &w.walk, true
	}
	return nil, false
}

// Why says which rule spoke against the last walk.
func (w *Walker) Why() Cause { return w.cause }

// Clone returns a copy that shares nothing.
func (walk *Walk) Clone() Walk {
	c := *walk
	c.Visits = append([]Visit(nil), walk.Visits...)
	c.Pieces = append([]Piece(nil), walk.Pieces...)
	c.Mixes = append([]Mix(nil), walk.Mixes...)
	c.Treatments = append([]Treatment(nil), walk.Treatments...)
	return c
}

// into copies a walk over another, whose space is used again.
func (walk *Walk) into(other *Walk) {
	visits, pieces, mixes, treatments := other.Visits, other.Pieces, other.Mixes, other.Treatments
	*other = *walk
	other.Visits = append(visits[:0], walk.Visits...)
	other.Pieces = append(pieces[:0], walk.Pieces...)
	other.Mixes = append(mixes[:0], walk.Mixes...)
	other.Treatments = append(treatments[:0], walk.Treatments...)
}

// prepare lists the slots and marks the items of the tour.
func (w *Walker) prepare() {
	w.epoch++
	w.slots = w.slots[:0]
	for s, stop := range w.stops {
		if stop.Fixed != instance.None {
			fixed := w.shift.Fixed[stop.Fixed]
			w.slots = append(w.slots, slot{stop: int32(s), starts: fixed.Arrives, length: fixed.Leaves - fixed.Arrives})
			continue
		}
		for _, ref := range stop.Refs {
			w.slots = append(w.slots, slot{ref: ref, stop: int32(s), block: w.block(ref)})
			w.seen[ref.Item] = w.epoch
		}
	}
}

// elsewhere returns the times of an item without what stands in this tour.
func (w *Walker) elsewhere(item int32) Times {
	t := w.around.Placed[item]
	if t.Placed && t.Tour == w.tour {
		t.Placed, t.Begins, t.Ends, t.OpenFrom = false, 0, 0, 0
	}
	if t.Returned && t.BackTour == w.tour {
		t.Returned, t.BackBegin, t.BackEnd = false, 0, 0
	}
	return t
}

// times returns where an item stands: as far as this walk has come, else elsewhere.
func (w *Walker) times(item int32) *Times {
	if w.seen[item] == w.epoch {
		return &w.own[item]
	}
	return &w.around.Placed[item]
}

func (w *Walker) block(ref Ref) *instance.Block {
	return &w.in.Items[ref.Item].Ways[ref.Way].Legs[ref.Leg].Blocks[ref.Block]
}

func (w *Walker) way(ref Ref) *instance.Way { return &w.in.Items[ref.Item].Ways[ref.Way] }

// run walks the day with a break before a slot (-1: none), where it begins a stop on arrival there or before the drive: forward,
// pulled together, checked, priced.
func (w *Walker) run(breakAt int, arrived bool) bool {
	w.breakAt, w.arrived = breakAt, arrived
	for splits := len(w.splits); !w.forward(); splits = len(w.splits) {
		// Each split is new, so this ends.
		if len(w.splits) == splits || !w.groupFillings() {
			return false
		}
	}
	w.starts = w.starts[:0]
	for i := range w.slots {
		w.starts = append(w.starts, w.slots[i].starts)
	}
	if !w.settled() {
		return false
	}
	w.walk.BreakArrived = arrived
	return w.price()
}

// settled pulls the day together and asks every rule once more; where one speaks against it, of the day at its earliest times. A
// day that waits nowhere is together already.
func (w *Walker) settled() bool {
	if w.waits == 0 {
		return w.allow()
	}
	w.walk.into(&w.early)
	w.pullTogether()
	if w.settle() {
		return true
	}
	w.early.into(&w.walk)
	for i := range w.slots {
		w.slots[i].starts = w.starts[i]
	}
	return w.settle()
}

// Before is the canonical order inside a visit: by health, cleanest first; services, inspections, other work,
// applications; applications of one area together.
func Before(in *instance.Instance, a, b Ref) int {
	x := &in.Items[a.Item].Ways[a.Way].Legs[a.Leg].Blocks[a.Block]
	y := &in.Items[b.Item].Ways[b.Way].Legs[b.Leg].Blocks[b.Block]
	for _, d := range [...]int{
		int(x.Rank) - int(y.Rank), int(x.Class) - int(y.Class), int(x.Area) - int(y.Area),
		int(a.Item) - int(b.Item), int(a.Leg) - int(b.Leg), int(a.Block) - int(b.Block),
	} {
		if d != 0 {
			return d
		}
	}
	return 0
}
