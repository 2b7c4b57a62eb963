package scheduler_test

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/scheduler/travel"
)

// invalid returns the wrong fields of a Problem as "path REASON".
func invalid(p scheduler.Problem) []string {
	var wrong *scheduler.InvalidProblem
	if !errors.As(p.Validate(), &wrong) {
		return nil
	}
	var fields []string
	for _, f := range wrong.Fields {
		fields = append(fields, f.Path+" "+f.Reason)
	}
	return fields
}

type invalidCase struct {
	name   string
	change func(*story)
	want   string // "path REASON", several parted by a comma; "" is nothing
}

func expectInvalid(t *testing.T, cases []invalidCase) {
	t.Helper()
	for _, tc := range cases {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			s := newStory()
			tc.change(s)
			if got := strings.Join(invalid(s.Problem), ", "); got != tc.want {
				t.Errorf("wrong fields: %s, want: %s (%v)", got, tc.want, s.Problem.Validate())
			}
		})
	}
}

func TestValidate_HorizonAndTravel(t *testing.T) {
	t.Parallel()
	expectInvalid(t, []invalidCase{
		{"no days", func(s *story) { s.Problem.Days = 0 }, "days OUT_OF_RANGE"},
		{"too many days", func(s *story) { s.Problem.Days = 57 }, "days OUT_OF_RANGE"},
		{"most days", func(s *story) { s.Problem.Days = 56 }, ""},
		{"negative days", func(s *story) { s.Problem.Days = -400 }, "days OUT_OF_RANGE"},
		{"no now", func(s *story) { s.Problem.Now = 0 }, "now MISSING"},
		{"no first day", func(s *story) { s.Problem.FirstDay = 0 }, "first_day MISSING"},
		{"short matrix", func(s *story) { s.Problem.Travel.Seconds = s.Problem.Travel.Seconds[:8] }, "travel.seconds WRONG_SIZE"},
		{"no metres", func(s *story) { s.Problem.Travel.Metres = nil }, ""},
		{"negative travel", func(s *story) { s.Problem.Travel.Seconds[1] = -1 }, "travel.seconds[1] OUT_OF_RANGE"},
		{"travel to itself", func(s *story) { s.Problem.Travel.Seconds[4] = 1 }, "travel.seconds[4] OUT_OF_RANGE"},
		{"a place twice", func(s *story) { s.Problem.Travel.Places[2] = "office" }, "travel.places[2] DUPLICATE, sites[1].id UNKNOWN"},
		{"a site without a place", func(s *story) { s.Problem.Travel.Places[2] = "elsewhere" }, "sites[1].id UNKNOWN"},
		{"empty matrix", func(s *story) { s.Problem.Travel = travel.Matrix{} }, "sites[0].id UNKNOWN, sites[1].id UNKNOWN, technicians[0].base UNKNOWN"},
	})
}

