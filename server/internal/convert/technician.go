package convert

import (
	"slices"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/travel"
	"vernation/server/internal/firm"
)

// Technician writes a member of the crew with what the office alone sees: pay. WithoutPay is for all others.
func Technician(names Names, t firm.CrewMember) *vernationv1.Technician {
	m := &vernationv1.Technician{
		Name:        names.Technician(t.ID),
		DisplayName: t.Name,
		Base:        position(travel.Position{Latitude: t.BaseLatitude, Longitude: t.BaseLongitude}),
		Shifts:      Calendar(t.Shifts),
		Licences: each(t.Licences, func(l scheduler.Licence) *vernationv1.Licence {
			return &vernationv1.Licence{
				Jurisdiction: string(l.Jurisdiction), Category: l.Category, Number: l.Number,
				FromOn: l.From.String(), ToOn: l.To.String(), Under: names.Technician(l.Under),
			}
		}),
		Skills:                slices.Clone(t.Skills),
		Vessels:               each(t.Vessels, vessel),
		Measures:              each(t.Measures, measure),
		Scales:                each(t.Scales, scale),
		PaidMinorPerMinute:    t.PaidPerMinute,
		BreakTakes:            Duration(t.BreakTakes),
		SpeedPercent:          int32(t.SpeedPercent),
		ResponsibleApplicator: t.ResponsibleApplicator,
		Keys: each(t.Keys, func(k scheduler.KeyHeld) *vernationv1.KeyHeld {
			return &vernationv1.KeyHeld{KeyId: string(k.Key), FromOn: k.From.String(), ToOn: k.To.String()}
		}),
	}
	if t.BreakTakes != 0 {
		m.BreakWindow = Window(civil.Window{Opens: t.BreakFrom, Closes: t.BreakTo})
	}
	return m
}

// WithoutPay writes a member of the crew as others than the office see one.
func WithoutPay(names Names, t firm.CrewMember) *vernationv1.Technician {
	t.PaidPerMinute = 0
	return Technician(names, t)
}

func vessel(v scheduler.Vessel) *vernationv1.Vessel {
	return &vernationv1.Vessel{
		VesselId:    string(v.ID),
		DisplayName: v.Name,
		Capacity:    volumeText(v.Capacity),
		DeadVolume:  volumeText(v.Dead),
		MarkSpacing: volumeText(v.Marks),
		Methods:     methods.enums(v.Methods),
	}
}

func scale(s scheduler.Scale) *vernationv1.Scale {
	return &vernationv1.Scale{DisplayName: s.Name, Capacity: massText(s.Capacity), MarkSpacing: massText(s.Marks)}
}

func measure(m scheduler.Measure) *vernationv1.Measure {
	return &vernationv1.Measure{DisplayName: m.Name, Capacity: volumeText(m.Capacity), MarkSpacing: volumeText(m.Marks)}
}
