package convert

import (
	"time"

	"google.golang.org/protobuf/types/known/durationpb"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/scheduler/travel"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
)

// position writes a point on the earth.
func position(p travel.Position) *vernationv1.Position {
	return &vernationv1.Position{Latitude: p.Latitude, Longitude: p.Longitude}
}

// positionFrom reads a point on the earth.
func positionFrom(m *vernationv1.Position) travel.Position {
	return travel.Position{Latitude: m.GetLatitude(), Longitude: m.GetLongitude()}
}

// Site writes a site with its areas and its agreement, as it is kept.
func Site(names Names, kept firm.Kept[site.Site]) *vernationv1.Site {
	s := kept.Value
	return &vernationv1.Site{
		Name:         names.Site(s.ID),
		DisplayName:  s.Name,
		ClientId:     string(s.Client),
		Position:     position(s.Position),
		TimeZone:     s.Zone.Name(),
		Jurisdiction: string(s.Jurisdiction),
		PlaceKind:    placeKinds.enum(s.Kind),
		Access:       Calendar(s.Access),
		AccessNotes:  s.AccessNotes,
		KeyIds:       words[site.KeyID, string](s.Keys),
		SignIn:       Duration(s.SignIn),
		Water:        water(s.Water),
		Areas:        each(s.Areas, area),
		Agreement:    agreement(names, s.Agreement),
		ExternalId:   kept.ExternalID,
		Etag:         Etag(kept.Revision),
		DeleteTime:   Timestamp(kept.DeletedAt),
		Barred: each(s.Barred, func(b site.BarredProduct) *vernationv1.BarredProduct {
			return &vernationv1.BarredProduct{Product: names.Product(b.Product), Incident: names.Incident(b.Incident), SinceTime: Timestamp(b.Since)}
		}),
	}
}

// SiteFrom reads a site that shall have an id, with what another system calls it; path is where the message stands in
// its request.
func SiteFrom(path string, id site.ID, m *vernationv1.Site) (firm.Kept[site.Site], error) {
	r := &reading{}
	s := site.Site{
		ID:           id,
		Client:       site.ClientID(m.GetClientId()),
		Name:         m.GetDisplayName(),
		Position:     positionFrom(m.GetPosition()),
		Zone:         r.zone(path+".time_zone", m.GetTimeZone()),
		Jurisdiction: catalogue.JurisdictionCode(m.GetJurisdiction()),
		Kind:         placeKinds.word(m.GetPlaceKind()),
		Access:       r.calendar(path+".access", m.GetAccess()),
		AccessNotes:  m.GetAccessNotes(),
		Keys:         words[string, site.KeyID](m.GetKeyIds()),
		SignIn:       DurationFrom(m.GetSignIn()),
		Water:        site.Water{Area: site.AreaID(m.GetWater().GetAreaId())},
		Areas:        eachAt(path+".areas", m.GetAreas(), r.area),
		Agreement:    r.agreement(path+".agreement", m.GetAgreement()),
	}
	if m.GetWater() != nil {
		s.Water.HardnessMgL = copied(m.GetWater().HardnessMgL)
	}
	return firm.Kept[site.Site]{Value: s, ExternalID: m.GetExternalId()}, fault.InvalidFields(r.wrong)
}

// SiteList declares by what sites may be filtered and put in order.
var SiteList = listing.Declare(
	named(listing.NameField), text("display_name"), text("external_id"), text("client_id"), text("jurisdiction"),
	word("place_kind", placeKinds), text("time_zone"), deleteTime,
)

func water(w site.Water) *vernationv1.Water {
	if w == (site.Water{}) {
		return nil
	}
	return &vernationv1.Water{AreaId: string(w.Area), HardnessMgL: copied(w.HardnessMgL)}
}

