package convert

import (
	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
)

// Case writes a case with what its history says.
func Case(names Names, c firm.CaseStory) *vernationv1.Case {
	return &vernationv1.Case{
		Name:         names.Case(c.ID),
		Site:         names.Site(site.ID(c.Site)),
		Pest:         string(c.Pest),
		Plants:       each(c.Plants, func(id string) string { return names.Plant(site.PlantID(id)) }),
		Certainty:    certainties.enum(c.Certainty),
		Severity:     int32(c.Severity),
		Ending:       Ending(c.Ending, c.EndedAt),
		RecurrenceOf: names.Case(c.RecurrenceOf),
		Approvals: each(c.Approvals, func(a firm.ApprovalGiven) *vernationv1.Approval {
			return &vernationv1.Approval{
				Product: names.Product(a.Product), MaxRate: Rate(a.MaxRate), WayKinds: wayKinds.enums(a.Ways),
				By: a.By, ApproveTime: Timestamp(a.At), Withdrawn: a.Withdrawn,
			}
		}),
		Events: each(c.Events, func(e firm.CaseEvent) *vernationv1.CaseEvent {
			return &vernationv1.CaseEvent{EventTime: Timestamp(e.At), Text: e.Text, Report: names.Report(e.Report), PlantEvent: names.PlantEvent(e.PlantEvent), Item: string(e.Item)}
		}),
		CreateTime: Timestamp(c.OpenedAt),
		Etag:       Etag(c.Version),
	}
}

// ApprovalFrom reads what the responsible applicator approves; who that is, the caller says.
func ApprovalFrom(m *vernationv1.ApproveCourseRequest) (course.Approval, error) {
	rate, err := RateFrom("max_rate", m.GetMaxRate())
	return course.Approval{
		Product: ID[catalogue.ProductID](m.GetProduct()), MaxRate: rate, Ways: wayKinds.wordsOf(m.GetWayKinds()),
	}, err
}

// DecisionFrom reads what was decided about a case.
func DecisionFrom(m *vernationv1.DecideCaseRequest) (decision firm.CaseDecision, plants []site.PlantID) {
	return caseDecisions.word(m.GetDecision()), IDs[site.PlantID](m.GetPlants())
}

// WithdrawalFrom reads which product's approval is withdrawn.
func WithdrawalFrom(m *vernationv1.WithdrawApprovalRequest) course.Approval {
	return course.Approval{Product: ID[catalogue.ProductID](m.GetProduct()), Withdrawn: true}
}
