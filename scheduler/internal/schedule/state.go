package schedule

import (
	"slices"

	"vernation/scheduler/internal/instance"
	"vernation/scheduler/internal/tour"
)

// Short names of the kernel's units.
type (
	Seconds = instance.Seconds
	Day     = instance.Day
	Cost    = instance.Cost
)

// Tour is one technician-day as it stands.
type Tour struct {
	Stops []tour.Stop
	Walk  tour.Walk
	// Frozen says that its fixed visits leave no lawful walk: nothing is put in, and Walk is empty.
	Frozen bool
	// Version is another one after every change, and the same again when a snapshot brings the tour back.
	Version uint64
}

// State is all tours. It is not safe for concurrent use.
type State struct {
	In      *instance.Instance
	Tours   []Tour
	around  tour.Around
	walker  *tour.Walker
	scratch []tour.Stop
	tried   *tour.Walk // what Try has found
	changes uint64     // so far
	cost    Cost       // of all tours
	epoch   uint32
	kept    []uint32 // by tour: the epoch in which it was remembered
	journal []was
	worked  []Seconds // by technician: of all days, and on how many of them
	busy    []Seconds
	removed []int32 // by the last Remove, and out what it took out
	out     []bool
	days    []shiftDays // by site and tour; shared by all states of an instance
	towards [][]Seconds // Towards of the instance
}

// shiftDays are the days at a site on which a shift begins and ends.
type shiftDays struct{ first, last Day }

// daysOf returns them for every site and shift.
func daysOf(in *instance.Instance) []shiftDays {
	days := make([]shiftDays, 0, len(in.Sites)*len(in.Shifts))
	for site := range in.Sites {
		for t := range in.Shifts {
			days = append(days, shiftDays{in.Sites[site].DayOf(in.Shifts[t].Start), in.Sites[site].DayOf(in.Shifts[t].End)})
		}
	}
	return days
}

// NewIsland is New for a state whose snapshots may be restored by those of other numbers over the same instance.
func NewIsland(in *instance.Instance, number int) *State {
	s := New(in)
	s.changes = uint64(number) << islandBits
	return s
}

// islandBits leaves each island more changes than it can make.
const islandBits = 48

// New returns the state with nothing but fixed visits.
func New(in *instance.Instance) *State {
	s := &State{In: in, Tours: make([]Tour, len(in.Shifts)), kept: make([]uint32, len(in.Shifts)), epoch: 1}
	s.around = tour.Around{
		Shut: make([][]tour.Stretch, len(in.Areas)), Present: make([][]tour.Stretch, len(in.Areas)),
		Placed: make([]tour.Times, len(in.Items)), Breaks: make([][]tour.Stretch, len(in.Sites)),
		Break: make([]tour.Pause, len(in.Shifts)),
	}
	for _, shut := range in.Shut {
		s.around.Shut[shut.Area] = append(s.around.Shut[shut.Area], tour.Stretch{Window: shut.Window, Tour: instance.None})
	}
	for _, present := range in.Present {
		s.around.Present[present.Area] = append(s.around.Present[present.Area], tour.Stretch{Window: present.Window, Tour: instance.None})
	}
	if s.towards = in.Towards; s.towards == nil {
		s.towards = instance.Turned(in.Travel, in.Places)
	}
	s.walker, s.days = tour.NewWalker(in, &s.around), daysOf(in)
	for t := range in.Shifts {
		var stops []tour.Stop
		for f, fixed := range in.Shifts[t].Fixed {
			if !fixed.Past {
				stops = append(stops, tour.Stop{Site: fixed.Site, Fixed: int32(f)})
			}
		}
		s.Tours[t].Stops = stops
		if walk, ok := s.walker.Walk(int32(t), stops); ok {
			s.Tours[t].Walk = walk.Clone()
			s.cost += walk.Cost
			s.publish(int32(t))
		} else {
			s.Tours[t].Frozen = true
		}
	}
	return s
}

// Placed returns where an item stands.
func (s *State) Placed(item int32) tour.Times { return s.around.Placed[item] }

// Snapshot is a state to come back to.
type Snapshot struct{ tours []Tour }

