package firm

import (
	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
)

// CaseStory is a case with what its history says of it.
type CaseStory struct {
	Case
	Certainty course.Certainty // of the surest finding
	Severity  int              // of the latest finding or inspection with a find, 0 to 3
	Approvals []ApprovalGiven  // and withdrawals, oldest first
	Events    []CaseEvent      // oldest first
}

// ApprovalGiven is an approval or its withdrawal with its time.
type ApprovalGiven struct {
	course.Approval
	At civil.Instant
}

// CaseEvent is one thing that happened, as people read it.
type CaseEvent struct {
	At     civil.Instant
	Text   string
	Report string           // id of the report that told it; "" when none did
	Item   scheduler.ItemID // the follow-up that it concerns; "" when it concerns none
	// PlantEvent is the id of the event of plants that it is; "" when it is none.
	PlantEvent string
	// Incident and Consent are the ids of what it tells of beside the history; "" when it tells of none.
	Incident string
	Consent  string
}
