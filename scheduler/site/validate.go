package site

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/scheduler/travel"
)

// Bounds of a site record.
const (
	MaxSignIn      = 4 * time.Hour
	MaxNoticeLead  = 90 * 24 * time.Hour
	MaxDays        = 365 // lags of services and waterings, days of a response
	MaxHardnessMgL = 10_000
	MaxCapacity    = 10_000 // plants at a treatment place
	MaxPotVolumeML = 10_000_000
	// MaxSoilSquareMetres is of one plant or bed.
	MaxSoilSquareMetres = 10_000
	MaxGroupMinutes     = 24 * 60
	MaxReplacement      = quantity.Money(100_000_000) // of one plant
	coldestCelsius      = -40
	hottestCelsius      = 60
	greatestLatitude    = 90
	greatestMeridian    = 180
)

// Validate says what is wrong with the site, its areas and its agreement, field by field; empty when nothing is.
func (s Site) Validate(c *catalogue.Catalogue) []catalogue.FieldError {
	var l catalogue.FieldErrors
	l.AddMissing("id", string(s.ID))
	l.AddMissing("client", string(s.Client))
	l.AddMissing("name", s.Name)
	validatePosition(&l, s.Position)
	if s.Zone == (civil.Zone{}) {
		l.Add("zone", catalogue.ReasonMissing, "missing: want a name of the IANA database such as America/New_York")
	}
	_, err := c.JurisdictionByCode(s.Jurisdiction)
	l.AddUnknown("jurisdiction", catalogue.ReasonUnknownJurisdiction, err)
	catalogue.AddStrange(&l, "kind", catalogue.ReasonUnknownPlace, s.Kind, catalogue.PlaceKinds[:])
	validateCalendar(&l, "access", s.Access)
	for i, key := range s.Keys {
		l.AddMissing(fmt.Sprintf("keys[%d]", i), string(key))
	}
	if s.SignIn < 0 || s.SignIn > MaxSignIn {
		l.Add("sign_in", catalogue.ReasonOutOfRange, "%v: want 0 to %v", s.SignIn, MaxSignIn)
	}
	s.validateArea(&l, "water.area", s.Water.Area)
	if h := s.Water.HardnessMgL; h != nil && !(*h >= 0 && *h <= MaxHardnessMgL) {
		l.Add("water.hardness_mg_l", catalogue.ReasonOutOfRange, "%v: want 0 to %v, or none when unknown", *h, MaxHardnessMgL)
	}
	s.validateAreas(&l)
	s.validateAgreement(&l, c)
	return l
}

func validatePosition(l *catalogue.FieldErrors, p travel.Position) {
	if !(math.Abs(p.Latitude) <= greatestLatitude) {
		l.Add("position.latitude", catalogue.ReasonOutOfRange, "%v: want -90 to 90 degrees", p.Latitude)
	}
	if !(math.Abs(p.Longitude) <= greatestMeridian) {
		l.Add("position.longitude", catalogue.ReasonOutOfRange, "%v: want -180 to 180 degrees", p.Longitude)
	}
	if p == (travel.Position{}) {
		l.Add("position", catalogue.ReasonMissing, "missing: latitude 0, longitude 0 lies in the sea")
	}
}

func validateCalendar(l *catalogue.FieldErrors, path string, calendar civil.Calendar) {
	for _, fault := range calendar.Faults() {
		at := path
		if fault.Entry != "" {
			at += "." + fault.Entry
		}
		l.Add(at, catalogue.ReasonWindow, "%v", errors.Unwrap(fault))
	}
}

// validateArea puts a field on the list when it names an area that the site does not have; "" is none.
func (s Site) validateArea(l *catalogue.FieldErrors, path string, id AreaID) {
	if id != "" && !slices.ContainsFunc(s.Areas, func(a Area) bool { return a.ID == id }) {
		l.Add(path, catalogue.ReasonUnknownArea, "area %q is none of this site's: want the id of one of its areas", id)
	}
}

