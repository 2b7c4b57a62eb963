package convert

import (
	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
)

// Measures writes what a span of days came to.
func Measures(names Names, m firm.Measures) *vernationv1.Measures {
	cost := m.CaseCost
	return &vernationv1.Measures{
		Name: names.Measures(), FirstOn: m.Wish.First.String(), LastOn: m.Wish.Last.String(),
		FollowUpsOnTime: int32(m.OnTime), FollowUpsEarly: int32(m.Early), FollowUpsLate: int32(m.Late), FollowUpsNotDone: int32(m.NotDone),
		FollowUpsWithoutWindow: int32(m.NoWindow), FollowUpsDone: int32(m.DoneFollowUps), FollowUpsRode: int32(m.RodeOnServices),
		CasesEnded: int32(m.EndedCases), CasesCleared: int32(m.ClearedCases), DaysToClearance: int32(m.DaysToClearance), MostDaysToClearance: int32(m.MostDaysToClearance),
		PaidTime: Duration(m.Paid), OutsideVisits: Duration(m.OutsideVisits),
		Materials: each(m.Materials, func(u firm.MaterialUse) *vernationv1.MaterialUse {
			return &vernationv1.MaterialUse{
				Product: names.Product(u.Product), ProductDisplayName: u.Name, Applications: int32(u.Applications), Concentrate: volumeText(u.Concentrate),
				Applied: volumeText(u.Applied), Mass: massText(u.Mass), Organisms: u.Organisms,
			}
		}),
		CaseCost: &vernationv1.CaseCost{
			Cases: int32(cost.Cases), LabourMinor: int64(cost.Labour), MaterialMinor: int64(cost.Material), VisitsMinor: int64(cost.Visits), TotalMinor: int64(cost.Total()),
			WithoutTimes: int32(cost.WithoutTimes), NotByVolume: int32(cost.NotByVolume),
		},
		WorkMinutes: each(m.Minutes, func(w firm.WorkMinutes) *vernationv1.WorkMinutes {
			return &vernationv1.WorkMinutes{
				Kind: w.Kind, Items: int32(w.Items), Taken: Duration(w.Taken), Planned: Duration(w.Planned), Shortest: Duration(w.Shortest),
				Middle: Duration(w.Middle), Longest: Duration(w.Longest),
			}
		}),
	}
}

// spanned is a request that speaks of a span of days, narrowed or not.
type spanned interface {
	GetFirstOn() string
	GetLastOn() string
	GetClient() string
	GetSite() string
	GetTechnician() string
}

// MeasureWishFrom reads of which days, and of whom and where, something is asked.
//
// Fails with Invalid for a day that is none of the calendar.
func MeasureWishFrom(m spanned) (firm.MeasureWish, error) {
	r := &reading{}
	wish := firm.MeasureWish{
		First: r.date("first_on", m.GetFirstOn()), Last: r.date("last_on", m.GetLastOn()), Client: ID[string](m.GetClient()),
		Site: ID[site.ID](m.GetSite()), Technician: ID[scheduler.TechnicianID](m.GetTechnician()),
	}
	return wish, fault.InvalidFields(r.wrong)
}
