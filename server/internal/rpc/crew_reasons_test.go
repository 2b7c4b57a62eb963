package rpc_test

import (
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	vernationv1 "vernation/proto/vernation/v1"
)

// technician is a new technician who can be right, changed by a test.
func (d *desk) technician(id string, change func(*vernationv1.Technician)) *vernationv1.CreateTechnicianRequest {
	technician := &vernationv1.Technician{
		DisplayName: "Technician C", Base: &vernationv1.Position{Latitude: 40.6, Longitude: -77.6}, SpeedPercent: 90, PaidMinorPerMinute: 55,
		Shifts: &vernationv1.Calendar{Weekly: []*vernationv1.WeeklyWindow{{
			Days: []vernationv1.Weekday{vernationv1.Weekday_WEEKDAY_MON, vernationv1.Weekday_WEEKDAY_TUE}, Window: &vernationv1.Window{Opens: "08:00", Closes: "16:00"},
		}}},
		Licences: []*vernationv1.Licence{{Jurisdiction: "US-PA", Category: "22", Number: "L-3", FromOn: "2026-01-01", ToOn: "2026-12-31"}},
		Vessels: []*vernationv1.Vessel{{
			VesselId: "sprayer", DisplayName: "pump sprayer", Capacity: "1 US gal", MarkSpacing: "8 US fl oz", Methods: []vernationv1.Method{vernationv1.Method_METHOD_SPOT_SPRAY},
		}},
		Measures: []*vernationv1.Measure{{DisplayName: "cup", Capacity: "2 US fl oz", MarkSpacing: "0.125 US fl oz"}},
		Scales:   []*vernationv1.Scale{{DisplayName: "pocket scale", Capacity: "100 g", MarkSpacing: "0.1 g"}},
		Keys:     []*vernationv1.KeyHeld{{KeyId: "key-1", FromOn: "2026-01-01"}},
	}
	if change != nil {
		change(technician)
	}
	return &vernationv1.CreateTechnicianRequest{Parent: d.name(""), TechnicianId: id, Technician: technician, RequestId: request()}
}

// wrongTechnicians are technicians who cannot be, by reason.
var wrongTechnicians = map[string]func(*vernationv1.Technician){
	"CALENDAR_INVALID": func(t *vernationv1.Technician) {
		twice := &vernationv1.WeeklyWindow{Days: []vernationv1.Weekday{vernationv1.Weekday_WEEKDAY_FRI}, Window: &vernationv1.Window{Opens: "08:00", Closes: "10:00"}}
		t.Shifts = &vernationv1.Calendar{Weekly: []*vernationv1.WeeklyWindow{twice, twice}}
	},
	"CONTRADICTION": func(t *vernationv1.Technician) {
		t.Licences = []*vernationv1.Licence{{Jurisdiction: "US-PA", Category: "22", Number: "L-3", FromOn: "2026-01-02", ToOn: "2026-01-01"}}
	},
	"DUPLICATE": func(t *vernationv1.Technician) {
		t.Keys = []*vernationv1.KeyHeld{{KeyId: "key-1"}, {KeyId: "key-1"}}
	},
	"OUT_OF_RANGE": func(t *vernationv1.Technician) { t.SpeedPercent = 5 },
	"VESSEL_INVALID": func(t *vernationv1.Technician) {
		t.Vessels = []*vernationv1.Vessel{{
			VesselId: "cup", DisplayName: "cup", Capacity: "1 L", DeadVolume: "2 L", MarkSpacing: "100 mL", Methods: []vernationv1.Method{vernationv1.Method_METHOD_DRENCH},
		}}
	},
	"MEASURE_INVALID": func(t *vernationv1.Technician) {
		t.Measures = []*vernationv1.Measure{{DisplayName: "cup", Capacity: "1 mL", MarkSpacing: "2 mL"}}
	},
	"UNKNOWN_JURISDICTION": func(t *vernationv1.Technician) {
		t.Licences = []*vernationv1.Licence{{Jurisdiction: "ZZ", Category: "22", Number: "L-3", FromOn: "2026-01-01"}}
	},
	"UNKNOWN_CATEGORY": func(t *vernationv1.Technician) {
		t.Licences = []*vernationv1.Licence{{Jurisdiction: "US-PA", Category: "none-such", Number: "L-3", FromOn: "2026-01-01"}}
	},
	"UNKNOWN_TECHNICIAN": func(t *vernationv1.Technician) {
		t.Licences = []*vernationv1.Licence{{Jurisdiction: "US-PA", Category: "22", Number: "L-3", FromOn: "2026-01-01", Under: "businesses/demo-rounds/technicians/nobody"}}
	},
}