// Snapshot remembers the state: what tours hold is never changed in place, and all else follows from them.
func (s *State) Snapshot() Snapshot { return Snapshot{slices.Clone(s.Tours)} }

// Restore goes back to a snapshot, which stays as it is.
func (s *State) Restore(to Snapshot) {
	for t := range to.tours {
		if s.Tours[t].Version != to.tours[t].Version {
			s.clear(int32(t))
		}
	}
	for t := range to.tours {
		if s.Tours[t].Version != to.tours[t].Version {
			s.bring(int32(t), &to.tours[t])
		}
	}
}

// Merge takes each tour from the snapshot of a number, all of states of one instance. Restored, it is a state only where what
// differs between them is not joined.
func Merge(snapshots []Snapshot, from func(t int32) int) Snapshot {
	merged := slices.Clone(snapshots[0].tours)
	for t := range merged {
		merged[t] = snapshots[from(int32(t))].tours[t]
	}
	return Snapshot{merged}
}

// ChangedOnly says whether nothing but tours of a set has changed since Begin.
func (s *State) ChangedOnly(set []bool) bool {
	return !slices.ContainsFunc(s.journal, func(was was) bool { return !set[was.t] })
}

// Begin starts a change that Undo can take back. What came before cannot be taken back any more.
func (s *State) Begin() {
	s.epoch++
	s.journal = s.journal[:0]
}

// Undo takes back everything since Begin.
func (s *State) Undo() {
	for _, was := range s.journal {
		s.clear(was.t)
	}
	for i := range s.journal {
		s.bring(s.journal[i].t, &s.journal[i].tour)
	}
	s.Begin()
}

// was is a tour as it was before a change.
type was struct {
	t    int32
	tour Tour
}

// keep remembers a tour before its first change since Begin.
func (s *State) keep(t int32) {
	if s.kept[t] != s.epoch {
		s.kept[t] = s.epoch
		s.journal = append(s.journal, was{t, s.Tours[t]})
	}
}

// bring puts a tour as it was into the place of one that was cleared.
func (s *State) bring(t int32, tour *Tour) {
	s.cost += tour.Walk.Cost - s.Tours[t].Walk.Cost
	s.Tours[t] = *tour
	s.publish(t)
}

// set makes a walked list of stops the tour.
func (s *State) set(t int32, stops []tour.Stop, walk *tour.Walk) {
	s.keep(t)
	s.changes++
	s.clear(t)
	s.cost += walk.Cost - s.Tours[t].Walk.Cost
	s.Tours[t] = Tour{Stops: stops, Walk: walk.Clone(), Version: s.changes}
	s.publish(t)
}

// clear takes back what a tour took.
func (s *State) clear(t int32) {
	walk := &s.Tours[t].Walk
	for i := range walk.Treatments {
		for _, area := range s.In.Areas[walk.Treatments[i].Area].Shuts {
			s.around.Shut[area] = without(s.around.Shut[area], t)
		}
	}
	for i := range walk.Mixes {
		if mix := &walk.Mixes[i]; mix.Area != instance.None {
			s.around.Present[mix.Area] = without(s.around.Present[mix.Area], t)
		}
		if mix := &walk.Mixes[i]; !mix.AtBase {
			s.around.Present[mix.RinseArea] = without(s.around.Present[mix.RinseArea], t)
		}
	}
	if walk.Break.From < walk.Break.To {
		for k := range s.Tours[t].Stops {
			site := s.Tours[t].Stops[k].Site
			s.around.Breaks[site] = without(s.around.Breaks[site], t)
		}
	}
	for i := range walk.Pieces {
		piece := &walk.Pieces[i]
		area := s.In.Items[piece.Item].Ways[piece.Way].Legs[piece.Leg].Blocks[piece.Block].Pieces[piece.Piece].Area
		s.around.Present[area] = without(s.around.Present[area], t)
		placed := &s.around.Placed[piece.Item]
		if placed.Placed && placed.Tour == t {
			*placed = tour.Times{Returned: placed.Returned, BackTour: placed.BackTour, BackBegin: placed.BackBegin, BackEnd: placed.BackEnd}
		}
		if placed.Returned && placed.BackTour == t {
			placed.Returned, placed.BackTour, placed.BackBegin, placed.BackEnd = false, 0, 0, 0
		}
	}
}

