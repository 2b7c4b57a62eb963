package convert

import (
	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
)

// Absence writes an absence as it is kept, with the visits that lie in it.
func Absence(names Names, kept firm.Kept[firm.Absence], visits []scheduler.VisitID) *vernationv1.Absence {
	a := kept.Value
	m := &vernationv1.Absence{
		Name: names.Absence(a.ID), Technician: names.Technician(a.Technician), FromOn: a.From.String(), ToOn: a.To.String(), Note: a.Note,
		Visits: each(visits, names.Visit), ExternalId: kept.ExternalID, Etag: Etag(kept.Revision), DeleteTime: Timestamp(kept.DeletedAt),
	}
	if a.Window != nil {
		m.Window = Window(*a.Window)
	}
	return m
}

// AbsenceFrom reads an absence that shall have an id; path is where the message stands in its request.
func AbsenceFrom(path, id string, m *vernationv1.Absence) (firm.Kept[firm.Absence], error) {
	r := &reading{}
	a := firm.Absence{
		ID: id, Technician: ID[scheduler.TechnicianID](m.GetTechnician()),
		From: r.date(path+".from_on", m.GetFromOn()), To: r.date(path+".to_on", m.GetToOn()), Note: m.GetNote(),
	}
	if m.GetWindow() != nil {
		window := r.window(path+".window", m.GetWindow())
		a.Window = &window
	}
	return firm.Kept[firm.Absence]{Value: a, ExternalID: m.GetExternalId()}, fault.InvalidFields(r.wrong)
}

// AbsenceList declares by what absences may be filtered and put in order.
var AbsenceList = listing.Declare(
	named(listing.NameField), named("technician"), listing.Field{Name: "from_on", Kind: listing.Day}, listing.Field{Name: "to_on", Kind: listing.Day},
	text("external_id"), listing.Field{Name: "delete_time", Kind: listing.Instant, Unordered: true},
)

// Holiday writes a holiday as it is kept.
func Holiday(names Names, kept firm.Kept[firm.Holiday]) *vernationv1.Holiday {
	h := kept.Value
	return &vernationv1.Holiday{
		Name: names.Holiday(h.ID), DisplayName: h.Name, FromOn: h.From.String(), ToOn: h.To.String(),
		ExternalId: kept.ExternalID, Etag: Etag(kept.Revision), DeleteTime: Timestamp(kept.DeletedAt),
	}
}

// HolidayFrom reads a holiday that shall have an id; path is where the message stands in its request.
func HolidayFrom(path, id string, m *vernationv1.Holiday) (firm.Kept[firm.Holiday], error) {
	r := &reading{}
	h := firm.Holiday{ID: id, Name: m.GetDisplayName(), From: r.date(path+".from_on", m.GetFromOn()), To: r.date(path+".to_on", m.GetToOn())}
	return firm.Kept[firm.Holiday]{Value: h, ExternalID: m.GetExternalId()}, fault.InvalidFields(r.wrong)
}

// HolidayList declares by what holidays may be filtered and put in order.
var HolidayList = listing.Declare(
	named(listing.NameField), text("display_name"), listing.Field{Name: "from_on", Kind: listing.Day}, listing.Field{Name: "to_on", Kind: listing.Day},
	text("external_id"), listing.Field{Name: "delete_time", Kind: listing.Instant, Unordered: true},
)