// absence is one of tech-b that can be right, changed by a test.
func (w *works) absence(id string, change func(*vernationv1.Absence)) *vernationv1.CreateAbsenceRequest {
	absence := &vernationv1.Absence{Technician: w.name("technicians/tech-b"), FromOn: "2026-03-02", ToOn: "2026-03-06", Note: "course in town"}
	if change != nil {
		change(absence)
	}
	return &vernationv1.CreateAbsenceRequest{Parent: w.name(""), AbsenceId: id, Absence: absence, RequestId: request()}
}

// holiday is one that can be right, changed by a test.
func (w *works) holiday(id string, change func(*vernationv1.Holiday)) *vernationv1.CreateHolidayRequest {
	holiday := &vernationv1.Holiday{DisplayName: "Founders' day", FromOn: "2026-03-03", ToOn: "2026-03-04"}
	if change != nil {
		change(holiday)
	}
	return &vernationv1.CreateHolidayRequest{Parent: w.name(""), HolidayId: id, Holiday: holiday, RequestId: request()}
}

// prepareCrew makes what the refusals speak of: things known under an external id, and things that were deleted.
func (d *desk) prepareCrew() error {
	for _, id := range []string{"known", "left", "taken"} {
		if _, err := d.technicians().CreateTechnician(d.office, d.technician(id, func(t *vernationv1.Technician) { t.ExternalId = id })); err != nil {
			return err
		}
		if _, err := d.absences().CreateAbsence(d.office, d.absence(id, func(a *vernationv1.Absence) { a.ExternalId = id })); err != nil {
			return err
		}
		if _, err := d.holidays().CreateHoliday(d.office, d.holiday(id, func(h *vernationv1.Holiday) { h.ExternalId = id })); err != nil {
			return err
		}
	}
	if _, err := d.technicians().DeleteTechnician(d.office, &vernationv1.DeleteTechnicianRequest{Name: d.name("technicians/left"), RequestId: request()}); err != nil {
		return err
	}
	if _, err := d.absences().DeleteAbsence(d.office, &vernationv1.DeleteAbsenceRequest{Name: d.name("absences/left"), RequestId: request()}); err != nil {
		return err
	}
	_, err := d.holidays().DeleteHoliday(d.office, &vernationv1.DeleteHolidayRequest{Name: d.name("holidays/left"), RequestId: request()})
	return err
}

func mask(paths ...string) *fieldmaskpb.FieldMask { return &fieldmaskpb.FieldMask{Paths: paths} }

