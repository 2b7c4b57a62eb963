package convert

import (
	"slices"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
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
			return &vernationv1.CaseEvent{EventTime: Timestamp(e.At), Text: e.Text, Report: names.Report(e.Report), PlantEvent: names.PlantEvent(e.PlantEvent), Item: string(e.Item),
				Incident: names.Incident(e.Incident), ClientConsent: names.ClientConsent(e.Consent)}
		}),
		CreateTime:  Timestamp(c.OpenedAt),
		Recurrences: each(c.Recurrences, names.Case),
		Etag:        Etag(c.Version),
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

// AwaitedApproval writes what waits for the responsible applicator.
func AwaitedApproval(names Names, a firm.AwaitedApproval) *vernationv1.AwaitedApproval {
	m := &vernationv1.AwaitedApproval{
		Case: names.Case(a.Case), Site: names.Site(a.Site), Pest: string(a.Pest), Product: names.Product(a.Product.ID),
		Material: string(a.Product.Material), MaxRate: Rate(a.Product.Label.MaxRate), WayKinds: wayKinds.enums(a.Ways),
		Items: words[course.ItemID, string](a.Items), Plants: names.Plants(a.Plants),
		Areas:      each(a.Areas, func(id site.AreaID) string { return names.Area(a.Site, id) }),
		ExpectedOn: a.Expected.String(), SinceTime: Timestamp(a.Since), CourseEtag: a.Course, Cautions: slices.Clone(a.Cautions),
	}
	if portion := a.Product.Label.MaxPortion; portion != nil {
		m.MaxPortion = portion.String()
	}
	return m
}

// Outlook writes what the model expects of a case.
func Outlook(names Names, of course.CaseID, o course.Outlook) *vernationv1.Outlook {
	return &vernationv1.Outlook{
		Name: names.Outlook(of),
		Stages: each(o.Stages, func(ids []catalogue.StageID) *vernationv1.OutlookStage {
			return &vernationv1.OutlookStage{Stages: words[catalogue.StageID, string](ids)}
		}),
		Days: each(o.Days, func(d course.OutlookDay) *vernationv1.OutlookDay {
			return &vernationv1.OutlookDay{
				On: d.On.String(), ExpectedByStage: slices.Clone(d.Expected), Expected: d.All, ChanceFree: d.Free,
				Applied: each(d.Applied, func(a course.Applied) string {
					if a.Product == "" {
						return string(a.Material)
					}
					return names.Product(a.Product)
				}),
			}
		}),
		ExpectedAtFirst: o.AtFirst, Assumptions: slices.Clone(o.Assumptions), Caution: o.Caution,
	}
}

// OtherwiseFrom reads what could be otherwise with a case.
//
// Fails with Invalid (DATE_FORM for a day that does not exist).
func OtherwiseFrom(m *vernationv1.CompareCourseRequest) (course.Otherwise, error) {
	r := &reading{}
	_, area := AreaID(m.GetArea())
	o := course.Otherwise{
		Product: ID[catalogue.ProductID](m.GetProduct()), StartOn: r.date("start_on", m.GetStartOn()), Replace: m.GetReplace(), Area: area,
	}
	if c := m.GetClimate(); c != nil {
		o.Climate = &site.Season{Coldest: c.GetColdestCelsius(), Usual: c.GetUsualCelsius(), Warmest: c.GetWarmestCelsius()}
	}
	return o, fault.InvalidFields(r.wrong)
}

// CourseComparison writes a course beside the one that would follow.
func CourseComparison(names Names, c firm.CourseComparison) *vernationv1.CourseComparison {
	return &vernationv1.CourseComparison{
		Present: Course(names, c.Case, c.Present), Changed: Course(names, c.Case, c.Changed),
		PresentEndOn: c.Present.EndsOn().String(), ChangedEndOn: c.Changed.EndsOn().String(),
		PresentCostMinor: int64(c.PresentCost), ChangedCostMinor: int64(c.ChangedCost), DelayCostMinor: int64(c.DelayCost),
		Differences: slices.Clone(c.Differences),
	}
}
