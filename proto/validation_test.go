package proto_test

import (
	"errors"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"buf.build/go/protovalidate"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	vernationv1 "vernation/proto/vernation/v1"
)

// requestID is the example of a version 7 UUID in RFC 9562, appendix A.6.
const requestID = "017F22E2-79B0-7CC3-98C4-DC0C0C07398F"

// reasons returns the rule that each refused field breaks, by the field's path.
func reasons(t *testing.T, message proto.Message) map[string]string {
	t.Helper()
	err := protovalidate.Validate(message)
	var invalid *protovalidate.ValidationError
	if err != nil && !errors.As(err, &invalid) {
		t.Fatal(err)
	}
	found := map[string]string{}
	if invalid != nil {
		for _, violation := range invalid.Violations {
			if violation.Proto.GetMessage() == "" {
				t.Errorf("%s says nothing for people", violation.Proto.GetRuleId())
			}
			found[protovalidate.FieldPathString(violation.Proto.GetField())] = violation.Proto.GetRuleId()
		}
	}
	return found
}

// goodSite is the least site that is taken.
func goodSite() *vernationv1.CreateSiteRequest {
	return &vernationv1.CreateSiteRequest{
		Parent: "businesses/b1", SiteId: "hall", RequestId: requestID,
		Site: &vernationv1.Site{
			DisplayName: "The hall", ClientId: "c1", Position: &vernationv1.Position{Latitude: 40, Longitude: -75},
			TimeZone: "America/New_York", Jurisdiction: "US-PA", PlaceKind: vernationv1.PlaceKind_PLACE_KIND_OFFICE,
			Access: &vernationv1.Calendar{Weekly: []*vernationv1.WeeklyWindow{{
				Days:   []vernationv1.Weekday{vernationv1.Weekday_WEEKDAY_MON},
				Window: &vernationv1.Window{Opens: "22:00", Closes: "30:00"},
			}}},
			Areas: []*vernationv1.Area{{
				AreaId: "lobby", DisplayName: "Lobby",
				Climate: []*vernationv1.Season{{ColdestCelsius: 18, UsualCelsius: 21, WarmestCelsius: 24}},
			}},
		},
	}
}

// goodPlant is the least plant that is taken.
func goodPlant() *vernationv1.CreatePlantRequest {
	return &vernationv1.CreatePlantRequest{
		Parent: "businesses/b1", PlantId: "p1", RequestId: requestID,
		Plant: &vernationv1.Plant{
			DisplayName: "By the door", Area: "businesses/b1/sites/hall/areas/lobby", Species: "epipremnum-aureum", Count: 3,
			PotVolume: "5 L", HeightCm: 80, Planter: vernationv1.Planter_PLANTER_DRAINED, Owner: vernationv1.Owner_OWNER_CLIENT,
		},
	}
}

// goodReport is the least report of an application: far above any label, which is no reason to refuse it.
func goodReport() *vernationv1.CreateReportRequest {
	at := timestamppb.New(time.Date(2026, time.March, 2, 12, 0, 0, 0, time.UTC))
	return &vernationv1.CreateReportRequest{
		Parent: "businesses/b1", ReportId: "r1", RequestId: requestID,
		Report: &vernationv1.Report{
			Technician: "businesses/b1/technicians/t1", Site: "businesses/b1/sites/hall", Arrived: at, Left: at, ClientTime: at,
			Items: []*vernationv1.ReportedItem{{
				Item: "c1/application/1/2", Outcome: vernationv1.Outcome_OUTCOME_DONE, Began: at, Ended: at,
				Application: &vernationv1.ApplicationMade{
					Product: "businesses/b1/products/soap", Concentrate: "1 US gal", Volume: "1 US gal", Applied: "1 US gal", PeoplePresent: true,
				},
			}},
		},
	}
}

func goodPlan() *vernationv1.CreatePlanRequest {
	return &vernationv1.CreatePlanRequest{Parent: "businesses/b1", Days: 14, RequestId: requestID}
}

func TestValidation_TakesWhatIsRight(t *testing.T) {
	t.Parallel()
	for _, message := range []proto.Message{goodSite(), goodPlant(), goodReport(), goodPlan()} {
		if found := reasons(t, message); len(found) > 0 {
			t.Errorf("%s: %v", message.ProtoReflect().Descriptor().Name(), found)
		}
	}
}

func plantWith(change func(*vernationv1.Plant)) proto.Message {
	request := goodPlant()
	change(request.Plant)
	return request
}

func siteWith(change func(*vernationv1.Site)) proto.Message {
	request := goodSite()
	change(request.Site)
	return request
}

func planWith(change func(*vernationv1.CreatePlanRequest)) proto.Message {
	request := goodPlan()
	change(request)
	return request
}