func TestValidate_SitesAndPlants(t *testing.T) {
	t.Parallel()
	area := func(s *story) *site.Area { return &s.office().Areas[0] }
	expectInvalid(t, []invalidCase{
		{"site twice", func(s *story) {
			s.Problem.Sites = append(s.Problem.Sites, site.Site{ID: "lodge", Kind: catalogue.Home, Jurisdiction: "GB"})
		}, "sites[2].id DUPLICATE"},
		{"site without an id", func(s *story) {
			s.Problem.Sites = append(s.Problem.Sites, site.Site{Kind: catalogue.Home, Jurisdiction: "GB"})
		}, "sites[2].id MISSING, sites[2].id UNKNOWN"},
		{"kind of place", func(s *story) { s.office().Kind = "castle" }, "sites[0].kind NOT_A_WORD"},
		{"no jurisdiction", func(s *story) { s.office().Jurisdiction = "" }, "sites[0].jurisdiction MISSING"},
		{"window ends as it begins", func(s *story) { s.office().Access.Weekly[0].Closes = s.office().Access.Weekly[0].Opens }, "sites[0].access UNREADABLE"},
		{"negative sign-in", func(s *story) { s.office().SignIn = -1 }, "sites[0].sign_in OUT_OF_RANGE"},
		{"half a second", func(s *story) { s.office().SignIn = 1500 * time.Millisecond }, "sites[0].sign_in OUT_OF_RANGE"},
		{"water elsewhere", func(s *story) { s.office().Water.Area = "lobby" }, "sites[0].water.area UNKNOWN"},
		{"area of two sites", func(s *story) { s.Problem.Sites[1].Areas = append(s.Problem.Sites[1].Areas, site.Area{ID: "store"}) }, "sites[0].water.area UNKNOWN, sites[1].areas[2].id DUPLICATE"},
		{"open to nothing", func(s *story) { area(s).OpenTo = []site.AreaID{"attic"} }, "sites[0].areas[0].open_to[0] UNKNOWN"},
		{"reached through itself", func(s *story) { area(s).ReachedOnlyThrough = "floor" }, "sites[0].areas[0].reached_only_through CIRCLE"},
		{"reached in a circle", func(s *story) {
			area(s).ReachedOnlyThrough, s.office().Areas[1].ReachedOnlyThrough = "store", "floor"
		}, "sites[0].areas[0].reached_only_through CIRCLE, sites[0].areas[1].reached_only_through CIRCLE"},
		{"unknown thing", func(s *story) { area(s).Sensitive = []catalogue.Sensitive{"unicorn"} }, "sites[0].areas[0].sensitive[0] NOT_A_WORD"},
		{"climate falls", func(s *story) { area(s).Climate[0].Coldest = 25 }, "sites[0].areas[0].climate[0] OUT_OF_ORDER"},
		{"month 13", func(s *story) { area(s).Climate[0].Months = []time.Month{13} }, "sites[0].areas[0].climate[0].months OUT_OF_RANGE"},
		{"people", func(s *story) { area(s).People.Always = true }, "sites[0].areas[0].people UNREADABLE"},
		{"capacity", func(s *story) { s.Problem.Sites[1].Areas[1].Treatment.Capacity = -1 }, "sites[1].areas[1].treatment.capacity OUT_OF_RANGE"},
		{"fixed technician unknown", func(s *story) { s.office().Agreement.TechnicianFixed = true }, "sites[0].agreement.usual_technician UNKNOWN"},
		{"fixed day not named", func(s *story) { s.office().Agreement.DayFixed = true }, "sites[0].agreement.usual_day MISSING"},
		{"refused method", func(s *story) { s.office().Agreement.RefusedMethods = []catalogue.Method{"fog"} }, "sites[0].agreement.refused_methods[0] NOT_A_WORD"},
		{"consent to what is no method", func(s *story) {
			s.office().Agreement.ConsentNeeded = []catalogue.Method{"fog"}
			s.office().Agreement.Consents = []site.Consent{{Method: "fog", From: 2, To: 1}}
		}, "sites[0].agreement.consents[0] OUT_OF_ORDER, sites[0].agreement.consents[0].method NOT_A_WORD, sites[0].agreement.consent_needed[0] NOT_A_WORD"},
		{"shut the wrong way round", func(s *story) {
			s.office().Agreement.ShutAreas = []site.ShutArea{{Area: "floor", From: 2, To: 1}}
		}, "sites[0].agreement.shut_areas[0] OUT_OF_ORDER"},
		{"plant twice", func(s *story) { s.Problem.Plants = append(s.Problem.Plants, s.Problem.Plants[0]) }, "plants[3].plant.id DUPLICATE"},
		{"plant count 0", func(s *story) { s.pothos().Plant.Count = 0 }, "plants[0].plant.count OUT_OF_RANGE"},
		{"plant count a million", func(s *story) { s.pothos().Plant.Count = 1_000_000 }, "plants[0].plant.count OUT_OF_RANGE"},
		{"negative pot", func(s *story) { s.pothos().Plant.PotVolume = quantity.NewVolume(-1, 1, quantity.Litre) }, "plants[0].plant.pot_volume OUT_OF_RANGE"},
		{"plant at another site's area", func(s *story) { s.pothos().Plant.Area = "lobby" }, "plants[0].plant.area UNKNOWN"},
		{"plant at no site", func(s *story) { s.Problem.Plants[2].Plant.Site = "moon" }, "plants[2].plant.site UNKNOWN, services[0].groups[0] UNKNOWN"},
		{"health", func(s *story) { s.pothos().Health = "fine" }, "plants[0].health NOT_A_WORD"},
		{"watering falls", func(s *story) { s.pothos().Plant.Watering.Ideal = 10 }, "plants[0].plant.watering.latest OUT_OF_ORDER"},
		{"verdict", func(s *story) { s.pothos().Tolerance[0].Verdict = "maybe" }, "plants[0].tolerance[0].verdict NOT_A_WORD"},
		{"applied ends before it began", func(s *story) {
			s.pothos().Applied = []scheduler.Applied{{Began: 2, Ended: 1}}
		}, "plants[0].applied[0] OUT_OF_ORDER"},
	})
}