func (s Site) validateAreas(l *catalogue.FieldErrors) {
	if len(s.Areas) == 0 {
		l.Add("areas", catalogue.ReasonMissing, "missing: want at least one area")
	}
	seen := map[AreaID]bool{}
	for i, area := range s.Areas {
		path := fmt.Sprintf("areas[%d]", i)
		if area.ID != "" && seen[area.ID] {
			l.Add(path+".id", catalogue.ReasonDuplicate, "area %q is there twice", area.ID)
		}
		seen[area.ID] = true
		l.AddUnder(path, area.validate())
		for j, other := range append(slices.Clone(area.OpenTo), area.ReachedOnlyThrough) {
			at := fmt.Sprintf("%s.open_to[%d]", path, j)
			if j == len(area.OpenTo) {
				at = path + ".reached_only_through"
			}
			s.validateArea(l, at, other)
			if other == area.ID && other != "" {
				l.Add(at, catalogue.ReasonContradiction, "area %q names itself: want another area", other)
			}
		}
		if s.circles(area) {
			l.Add(path+".reached_only_through", catalogue.ReasonContradiction, "the way to area %q leads back to it: want a way in from outside", area.ID)
		}
	}
}

// circles says whether the areas that must be crossed to come to one lead back to it.
func (s Site) circles(area Area) bool {
	at := area.ReachedOnlyThrough
	for range s.Areas {
		if at == "" || at == area.ID {
			break
		}
		i := slices.IndexFunc(s.Areas, func(a Area) bool { return a.ID == at })
		if i < 0 {
			return false
		}
		at = s.Areas[i].ReachedOnlyThrough
	}
	return at != "" && at == area.ID && area.ReachedOnlyThrough != area.ID
}

func (a Area) validate() []catalogue.FieldError {
	var l catalogue.FieldErrors
	l.AddMissing("id", string(a.ID))
	l.AddMissing("name", a.Name)
	if a.Kind != "" {
		catalogue.AddStrange(&l, "kind", catalogue.ReasonUnknownPlace, a.Kind, catalogue.PlaceKinds[:])
	}
	validateCalendar(&l, "people", a.People)
	for i, thing := range a.Sensitive {
		catalogue.AddStrange(&l, fmt.Sprintf("sensitive[%d]", i), catalogue.ReasonUnknownThing, thing, catalogue.SensitiveThings[:])
	}
	for i, season := range a.Climate {
		l.AddUnder(fmt.Sprintf("climate[%d]", i), season.validate())
	}
	if a.Humidity != nil {
		l.AddUnder("humidity", a.Humidity.validate())
	}
	validateCalendar(&l, "ventilation", a.Ventilation)
	if a.Treatment != nil {
		validateCalendar(&l, "treatment.hours", a.Treatment.Hours)
		addOutside(&l, "treatment.capacity", a.Treatment.Capacity, 1, MaxCapacity)
	}
	return l
}

func (h Humidity) validate() []catalogue.FieldError {
	var l catalogue.FieldErrors
	for _, reading := range []struct {
		path    string
		percent float64
	}{{"least", h.Least}, {"usual", h.Usual}, {"greatest", h.Greatest}} {
		if !(reading.percent >= 0 && reading.percent <= 100) {
			l.Add(reading.path, catalogue.ReasonOutOfRange, "%v %% relative humidity: want 0 to 100", reading.percent)
		}
	}
	if h.Least > h.Usual {
		l.Add("usual", catalogue.ReasonContradiction, "usual %v %% is below the least, %v %%: want least, usual, greatest to rise", h.Usual, h.Least)
	}
	if h.Usual > h.Greatest {
		l.Add("greatest", catalogue.ReasonContradiction, "greatest %v %% is below the usual, %v %%: want least, usual, greatest to rise", h.Greatest, h.Usual)
	}
	return l
}

