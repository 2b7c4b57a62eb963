package scheduler_test

import (
	"testing"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
)

func TestCheckLabel_PlantsPlacesPests(t *testing.T) {
	t.Parallel()
	expectBreaches(t, scheduler.RuleLabel, []breachCase{
		{name: "a plant that it harms", change: func(s *story) { s.pothos().Tolerance[0].Verdict = catalogue.MustNot }, want: "the plant must not get soap"},
		{name: "a species that the label excludes", change: func(s *story) {
			s.label().MustNot = []catalogue.SpeciesID{"species-of-pothos"}
		}, want: "the label excludes species-of-pothos"},
		{name: "patch test first", change: func(s *story) { s.pothos().Tolerance[0].Verdict = catalogue.PatchTest }, want: "a patch test of soap comes first"},
		{name: "not known is patch test", change: func(s *story) { s.pothos().Tolerance = nil }, want: "a patch test of soap comes first"},
		{name: "patch test passed", change: func(s *story) {
			s.pothos().Tolerance, s.pothos().PatchTested = nil, []catalogue.MaterialID{"soap"}
		}},
		{name: "itself the patch test", change: func(s *story) {
			s.pothos().Tolerance, s.Problem.FollowUps[0].Kind, s.spray().Kind = nil, scheduler.KindPatchTest, scheduler.KindPatchTest
		}},
		{name: "in flower", change: func(s *story) { s.pothos().Plant.InFlower = true }, want: "it is in flower"},
		{name: "in flower where allowed", change: func(s *story) { s.pothos().Plant.InFlower, s.label().OpenFlowers = true, true }},
		{name: "edible", change: func(s *story) { s.pothos().Plant.Edible = true }, want: "it is edible"},
		{name: "edible where allowed", change: func(s *story) { s.pothos().Plant.Edible, s.label().EdiblePlants = true, true }},
		{name: "kind of place", change: func(s *story) {
			s.label().Places = []catalogue.PlaceKind{catalogue.Home}
		}, want: "a place of the kind office: its label lists home"},
		{name: "an empty list allows nothing", change: func(s *story) { s.label().Places = nil }, want: "its label lists"},
		{name: "pest", change: func(s *story) {
			s.label().Pests = []catalogue.PestID{"fungus-gnat"}
		}, want: "against citrus-mealybug: its label lists fungus-gnat"},
		{name: "barred by an incident", change: func(s *story) {
			s.office().Barred = []site.BarredProduct{{Product: s.spray().Use.Product, Incident: "spill-1"}}
		}, want: "it is barred there since incident spill-1"},
		{name: "another product barred", change: func(s *story) {
			s.office().Barred = []site.BarredProduct{{Product: "another", Incident: "spill-1"}}
		}},
		{name: "unknown product", change: func(s *story) {
			s.wayPart().Use.Product, s.spray().Use.Product, s.mix().Product = "soap-b", "soap-b", "soap-b"
			s.Plan.KeepOuts[0].Product = "soap-b"
			s.Problem.Products = append(s.Problem.Products, s.Problem.Products[0])
			s.Problem.Products[1].ID, s.Problem.Products[1].Label.Places = "soap-b", nil
		}, want: "its label lists"},
	})
}