func TestValidate_CrewAndProducts(t *testing.T) {
	t.Parallel()
	shift := func(s *story) *scheduler.Shift { return &s.crew().Shifts[0] }
	expectInvalid(t, []invalidCase{
		{"without shifts", func(s *story) { s.crew().Shifts = nil }, ""},
		{"technician twice", func(s *story) { s.Problem.Technicians = append(s.Problem.Technicians, *s.crew()) }, "technicians[1].id DUPLICATE"},
		{"no such base", func(s *story) { s.crew().Base = "moon" }, "technicians[0].base UNKNOWN"},
		{"overflowing pay", func(s *story) { s.crew().PaidPerMinute = math.MaxInt64 }, "technicians[0].paid_per_minute OUT_OF_RANGE"},
		{"method of a vessel", func(s *story) { s.crew().Vessels[0].Methods[0] = "pour" }, "technicians[0].vessels[0].methods[0] NOT_A_WORD"},
		{"speed 0", func(s *story) { s.crew().SpeedPercent = 0 }, "technicians[0].speed_percent OUT_OF_RANGE"},
		{"shift ends before it begins", func(s *story) { shift(s).During.To = at(3, "13:00") }, "technicians[0].shifts[0].during OUT_OF_ORDER"},
		{"shift of 25 hours", func(s *story) { shift(s).During.To = at(4, "14:30"); s.crew().Shifts = s.crew().Shifts[:1] }, "technicians[0].shifts[0].during OUT_OF_RANGE"},
		{"shift on another day", func(s *story) { shift(s).Day = march(4) }, "technicians[0].shifts[0].day OUT_OF_ORDER"},
		{"shifts over one another", func(s *story) { shift(s).During.To = at(4, "08:00") }, "technicians[0].shifts OUT_OF_ORDER"},
		{"break longer than its window", func(s *story) { shift(s).BreakTakes = 4 * time.Hour }, "technicians[0].shifts[0].break_window OUT_OF_RANGE"},
		{"break without a window", func(s *story) { shift(s).BreakWindow = civil.Interval{} }, "technicians[0].shifts[0].break_window MISSING, technicians[0].shifts[0].break_window OUT_OF_RANGE"},
		{"licence ends before it begins", func(s *story) { s.crew().Licences[0].To = march(0) }, "technicians[0].licences[0] OUT_OF_ORDER"},
		{"licence until further notice", func(s *story) { s.crew().Licences[0].To = 0 }, ""},
		{"under nobody known", func(s *story) { s.crew().Licences[0].Under = "T9" }, "technicians[0].licences[0].under UNKNOWN"},
		{"under themselves", func(s *story) { s.crew().Licences[0].Under = "T1" }, "technicians[0].licences[0].under CIRCLE"},
		{"vessel without marks", func(s *story) { s.crew().Vessels[0].Marks = quantity.Volume{} }, "technicians[0].vessels[0].marks OUT_OF_RANGE"},
		{"more dead than it holds", func(s *story) { s.crew().Vessels[0].Dead = volume("128 US fl oz") }, "technicians[0].vessels[0].dead OUT_OF_RANGE"},
		{"measure without marks", func(s *story) { s.crew().Measures[0].Marks = quantity.Volume{} }, "technicians[0].measures[0].marks OUT_OF_RANGE"},
		{"product twice", func(s *story) { s.Problem.Products = append(s.Problem.Products, s.Problem.Products[0]) }, "products[1].id DUPLICATE"},
		{"material unknown", func(s *story) { s.Problem.Products[0].Material = "dust" }, "products[0].material UNKNOWN"},
		{"standing in law", func(s *story) { s.Problem.Materials[0].Law = "fine" }, "materials[0].law NOT_A_WORD"},
		{"no form", func(s *story) { s.Problem.Products[0].Form = "" }, "products[0].form NOT_A_WORD"},
		{"no rate", func(s *story) { s.label().MaxRate = nil }, "products[0].label.max_rate MISSING"},
		{"rates fall", func(s *story) {
			r := *s.label().MaxRate
			r.Concentrate = volume("3 US fl oz")
			s.label().MinRate = &r
		}, "products[0].label.min_rate OUT_OF_ORDER"},
		{"hours without a number", func(s *story) { s.label().Entry.Kind = catalogue.EntryHours }, "products[0].label.entry.hours MISSING"},
		{"none needed without a reason", func(s *story) { s.label().Entry.Kind = catalogue.EntryNone }, "products[0].label.entry.reason MISSING"},
		{"interval unset", func(s *story) { s.label().Entry.Kind = "" }, "products[0].label.entry.kind NOT_A_WORD"},
		{"interval unknown is a value", func(s *story) { s.label().Entry.Kind = catalogue.EntryUnknown }, ""},
		{"hardness of no water", func(s *story) { s.label().MaxHardness = figure(-1) }, "products[0].label.max_hardness OUT_OF_RANGE"},
		{"hardness that is no number", func(s *story) { s.office().Water.HardnessMgL = figure(math.NaN()) }, "sites[0].water.hardness_mg_l OUT_OF_RANGE"},
		{"hardness", func(s *story) { s.office().Water.HardnessMgL, s.label().MaxHardness = figure(0), figure(120) }, ""},
		{"temperatures fall", func(s *story) {
			low, high := 30.0, 4.0
			s.label().MinCelsius, s.label().MaxCelsius = &low, &high
		}, "products[0].label.max_celsius OUT_OF_ORDER"},
	})
}

