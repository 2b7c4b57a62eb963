package course

import (
	"fmt"
	"strings"
)

// NewItemID returns the id of a follow-up: "case/kind/run/ordinal". It is a function of the case, the kind, the run of
// the sequence and the ordinal, which counts the items of that kind really done in that run and then those still
// needed in order of time; so the same need keeps its id however late, often or out of order reports come.
func NewItemID(c CaseID, kind FollowUpKind, run, ordinal int) ItemID {
	return ItemID(fmt.Sprintf("%s/%s/%d/%d", c, kind, run, ordinal))
}

// kindOf reads the kind out of an id, "" when it is none of ours. A case's id may hold slashes itself.
func kindOf(id ItemID) FollowUpKind {
	parts := strings.Split(string(id), "/")
	if len(parts) < 4 {
		return ""
	}
	return FollowUpKind(parts[len(parts)-3])
}

// numbering gives out ordinals of one run.
type numbering struct {
	of   CaseID
	run  int
	done map[FollowUpKind]int
}

// next returns the id of the next item of a kind.
func (n *numbering) next(kind FollowUpKind) ItemID {
	n.done[kind]++
	return NewItemID(n.of, kind, n.run, n.done[kind])
}
