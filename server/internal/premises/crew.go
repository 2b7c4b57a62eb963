package premises

import (
	"fmt"
	"slices"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// AddCrew stores technicians.
//
// Fails with Invalid (INVALID_FIELDS) and Exists for an id.
func AddCrew(tx *store.Tx, crew []firm.CrewMember) error {
	others, err := tx.Crew()
	if err != nil {
		return err
	}
	all := slices.Concat(others, crew)
	var fields []catalogue.FieldError
	for i, m := range crew {
		path := fmt.Sprintf("technicians[%d]", i)
		if len(crew) == 1 {
			path = "technician"
		}
		fields = append(fields, under(path, crewFields(m, all))...)
	}
	if err := fault.InvalidFields(fields); err != nil {
		return err
	}
	return tx.InsertCrew(crew)
}

// AddCrewMember takes a technician into the crew.
//
// Fails as AddCrew does, and with Exists for an external id.
func AddCrewMember(tx *store.Tx, told firm.Kept[firm.CrewMember]) (firm.Kept[firm.CrewMember], error) {
	if err := AddCrew(tx, []firm.CrewMember{told.Value}); err != nil {
		return told, err
	}
	if err := tx.SetCrewMemberExternalID(told.Value.ID, told.ExternalID); err != nil {
		return told, err
	}
	return tx.KeptCrewMember(told.Value.ID)
}

// ChangeCrewMember changes a technician: change gives the technician as told from what stands. A nil version is whatever it is.
//
// Fails with NotFound, Refused (DELETED), Stale (ETAG_STALE), Exists for an external id, Invalid as AddCrew does, and as change
// does.
func ChangeCrewMember(tx *store.Tx, id scheduler.TechnicianID, version *int64, change func(firm.Kept[firm.CrewMember]) (firm.Kept[firm.CrewMember], error)) (firm.Kept[firm.CrewMember], error) {
	standing, err := standing("technician", id, version, tx.LockCrewMember, tx.KeptCrewMember)
	if err != nil {
		return standing, err
	}
	told, err := change(standing)
	if err != nil {
		return standing, err
	}
	crew, err := tx.Crew()
	if err != nil {
		return standing, err
	}
	if err := fault.InvalidFields(under("technician", crewFields(told.Value, crew))); err != nil {
		return standing, err
	}
	if err := tx.UpdateCrewMember(told.Value, told.ExternalID); err != nil {
		return standing, err
	}
	return tx.KeptCrewMember(id)
}

// DeleteCrewMember takes a technician out of the crew. A nil version is whatever it is.
//
// Fails with NotFound, Stale (ETAG_STALE) and Refused: DELETED for one who left already, STILL_USED where others work under
// the technician's licence or a site is fixed to the technician.
func DeleteCrewMember(tx *store.Tx, id scheduler.TechnicianID, version *int64) (firm.Kept[firm.CrewMember], error) {
	standing, err := standing("technician", id, version, tx.LockCrewMember, tx.KeptCrewMember)
	if err != nil {
		return standing, err
	}
	if err := crewMemberNeeded(tx, id); err != nil {
		return standing, err
	}
	if err := tx.DeleteCrewMember(id); err != nil {
		return standing, err
	}
	return tx.KeptCrewMember(id)
}

// crewMemberNeeded refuses (STILL_USED) when somebody or some site cannot go on without a technician.
func crewMemberNeeded(tx *store.Tx, id scheduler.TechnicianID) error {
	crew, err := tx.Crew()
	if err != nil {
		return err
	}
	for _, m := range crew {
		if slices.ContainsFunc(m.Licences, func(l scheduler.Licence) bool { return l.Under == id }) {
			return stillUsed("technician", string(id), "%s works under the licence of %s: give %s another supervisor first", m.Name, id, m.Name)
		}
	}
	sites, err := tx.AllSites()
	if err != nil {
		return err
	}
	fixed := slices.IndexFunc(sites, func(s site.Site) bool {
		return s.Agreement.TechnicianFixed && s.Agreement.UsualTechnician == string(id)
	})
	if fixed >= 0 {
		return stillUsed("technician", string(id), "the agreement of %s fixes %s as its technician: change that first", sites[fixed].Name, id)
	}
	return nil
}

// stillUsed is the refusal to delete something that something else needs.
func stillUsed(thing, id, text string, args ...any) error {
	f := fault.New(fault.Refused, "STILL_USED", text, args...)
	f.Thing, f.Subject = thing, id
	return f
}

// leastSpeedPercent and mostSpeedPercent bound how slow and fast somebody drives; 100 is the business's usual speed.
const (
	leastSpeedPercent = 10
	mostSpeedPercent  = 300
)

// crewFields says what is wrong with a technician; crew are those whose licences may be worked under.
func crewFields(m firm.CrewMember, crew []firm.CrewMember) []catalogue.FieldError {
	var fields catalogue.FieldErrors
	if m.ID == "" || m.Name == "" {
		fields.Add("id", catalogue.ReasonMissing, "id and name are needed")
	}
	shiftFields(&fields, m)
	if m.PaidPerMinute < 0 {
		fields.Add("paid_per_minute", catalogue.ReasonOutOfRange, "%d: want 0 or more minor units", m.PaidPerMinute)
	}
	if m.SpeedPercent < leastSpeedPercent || m.SpeedPercent > mostSpeedPercent {
		fields.Add("speed_percent", catalogue.ReasonOutOfRange, "%d: want %d to %d (100 is the usual speed)", m.SpeedPercent, leastSpeedPercent, mostSpeedPercent)
	}
	kitFields(&fields, m)
	for i, l := range m.Licences {
		licenceFields(&fields, fmt.Sprintf("licences[%d]", i), m, l, crew)
	}
	held := map[string]bool{}
	for i, k := range m.Keys {
		at := fmt.Sprintf("keys[%d]", i)
		if !k.To.IsZero() && k.To < k.From {
			fields.Add(at+".to", catalogue.ReasonContradiction, "held until %v, from %v on: want the days in sequence", k.To, k.From)
		}
		twice(&fields, held, at+".key", fmt.Sprintf("%s from %v", k.Key, k.From))
	}
	return fields
}

// twice notes a name that was there already.
func twice(fields *catalogue.FieldErrors, seen map[string]bool, path, name string) {
	if seen[name] {
		fields.Add(path, catalogue.ReasonDuplicate, "%s is there twice: want each once", name)
	}
	seen[name] = true
}

// shiftFields judges when somebody works and rests: a day has one shift, since it has one day route.
func shiftFields(fields *catalogue.FieldErrors, m firm.CrewMember) {
	const reason = "CALENDAR_INVALID"
	for _, wrong := range m.Shifts.Faults() {
		fields.Add("shifts", reason, "%v", wrong)
	}
	if m.Shifts.Always {
		fields.Add("shifts.always", reason, "nobody works always: want windows by weekday")
	}
	days := map[civil.Weekday]bool{}
	for i, weekly := range m.Shifts.Weekly {
		for _, day := range weekly.Days {
			if days[day] {
				fields.Add(fmt.Sprintf("shifts.weekly[%d].days", i), reason, "%v has two shifts: a day has one day route, so want one shift, and an absence for what lies between", day)
			}
			days[day] = true
		}
	}
	for i, dated := range m.Shifts.Exceptions {
		if len(dated.Windows) > 1 {
			fields.Add(fmt.Sprintf("shifts.exceptions[%d].windows", i), reason, "%v has %d shifts: a day has one day route, so want one", dated.On, len(dated.Windows))
		}
	}
	window := time.Duration(m.BreakTo-m.BreakFrom) * time.Second
	if m.BreakTakes < 0 || m.BreakTakes > 0 && window < m.BreakTakes {
		fields.Add("break_to", catalogue.ReasonContradiction, "a break of %v from %v to %v: want a window that it fits in", m.BreakTakes, m.BreakFrom, m.BreakTo)
	}
}

// kitFields judges what somebody applies from and doses with.
func kitFields(fields *catalogue.FieldErrors, m firm.CrewMember) {
	const vesselInvalid, measureInvalid = "VESSEL_INVALID", "MEASURE_INVALID"
	vessels, names := map[string]bool{}, map[string]bool{}
	for i, v := range m.Vessels {
		at := fmt.Sprintf("vessels[%d]", i)
		if err := v.Validate(); err != nil {
			fields.Add(at, vesselInvalid, "%v", err)
		}
		twice(fields, vessels, at+".id", string(v.ID))
	}
	for i, measure := range m.Measures {
		at := fmt.Sprintf("measures[%d]", i)
		if err := measure.Validate(); err != nil {
			fields.Add(at, measureInvalid, "%v", err)
		}
		twice(fields, names, at+".name", measure.Name)
	}
	for i, scale := range m.Scales {
		at := fmt.Sprintf("scales[%d]", i)
		if err := scale.Validate(); err != nil {
			fields.Add(at, measureInvalid, "%v", err)
		}
		twice(fields, names, at+".name", scale.Name)
	}
}

// licenceFields judges a licence: its jurisdiction knows the category, its days are in sequence, and whoever holds it for
// another is of the crew.
func licenceFields(fields *catalogue.FieldErrors, at string, m firm.CrewMember, l scheduler.Licence, crew []firm.CrewMember) {
	_, err := catalogue.Shipped().JurisdictionByCode(l.Jurisdiction)
	fields.AddUnknown(at+".jurisdiction", catalogue.ReasonUnknownJurisdiction, err)
	known := catalogue.Shipped().Categories(l.Jurisdiction)
	if err == nil && len(known) > 0 && !slices.ContainsFunc(known, func(c catalogue.LicenceCategory) bool { return c.ID == l.Category }) {
		fields.Add(at+".category", catalogue.ReasonUnknownCategory, "%q is no category of a licence in %s: want one of %v", l.Category, l.Jurisdiction, categoryIDs(known))
	}
	if !l.To.IsZero() && l.To < l.From {
		fields.Add(at+".to", catalogue.ReasonContradiction, "licence ends on %v before it begins on %v", l.To, l.From)
	}
	switch {
	case l.Under == "":
	case l.Under == m.ID:
		fields.Add(at+".under", catalogue.ReasonContradiction, "%s works under oneself: want another technician, or none", m.ID)
	case !slices.ContainsFunc(crew, func(other firm.CrewMember) bool { return other.ID == l.Under }):
		fields.Add(at+".under", "UNKNOWN_TECHNICIAN", "technician %q is not of the crew: want one who is", l.Under)
	}
}

func categoryIDs(known []catalogue.LicenceCategory) []string {
	ids := make([]string, len(known))
	for i, c := range known {
		ids[i] = c.ID
	}
	return ids
}