func TestValidate_FollowUpsAndServices(t *testing.T) {
	t.Parallel()
	f := func(s *story) *scheduler.FollowUp { return &s.Problem.FollowUps[0] }
	expectInvalid(t, []invalidCase{
		{"twice", func(s *story) { s.Problem.FollowUps = append(s.Problem.FollowUps, *f(s)) }, "follow_ups[2].id DUPLICATE"},
		{"kind", func(s *story) { f(s).Kind = "dance" }, "follow_ups[0].kind NOT_A_WORD"},
		{"severity", func(s *story) { f(s).Severity = 4 }, "follow_ups[0].severity OUT_OF_RANGE"},
		{"plants of another site", func(s *story) { s.Problem.FollowUps[1].Plants = []site.PlantID{"lilies"} }, "follow_ups[1].plants[0] UNKNOWN"},
		{"plant unknown", func(s *story) { s.Problem.FollowUps[1].Plants = []site.PlantID{"oak"} }, "follow_ups[1].plants[0] UNKNOWN"},
		{"no ways", func(s *story) { f(s).Ways = nil }, "follow_ups[0].ways MISSING"},
		{"no parts", func(s *story) { f(s).Ways[0].Parts = nil }, "follow_ups[0].ways[0].parts MISSING"},
		{"ways of one name", func(s *story) { f(s).Ways = append(f(s).Ways, f(s).Ways[0]) }, "follow_ups[0].ways[1].id DUPLICATE"},
		{"nobody", func(s *story) { s.wayPart().Persons = 0 }, "follow_ups[0].ways[0].parts[0].persons OUT_OF_RANGE"},
		{"two persons are a value", func(s *story) { s.wayPart().Persons = 2 }, ""},
		{"overflowing time", func(s *story) { s.wayPart().Takes = time.Duration(1<<63 - 1) }, "follow_ups[0].ways[0].parts[0].takes OUT_OF_RANGE"},
		{"area of another site", func(s *story) { s.wayPart().Area = "lobby" }, "follow_ups[0].ways[0].parts[0].area UNKNOWN"},
		{"application of nothing", func(s *story) { s.wayPart().Use = nil }, "follow_ups[0].ways[0].parts[0].use MISSING"},
		{"work that applies", func(s *story) { s.wayPart().Kind = scheduler.WorkPart }, "follow_ups[0].ways[0].parts[0].use MISPLACED"},
		{"product unknown", func(s *story) { s.wayPart().Use.Product = "acid" }, "follow_ups[0].ways[0].parts[0].use.product UNKNOWN"},
		{"no dose", func(s *story) { s.wayPart().Use.Doses = nil }, "follow_ups[0].ways[0].parts[0].use.doses MISSING"},
		{"dose of another plant", func(s *story) {
			s.wayPart().Use.Doses = append(s.wayPart().Use.Doses, scheduler.Dose{Plant: "ficus", Amount: volume("1 mL")})
		}, "follow_ups[0].ways[0].parts[0].use.doses[1].plant UNKNOWN"},
		{"shut for no time", func(s *story) { s.wayPart().Use.KeepOut = 0 }, "follow_ups[0].ways[0].parts[0].use.keep_out MISSING"},
		{"shorter without ventilation", func(s *story) { s.wayPart().Use.KeepOutUnventilated = time.Hour }, "follow_ups[0].ways[0].parts[0].use.keep_out_unventilated OUT_OF_ORDER"},
		{"no earliest day", func(s *story) { f(s).Due.EarliestOn = 0 }, "follow_ups[0].due.earliest_on MISSING"},
		{"earliest above latest", func(s *story) { f(s).Due.EarliestOn = march(6) }, "follow_ups[0].due.ideal_on OUT_OF_ORDER, follow_ups[0].due.latest_on OUT_OF_ORDER"},
		{"earliest lag above latest", func(s *story) {
			f(s).Due = scheduler.Due{After: lookItem, EarliestLag: 8, IdealLag: 8, LatestLag: 7}
		}, "follow_ups[0].due.latest_lag OUT_OF_ORDER"},
		{"after what is unknown", func(s *story) { f(s).Due = scheduler.Due{After: "gone"} }, "follow_ups[0].due.after UNKNOWN"},
		{"after itself", func(s *story) { f(s).Due = scheduler.Due{After: sprayItem} }, "follow_ups[0].due.after CIRCLE"},
		{"after what was done", func(s *story) {
			f(s).Due = scheduler.Due{After: "gone"}
			s.Problem.Done = []scheduler.DoneFollowUp{{ID: "gone", Site: "office", Began: 1, Ended: 2}}
		}, ""},
		{"chains in a circle", func(s *story) {
			f(s).Due = scheduler.Due{After: lookItem}
			s.Problem.FollowUps[1].Due = scheduler.Due{After: sprayItem}
		}, "follow_ups[0].due.after CIRCLE, follow_ups[1].due.after CIRCLE"},
		{"prices fall", func(s *story) { f(s).PricePerDay = []quantity.Money{0, 10, 9} }, "follow_ups[0].price_per_day[2] OUT_OF_ORDER"},
		{"negative price", func(s *story) { f(s).LeftOutPrice = -1 }, "follow_ups[0].left_out_price OUT_OF_RANGE"},
		{"overflowing price", func(s *story) { f(s).LeftOutPrice = math.MaxInt64 }, "follow_ups[0].left_out_price OUT_OF_RANGE"},
		{"overflowing price of a day", func(s *story) { f(s).PricePerDay = []quantity.Money{math.MaxInt64} }, "follow_ups[0].price_per_day[0] OUT_OF_RANGE"},
		{"negative time", func(s *story) { s.wayPart().Takes = -time.Minute }, "follow_ups[0].ways[0].parts[0].takes OUT_OF_RANGE"},
		{"windows of a part out of order", func(s *story) { s.wayPart().Windows = []civil.Window{window("10:00", "09:00")} }, "follow_ups[0].ways[0].parts[0].windows[0] UNREADABLE"},
		{"service twice", func(s *story) { s.Problem.Services[1].ID = waterLodge }, "services[1].id DUPLICATE"},
		{"service id with #", func(s *story) { s.Problem.Services[1].ID = "a#1" }, "services[1].id UNREADABLE"},
		{"service every 0 days", func(s *story) { s.Problem.Services[1].Earliest, s.Problem.Services[1].Ideal = 0, 0 }, "services[1].ideal OUT_OF_RANGE"},
		{"service without plants", func(s *story) { s.Problem.Services[1].Groups = nil }, "services[1].groups MISSING"},
		{"negative minutes", func(s *story) { s.Problem.Services[1].Groups[0].Minutes = -1 }, "services[1].groups[0].minutes OUT_OF_RANGE"},
	})
}