func area(a site.Area) *vernationv1.Area {
	return &vernationv1.Area{
		AreaId:                   string(a.ID),
		DisplayName:              a.Name,
		PlaceKind:                placeKinds.enum(a.Kind),
		People:                   openedCalendar(a.People),
		OpenToAreaIds:            words[site.AreaID, string](a.OpenTo),
		ReachedOnlyThroughAreaId: string(a.ReachedOnlyThrough),
		Sensitive:                sensitives.enums(a.Sensitive),
		Climate:                  each(a.Climate, season),
		Humidity:                 humidity(a.Humidity),
		Ventilation:              openedCalendar(a.Ventilation),
		TreatmentPlace:           treatmentPlace(a.Treatment),
		Public:                   a.Public,
	}
}

func (r *reading) area(path string, m *vernationv1.Area) site.Area {
	return site.Area{
		ID:                 site.AreaID(m.GetAreaId()),
		Name:               m.GetDisplayName(),
		Kind:               placeKinds.word(m.GetPlaceKind()),
		People:             r.calendar(path+".people", m.GetPeople()),
		OpenTo:             words[string, site.AreaID](m.GetOpenToAreaIds()),
		ReachedOnlyThrough: site.AreaID(m.GetReachedOnlyThroughAreaId()),
		Sensitive:          sensitives.wordsOf(m.GetSensitive()),
		Climate:            each(m.GetClimate(), seasonFrom),
		Humidity:           humidityFrom(m.GetHumidity()),
		Ventilation:        r.calendar(path+".ventilation", m.GetVentilation()),
		Treatment:          r.treatmentPlace(path+".treatment_place", m.GetTreatmentPlace()),
		Public:             m.GetPublic(),
	}
}

func humidity(h *site.Humidity) *vernationv1.Humidity {
	if h == nil {
		return nil
	}
	return &vernationv1.Humidity{LeastPercent: h.Least, UsualPercent: h.Usual, GreatestPercent: h.Greatest}
}

func humidityFrom(m *vernationv1.Humidity) *site.Humidity {
	if m == nil {
		return nil
	}
	return &site.Humidity{Least: m.GetLeastPercent(), Usual: m.GetUsualPercent(), Greatest: m.GetGreatestPercent()}
}

func season(s site.Season) *vernationv1.Season {
	return &vernationv1.Season{
		Months:         each(s.Months, func(month time.Month) int32 { return int32(month) }),
		ColdestCelsius: s.Coldest,
		UsualCelsius:   s.Usual,
		WarmestCelsius: s.Warmest,
	}
}

func seasonFrom(m *vernationv1.Season) site.Season {
	return site.Season{
		Months:  each(m.GetMonths(), func(month int32) time.Month { return time.Month(month) }),
		Coldest: m.GetColdestCelsius(),
		Usual:   m.GetUsualCelsius(),
		Warmest: m.GetWarmestCelsius(),
	}
}

func treatmentPlace(t *site.TreatmentPlace) *vernationv1.TreatmentPlace {
	if t == nil {
		return nil
	}
	return &vernationv1.TreatmentPlace{Hours: Calendar(t.Hours), Water: t.Water, Drain: t.Drain, CapacityPlants: int32(t.Capacity)}
}

func (r *reading) treatmentPlace(path string, m *vernationv1.TreatmentPlace) *site.TreatmentPlace {
	if m == nil {
		return nil
	}
	return &site.TreatmentPlace{
		Hours: r.calendar(path+".hours", m.GetHours()), Water: m.GetWater(), Drain: m.GetDrain(), Capacity: int(m.GetCapacityPlants()),
	}
}