// without takes a tour's stretches out of a list.
func without(list []tour.Stretch, t int32) []tour.Stretch {
	kept := list[:0]
	for _, stretch := range list {
		if stretch.Tour != t {
			kept = append(kept, stretch)
		}
	}
	return kept
}

// publish shows the others what a tour takes.
func (s *State) publish(t int32) {
	walk := &s.Tours[t].Walk
	s.around.Break[t] = tour.Pause{}
	if walk.Break.From < walk.Break.To {
		s.around.Break[t] = tour.Pause{From: walk.Break.From, Arrived: walk.BreakArrived}
	}
	for i := range walk.Treatments {
		tr := &walk.Treatments[i]
		for _, area := range s.In.Areas[tr.Area].Shuts {
			s.shut(area, tour.Stretch{Window: instance.Window{From: tr.Begins, To: tr.OpenFrom}, Tour: t})
		}
	}
	for k := range walk.Visits {
		visit := instance.Window{From: walk.Visits[k].Arrives, To: walk.Visits[k].Leaves}
		if site := s.Tours[t].Stops[k].Site; visit.Overlaps(walk.Break) {
			s.around.Breaks[site] = append(s.around.Breaks[site], tour.Stretch{Window: walk.Break, Tour: t})
		}
	}
	for i := range walk.Mixes {
		mix := &walk.Mixes[i]
		if mix.Area != instance.None {
			s.present(mix.Area, tour.Stretch{Window: instance.Window{From: mix.Begins, To: mix.Ready}, Tour: t})
		}
		if !mix.AtBase {
			s.present(mix.RinseArea, tour.Stretch{Window: instance.Window{From: mix.RinseFrom, To: mix.RinseTo}, Tour: t})
		}
	}
	for i := range walk.Pieces {
		piece := &walk.Pieces[i]
		way := &s.In.Items[piece.Item].Ways[piece.Way]
		area := way.Legs[piece.Leg].Blocks[piece.Block].Pieces[piece.Piece].Area
		s.present(area, tour.Stretch{Window: instance.Window{From: piece.Begins, To: piece.Ends}, Tour: t})
		s.note(t, piece)
	}
	for i := range walk.Pieces {
		piece := &walk.Pieces[i]
		p := &s.In.Items[piece.Item].Ways[piece.Way].Legs[piece.Leg].Blocks[piece.Block].Pieces[piece.Piece]
		for k := range walk.Treatments {
			if tr := &walk.Treatments[k]; p.Application && tr.Area == p.Area && tr.Stop == piece.Stop {
				placed := &s.around.Placed[piece.Item]
				placed.OpenFrom = max(placed.OpenFrom, tr.OpenFrom)
			}
		}
	}
}

func (s *State) shut(area int32, stretch tour.Stretch) {
	s.around.Shut[area] = append(s.around.Shut[area], stretch)
}

func (s *State) present(area int32, stretch tour.Stretch) {
	s.around.Present[area] = append(s.around.Present[area], stretch)
}

// note writes the times of a piece into those of its item.
func (s *State) note(t int32, piece *tour.Piece) {
	if piece.Begins == piece.Ends {
		return // its plants are replaced
	}
	placed := &s.around.Placed[piece.Item]
	if piece.Leg == 1 {
		if !placed.Returned {
			placed.Returned, placed.BackTour, placed.BackBegin = true, t, piece.Begins
		}
		placed.BackEnd = piece.Ends
		return
	}
	if !placed.Placed {
		placed.Placed, placed.Way, placed.Tour, placed.Stop, placed.Begins = true, piece.Way, t, piece.Stop, piece.Begins
		placed.Day = s.In.Sites[s.In.Items[piece.Item].Site].DayOf(piece.Begins)
	}
	placed.Ends = piece.Ends
}

// Replaced says whether a follow-up of a day takes a group out of its service.
func (s *State) Replaced(group *instance.Group, day Day) bool { return s.walker.Replaced(group, day) }
