package course

import (
	"fmt"
	"strconv"
	"strings"

	"vernation/scheduler/civil"
)

// NewItemID returns the id of a follow-up: "case/kind/run/ordinal". It is a function of the case, the kind, the run of
// the sequence and the ordinal, which counts the items of that kind really done in that run and then those still
// needed in order of time; so the same need keeps its id however late, often or out of order reports come.
func NewItemID(c CaseID, kind FollowUpKind, run, ordinal int) ItemID {
	return ItemID(fmt.Sprintf("%s/%s/%d/%d", c, kind, run, ordinal))
}

// numbered is the part of an id behind its case.
type numbered struct {
	kind    FollowUpKind
	run     int
	ordinal int
}

// parseItemID reads an id of a case; ok is false when it is none. A case's id may hold slashes itself.
func parseItemID(of CaseID, id ItemID) (n numbered, ok bool) {
	parts := strings.Split(strings.TrimPrefix(string(id), string(of)+"/"), "/")
	if len(parts) != 3 || !strings.HasPrefix(string(id), string(of)+"/") {
		return numbered{}, false
	}
	run, notRun := strconv.Atoi(parts[1])
	ordinal, notOrdinal := strconv.Atoi(parts[2])
	return numbered{FollowUpKind(parts[0]), run, ordinal}, notRun == nil && notOrdinal == nil
}

// kindOf reads the kind out of an id, "" when it is none of ours.
func kindOf(id ItemID) FollowUpKind {
	parts := strings.Split(string(id), "/")
	if len(parts) < 4 {
		return ""
	}
	return FollowUpKind(parts[len(parts)-3])
}

// numbering gives out the ordinals that no item done has.
type numbering struct {
	of   CaseID
	used map[numbered]bool
}

// next returns the id of the next item of a kind in a run.
func (n *numbering) next(kind FollowUpKind, run int) ItemID {
	ordinal := n.take(kind, run)
	return NewItemID(n.of, kind, run, ordinal)
}

func (n *numbering) take(kind FollowUpKind, run int) int {
	ordinal := 1
	for n.used[numbered{kind, run, ordinal}] {
		ordinal++
	}
	n.used[numbered{kind, run, ordinal}] = true
	return ordinal
}

// count takes the ordinals of what was really done: those that reports name, then for each unplanned item since the run
// began the first that is free.
func (n *numbering) count(s *story, since civil.Date, run int) {
	var unplanned []FollowUpKind
	for _, event := range s.history.Events {
		kind, id := s.doneKind(event)
		if kind == "" {
			continue
		}
		if named, ok := parseItemID(n.of, id); ok {
			n.used[named] = true
		} else if s.dateOf(event.At) >= since {
			unplanned = append(unplanned, kind)
		}
	}
	for _, m := range s.made {
		// What another case's follow-up did to these plants against this pest did this case's next one too.
		if !m.own && m.on >= since && meets(s.in.Catalogue.Materials[m.material], s.pest.ID) && meetsPlants(m, s.plants) {
			unplanned = append(unplanned, KindApplication)
		}
	}
	for _, kind := range unplanned {
		n.take(kind, run)
	}
}

// doneKind is the kind of what an event says was done, "" when it says no such thing.
func (s *story) doneKind(event Event) (FollowUpKind, ItemID) {
	switch {
	case event.Application != nil:
		material := s.in.Catalogue.Materials[s.materialOf(event.Application.Product)]
		if event.Application.FollowUp == "" && !meets(material, s.pest.ID) {
			return "", ""
		}
		return KindApplication, event.Application.FollowUp
	case event.Inspection != nil:
		return s.lookKind(event.Inspection), event.Inspection.FollowUp
	case event.Done != nil:
		return kindOf(event.Done.FollowUp), event.Done.FollowUp
	}
	return "", ""
}