func (s Season) validate() []catalogue.FieldError {
	var l catalogue.FieldErrors
	for i, month := range s.Months {
		addOutside(&l, fmt.Sprintf("months[%d]", i), int(month), int(time.January), int(time.December))
	}
	for _, reading := range []struct {
		path    string
		celsius float64
	}{{"coldest", s.Coldest}, {"usual", s.Usual}, {"warmest", s.Warmest}} {
		if !(reading.celsius >= coldestCelsius && reading.celsius <= hottestCelsius) {
			l.Add(reading.path, catalogue.ReasonOutOfRange, "%v °C: want %d to %d", reading.celsius, coldestCelsius, hottestCelsius)
		}
	}
	if s.Coldest > s.Usual {
		l.Add("usual", catalogue.ReasonContradiction, "usual %v °C is below the coldest, %v °C: want coldest, usual, warmest to rise", s.Usual, s.Coldest)
	}
	if s.Usual > s.Warmest {
		l.Add("warmest", catalogue.ReasonContradiction, "warmest %v °C is below the usual, %v °C: want coldest, usual, warmest to rise", s.Warmest, s.Usual)
	}
	return l
}

func (s Site) validateAgreement(l *catalogue.FieldErrors, c *catalogue.Catalogue) {
	var inner catalogue.FieldErrors
	a := s.Agreement
	if a.AskAbove != nil && *a.AskAbove < 0 {
		inner.Add("ask_above", catalogue.ReasonOutOfRange, "%v: want 0 or more", *a.AskAbove)
	}
	for i, material := range a.RefusedMaterials {
		_, err := c.MaterialByID(material)
		inner.AddUnknown(fmt.Sprintf("refused_materials[%d]", i), catalogue.ReasonUnknownMaterial, err)
	}
	method := func(path string, m catalogue.Method) {
		catalogue.AddStrange(&inner, path, catalogue.ReasonUnknownMethod, m, catalogue.Methods[:])
	}
	for i, m := range a.RefusedMethods {
		method(fmt.Sprintf("refused_methods[%d]", i), m)
	}
	for i, m := range a.ConsentNeeded {
		method(fmt.Sprintf("consent_needed[%d]", i), m)
	}
	for i, consent := range a.Consents {
		path := fmt.Sprintf("consents[%d]", i)
		method(path+".method", consent.Method)
		if consent.From.IsZero() {
			inner.Add(path+".from", catalogue.ReasonMissing, "missing: want the first day of the consent")
		}
		if !consent.To.IsZero() && consent.To < consent.From {
			inner.Add(path+".to", catalogue.ReasonContradiction, "%v is before %v: want the last day of the consent", consent.To, consent.From)
		}
	}
	for i, shut := range a.ShutAreas {
		path := fmt.Sprintf("shut_areas[%d]", i)
		inner.AddMissing(path+".area", string(shut.Area))
		s.validateArea(&inner, path+".area", shut.Area)
		if shut.From >= shut.To {
			inner.Add(path+".to", catalogue.ReasonWindow, "shut from %v to %v ends as it begins or before: want it to end later", shut.From, shut.To)
		}
	}
	if lead := a.NoticeLead; lead != nil && (*lead < 0 || *lead > MaxNoticeLead) {
		inner.Add("notice_lead", catalogue.ReasonOutOfRange, "%v: want 0 to %v", *lead, MaxNoticeLead)
	}
	addOutside(&inner, "response_days", a.ResponseDays, 0, MaxDays)
	if a.TechnicianFixed && a.UsualTechnician == "" {
		inner.Add("technician_fixed", catalogue.ReasonContradiction, "no usual technician to be fixed: want one named, or not fixed")
	}
	switch {
	case a.UsualDay == nil && a.DayFixed:
		inner.Add("day_fixed", catalogue.ReasonContradiction, "no usual day to be fixed: want one named, or not fixed")
	case a.UsualDay != nil && (*a.UsualDay < 0 || *a.UsualDay > civil.Weekday(time.Saturday)):
		inner.Add("usual_day", catalogue.ReasonOutOfRange, "%v is no day of the week", *a.UsualDay)
	}
	s.validateArea(&inner, "isolation_area", a.IsolationArea)
	l.AddUnder("agreement", inner)
}

func addOutside(l *catalogue.FieldErrors, path string, value, least, most int) {
	if value < least || value > most {
		l.Add(path, catalogue.ReasonOutOfRange, "%d: want %d to %d", value, least, most)
	}
}
