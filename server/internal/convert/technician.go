package convert

import (
	"slices"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
	"vernation/scheduler/travel"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
)

// usualSpeedPercent is the speed of a technician of whom none is told.
const usualSpeedPercent = 100

// Technician writes a member of the crew as kept, with what the office alone sees: pay. WithoutPay is for all others.
func Technician(names Names, kept firm.Kept[firm.CrewMember]) *vernationv1.Technician {
	t := kept.Value
	m := &vernationv1.Technician{
		Name:        names.Technician(t.ID),
		DisplayName: t.Name,
		Base:        position(travel.Position{Latitude: t.BaseLatitude, Longitude: t.BaseLongitude}),
		Shifts:      openedCalendar(t.Shifts),
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
		ExternalId: kept.ExternalID,
		Etag:       Etag(kept.Revision),
		DeleteTime: Timestamp(kept.DeletedAt),
	}
	if t.BreakFrom != 0 || t.BreakTo != 0 {
		m.BreakWindow = Window(civil.Window{Opens: t.BreakFrom, Closes: t.BreakTo})
	}
	return m
}

// WithoutPay writes a member of the crew as others than the office see one.
func WithoutPay(names Names, kept firm.Kept[firm.CrewMember]) *vernationv1.Technician {
	kept.Value.PaidPerMinute = 0
	return Technician(names, kept)
}

// TechnicianFrom reads a technician who shall have an id; path is where the message stands in its request.
func TechnicianFrom(path string, id scheduler.TechnicianID, m *vernationv1.Technician) (firm.Kept[firm.CrewMember], error) {
	r := &reading{}
	base := positionFrom(m.GetBase())
	t := firm.CrewMember{
		ID: id, Name: m.GetDisplayName(), BaseLatitude: base.Latitude, BaseLongitude: base.Longitude,
		Shifts:     r.calendar(path+".shifts", m.GetShifts()),
		BreakTakes: DurationFrom(m.GetBreakTakes()),
		Licences: eachAt(path+".licences", m.GetLicences(), func(path string, l *vernationv1.Licence) scheduler.Licence {
			return scheduler.Licence{
				Jurisdiction: catalogue.JurisdictionCode(l.GetJurisdiction()), Category: l.GetCategory(), Number: l.GetNumber(),
				From: r.date(path+".from_on", l.GetFromOn()), To: r.date(path+".to_on", l.GetToOn()), Under: ID[scheduler.TechnicianID](l.GetUnder()),
			}
		}),
		Skills: slices.Clone(m.GetSkills()),
		Keys: eachAt(path+".keys", m.GetKeys(), func(path string, k *vernationv1.KeyHeld) scheduler.KeyHeld {
			return scheduler.KeyHeld{Key: site.KeyID(k.GetKeyId()), From: r.date(path+".from_on", k.GetFromOn()), To: r.date(path+".to_on", k.GetToOn())}
		}),
		Vessels:  eachAt(path+".vessels", m.GetVessels(), r.vessel),
		Measures: eachAt(path+".measures", m.GetMeasures(), r.measure),
		Scales: eachAt(path+".scales", m.GetScales(), func(path string, s *vernationv1.Scale) scheduler.Scale {
			return scheduler.Scale{Name: s.GetDisplayName(), Capacity: r.mass(path+".capacity", s.GetCapacity()), Marks: r.mass(path+".mark_spacing", s.GetMarkSpacing())}
		}),
		PaidPerMinute: m.GetPaidMinorPerMinute(), SpeedPercent: int(m.GetSpeedPercent()), ResponsibleApplicator: m.GetResponsibleApplicator(),
	}
	if m.GetBreakWindow() != nil {
		window := r.window(path+".break_window", m.GetBreakWindow())
		t.BreakFrom, t.BreakTo = window.Opens, window.Closes
	}
	if t.SpeedPercent == 0 {
		t.SpeedPercent = usualSpeedPercent
	}
	return firm.Kept[firm.CrewMember]{Value: t, ExternalID: m.GetExternalId()}, fault.InvalidFields(r.wrong)
}

// TechnicianList declares by what technicians may be filtered and put in order.
var TechnicianList = listing.Declare(
	named(listing.NameField), text("display_name"), text("external_id"),
	listing.Field{Name: "responsible_applicator", Kind: listing.Truth, Unordered: true},
	listing.Field{Name: "delete_time", Kind: listing.Instant, Unordered: true},
)

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

func (r *reading) vessel(path string, m *vernationv1.Vessel) scheduler.Vessel {
	return scheduler.Vessel{
		ID:       scheduler.VesselID(m.GetVesselId()),
		Name:     m.GetDisplayName(),
		Capacity: r.volume(path+".capacity", m.GetCapacity()),
		Dead:     r.volume(path+".dead_volume", m.GetDeadVolume()),
		Marks:    r.volume(path+".mark_spacing", m.GetMarkSpacing()),
		Methods:  methods.wordsOf(m.GetMethods()),
	}
}

func measure(m scheduler.Measure) *vernationv1.Measure {
	return &vernationv1.Measure{DisplayName: m.Name, Capacity: volumeText(m.Capacity), MarkSpacing: volumeText(m.Marks)}
}

func (r *reading) measure(path string, m *vernationv1.Measure) scheduler.Measure {
	return scheduler.Measure{Name: m.GetDisplayName(), Capacity: r.volume(path+".capacity", m.GetCapacity()), Marks: r.volume(path+".mark_spacing", m.GetMarkSpacing())}
}
