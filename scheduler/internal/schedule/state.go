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
	Version uint32
}

// State is all tours. It is not safe for concurrent use.
type State struct {
	In     *instance.Instance
	Tours  []Tour
	around tour.Around
	walker *tour.Walker
	// SiteVersion changes likewise with everything that concerns a site.
	SiteVersion []uint32
	scratch     []tour.Stop
	changes     uint32 // so far
}

// New returns the state with nothing but fixed visits.
func New(in *instance.Instance) *State {
	s := &State{In: in, Tours: make([]Tour, len(in.Shifts)), SiteVersion: make([]uint32, len(in.Sites))}
	s.around = tour.Around{
		Shut: make([][]tour.Stretch, len(in.Areas)), Present: make([][]tour.Stretch, len(in.Areas)),
		Placed: make([]tour.Times, len(in.Items)), Breaks: make([][]tour.Stretch, len(in.Sites)),
	}
	for _, shut := range in.Shut {
		s.around.Shut[shut.Area] = append(s.around.Shut[shut.Area], tour.Stretch{Window: shut.Window, Tour: instance.None})
	}
	for _, present := range in.Present {
		s.around.Present[present.Area] = append(s.around.Present[present.Area], tour.Stretch{Window: present.Window, Tour: instance.None})
	}
	s.walker = tour.NewWalker(in, &s.around)
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
		} else {
			s.Tours[t].Frozen = true
		}
	}
	return s
}

// Placed returns where an item stands.
func (s *State) Placed(item int32) tour.Times { return s.around.Placed[item] }

// Snapshot is a state to come back to.
type Snapshot struct {
	tours         []Tour
	shut, present [][]tour.Stretch
	breaks        [][]tour.Stretch
	placed        []tour.Times
	sites         []uint32
}

// Snapshot remembers the state.
func (s *State) Snapshot() Snapshot {
	return Snapshot{
		tours: slices.Clone(s.Tours), shut: slices.Clone(s.around.Shut), present: slices.Clone(s.around.Present),
		breaks: slices.Clone(s.around.Breaks), placed: slices.Clone(s.around.Placed), sites: slices.Clone(s.SiteVersion),
	}
}

// Restore goes back to a snapshot, which stays as it is.
func (s *State) Restore(to Snapshot) {
	copy(s.Tours, to.tours)
	copy(s.SiteVersion, to.sites)
	copy(s.around.Shut, to.shut)
	copy(s.around.Present, to.present)
	copy(s.around.Breaks, to.breaks)
	copy(s.around.Placed, to.placed)
}

func (s *State) touchSites(stops []tour.Stop) {
	for i := range stops {
		s.SiteVersion[stops[i].Site] = s.changes
	}
}

// set makes a walked list of stops the tour.
func (s *State) set(t int32, stops []tour.Stop, walk *tour.Walk) {
	s.changes++
	s.touchSites(s.Tours[t].Stops)
	s.touchSites(stops)
	s.Tours[t] = Tour{Stops: stops, Walk: walk.Clone(), Version: s.changes}
	for item := range s.around.Placed {
		placed := &s.around.Placed[item]
		if placed.Placed && placed.Tour == t {
			*placed = tour.Times{Returned: placed.Returned, BackTour: placed.BackTour, BackBegin: placed.BackBegin, BackEnd: placed.BackEnd}
		}
		if placed.Returned && placed.BackTour == t {
			placed.Returned, placed.BackTour, placed.BackBegin, placed.BackEnd = false, 0, 0, 0
		}
	}
	s.withdraw(t)
	s.publish(t)
}

// withdraw takes back what a tour took.
func (s *State) withdraw(t int32) {
	mine := func(stretch tour.Stretch) bool { return stretch.Tour == t }
	for area := range s.around.Shut {
		if slices.ContainsFunc(s.around.Shut[area], mine) {
			s.around.Shut[area] = slices.DeleteFunc(slices.Clone(s.around.Shut[area]), mine)
		}
		if slices.ContainsFunc(s.around.Present[area], mine) {
			s.around.Present[area] = slices.DeleteFunc(slices.Clone(s.around.Present[area]), mine)
		}
	}
	for site := range s.around.Breaks {
		if slices.ContainsFunc(s.around.Breaks[site], mine) {
			s.around.Breaks[site] = slices.DeleteFunc(slices.Clone(s.around.Breaks[site]), mine)
		}
	}
}

// publish shows the others what a tour takes.
func (s *State) publish(t int32) {
	walk := &s.Tours[t].Walk
	for i := range walk.Treatments {
		tr := &walk.Treatments[i]
		for _, area := range s.In.Areas[tr.Area].Shuts {
			s.shut(area, tour.Stretch{Window: instance.Window{From: tr.Begins, To: tr.OpenFrom}, Tour: t})
		}
	}
	for k := range walk.Visits {
		visit := instance.Window{From: walk.Visits[k].Arrives, To: walk.Visits[k].Leaves}
		if site := s.Tours[t].Stops[k].Site; visit.Overlaps(walk.Break) {
			s.around.Breaks[site] = append(slices.Clip(s.around.Breaks[site]), tour.Stretch{Window: walk.Break, Tour: t})
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
	s.around.Shut[area] = append(slices.Clip(s.around.Shut[area]), stretch)
}

func (s *State) present(area int32, stretch tour.Stretch) {
	s.around.Present[area] = append(slices.Clip(s.around.Present[area]), stretch)
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
	}
	placed.Ends = piece.Ends
}

// Replaced says whether a follow-up of a day takes a group out of its service.
func (s *State) Replaced(group *instance.Group, day Day) bool { return s.walker.Replaced(group, day) }