func agreement(names Names, a site.Agreement) *vernationv1.Agreement {
	m := &vernationv1.Agreement{
		FollowUpsIncluded: a.FollowUpsIncluded,
		AskAboveMinor:     amount[int64](a.AskAbove),
		RefusedMaterials:  words[catalogue.MaterialID, string](a.RefusedMaterials),
		RefusedMethods:    methods.enums(a.RefusedMethods),
		ConsentNeeded:     methods.enums(a.ConsentNeeded),
		Consents: each(a.Consents, func(c site.Consent) *vernationv1.Consent {
			return &vernationv1.Consent{
				Method: methods.enum(c.Method), Material: string(c.Material), FromOn: c.From.String(), ToOn: c.To.String(), ClientConsent: names.ClientConsent(c.Asked),
			}
		}),
		ShutAreas: each(a.ShutAreas, func(s site.ShutArea) *vernationv1.ShutArea {
			return shutArea(names, s)
		}),
		ResponseDays:     int32(a.ResponseDays),
		PlantsGuaranteed: a.PlantsCared,
		UsualTechnician:  names.Technician(scheduler.TechnicianID(a.UsualTechnician)),
		TechnicianFixed:  a.TechnicianFixed,
		DayFixed:         a.DayFixed,
		IsolationAreaId:  string(a.IsolationArea),
	}
	if a.NoticeLead != nil {
		m.NoticeLead = durationpb.New(*a.NoticeLead)
	}
	if a.UsualDay != nil {
		m.UsualDay = weekdays.enum(*a.UsualDay)
	}
	return m
}

func shutArea(names Names, s site.ShutArea) *vernationv1.ShutArea {
	return &vernationv1.ShutArea{AreaId: string(s.Area), Begins: Timestamp(s.From), Ends: Timestamp(s.To), ClientConsent: names.ClientConsent(s.Asked)}
}

func shutAreaFrom(m *vernationv1.ShutArea) site.ShutArea {
	return site.ShutArea{Area: site.AreaID(m.GetAreaId()), From: InstantFrom(m.GetBegins()), To: InstantFrom(m.GetEnds()), Asked: ID[string](m.GetClientConsent())}
}

func (r *reading) agreement(path string, m *vernationv1.Agreement) site.Agreement {
	if m == nil {
		return site.Agreement{}
	}
	a := site.Agreement{
		FollowUpsIncluded: m.GetFollowUpsIncluded(),
		AskAbove:          amount[quantity.Money](m.AskAboveMinor),
		RefusedMaterials:  words[string, catalogue.MaterialID](m.GetRefusedMaterials()),
		RefusedMethods:    methods.wordsOf(m.GetRefusedMethods()),
		ConsentNeeded:     methods.wordsOf(m.GetConsentNeeded()),
		// What came from an answer is the client's consent's, not the agreement's.
		Consents: eachAt(path+".consents", m.GetConsents(), func(path string, c *vernationv1.Consent) site.Consent {
			return site.Consent{
				Method: methods.word(c.GetMethod()), Material: catalogue.MaterialID(c.GetMaterial()), Asked: ID[string](c.GetClientConsent()), From: r.date(path+".from_on", c.GetFromOn()), To: r.date(path+".to_on", c.GetToOn()),
			}
		}),
		ShutAreas:       each(m.GetShutAreas(), shutAreaFrom),
		ResponseDays:    int(m.GetResponseDays()),
		PlantsCared:     m.GetPlantsGuaranteed(),
		UsualTechnician: ID[string](m.GetUsualTechnician()),
		TechnicianFixed: m.GetTechnicianFixed(),
		DayFixed:        m.GetDayFixed(),
		IsolationArea:   site.AreaID(m.GetIsolationAreaId()),
	}
	if m.GetNoticeLead() != nil {
		lead := DurationFrom(m.GetNoticeLead())
		a.NoticeLead = &lead
	}
	if m.GetUsualDay() != vernationv1.Weekday_WEEKDAY_UNSPECIFIED {
		day := weekdays.word(m.GetUsualDay())
		a.UsualDay = &day
	}
	return a
}

// copied returns a pointer to a value of its own; nil stays nil.
func copied[T any](value *T) *T {
	if value == nil {
		return nil
	}
	own := *value
	return &own
}

// amount converts an optional amount of money; nil stays nil.
func amount[To, From ~int64](value *From) *To {
	if value == nil {
		return nil
	}
	converted := To(*value)
	return &converted
}