// wrong are the smallest mistakes in good requests, with the path of the field and the rule that refuses it.
var wrong = []struct {
	name   string
	in     proto.Message
	path   string
	reason string
}{
	{"no plant", plantWith(func(p *vernationv1.Plant) { p.Count = 0 }), "plant.count", "int32.gte_lte"},
	{"a million plants", plantWith(func(p *vernationv1.Plant) { p.Count = 1_000_000 }), "plant.count", "int32.gte_lte"},
	{"a pot of less than nothing", plantWith(func(p *vernationv1.Plant) { p.PotVolume = "-5 L" }), "plant.pot_volume", "VOLUME_FORM"},
	{"a pot of nothing", plantWith(func(p *vernationv1.Plant) { p.PotVolume = "0 L" }), "plant.pot_volume", "VOLUME_FORM"},
	{"gallons of nobody", plantWith(func(p *vernationv1.Plant) { p.PotVolume = "5 gal" }), "plant.pot_volume", "VOLUME_FORM"},
	{"no owner", plantWith(func(p *vernationv1.Plant) { p.Owner = 0 }), "plant.owner", "enum.not_in"},
	{"an owner that nobody knows", plantWith(func(p *vernationv1.Plant) { p.Owner = 99 }), "plant.owner", "enum.defined_only"},
	{"a rhythm that is turned round", plantWith(func(p *vernationv1.Plant) {
		p.Services = []*vernationv1.Service{{Kind: vernationv1.ServiceKind_SERVICE_KIND_WATERING, IdealDays: 7, LatestDays: 5, Minutes: 4}}
	}), "plant.services[0]", "RHYTHM_ORDER"},
	{"a window that ends as it begins", siteWith(func(s *vernationv1.Site) { s.Access.Weekly[0].Window.Closes = "22:00" }), "site.access.weekly[0].window", "WINDOW_EMPTY"},
	{"a clock that shows 24:60", siteWith(func(s *vernationv1.Site) { s.Access.Weekly[0].Window.Closes = "24:60" }), "site.access.weekly[0].window.closes", "CLOCK_FORM"},
	{"a zone that is no name", siteWith(func(s *vernationv1.Site) { s.TimeZone = "east of here" }), "site.time_zone", "TIME_ZONE_FORM"},
	{"a place beyond the pole", siteWith(func(s *vernationv1.Site) { s.Position.Latitude = 91 }), "site.position.latitude", "double.gte_lte"},
	{"no area", siteWith(func(s *vernationv1.Site) { s.Areas = nil }), "site.areas", "repeated.min_items"},
	{"a season with the coldest on top", siteWith(func(s *vernationv1.Site) { s.Areas[0].Climate[0].ColdestCelsius = 30 }), "site.areas[0].climate[0]", "SEASON_ORDER"},
	{"an unbroken name of 2 MB", siteWith(func(s *vernationv1.Site) { s.DisplayName = strings.Repeat("x", 2<<20) }), "site.display_name", "string.max_len"},
	{"a horizon of 0 days", planWith(func(p *vernationv1.CreatePlanRequest) { p.Days = 0 }), "days", "int32.gte_lte"},
	{"a horizon of 400 days", planWith(func(p *vernationv1.CreatePlanRequest) { p.Days = 400 }), "days", "int32.gte_lte"},
	{"a search of more than 10 minutes", planWith(func(p *vernationv1.CreatePlanRequest) { p.TimeLimit = durationpb.New(11 * time.Minute) }), "time_limit", "duration.gte_lte"},
	{"a day that no month has", planWith(func(p *vernationv1.CreatePlanRequest) { p.FirstOn = "2026-03-32" }), "first_on", "DATE_FORM"},
	{"no request id", planWith(func(p *vernationv1.CreatePlanRequest) { p.RequestId = "" }), "request_id", "REQUEST_ID_FORM"},
	{"a name with a capital", planWith(func(p *vernationv1.CreatePlanRequest) { p.Parent = "businesses/B1" }), "parent", "NAME_FORM"},
	{"a label with hours and no number", &vernationv1.Entry{Kind: vernationv1.EntryKind_ENTRY_KIND_HOURS}, "", "ENTRY_INCOMPLETE"},
	{"a label that asks for none and says not why", &vernationv1.Entry{Kind: vernationv1.EntryKind_ENTRY_KIND_NONE_NEEDED}, "", "ENTRY_INCOMPLETE"},
	{"a portion of nothing", &vernationv1.PortionRate{PerMix: "1 L"}, "", "PORTION_INCOMPLETE"},
	{"a portion that is weighed and counted", &vernationv1.PortionRate{Mass: "2 g", Organisms: 5, PerMix: "1 L"}, "", "PORTION_INCOMPLETE"},
	{"a portion for nothing", &vernationv1.PortionRate{Organisms: 5}, "", "PORTION_INCOMPLETE"},
	{"a portion for pot and soil", &vernationv1.PortionRate{Organisms: 5, PerPot: "1 L", PerSurface: "1 m2"}, "", "PORTION_INCOMPLETE"},
	{"a bare ounce, by weight or by volume", &vernationv1.PortionRate{Mass: "2 oz", PerMix: "1 L"}, "mass", "MASS_FORM"},
	{"a pack of more parts than a person sees", &vernationv1.Pack{DisplayName: "pack", Organisms: 9, Parts: 9}, "parts", "int32.gte_lte"},
	{"soil in feet that are not square", plantWith(func(p *vernationv1.Plant) { p.SoilSurface = "2 ft" }), "plant.soil_surface", "SURFACE_FORM"},
	{"work without an id that tells nothing", &vernationv1.ReportedItem{Outcome: vernationv1.Outcome_OUTCOME_DONE}, "", "ITEM_OR_WORK"},
}