func TestValidate_PartsInOrder(t *testing.T) {
	t.Parallel()
	parts := func(kinds ...scheduler.PartKind) func(*story) {
		return func(s *story) {
			way := &s.Problem.FollowUps[1].Ways[0]
			way.MostAway, way.Parts = time.Hour, nil
			for _, k := range kinds {
				way.Parts = append(way.Parts, scheduler.Part{Kind: k, Area: "floor", Takes: minutes(5), Persons: 1})
			}
		}
	}
	const path = "follow_ups[1].ways[0].parts"
	expectInvalid(t, []invalidCase{
		{"out, wait, back", parts(scheduler.CarryOutPart, scheduler.WaitPart, scheduler.CarryBackPart), ""},
		{"back before out", parts(scheduler.CarryBackPart, scheduler.WorkPart), path + "[0].kind OUT_OF_ORDER"},
		{"out and not back", parts(scheduler.CarryOutPart, scheduler.WorkPart), path + " MISSING"},
		{"out twice", parts(scheduler.CarryOutPart, scheduler.CarryOutPart, scheduler.CarryBackPart), path + "[1].kind OUT_OF_ORDER"},
		{"wait first", parts(scheduler.WaitPart, scheduler.WorkPart), path + "[0].kind OUT_OF_ORDER"},
		{"wait last", parts(scheduler.WorkPart, scheduler.WaitPart), path + "[1].kind OUT_OF_ORDER"},
		{"two waits in a row", parts(scheduler.WorkPart, scheduler.WaitPart, scheduler.WaitPart, scheduler.WorkPart), path + "[2].kind OUT_OF_ORDER"},
		{"away for no stated time", func(s *story) {
			parts(scheduler.CarryOutPart, scheduler.WaitPart, scheduler.CarryBackPart)(s)
			s.Problem.FollowUps[1].Ways[0].MostAway = 0
		}, "follow_ups[1].ways[0].most_away MISSING"},
	})
}