// crewRefusals are those of the standard methods that change technicians.
func crewRefusals() []refusal {
	create := func(id string, change func(*vernationv1.Technician)) func(*desk) error {
		return func(d *desk) error {
			_, err := d.technicians().CreateTechnician(d.office, d.technician(id, change))
			return err
		}
	}
	many := func(id string, change func(*vernationv1.Technician)) func(*desk) error {
		return func(d *desk) error {
			ask := &vernationv1.BatchCreateTechniciansRequest{Parent: d.name(""), RequestId: request(), Requests: []*vernationv1.CreateTechnicianRequest{d.technician(id, change)}}
			_, err := d.technicians().BatchCreateTechnicians(d.office, ask)
			return err
		}
	}
	update := func(id string, paths []string, change func(*vernationv1.Technician)) func(*desk) error {
		return func(d *desk) error {
			told := &vernationv1.Technician{Name: d.name("technicians/" + id)}
			change(told)
			ask := &vernationv1.UpdateTechnicianRequest{Technician: told, RequestId: request()}
			if paths != nil {
				ask.UpdateMask = mask(paths...)
			}
			_, err := d.technicians().UpdateTechnician(d.office, ask)
			return err
		}
	}
	remove := func(id, etag string) func(*desk) error {
		return func(d *desk) error {
			_, err := d.technicians().DeleteTechnician(d.office, &vernationv1.DeleteTechnicianRequest{Name: d.name("technicians/" + id), Etag: etag, RequestId: request()})
			return err
		}
	}
	list := func(filter, order string) func(*desk) error {
		return func(d *desk) error {
			_, err := d.technicians().ListTechnicians(d.office, &vernationv1.ListTechniciansRequest{Parent: d.name(""), Filter: filter, OrderBy: order})
			return err
		}
	}
	as := func(external string) func(*vernationv1.Technician) {
		return func(t *vernationv1.Technician) { t.ExternalId = external }
	}
	refusals := []refusal{
		{"CreateTechnician", "ALREADY_EXISTS EXISTS_ALREADY", create("tech-a", nil)},
		{"CreateTechnician", "ALREADY_EXISTS EXISTS_ALREADY", create("new", as("taken"))},
		{"BatchCreateTechnicians", "ALREADY_EXISTS EXISTS_ALREADY", many("tech-a", nil)},
		{"UpdateTechnician", "INVALID_ARGUMENT MASK_PATH_UNKNOWN", update("known", []string{"colour"}, as(""))},
		{"UpdateTechnician", "INVALID_ARGUMENT MASK_PATH_READ_ONLY", update("known", []string{"etag"}, as(""))},
		{"UpdateTechnician", "NOT_FOUND NOT_FOUND", update("nobody", nil, as("x"))},
		{"UpdateTechnician", "ALREADY_EXISTS EXISTS_ALREADY", update("known", nil, as("taken"))},
		{"UpdateTechnician", "ABORTED ETAG_STALE", update("known", nil, func(t *vernationv1.Technician) { t.Etag, t.DisplayName = "nonsense", "C" })},
		{"UpdateTechnician", "FAILED_PRECONDITION DELETED", update("left", nil, as("x"))},
		{"DeleteTechnician", "NOT_FOUND NOT_FOUND", remove("nobody", "")},
		{"DeleteTechnician", "ABORTED ETAG_STALE", remove("known", "nonsense")},
		{"DeleteTechnician", "FAILED_PRECONDITION DELETED", remove("left", "")},
		{"DeleteTechnician", "FAILED_PRECONDITION STILL_USED", func(d *desk) error {
			under := d.technician("apprentice", func(t *vernationv1.Technician) { t.Licences[0].Under = d.name("technicians/known") })
			if _, err := d.technicians().CreateTechnician(d.office, under); err != nil {
				return nil
			}
			return remove("known", "")(d)
		}},
		{"ListTechnicians", "INVALID_ARGUMENT FILTER_INVALID", list(`colour = "green"`, "")},
		{"ListTechnicians", "INVALID_ARGUMENT ORDER_INVALID", list("", "colour")},
	}
	for reason, change := range wrongTechnicians {
		reason = "INVALID_ARGUMENT " + reason
		refusals = append(refusals, refusal{"CreateTechnician", reason, create("new", change)}, refusal{"BatchCreateTechnicians", reason, many("new", change)},
			refusal{"UpdateTechnician", reason, update("known", nil, change)})
	}
	return refusals
}

// wrongAbsences are absences that cannot be, by reason.
var wrongAbsences = map[string]func(*desk, *vernationv1.Absence){
	"INVALID_ARGUMENT CONTRADICTION": func(_ *desk, a *vernationv1.Absence) { a.FromOn, a.ToOn = "2026-03-06", "2026-03-05" },
	"INVALID_ARGUMENT WINDOW_INVALID": func(_ *desk, a *vernationv1.Absence) {
		a.Window = &vernationv1.Window{Opens: "24:00", Closes: "30:00"}
	},
	"NOT_FOUND NOT_FOUND":         func(d *desk, a *vernationv1.Absence) { a.Technician = d.name("technicians/nobody") },
	"FAILED_PRECONDITION DELETED": func(d *desk, a *vernationv1.Absence) { a.Technician = d.name("technicians/left") },
}