func TestCheckLabel_SensitiveThings(t *testing.T) {
	t.Parallel()
	keep := func(condition string) func(*story) {
		return func(s *story) {
			s.label().KeepAway = []catalogue.KeepAway{{Thing: catalogue.FishTank, Condition: condition}}
		}
	}
	fish := func(area int, condition string, open func(*story)) func(*story) {
		return func(s *story) {
			keep(condition)(s)
			s.office().Areas[area].Sensitive = []catalogue.Sensitive{catalogue.FishTank}
			open(s)
		}
	}
	nothing := func(*story) {}
	// With the store open to the floor it is shut too: the rinse moves to the base, 20:27 to 20:32.
	open := func(from, to int) func(*story) {
		return func(s *story) {
			s.office().Areas[from].OpenTo = []site.AreaID{s.office().Areas[to].ID}
			s.shut("store")
			s.mix().RinseAtBase, s.mix().Rinse, s.route().Returns = true, during(3, "20:27", "20:32"), at(3, "20:32")
		}
	}
	expectBreaches(t, scheduler.RuleLabel, []breachCase{
		{name: "in the area", change: fish(0, "", nothing), want: "keeps away from fish-tank, which is in floor"},
		{name: "in an area open to it", change: fish(1, "", open(0, 1)), want: "which is in store"},
		{name: "in an area that says it is open to it", change: fish(1, "", open(1, 0)), want: "which is in store"},
		{name: "in an area apart", change: fish(1, "", nothing)},
		{name: "on a condition", change: fish(0, "cover it, pump off", nothing)},
	})
}

func TestCheckLabel_Law(t *testing.T) {
	t.Parallel()
	household := func(why map[catalogue.JurisdictionCode]string) func(*story) {
		return func(s *story) {
			s.Problem.Materials[0].Law = catalogue.HouseholdRemedy
			s.Problem.Products[0].LawfulBecause = why
		}
	}
	expectBreaches(t, scheduler.RuleLabel, []breachCase{
		{name: "household remedy", change: household(nil), want: "a household remedy: refused"},
		{name: "household remedy recorded elsewhere", change: household(map[catalogue.JurisdictionCode]string{"US-MD": "x"}), want: "a household remedy: refused"},
		{name: "household remedy recorded here", change: household(map[catalogue.JurisdictionCode]string{"US-PA": "reason"})},
		{name: "not registered", change: func(s *story) { s.Problem.Products[0].Registration = "" }, want: "registered there only"},
		{name: "registered elsewhere", change: func(s *story) {
			s.Problem.Products[0].Jurisdictions = []catalogue.JurisdictionCode{"GB"}
		}, want: "registered there only"},
		{name: "registered in the jurisdiction around it alone", change: func(s *story) {
			s.Problem.Products[0].Jurisdictions = []catalogue.JurisdictionCode{"US"}
		}, want: "registered there only"},
		{name: "exempt by rule", change: func(s *story) {
			s.Problem.Products[0].Registration, s.Problem.Materials[0].Law = "", catalogue.ExemptByRule
		}},
		{name: "standing not known", change: func(s *story) { s.Problem.Materials = nil }, want: "standing in law of soap is not known"},
		{name: "interval unknown", change: func(s *story) { s.label().Entry.Kind = catalogue.EntryUnknown }, want: "no number is assumed"},
		{name: "interval unset", change: func(s *story) { s.label().Entry.Kind = "" }, want: "no number is assumed"},
		{name: "interval of another kind", change: func(s *story) { s.label().Entry = catalogue.Entry{Kind: catalogue.EntryHours, Hours: time.Hour} }, want: "its label says hours"},
	})
}

func figure(x float64) *float64 { return &x }

// hard gives the office's water a hardness and the label a greatest one, nil each for none; both in mg/L CaCO3.
func hard(hardness, limit *float64) func(*story) {
	return func(s *story) { s.office().Water.HardnessMgL, s.label().MaxHardness = hardness, limit }
}

func TestCheckLabel_WaterIsNoHarderThanTheLabelAllows(t *testing.T) {
	t.Parallel()
	expectBreaches(t, scheduler.RuleLabel, []breachCase{
		{name: "no limit stated, hardness unknown", change: hard(nil, nil)},
		{name: "no limit stated, hard", change: hard(figure(400), nil)},
		{name: "at the limit", change: hard(figure(120), figure(120))},
		{name: "harder", change: hard(figure(120.5), figure(120)), want: "the water of office, 120.5 mg/L CaCO3: its label says 120 mg/L at most"},
		{name: "unknown counts as hard", change: hard(nil, figure(120)), want: "whose hardness is not known and counts as hard"},
		{name: "carried water", change: func(s *story) {
			withoutWater("")(s)
			hard(nil, figure(120))(s)
		}},
		{name: "nothing is mixed", change: func(s *story) {
			hard(nil, figure(120))(s)
			s.Problem.Products[0].Form = catalogue.ReadyToUse
			s.route().Mixes, s.spray().MixIndex = nil, -1
		}},
	})
}