func TestValidate_Links(t *testing.T) {
	t.Parallel()
	link := func(links ...scheduler.Link) func(*story) {
		return func(s *story) { s.Problem.Links = links }
	}
	expectInvalid(t, []invalidCase{
		{"order", link(scheduler.Link{Kind: scheduler.Order, From: lookItem, To: sprayItem}), ""},
		{"an occurrence", link(scheduler.Link{Kind: scheduler.Order, From: waterOffice + "#1", To: sprayItem}), ""},
		{"instead of a service", link(scheduler.Link{Kind: scheduler.InsteadOf, From: sprayItem, To: waterOffice}), ""},
		{"kind", link(scheduler.Link{Kind: "near", From: lookItem, To: sprayItem}), "links[0].kind NOT_A_WORD"},
		{"from nothing", link(scheduler.Link{Kind: scheduler.Order, From: "x", To: sprayItem}), "links[0].from UNKNOWN"},
		{"to nothing", link(scheduler.Link{Kind: scheduler.Order, From: lookItem, To: "x"}), "links[0].to UNKNOWN"},
		{"instead of a follow-up", link(scheduler.Link{Kind: scheduler.InsteadOf, From: sprayItem, To: lookItem}), "links[0].to UNKNOWN"},
		{"to itself", link(scheduler.Link{Kind: scheduler.Order, From: lookItem, To: lookItem}), "links[0].to CIRCLE"},
		{"a lag of nothing", link(scheduler.Link{Kind: scheduler.LeastLag, From: lookItem, To: sprayItem}), "links[0].days MISSING"},
		{"a negative lag", link(scheduler.Link{Kind: scheduler.LeastLag, From: lookItem, To: sprayItem, Days: -1}), "links[0].days OUT_OF_RANGE, links[0].days MISSING"},
		{"in a circle", link(
			scheduler.Link{Kind: scheduler.Order, From: lookItem, To: sprayItem},
			scheduler.Link{Kind: scheduler.Needs, From: sprayItem, To: lookItem}), "links[0] CIRCLE, links[1] CIRCLE"},
		{"in a circle with a chain", func(s *story) {
			link(scheduler.Link{Kind: scheduler.Order, From: sprayItem, To: lookItem})(s)
			s.Problem.FollowUps[0].Due = scheduler.Due{After: lookItem}
		}, "follow_ups[0].due.after CIRCLE, links[0] CIRCLE"},
		{"a service that waits for one of its occurrences", link(
			scheduler.Link{Kind: scheduler.Order, From: waterOffice, To: sprayItem},
			scheduler.Link{Kind: scheduler.Order, From: sprayItem, To: waterOffice + "#1"}), "links[0] CIRCLE, links[1] CIRCLE"},
		{"between two occurrences", link(
			scheduler.Link{Kind: scheduler.Order, From: waterOffice + "#1", To: sprayItem},
			scheduler.Link{Kind: scheduler.Order, From: sprayItem, To: waterOffice + "#2"}), ""},
		{"between two occurrences the wrong way round", link(
			scheduler.Link{Kind: scheduler.Order, From: waterOffice + "#2", To: sprayItem},
			scheduler.Link{Kind: scheduler.Order, From: sprayItem, To: waterOffice + "#1"}), "links[0] CIRCLE, links[1] CIRCLE"},
		{"a lag from a service and to it", link(
			scheduler.Link{Kind: scheduler.LeastLag, From: waterOffice, To: sprayItem, Days: 1},
			scheduler.Link{Kind: scheduler.LeastLag, From: sprayItem, To: waterOffice, Days: 1}), ""},
		{"any watering before, and one after", link(
			scheduler.Link{Kind: scheduler.Needs, From: waterOffice, To: sprayItem},
			scheduler.Link{Kind: scheduler.Order, From: sprayItem, To: waterOffice + "#2"}), ""},
		{"the same visit both ways is no circle", link(
			scheduler.Link{Kind: scheduler.SameVisit, From: lookItem, To: sprayItem},
			scheduler.Link{Kind: scheduler.SameVisit, From: sprayItem, To: lookItem}), ""},
	})
}