func absenceRefusals() []refusal {
	create := func(id string, change func(*desk, *vernationv1.Absence)) func(*desk) error {
		return func(d *desk) error {
			_, err := d.absences().CreateAbsence(d.office, d.absence(id, func(a *vernationv1.Absence) { change(d, a) }))
			return err
		}
	}
	many := func(id string, change func(*desk, *vernationv1.Absence)) func(*desk) error {
		return func(d *desk) error {
			one := d.absence(id, func(a *vernationv1.Absence) { change(d, a) })
			_, err := d.absences().BatchCreateAbsences(d.office, &vernationv1.BatchCreateAbsencesRequest{
				Parent: d.name(""), RequestId: request(), Requests: []*vernationv1.CreateAbsenceRequest{one},
			})
			return err
		}
	}
	update := func(id string, paths []string, change func(*desk, *vernationv1.Absence)) func(*desk) error {
		return func(d *desk) error {
			told := &vernationv1.Absence{Name: d.name("absences/" + id)}
			change(d, told)
			ask := &vernationv1.UpdateAbsenceRequest{Absence: told, RequestId: request()}
			if paths != nil {
				ask.UpdateMask = mask(paths...)
			}
			_, err := d.absences().UpdateAbsence(d.office, ask)
			return err
		}
	}
	remove := func(id, etag string) func(*desk) error {
		return func(d *desk) error {
			_, err := d.absences().DeleteAbsence(d.office, &vernationv1.DeleteAbsenceRequest{Name: d.name("absences/" + id), Etag: etag, RequestId: request()})
			return err
		}
	}
	list := func(ask *vernationv1.ListAbsencesRequest) func(*desk) error {
		return func(d *desk) error {
			ask.Parent = d.name("")
			_, err := d.absences().ListAbsences(d.office, ask)
			return err
		}
	}
	as := func(external string) func(*desk, *vernationv1.Absence) {
		return func(_ *desk, a *vernationv1.Absence) { a.ExternalId = external }
	}
	refusals := []refusal{
		{"CreateAbsence", "ALREADY_EXISTS EXISTS_ALREADY", create("known", as(""))},
		{"CreateAbsence", "ALREADY_EXISTS EXISTS_ALREADY", create("new", as("taken"))},
		{"BatchCreateAbsences", "ALREADY_EXISTS EXISTS_ALREADY", many("known", as(""))},
		{"GetAbsence", "NOT_FOUND NOT_FOUND", func(d *desk) error {
			_, err := d.absences().GetAbsence(d.office, &vernationv1.GetAbsenceRequest{Name: d.name("absences/none")})
			return err
		}},
		{"UpdateAbsence", "INVALID_ARGUMENT MASK_PATH_UNKNOWN", update("known", []string{"colour"}, as(""))},
		{"UpdateAbsence", "INVALID_ARGUMENT MASK_PATH_READ_ONLY", update("known", []string{"visits"}, as(""))},
		{"UpdateAbsence", "ALREADY_EXISTS EXISTS_ALREADY", update("known", nil, as("taken"))},
		{"UpdateAbsence", "ABORTED ETAG_STALE", update("known", nil, func(_ *desk, a *vernationv1.Absence) { a.Etag, a.Note = "nonsense", "x" })},
		{"DeleteAbsence", "NOT_FOUND NOT_FOUND", remove("none", "")},
		{"DeleteAbsence", "ABORTED ETAG_STALE", remove("known", "nonsense")},
		{"DeleteAbsence", "FAILED_PRECONDITION DELETED", remove("left", "")},
		{"ListAbsences", "INVALID_ARGUMENT FILTER_INVALID", list(&vernationv1.ListAbsencesRequest{Filter: `colour = "green"`})},
		{"ListAbsences", "INVALID_ARGUMENT ORDER_INVALID", list(&vernationv1.ListAbsencesRequest{OrderBy: "colour"})},
		{"ListAbsences", "INVALID_ARGUMENT PAGE_TOKEN_INVALID", list(&vernationv1.ListAbsencesRequest{PageToken: "page-2"})},
	}
	for reason, change := range wrongAbsences {
		refusals = append(refusals, refusal{"CreateAbsence", reason, create("new", change)}, refusal{"BatchCreateAbsences", reason, many("new", change)},
			refusal{"UpdateAbsence", reason, update("known", nil, change)})
	}
	return refusals
}