func TestCheckLabel_TemperatureAndHours(t *testing.T) {
	t.Parallel()
	celsius := func(low, high float64) func(*story) {
		return func(s *story) { s.label().MinCelsius, s.label().MaxCelsius = &low, &high }
	}
	expectBreaches(t, scheduler.RuleLabel, []breachCase{
		{name: "within", change: celsius(18, 24)},
		{name: "too cold", change: celsius(18.5, 30), want: "it may be 18 °C: its label says 18.5 °C at least"},
		{name: "too warm", change: celsius(4, 23.9), want: "it may be 24 °C: its label says 23.9 °C at most"},
		{name: "not known", want: "whose temperature on 2026-03-03 is not known", change: func(s *story) {
			celsius(4, 30)(s)
			s.office().Areas[0].Climate[0].Months = []time.Month{time.July}
		}},
		{name: "in its hours", change: func(s *story) { s.label().Hours = []civil.Window{window("19:30", "20:02")} }},
		{name: "out of its hours", change: func(s *story) { s.label().Hours = []civil.Window{window("19:30", "20:01")} }, want: "its label allows 19:30 to 20:01"},
	})
}

func history(days ...int) []scheduler.Applied {
	var all []scheduler.Applied
	for _, d := range days {
		all = append(all, scheduler.Applied{Product: "soap-a", Material: "soap", Began: at(d, "20:00"), Ended: at(d, "20:30")})
	}
	return all
}

func TestCheckLabel_RepeatsCountOverAllCases(t *testing.T) {
	t.Parallel()
	applied := func(list []scheduler.Applied, change func(*catalogue.Label)) func(*story) {
		return func(s *story) {
			s.pothos().Applied = list
			change(s.label())
		}
	}
	nothing := func(*catalogue.Label) {}
	group := func(material catalogue.MaterialID, group string, days ...int) []scheduler.Applied {
		all := history(days...)
		for i := range all {
			all[i].Product, all[i].Material, all[i].Group = "", material, group
		}
		return all
	}
	inRow := func(n int) func(*catalogue.Label) {
		return func(l *catalogue.Label) { l.MostInRow, l.ModeOfAction = n, "G1" }
	}
	mixed := append(group("soap", "G1", -20), append(group("oil", "G2", -12), group("soap", "G1", -5)...)...)
	expectBreaches(t, scheduler.RuleLabel, []breachCase{
		{name: "7 days after the last", change: applied(history(-4), nothing)}, // 24 February
		{name: "6 days after the last", change: applied(history(-3), nothing), want: "6 days lie between the applications of soap on 2026-02-25 and 2026-03-03, the label asks for 7"},
		{name: "6 days before one that was made", change: applied(history(9), nothing), want: "6 days lie between"},
		{name: "another material does not count", change: applied(group("oil", "", 1), nothing)},
		{name: "second in a row of two", change: applied(history(-5), inRow(2))},
		{name: "third in a row of two", change: applied(history(-12, -5), inRow(2)), want: "number 3 in a row of soap A, whose label allows 2: groups rotate"},
		{name: "another group between", change: applied(mixed, inRow(2))},
		{name: "another material of the same group goes on", change: applied(group("other-soap", "G1", -12, -5), inRow(2)), want: "number 3 in a row"},
		{name: "unclassified materials do not share a group", change: applied(group("other-soap", "", -12, -5), func(l *catalogue.Label) { l.MostInRow = 2 })},
		{name: "third of three a year", change: applied(history(-300, -200), func(l *catalogue.Label) { l.MostAYear = 3 })},
		{name: "third of two a year", change: applied(history(-300, -200), func(l *catalogue.Label) { l.MostAYear = 2 }), want: "number 3 of soap A within 365 days"},
		// 3 March 2025 is 365 days before: day 3 - 365 = -362.
		{name: "a year ago is over", change: applied(history(-362, -200), func(l *catalogue.Label) { l.MostAYear = 2 })},
		{name: "incompatible before", change: applied(group("sulfur", "", -20), func(l *catalogue.Label) {
			l.Incompatible = []catalogue.Incompatible{{Material: "sulfur", Days: 30}}
		}), want: "are incompatible within 30 days, 23 lie between"},
		{name: "incompatible days over", change: applied(group("sulfur", "", -27), func(l *catalogue.Label) {
			l.Incompatible = []catalogue.Incompatible{{Material: "sulfur", Days: 30}}
		})},
		{name: "the other's label says so", want: "are incompatible within 30 days", change: func(s *story) {
			s.pothos().Applied = group("oil", "", 1)
			s.pothos().Applied[0].Product = "oil-a"
			oil := s.Problem.Products[0]
			oil.ID, oil.Material, oil.Label.Incompatible = "oil-a", "oil", []catalogue.Incompatible{{Material: "soap", Days: 30}}
			s.Problem.Products = append(s.Problem.Products, oil)
		}},
	})
}