func TestValidate_WhatRunsAlready(t *testing.T) {
	t.Parallel()
	mix := scheduler.Mix{Technician: "T1", Product: "soap-a", Vessel: "sprayer", Volume: volume("8 US fl oz"), Begins: 1, Ready: 2}
	expectInvalid(t, []invalidCase{
		{"keep-out nowhere", func(s *story) {
			s.Problem.KeepOuts = []scheduler.KeepOut{{Area: "attic", During: during(3, "10:00", "11:00")}}
		}, "keep_outs[0].area UNKNOWN"},
		{"keep-out the wrong way round", func(s *story) {
			s.Problem.KeepOuts = []scheduler.KeepOut{{Area: "floor", During: during(3, "11:00", "10:00")}}
		}, "keep_outs[0].during OUT_OF_ORDER"},
		{"fixed but planned", func(s *story) { s.Problem.Fixed[0].State = scheduler.Planned }, "fixed[0].state NOT_A_WORD"},
		{"fixed for nobody", func(s *story) { s.Problem.Fixed[0].Technician = "T9" }, "fixed[0].technician UNKNOWN"},
		{"fixed work outside its visit", func(s *story) { s.Problem.Fixed[0].Work[0].Ends = at(4, "09:00") }, "fixed[0].work[0] OUT_OF_ORDER"},
		{"fixed twice", func(s *story) { s.Problem.Fixed = append(s.Problem.Fixed, s.Problem.Fixed[0]) }, "fixed[1].id DUPLICATE"},
		{"fixed and published before", func(s *story) {
			s.Problem.Before = []scheduler.Visit{storyPinned()}
			s.Problem.Before[0].State = scheduler.Announced
		}, "before[0].id DUPLICATE"},
		{"fixed where the shift is another's is a fact", func(s *story) { s.crew().Shifts = s.crew().Shifts[:1] }, ""},
		{"before but pinned", func(s *story) { s.Problem.Before = s.Problem.Fixed }, "before[0].id DUPLICATE, before[0].state NOT_A_WORD"},
		{"mix", func(s *story) { s.Problem.Mixes = []scheduler.Mix{mix} }, ""},
		{"mix in another's vessel", func(s *story) {
			s.Problem.Mixes = []scheduler.Mix{mix}
			s.Problem.Mixes[0].Vessel = "bucket"
		}, "mixes[0].vessel UNKNOWN"},
		{"progress twice", func(s *story) {
			p := scheduler.Progress{Technician: "T1", At: "office", FreeFrom: 1}
			s.Problem.Progress = []scheduler.Progress{p, p}
		}, "progress[1].technician DUPLICATE"},
		{"progress nowhere", func(s *story) { s.Problem.Progress = []scheduler.Progress{{Technician: "T1", At: "moon", FreeFrom: 1}} }, "progress[0].at UNKNOWN"},
		{"notice of nothing", func(s *story) { s.Problem.Notices = []scheduler.NoticeSent{{}} }, "notices[0] MISSING"},
		{"done twice", func(s *story) {
			d := scheduler.DoneFollowUp{ID: "d", Site: "office", Began: 1, Ended: 2}
			s.Problem.Done = []scheduler.DoneFollowUp{d, d}
		}, "done[1].id DUPLICATE"},
		{"notice lead", func(s *story) { s.Problem.Rules.NoticeLead[0].Lead = -time.Hour }, "rules.notice_lead[0].lead OUT_OF_RANGE"},
		{"least entry", leastEntry("office", 7*time.Hour), ""},
		{"least entry nowhere", leastEntry("moon", 7*time.Hour), "rules.least_entry[0].site UNKNOWN"},
		{"least entry of less than nothing", leastEntry("office", -time.Hour), "rules.least_entry[0].least OUT_OF_RANGE"},
		{"least entry twice", func(s *story) {
			leastEntry("office", 7*time.Hour)(s)
			leastEntry("office", 8*time.Hour)(s)
		}, "rules.least_entry[1].site DUPLICATE"},
		{"rate tolerance", func(s *story) { s.Problem.Rules.LeastRatePercent = 101 }, "rules.least_rate_percent OUT_OF_RANGE"},
	})
}