func holidayRefusals() []refusal {
	create := func(id string, change func(*vernationv1.Holiday)) func(*desk) error {
		return func(d *desk) error {
			_, err := d.holidays().CreateHoliday(d.office, d.holiday(id, change))
			return err
		}
	}
	many := func(id string, change func(*vernationv1.Holiday)) func(*desk) error {
		return func(d *desk) error {
			_, err := d.holidays().BatchCreateHolidays(d.office, &vernationv1.BatchCreateHolidaysRequest{
				Parent: d.name(""), RequestId: request(), Requests: []*vernationv1.CreateHolidayRequest{d.holiday(id, change)},
			})
			return err
		}
	}
	update := func(id string, paths []string, change func(*vernationv1.Holiday)) func(*desk) error {
		return func(d *desk) error {
			told := &vernationv1.Holiday{Name: d.name("holidays/" + id)}
			change(told)
			ask := &vernationv1.UpdateHolidayRequest{Holiday: told, RequestId: request()}
			if paths != nil {
				ask.UpdateMask = mask(paths...)
			}
			_, err := d.holidays().UpdateHoliday(d.office, ask)
			return err
		}
	}
	remove := func(id, etag string) func(*desk) error {
		return func(d *desk) error {
			_, err := d.holidays().DeleteHoliday(d.office, &vernationv1.DeleteHolidayRequest{Name: d.name("holidays/" + id), Etag: etag, RequestId: request()})
			return err
		}
	}
	list := func(ask *vernationv1.ListHolidaysRequest) func(*desk) error {
		return func(d *desk) error {
			ask.Parent = d.name("")
			_, err := d.holidays().ListHolidays(d.office, ask)
			return err
		}
	}
	as := func(external string) func(*vernationv1.Holiday) {
		return func(h *vernationv1.Holiday) { h.ExternalId = external }
	}
	turned := func(h *vernationv1.Holiday) { h.FromOn, h.ToOn = "2026-03-06", "2026-03-05" }
	return []refusal{
		{"CreateHoliday", "INVALID_ARGUMENT CONTRADICTION", create("new", turned)},
		{"BatchCreateHolidays", "INVALID_ARGUMENT CONTRADICTION", many("new", turned)},
		{"UpdateHoliday", "INVALID_ARGUMENT CONTRADICTION", update("known", nil, turned)},
		{"CreateHoliday", "ALREADY_EXISTS EXISTS_ALREADY", create("known", nil)},
		{"BatchCreateHolidays", "ALREADY_EXISTS EXISTS_ALREADY", many("new", as("taken"))},
		{"GetHoliday", "NOT_FOUND NOT_FOUND", func(d *desk) error {
			_, err := d.holidays().GetHoliday(d.techB, &vernationv1.GetHolidayRequest{Name: d.name("holidays/none")})
			return err
		}},
		{"UpdateHoliday", "INVALID_ARGUMENT MASK_PATH_UNKNOWN", update("known", []string{"colour"}, as(""))},
		{"UpdateHoliday", "INVALID_ARGUMENT MASK_PATH_READ_ONLY", update("known", []string{"etag"}, as(""))},
		{"UpdateHoliday", "NOT_FOUND NOT_FOUND", update("none", nil, as("x"))},
		{"UpdateHoliday", "ALREADY_EXISTS EXISTS_ALREADY", update("known", nil, as("taken"))},
		{"UpdateHoliday", "ABORTED ETAG_STALE", update("known", nil, func(h *vernationv1.Holiday) { h.Etag, h.ExternalId = "nonsense", "x" })},
		{"UpdateHoliday", "FAILED_PRECONDITION DELETED", update("left", nil, as("x"))},
		{"DeleteHoliday", "NOT_FOUND NOT_FOUND", remove("none", "")},
		{"DeleteHoliday", "ABORTED ETAG_STALE", remove("known", "nonsense")},
		{"DeleteHoliday", "FAILED_PRECONDITION DELETED", remove("left", "")},
		{"ListHolidays", "INVALID_ARGUMENT FILTER_INVALID", list(&vernationv1.ListHolidaysRequest{Filter: `colour = "green"`})},
		{"ListHolidays", "INVALID_ARGUMENT ORDER_INVALID", list(&vernationv1.ListHolidaysRequest{OrderBy: "colour"})},
		{"ListHolidays", "INVALID_ARGUMENT PAGE_TOKEN_INVALID", list(&vernationv1.ListHolidaysRequest{PageToken: "page-2"})},
	}
}