// Two sprays of one plan on one plant, 3 and 6 March: 3 days, the label asks for 7.
func TestCheckLabel_PlannedApplicationsCountToo(t *testing.T) {
	t.Parallel()
	s := newStory()
	carried(4)(s)
	s.Problem.FollowUps[0].Plants, s.spray().Plants = []site.PlantID{"pothos", "lilies"}, []site.PlantID{"pothos", "lilies"}
	found := false
	for _, v := range s.check() {
		found = found || v.Rule == scheduler.RuleLabel && v.Item == carryItem
	}
	if !found {
		t.Error("two sprays of the lilies 3 days apart: no breach of label found at the later one")
	}
}

// Last watered on Monday 2 March; latest 1 means dry from Tuesday on.
func TestCheckLabel_DryPlants(t *testing.T) {
	t.Parallel()
	dry := func(s *story) {
		s.pothos().Plant.Watering = site.Watering{Earliest: 1, Ideal: 1, Latest: 1, Last: march(2)}
		s.Problem.Services[1].Earliest, s.Problem.Services[1].Ideal, s.Problem.Services[1].Latest = 1, 1, 1
	}
	expectBreaches(t, scheduler.RuleLabel, []breachCase{
		{name: "dry", change: dry, want: "sprays plants that are dry on 2026-03-03 (pothos)"},
		{name: "never watered", want: "dry on 2026-03-03", change: func(s *story) {
			s.pothos().Plant.Watering.Last, s.Problem.Services[1].Last = 0, 0
		}},
		{name: "the label allows it", change: func(s *story) { dry(s); s.label().DryPlants = true }},
		{name: "nothing known of its watering", change: func(s *story) {
			s.pothos().Plant.Watering = site.Watering{}
			s.Problem.Services[1].Groups = s.Problem.Services[1].Groups[:1]
		}},
		// The spray and what follows it begin 20 min later; ficus 19:14-19:18, look 19:18-19:24, pothos watered -19:30.
		{name: "watered earlier on the visit", change: func(s *story) {
			dry(s)
			s.later(minutes(20))
			s.visit().Arrives, s.route().Departs = at(3, "19:09"), at(3, "18:48")
			water := func(plant site.PlantID, from, to string) scheduler.WorkItem {
				return scheduler.WorkItem{Item: waterOffice + "#1", Service: site.WateringService, Area: "floor", Plants: []site.PlantID{plant}, Begins: at(3, from), Ends: at(3, to), MixIndex: -1}
			}
			s.look().Begins, s.look().Ends = at(3, "19:18"), at(3, "19:24")
			s.visit().Work = append([]scheduler.WorkItem{water("ficus", "19:14", "19:18"), water("pothos", "19:24", "19:30")}, s.visit().Work...)
		}},
	})
}