func TestValidate_SaysEverythingAtOnce(t *testing.T) {
	t.Parallel()
	s := newStory()
	s.Problem.Days, s.office().Kind, s.pothos().Plant.Count = 400, "castle", 0
	got := invalid(s.Problem)
	want := []string{"days OUT_OF_RANGE", "sites[0].kind NOT_A_WORD", "plants[0].plant.count OUT_OF_RANGE"}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("got %v, want %v", got, want)
	}
	text := s.Problem.Validate().Error()
	if want := "days: 400: want 1 to 56"; !strings.Contains(text, want) {
		t.Errorf("error %q: want it to say %q", text, want)
	}
}

// TestValidate_NamesEveryWrongFieldAtOnce spoils one field of each kind and wants all of them named together.
func TestValidate_NamesEveryWrongFieldAtOnce(t *testing.T) {
	t.Parallel()
	s := newStory()
	p := &s.Problem
	p.Travel.Seconds[1], s.office().SignIn, s.pothos().Health = -1, -time.Second, "fine"
	p.Materials[0].Law, s.label().LeastDays, s.crew().SpeedPercent = "fine", -1, 0
	p.FollowUps[1].Severity, p.Services[0].Ideal = 9, 0
	p.Links = []scheduler.Link{{Kind: scheduler.Order, From: "x", To: sprayItem}}
	p.Fixed[0].State, p.Rules.MostWork = scheduler.Planned, -1
	want := []string{
		"travel.seconds[1] OUT_OF_RANGE", "sites[0].sign_in OUT_OF_RANGE", "plants[0].health NOT_A_WORD", "materials[0].law NOT_A_WORD",
		"products[0].label.least_days OUT_OF_RANGE", "technicians[0].speed_percent OUT_OF_RANGE", "follow_ups[1].severity OUT_OF_RANGE",
		"services[0].ideal OUT_OF_RANGE", "services[0].ideal OUT_OF_ORDER", "links[0].from UNKNOWN", "fixed[0].state NOT_A_WORD", "rules.most_work OUT_OF_RANGE",
	}
	if got := invalid(*p); fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

func TestValidate_EmptyProblemIsAnAnswer(t *testing.T) {
	t.Parallel()
	got := invalid(scheduler.Problem{})
	want := []string{"now MISSING", "first_day MISSING", "days OUT_OF_RANGE"}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("got %v, want %v", got, want)
	}
}