func TestValidation_RefusesWhatIsWrongByFieldAndReason(t *testing.T) {
	t.Parallel()
	for _, c := range wrong {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			found := reasons(t, c.in)
			if found[c.path] != c.reason {
				t.Errorf("%q is refused for %q, want %q; all: %v", c.path, found[c.path], c.reason, found)
			}
			if len(found) != 1 {
				t.Errorf("refused fields %v, want one", slices.Sorted(maps.Keys(found)))
			}
		})
	}
}

// shapes are texts that others define, and texts close to them that they do not allow.
var shapes = []struct {
	name   string
	set    func(text string) proto.Message
	path   string
	good   []string
	bad    []string
	source string
}{
	{"time zone", func(s string) proto.Message { r := goodSite(); r.Site.TimeZone = s; return r }, "site.time_zone",
		[]string{"America/New_York", "Europe/London", "America/Argentina/Buenos_Aires", "America/Port-au-Prince", "Etc/GMT+5", "UTC"},
		[]string{"", "/Europe/London", "Europe/", "Europe London", "../etc/passwd"}, "names of the IANA time zone database"},
	{"jurisdiction", func(s string) proto.Message { r := goodSite(); r.Site.Jurisdiction = s; return r }, "site.jurisdiction",
		[]string{"GB", "US-PA", "GB-ENG", "FR-75", "AT-9"}, []string{"", "gb", "USA", "US-", "US-PENN", "US_PA"}, "ISO 3166-1 alpha-2 and 3166-2"},
	{"date", func(s string) proto.Message { return &vernationv1.DatedException{On: s} }, "on",
		[]string{"2026-03-02", "2024-02-29", "1999-12-31"}, []string{"", "2026-3-2", "02.03.2026", "2026-13-01", "2026-00-10", "20260302"}, "RFC 3339, full-date"},
	{"clock", func(s string) proto.Message { return &vernationv1.Window{Opens: "00:00", Closes: s} }, "closes",
		[]string{"00:01", "07:30", "23:59:59", "24:00", "30:15", "48:00"}, []string{"7:30", "48:01", "48:00:01", "12:60", "noon", "49:00"}, "ISO 8601 hh:mm, with hours past midnight as timetables write them (common practice)"},
	{"request id", func(s string) proto.Message { r := goodPlan(); r.RequestId = s; return r }, "request_id",
		[]string{requestID, "f81d4fae-7dec-11d0-a765-00a0c91e6bf6"}, []string{"1", "{017F22E2-79B0-7CC3-98C4-DC0C0C07398F}", "017F22E279B07CC398C4DC0C0C07398F"}, "RFC 9562, sections 4 and appendix A.6"},
	{"pot volume", func(s string) proto.Message { r := goodPlant(); r.Plant.PotVolume = s; return r }, "plant.pot_volume",
		[]string{"5 L", "0.5 L", "600 mL", "2.5 US fl oz", "5/8 US gal", "1 imp gal", "10 L"}, []string{"", "5", "5L", "5 l", "0.0 L", "00 L", "5/0 L", "1e3 mL", "5 fl oz", "-1 L", "0/4 L"},
		"unit words of the contract: US and imperial units are different ones (NIST Handbook 44, appendix C)"},
}

func TestValidation_LetsRatesByWeightAndNumberPass(t *testing.T) {
	t.Parallel()
	for _, rate := range []*vernationv1.PortionRate{
		{Mass: "1/2 av oz", PerMix: "1 US gal"}, {Mass: "4.5 g", PerPot: "1 L"}, {Organisms: 50_000_000, PerSurface: "100 m2"}, {Organisms: 1, PerPot: "1000 L"},
	} {
		if found := reasons(t, rate); len(found) != 0 {
			t.Errorf("%v is refused: %v", rate, found)
		}
	}
}

func TestValidation_TextShapesFollowTheirStandards(t *testing.T) {
	t.Parallel()
	for _, shape := range shapes {
		t.Run(shape.name, func(t *testing.T) {
			t.Parallel()
			for _, text := range shape.good {
				if reason, ok := reasons(t, shape.set(text))[shape.path]; ok {
					t.Errorf("%q is refused for %s; source: %s", text, reason, shape.source)
				}
			}
			for _, text := range shape.bad {
				if _, ok := reasons(t, shape.set(text))[shape.path]; !ok {
					t.Errorf("%q is taken; source: %s", text, shape.source)
				}
			}
		})
	}
}
