package convert

import (
	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
)

// Ending writes how a case ended, and when; nil while it is open.
func Ending(e *course.Ending, at civil.Instant) *vernationv1.Ending {
	if e == nil {
		return nil
	}
	return &vernationv1.Ending{Kind: endingKinds.enum(e.Kind), Chance: e.Chance, Reason: e.Reason, EndTime: Timestamp(at)}
}
