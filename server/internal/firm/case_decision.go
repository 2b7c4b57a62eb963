package firm

import "vernation/scheduler/course"

// CaseDecision is what people decided about a case.
type CaseDecision string

// The decisions.
const (
	DecideReplace   = CaseDecision(course.DecideReplace)
	DecideTreat     = CaseDecision(course.DecideTreat) // takes an earlier decision to replace back
	DecideKeepLow   = CaseDecision(course.KeptLow)     // ends the case, under watch
	DecideDeclined  = CaseDecision(course.Declined)    // ends the case
	DecideWrongPest = CaseDecision(course.WrongPest)   // ends the case
	DecideRemove    = CaseDecision("remove")           // the plants are taken away, with nothing in their place
)
