package mayapply_test

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/dilution"
	"vernation/scheduler/mayapply"
	"vernation/scheduler/quantity"
	"vernation/scheduler/reentry"
	"vernation/scheduler/site"
)

func TestMayApply_LetsPassWhatKeepsEveryRule(t *testing.T) {
	t.Parallel()
	a := ask(t, question())
	if !a.Allowed || len(a.On) != 2 || len(a.Refusals()) != 0 || len(a.Steps()) != 0 {
		t.Fatalf("allowed %v on %v: %v", a.Allowed, a.On, a.Words)
	}
	// Two groups of 2 plants under 50 cm: 100 to 200 mL each, 150 in the middle; 300 x 1.1 = 330.
	if !a.Need.Equal(volume("330 mL")) || !a.Amounts[0].Least.Equal(volume("100 mL")) || !a.Amounts[0].Greatest.Equal(volume("200 mL")) {
		t.Errorf("need %v, amounts %v", a.Need, a.Amounts)
	}
	// 330 mL = 11.16 fl oz, + 2 dead = 13.16: the 16 mark; 2.5/128 x 16 = 0.3125: two marks of 1/8 are 0.25, under 90 %; the 24 mark takes
	// 0.46875 at most and 0.421875 at least, none; the 32 mark takes 0.625 = 5 marks.
	if a.Filling == nil || !a.Filling.Volume.Equal(volume("32 US fl oz")) || !a.Filling.Concentrate.Equal(volume("5/8 US fl oz")) || a.Vessel != "the pump sprayer" {
		t.Errorf("filling %+v in %q", a.Filling, a.Vessel)
	}
	// 19:45 + 32 min = 20:17, the air is off: + 3 h x 1.5 = 00:47 on the next day. The gallery shares the air, the study lies behind.
	if len(a.Shut) != 3 || a.Shut[0].Area != "floor" || a.Shut[0].During != (civil.Interval{From: at(3, "19:45"), To: at(4, "00:47")}) || !a.Shut[0].UntilDry ||
		a.Shut[1].Area != "gallery" || a.Shut[1].Because != "the floor" || a.Shut[2].Area != "study" {
		t.Errorf("shut %+v", a.Shut)
	}
}

// speaks is one change to the question and the word that it brings.
type speaks struct {
	name    string
	change  func(*mayapply.Question)
	rule    mayapply.Rule
	verdict mayapply.Verdict
	text    string
	on      int // plants that are left
}

func TestMayApply_EveryRuleSpeaks(t *testing.T) {
	t.Parallel()
	for _, cases := range [][]speaks{lawCases(), labelCases(), plantCases(), timeCases(), entryCases(), mixCases()} {
		for _, c := range cases {
			t.Run(c.name, func(t *testing.T) {
				t.Parallel()
				q := question()
				c.change(&q)
				a := ask(t, q)
				if !slices.ContainsFunc(a.Words, func(w mayapply.Word) bool {
					return w.Rule == c.rule && w.Verdict == c.verdict && strings.Contains(w.Text, c.text)
				}) {
					t.Errorf("want %s %s: ... %s ...; got %v", c.rule, c.verdict, c.text, a.Words)
				}
				for _, w := range a.Refusals() {
					if w.Rule != c.rule {
						t.Errorf("%s refuses too: %s", w.Rule, w.Text)
					}
				}
				if len(a.On) != c.on || a.Allowed != (c.on == len(q.Plants)) {
					t.Errorf("allowed %v on %v, want %d plants", a.Allowed, a.On, c.on)
				}
			})
		}
	}
}

func lawCases() []speaks {
	alcohol := func(q *mayapply.Question) {
		q.Product.ID, q.Product.Material, q.Product.Form, q.Product.Label.MaxRate, q.Containers = "alcohol-a", "alcohol", catalogue.ReadyToUse, nil, nil
		for i := range q.Plants {
			q.Plants[i].PatchTested = []catalogue.MaterialID{"alcohol"}
		}
	}
	return []speaks{
		{"a product that is not registered there", func(q *mayapply.Question) { q.Product.Jurisdictions = nil }, mayapply.RuleLaw, mayapply.Refuses, "only as a product registered in ZZ", 0},
		{"a product without registration", func(q *mayapply.Question) { q.Product.Registration = "" }, mayapply.RuleLaw, mayapply.Refuses, "registered", 0},
		{"a household remedy", alcohol, mayapply.RuleLaw, mayapply.Refuses, "household remedy: refused unless", 0},
		{"a household remedy's dilution", alcohol, mayapply.RuleLaw, mayapply.Notes, "35 %; that gives no leave", 0},
		{"a household remedy with a record", func(q *mayapply.Question) {
			alcohol(q)
			q.Product.LawfulBecause = map[catalogue.JurisdictionCode]string{"ZZ": "the authority's letter"}
		}, mayapply.RuleLaw, mayapply.Notes, "the authority's letter", 2},
		{"a material refused by the client", func(q *mayapply.Question) { q.Site.Agreement.RefusedMaterials = []catalogue.MaterialID{"soap"} }, mayapply.RuleAgreement, mayapply.Refuses, "refused soap", 0},
		{"a method refused by the client", func(q *mayapply.Question) {
			q.Site.Agreement.RefusedMethods = []catalogue.Method{catalogue.WholePlantSpray}
		}, mayapply.RuleAgreement, mayapply.Refuses, "refused the method whole plant spray", 0},
		{"a consent that ran out", func(q *mayapply.Question) {
			q.Site.Agreement.ConsentNeeded = []catalogue.Method{catalogue.WholePlantSpray}
			q.Site.Agreement.Consents = []site.Consent{{Method: catalogue.WholePlantSpray, From: march(1), To: march(2)}}
		}, mayapply.RuleAgreement, mayapply.Refuses, "has not consented for 2026-03-03", 0},
		{"a consent to another material", func(q *mayapply.Question) {
			q.Site.Agreement.ConsentNeeded = []catalogue.Method{catalogue.WholePlantSpray}
			q.Site.Agreement.Consents = []site.Consent{{Method: catalogue.WholePlantSpray, Material: "alcohol", From: march(1)}}
		}, mayapply.RuleAgreement, mayapply.Refuses, "has not consented for 2026-03-03", 0},
		{"a product that an incident bars", func(q *mayapply.Question) {
			q.Site.Barred = []site.BarredProduct{{Product: "another", Incident: "i-1"}, {Product: q.Product.ID, Incident: "spill-7"}}
		}, mayapply.RuleIncident, mayapply.Refuses, "barred here since incident spill-7", 0},
		{"a plant not in our care", func(q *mayapply.Question) { q.Plants[0].NotInCare = true }, mayapply.RuleAgreement, mayapply.Refuses, "not in our care", 1},
		{"its owner consents from the day after", func(q *mayapply.Question) {
			q.Plants[0].NotInCare, q.Plants[0].OwnerConsents = true, []site.OwnerConsent{{By: "its owner", On: march(4)}}
		}, mayapply.RuleAgreement, mayapply.Refuses, "not in our care", 1},
		{"outside access", func(q *mayapply.Question) {
			q.Site.Access = civil.Calendar{Weekly: []civil.Weekly{weekly(workdays, "06:00", "20:00")}}
		}, mayapply.RuleAccess, mayapply.Refuses, "may not be entered", 0},
		{"no licence", func(q *mayapply.Question) { q.By.Licences = nil }, mayapply.RuleLicence, mayapply.Refuses, "holds no licence", 0},
		{"a licence that lapsed", func(q *mayapply.Question) { q.By.Licences[0].To = march(2) }, mayapply.RuleLicence, mayapply.Refuses, "holds no licence", 0},
		{"a licence on its last day", func(q *mayapply.Question) {
			q.By.Licences[0].To, q.Product.Placeholders = march(3), []string{"label.entry"}
		}, mayapply.RuleRecord, mayapply.Asks, "label.entry", 2},
		{"under a supervisor", func(q *mayapply.Question) {
			q.Crew = []mayapply.Person{{Name: "holder", Licences: q.By.Licences}}
			q.By.Licences = []mayapply.Licence{{Jurisdiction: "ZZ", Category: "interior", From: march(1), To: march(31), Under: "holder"}}
		}, mayapply.RuleLicence, mayapply.Asks, "a licence holder is on the premises", 2},
		{"under a supervisor whose licence lapsed", func(q *mayapply.Question) {
			q.By.Licences[0].To = march(2)
			q.Crew = []mayapply.Person{{Name: "holder", Licences: q.By.Licences}}
			q.By.Licences = []mayapply.Licence{{Jurisdiction: "ZZ", Category: "interior", From: march(1), To: march(31), Under: "holder"}}
		}, mayapply.RuleLicence, mayapply.Refuses, "works under nobody who does", 0},
		{"a category that covers no such place", func(q *mayapply.Question) {
			q.Site.Kind, q.Product.Label.Places = catalogue.Retail, []catalogue.PlaceKind{catalogue.Retail}
		}, mayapply.RuleLicence, mayapply.Refuses, "is known to cover retail", 0},
		{"not approved", func(q *mayapply.Question) { q.Approval = nil }, mayapply.RuleApproval, mayapply.Refuses, "has not approved", 0},
		{"no notice", func(q *mayapply.Question) { q.NoticeSent = nil }, mayapply.RuleNotice, mayapply.Refuses, "no notice was given; 24 h", 0},
		{"late notice", func(q *mayapply.Question) { q.NoticeSent = ptr(at(2, "19:46")) }, mayapply.RuleNotice, mayapply.Refuses, "notice was given 23 h 59 min before", 0},
		{"a school's notice", func(q *mayapply.Question) { q.Site.Kind = catalogue.School }, mayapply.RuleNotice, mayapply.Refuses, "72 h are asked (Parents", 0},
		{"a school's sign", func(q *mayapply.Question) {
			q.Site.Kind, q.NoticeSent = catalogue.School, ptr(at(3, "19:45")-72*3600)
		}, mayapply.RuleNotice, mayapply.Asks, "A sign at the door", 2},
	}
}

func labelCases() []speaks {
	return []speaks{
		{"another kind of place", func(q *mayapply.Question) { q.Product.Label.Places = []catalogue.PlaceKind{catalogue.PlantRoom} }, mayapply.RulePlace, mayapply.Refuses, "the label lists plant room", 0},
		{"another kind of place for one plant", func(q *mayapply.Question) {
			q.Plants[1].Area, q.Product.Label.Places = "plant-room", []catalogue.PlaceKind{catalogue.Office}
		}, mayapply.RulePlace, mayapply.Refuses, "the plant room is a place of the kind plant room", 1},
		{"another pest", func(q *mayapply.Question) { q.Pest = "mite" }, mayapply.RulePest, mayapply.Refuses, "and not mite", 0},
		{"fish in the open gallery", func(q *mayapply.Question) {
			q.Site.Areas[1].Sensitive = []catalogue.Sensitive{catalogue.FishTank}
			q.Product.Label.KeepAway = []catalogue.KeepAway{{Thing: catalogue.FishTank}}
		}, mayapply.RuleSensitive, mayapply.Refuses, "keeps it away from fish tank, and there is one in the gallery", 0},
		{"fish on a condition", func(q *mayapply.Question) {
			q.Site.Areas[0].Sensitive = []catalogue.Sensitive{catalogue.FishTank}
			q.Product.Label.KeepAway = []catalogue.KeepAway{{Thing: catalogue.FishTank, Condition: "cover it and stop the pump"}}
		}, mayapply.RuleSensitive, mayapply.Asks, "cover it and stop the pump", 2},
		{"fish that the label does not speak of", func(q *mayapply.Question) { q.Site.Areas[0].Sensitive = []catalogue.Sensitive{catalogue.FishTank} }, mayapply.RuleSensitive, mayapply.Notes, "says nothing of it", 2},
		{"fish behind a door", func(q *mayapply.Question) {
			q.Site.Areas[2].Sensitive = []catalogue.Sensitive{catalogue.FishTank}
			q.Product.Label.KeepAway, q.Pest = []catalogue.KeepAway{{Thing: catalogue.FishTank}}, "mite"
		}, mayapply.RulePest, mayapply.Refuses, "mite", 0},
		{"too warm by the season", func(q *mayapply.Question) { q.Product.Label.MaxCelsius = ptr(23.0) }, mayapply.RuleTemperature, mayapply.Refuses, "may be 24 °C", 0},
		{"too cold by a reading", func(q *mayapply.Question) {
			q.Product.Label.MinCelsius, q.Celsius = ptr(10.0), map[site.AreaID]float64{"floor": 9}
		}, mayapply.RuleTemperature, mayapply.Refuses, "may be 9 °C (read there)", 0},
		{"an unknown temperature", func(q *mayapply.Question) { q.Product.Label.MaxCelsius, q.Site.Areas[0].Climate = ptr(32.0), nil }, mayapply.RuleTemperature, mayapply.Refuses, "is not known", 0},
		{"above the practice", func(q *mayapply.Question) { q.Celsius = map[site.AreaID]float64{"floor": 33} }, mayapply.RuleTemperature, mayapply.Asks, "the practice is 32 °C at most", 2},
		{"humidity that nobody knows", func(q *mayapply.Question) { q.Product.Label.MaxHumidity = ptr(80.0) }, mayapply.RuleHumidity, mayapply.Asks, "measure it before", 2},
		{"air always damper than the label", func(q *mayapply.Question) {
			q.Product.Label.MaxHumidity, q.Site.Areas[0].Humidity = ptr(80.0), &site.Humidity{Least: 81, Usual: 90, Greatest: 95}
		}, mayapply.RuleHumidity, mayapply.Refuses, "is at 81 % relative humidity or more (of the year", 0},
		{"air that may be damper", func(q *mayapply.Question) {
			q.Product.Label.MaxHumidity, q.Site.Areas[0].Humidity = ptr(80.0), &site.Humidity{Least: 40, Usual: 60, Greatest: 85}
		}, mayapply.RuleHumidity, mayapply.Asks, "may be at 85 %", 2},
		{"too damp by a reading", func(q *mayapply.Question) {
			q.Product.Label.MaxHumidity, q.Humidity = ptr(80.0), map[site.AreaID]float64{"floor": 81}
		}, mayapply.RuleHumidity, mayapply.Refuses, "read there", 0},
		{"a reading at the limit", func(q *mayapply.Question) {
			q.Product.Label.MaxHumidity, q.Humidity, q.Pest = ptr(80.0), map[site.AreaID]float64{"floor": 80}, "mite"
			q.Site.Areas[0].Humidity = &site.Humidity{Least: 81, Usual: 90, Greatest: 95}
		}, mayapply.RulePest, mayapply.Refuses, "and not mite", 0},
		{"damper than the practice", func(q *mayapply.Question) {
			withPractice := q.Catalogue.Materials["soap"]
			withPractice.MaxHumidity = &catalogue.Figure{Value: 70, Standing: catalogue.Assumption}
			q.Catalogue.Materials["soap"] = withPractice
			q.Humidity = map[site.AreaID]float64{"floor": 99}
		}, mayapply.RuleHumidity, mayapply.Asks, "the practice (assumption) is 70 % at most", 2},
		{"outside the label's hours", func(q *mayapply.Question) { q.Product.Label.Hours = []civil.Window{window("18:00", "20:00")} }, mayapply.RuleHours, mayapply.Refuses, "the label allows 18:00 to 20:00", 0},
		{"hard water above the label", func(q *mayapply.Question) { q.Product.Label.MaxHardness, q.CarriedHardnessMgL = ptr(120.0), ptr(121.0) }, mayapply.RuleWater, mayapply.Refuses, "is 121", 0},
		{"unknown hardness and a limit", func(q *mayapply.Question) { q.Product.Label.MaxHardness, q.CarriesWater = ptr(120.0), false }, mayapply.RuleWater, mayapply.Refuses, "counts as hard", 0},
		{"hard water and no limit", func(q *mayapply.Question) { q.CarriedHardnessMgL = ptr(300.0) }, mayapply.RuleWater, mayapply.Notes, "is 300 mg/L CaCO3 and the label states no limit", 2},
		{"unknown hardness without a limit", func(q *mayapply.Question) { q.CarriesWater = false }, mayapply.RuleWater, mayapply.Notes, "soft or carried", 2},
		{"no water at all", func(q *mayapply.Question) { q.CarriesWater, q.Site.Water.Area = false, "" }, mayapply.RuleWater, mayapply.Refuses, "carry it", 0},
	}
}

func plantCases() []speaks {
	return []speaks{
		{"a species that does not stand it", func(q *mayapply.Question) { q.Plants[0].Species = "fern" }, mayapply.RuleTolerance, mayapply.Refuses, "Adiantum raddianum does not stand soap", 1},
		{"a species of which nothing is known", func(q *mayapply.Question) { q.Plants[0].Species = "palm" }, mayapply.RuleTolerance, mayapply.Refuses, "a patch test of soap comes first", 1},
		{"our own record comes first", func(q *mayapply.Question) {
			q.Plants[0].Tolerance = []catalogue.Tolerance{{Material: "soap", Verdict: catalogue.MustNot, Standing: catalogue.OwnRecords}}
		}, mayapply.RuleTolerance, mayapply.Refuses, "own records", 1},
		{"our own record never loosens a label", func(q *mayapply.Question) {
			q.Product.Label.MustNot = []catalogue.SpeciesID{"pothos"}
			q.Plants[0].Tolerance = []catalogue.Tolerance{{Material: "soap", Verdict: catalogue.Stands, Standing: catalogue.OwnRecords}}
		}, mayapply.RuleTolerance, mayapply.Refuses, "the label excludes Epipremnum aureum", 0},
		{"open flowers", func(q *mayapply.Question) { q.Plants[1].InFlower = true }, mayapply.RuleFlowers, mayapply.Refuses, "in flower", 1},
		{"an edible plant", func(q *mayapply.Question) { q.Plants[1].Edible = true }, mayapply.RuleEdible, mayapply.Refuses, "edible", 1},
		{"a dry plant", func(q *mayapply.Question) { q.Plants[0].Watering.Last = march(3).AddDays(-9) }, mayapply.RuleDryness, mayapply.Refuses, "dry from 2026-03-03 on", 1},
		{"a plant watered nobody knows when", func(q *mayapply.Question) { q.Plants[0].Watering.Last = 0 }, mayapply.RuleDryness, mayapply.Refuses, "counts as dry", 1},
		{"a plant that others water", func(q *mayapply.Question) { q.Plants[0].Watering = site.Watering{} }, mayapply.RuleDryness, mayapply.Asks, "feel the soil", 2},
		{"a drench into hydroculture", func(q *mayapply.Question) { drench(q); q.Plants[0].Planter = site.Hydroculture }, mayapply.RulePlanter, mayapply.Refuses, "takes no drench", 1},
		{"a drench into a pot of unknown size", func(q *mayapply.Question) { drench(q); q.Plants[0].PotVolume = quantity.Volume{} }, mayapply.RulePlanter, mayapply.Refuses, "not recorded", 1},
		{"a drench into a liner", func(q *mayapply.Question) { drench(q); q.Plants[0].Planter = site.Liner }, mayapply.RulePlanter, mayapply.Asks, "at most 10 % of the pot volume", 2},
		{"a drench on a dry plant is itself a watering", func(q *mayapply.Question) {
			drench(q)
			q.Plants[0].Watering.Last, q.Plants[0].Planter = 0, site.Liner
		}, mayapply.RulePlanter, mayapply.Asks, "at most 10 % of the pot volume", 2},
	}
}

func timeCases() []speaks {
	before := func(days int, material catalogue.MaterialID, group string) mayapply.Applied {
		product := map[catalogue.MaterialID]catalogue.ProductID{"soap": "soap-a"}[material]
		return mayapply.Applied{Product: product, Material: material, Group: group, Began: at(3-days, "12:00")}
	}
	return []speaks{
		{"six days after the last", func(q *mayapply.Question) { q.Plants[0].Applied = []mayapply.Applied{before(6, "soap", "")} }, mayapply.RuleRetreatment, mayapply.Refuses, "6 days apart; the label asks for 7: from 2026-03-04 on", 1},
		{"seven days after the last", func(q *mayapply.Question) {
			q.Plants[0].Applied, q.Plants[1].InFlower = []mayapply.Applied{before(7, "soap", "")}, true
		}, mayapply.RuleFlowers, mayapply.Refuses, "in flower", 1},
		{"three days before another", func(q *mayapply.Question) { q.Plants[0].Applied = []mayapply.Applied{before(-3, "soap", "")} }, mayapply.RuleRetreatment, mayapply.Refuses, "3 days apart", 1},
		{"too many in a row", func(q *mayapply.Question) {
			q.Product.Label.MostInRow = 2
			q.Plants[0].Applied = []mayapply.Applied{before(20, "soap", ""), before(30, "soap", "")}
		}, mayapply.RuleCaps, mayapply.Refuses, "number 3 in a row", 1},
		{"a group that another material goes on", func(q *mayapply.Question) {
			q.Product.Label.MostInRow, q.Product.Label.ModeOfAction = 1, "G"
			q.Plants[0].Applied = []mayapply.Applied{before(20, "larvicide", "G")}
		}, mayapply.RuleCaps, mayapply.Refuses, "number 2 in a row", 1},
		{"cards do not end a row", func(q *mayapply.Question) {
			q.Product.Label.MostInRow = 1
			q.Plants[0].Applied = []mayapply.Applied{before(20, "soap", ""), before(10, "cards", "")}
		}, mayapply.RuleCaps, mayapply.Refuses, "number 2 in a row", 1},
		{"another group ends a row", func(q *mayapply.Question) {
			q.Product.Label.MostInRow, q.Plants[1].InFlower = 1, true
			q.Plants[0].Applied = []mayapply.Applied{before(20, "soap", ""), before(10, "larvicide", "")}
		}, mayapply.RuleFlowers, mayapply.Refuses, "in flower", 1},
		{"too many a year", func(q *mayapply.Question) {
			q.Product.Label.MostAYear = 2
			q.Plants[0].Applied = []mayapply.Applied{before(364, "soap", ""), before(100, "soap", "")}
		}, mayapply.RuleCaps, mayapply.Refuses, "number 3 within 365 days", 1},
		{"a year and a day ago", func(q *mayapply.Question) {
			q.Product.Label.MostAYear, q.Plants[1].InFlower = 2, true
			q.Plants[0].Applied = []mayapply.Applied{before(365, "soap", ""), before(100, "soap", "")}
		}, mayapply.RuleFlowers, mayapply.Refuses, "in flower", 1},
		{"incompatible by its label", func(q *mayapply.Question) {
			q.Product.Label.Incompatible = []catalogue.Incompatible{{Material: "larvicide", Days: 30}}
			q.Plants[0].Applied = []mayapply.Applied{before(29, "larvicide", "")}
		}, mayapply.RuleIncompatible, mayapply.Refuses, "from 2026-03-04 on", 1},
		{"incompatible by the other's label", func(q *mayapply.Question) {
			q.Products = append(q.Products, catalogue.Product{ID: "larvicide-a", Material: "larvicide", Label: catalogue.Label{Incompatible: []catalogue.Incompatible{{Material: "soap", Days: 30}}}})
			q.Plants[0].Applied = []mayapply.Applied{{Product: "larvicide-a", Material: "larvicide", Began: at(1, "12:00")}}
		}, mayapply.RuleIncompatible, mayapply.Refuses, "by its label", 1},
		{"incompatible by the catalogue", func(q *mayapply.Question) { q.Plants[0].Applied = []mayapply.Applied{before(0, "sulphur", "")} }, mayapply.RuleIncompatible, mayapply.Refuses, "soap curdles with sulphur", 1},
	}
}

func entryCases() []speaks {
	running := func(from, to civil.Instant, dry, confirmed bool) func(*mayapply.Question) {
		return func(q *mayapply.Question) {
			q.Running = []mayapply.Running{{KeepOut: reentry.KeepOut{Area: "floor", During: civil.Interval{From: from, To: to}}, UntilDry: dry, Confirmed: confirmed}}
		}
	}
	return []speaks{
		{"an unknown interval", func(q *mayapply.Question) { q.Product.Label.Entry = catalogue.Entry{Kind: catalogue.EntryUnknown} }, mayapply.RuleEntry, mayapply.Refuses, "no number is assumed", 0},
		{"an interval that is not set", func(q *mayapply.Question) { q.Product.Label.Entry = catalogue.Entry{} }, mayapply.RuleEntry, mayapply.Refuses, "no number is assumed", 0},
		{"until dry without a time", func(q *mayapply.Question) { q.Policy.UntilDry = nil }, mayapply.RuleEntry, mayapply.Refuses, "no least time for this method", 0},
		{"people until 19:30", func(q *mayapply.Question) { q.Begins = at(3, "19:29"); q.NoticeSent = ptr(at(1, "12:00")) }, mayapply.RulePeople, mayapply.Refuses, "people are in the floor Tue 3 Mar 19:29 to 19:30", 0},
		{"people in the gallery", func(q *mayapply.Question) { q.Site.Areas[1].People = civil.Calendar{Always: true} }, mayapply.RulePeople, mayapply.Refuses, "people are in the gallery", 0},
		{"people in the study behind", func(q *mayapply.Question) { q.Site.Areas[2].People = civil.Calendar{Always: true} }, mayapply.RulePeople, mayapply.Refuses, "people are in the study", 0},
		{"people elsewhere", func(q *mayapply.Question) {
			q.Site.Areas[3].People, q.Plants[0].InFlower = civil.Calendar{Always: true}, true
		}, mayapply.RuleFlowers, mayapply.Refuses, "in flower", 1},
		{"agreed to shut", func(q *mayapply.Question) {
			q.Site.Areas[2].People, q.Plants[0].InFlower = civil.Calendar{Always: true}, true
			q.Site.Agreement.ShutAreas = []site.ShutArea{{Area: "study", From: at(3, "19:00"), To: at(4, "01:00")}}
		}, mayapply.RuleFlowers, mayapply.Refuses, "in flower", 1},
		{"a school's seven hours", func(q *mayapply.Question) {
			q.Site.Kind, q.NoticeSent = catalogue.School, ptr(at(3, "19:45")-72*3600)
		}, mayapply.RuleEntry, mayapply.Notes, "7 h whatever the label says: No pupils within 7 hours.", 2},
		{"another keep-out", running(at(3, "18:00"), at(3, "20:00"), false, false), mayapply.RuleShut, mayapply.Refuses, "by another application", 0},
		{"dry, and nobody looked", running(at(3, "12:00"), at(3, "16:00"), true, false), mayapply.RuleShut, mayapply.Refuses, "nobody has confirmed", 0},
	}
}

func mixCases() []speaks {
	ready := func(q *mayapply.Question) {
		q.Product.Form, q.Product.Label.MaxRate = catalogue.ReadyToUse, nil
		q.Containers = []dilution.Container{{ID: "bottle 1", Product: "soap-a", Left: volume("300 mL"), ExpiresOn: march(3)}}
	}
	return []speaks{
		{"no vessel for the method", func(q *mayapply.Question) { q.Vessels[0].Methods = nil }, mayapply.RuleMix, mayapply.Refuses, "no vessel at hand applies by whole plant spray", 0},
		{"a measure that is too coarse", func(q *mayapply.Question) { q.Measures[0].Marks = volume("4 US fl oz") }, mayapply.RuleMix, mayapply.Refuses, "no mark of a measure fits", 0},
		{"a label without a rate", func(q *mayapply.Question) { q.Product.Label.MaxRate = nil }, mayapply.RuleMix, mayapply.Refuses, "label.max_rate is missing", 0},
		{"an approval under the least rate", func(q *mayapply.Question) {
			q.Approval.MaxRate = &quantity.Rate{Concentrate: volume("1 US fl oz"), Per: volume("1 US gal"), Convention: quantity.MadeUpTo}
		}, mayapply.RuleMix, mayapply.Refuses, "the approval ends at", 0},
		{"an approval under the label", func(q *mayapply.Question) {
			q.Approval.MaxRate = &quantity.Rate{Concentrate: volume("2.4 US fl oz"), Per: volume("1 US gal"), Convention: quantity.MadeUpTo}
		}, mayapply.RuleApproval, mayapply.Notes, "approved up to 2.4 US fl oz", 2},
		{"not enough ready to use", ready, mayapply.RuleMix, mayapply.Refuses, "30 mL of soap-a is missing", 0},
		{"ready to use, not told", func(q *mayapply.Question) { ready(q); q.Containers = nil }, mayapply.RuleMix, mayapply.Asks, "never diluted", 2},
		{"a tall plant", func(q *mayapply.Question) { q.Plants[0].HeightCM = 200 }, mayapply.RuleMix, mayapply.Notes, "taller than any height class", 2},
	}
}

// TestMayApply_DevicesAndHandsAskForLess: cards and work by hand need no notice, no approval, no patch test and shut nothing.
func TestMayApply_DevicesAndHandsAskForLess(t *testing.T) {
	t.Parallel()
	for name, product := range map[string]catalogue.Product{
		"cards": {ID: "cards-a", Name: "cards", Material: "cards", Form: catalogue.Device, Label: catalogue.Label{
			Places: []catalogue.PlaceKind{catalogue.Office}, Pests: []catalogue.PestID{"mealybug"}, Entry: catalogue.Entry{Kind: catalogue.EntryNone, Reason: "a card on a stick"},
		}},
		"by hand": {ID: "hands-a", Name: "by hand", Material: "hands", Form: catalogue.NoSupply},
	} {
		q := question()
		q.Product, q.NoticeSent, q.Approval, q.By.Licences = product, nil, nil, nil
		q.Begins = at(3, "12:00") // among people
		q.Plants[0].Species, q.Plants[0].InFlower = "palm", true
		if a := ask(t, q); !a.Allowed || len(a.Shut) != 0 {
			t.Errorf("%s: allowed %v, shut %v: %v", name, a.Allowed, a.Shut, a.Words)
		}
	}
}

func TestMayApply_CountsLivingThings(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		material        catalogue.MaterialID
		least, greatest int64
	}{
		{"predators", 4, 10},                // 2 plants of 2 to 5
		{"nematodes", 4_000_000, 4_000_000}, // 2 pots of 4 L at half a million
	} {
		q := question()
		q.Product = catalogue.Product{ID: "living", Name: "living", Material: c.material, Form: catalogue.Living, Label: catalogue.Label{
			Places: []catalogue.PlaceKind{catalogue.Office}, Pests: []catalogue.PestID{"mealybug"}, Entry: catalogue.Entry{Kind: catalogue.EntryNone, Reason: "a living organism"},
		}}
		a := ask(t, q)
		if !a.Allowed || len(a.Amounts) != 2 || a.Amounts[0].LeastOrganisms != c.least || a.Amounts[0].GreatestOrganisms != c.greatest || !a.Need.IsZero() {
			t.Errorf("%s: %+v, %v", c.material, a.Amounts, a.Words)
		}
		if text := a.Text(newYork); !strings.Contains(text, "organisms") {
			t.Errorf("%s: %s", c.material, text)
		}
	}
}

// 2 groups of 2 pots of 4 L, 12 % of them poured: 960 mL each; a label of 10 000 for a litre of pot gives each 80 000. With a
// tenth in reserve 2112 mL are needed: of eighths of a pack of a million 125 000 in 2.5 L are too few (50 000 a litre, 75 000 at
// least), 250 000 too many (83 333 at most); in 3 L they are right.
func TestMayApply_CountsOrganismsIntoTheMix(t *testing.T) {
	t.Parallel()
	q := question()
	q.Product = catalogue.Product{ID: "nematodes-a", Name: "nematodes", Material: "nematodes-poured", Form: catalogue.Living,
		Packs: []catalogue.Pack{{Name: "pack of a million", Organisms: 1_000_000, Parts: 8}},
		Label: catalogue.Label{
			Places: []catalogue.PlaceKind{catalogue.Office}, Pests: []catalogue.PestID{"mealybug"}, Entry: catalogue.Entry{Kind: catalogue.EntryNone, Reason: "a living organism"},
			MaxPortion: &quantity.PortionRate{Organisms: 10_000, PerPot: volume("1 L")},
		}}
	q.Vessels = []dilution.Vessel{{ID: "can", Name: "can", Capacity: volume("10 L"), Marks: volume("500 mL"), Methods: []catalogue.Method{catalogue.Drench}}}
	a := ask(t, q)
	if !a.Allowed || a.Batch == nil || a.Batch.Organisms != 250_000 || a.Batch.Volume.String() != "3000 mL" {
		t.Fatalf("%+v, %v", a.Batch, a.Words)
	}
	if text := a.Text(newYork); !strings.Contains(text, "with 80 000 organisms at most") || !strings.Contains(text, "250 000 organisms by pack of a million") {
		t.Errorf("%s", text)
	}
	q.Vessels[0].Capacity = volume("2.4 L")
	q.Vessels[0].Marks = volume("100 mL")
	if a := ask(t, q); a.Allowed {
		t.Errorf("no part of a pack fits 2.4 L: %+v", a.Batch)
	}
}

func TestMayApply_SaysWhenItMayBegin(t *testing.T) {
	t.Parallel()
	q := question()
	q.Begins = at(3, "12:00")
	// People until 19:30 on Tuesday; then it is shut until 00:47 at the latest, before anybody comes.
	if a := ask(t, q); a.Next != at(3, "19:30") {
		t.Errorf("next %v, want Tuesday 19:30", a.Next)
	}
	// Another keep-out until 21:00: from then on.
	q.Running = []mayapply.Running{{KeepOut: reentry.KeepOut{Area: "floor", During: civil.Interval{From: at(3, "19:40"), To: at(3, "21:00")}}}}
	if a := ask(t, q); a.Next != at(3, "21:00") {
		t.Errorf("next %v, want Tuesday 21:00", a.Next)
	}
	// The site shuts at 23:00 and the label ends at 21:15: 32 minutes no longer fit; Wednesday after the cleaners.
	q.Product.Label.Hours = []civil.Window{window("06:00", "21:15")}
	if a := ask(t, q); a.Next != at(4, "19:30") {
		t.Errorf("next %v, want Wednesday 19:30", a.Next)
	}
	q.Site.Areas[2].People = civil.Calendar{Always: true}
	if a := ask(t, q); !a.Next.IsZero() {
		t.Errorf("next %v though people are always behind it", a.Next)
	}
}

func TestMayApply_RefusesWhatItCannotUnderstand(t *testing.T) {
	t.Parallel()
	for path, change := range map[string]func(*mayapply.Question){
		"catalogue":         func(q *mayapply.Question) { q.Catalogue = nil },
		"product.material":  func(q *mayapply.Question) { q.Product.Material = "glue" },
		"pest":              func(q *mayapply.Question) { q.Pest = "dragon" },
		"begins":            func(q *mayapply.Question) { q.Begins = 0 },
		"takes":             func(q *mayapply.Question) { q.Takes = 0 },
		"plants":            func(q *mayapply.Question) { q.Plants = nil },
		"plants[0].species": func(q *mayapply.Question) { q.Plants[0].Species = "triffid" },
		"plants[0].area":    func(q *mayapply.Question) { q.Plants[0].Area = "cellar" },
		"plants[0].count":   func(q *mayapply.Question) { q.Plants[0].Count = 0 },
		"plants[1].id":      func(q *mayapply.Question) { q.Plants[1].ID = "pothos-1" },
	} {
		q := question()
		change(&q)
		_, err := mayapply.MayApply(q)
		var invalid *mayapply.InvalidQuestion
		if !errors.As(err, &invalid) || len(invalid.Fields) != 1 || invalid.Fields[0].Path != path || !strings.Contains(err.Error(), path) {
			t.Errorf("%s: %v", path, err)
		}
	}
}

// A drench is 12 % of the pot volume; a liner without drain takes 10 % by the business's policy (assumptions, both): of two
// pots of 4 L that is 960 and 800 mL.
func TestMayApply_ALinerTakesLessThanADrainedPot(t *testing.T) {
	t.Parallel()
	for planter, want := range map[site.Planter]string{site.Drained: "960 mL", site.Liner: "800 mL"} {
		q := question()
		drench(&q)
		q.Plants[0].Planter = planter
		a := ask(t, q)
		if len(a.Amounts) != 2 || !a.Amounts[0].Greatest.Equal(volume(want)) || !a.Amounts[0].Least.Equal(volume(want)) {
			t.Errorf("%s: %+v, want %s", planter, a.Amounts, want)
		}
		q.Policy.LinerDrenchPercent = 0
		if a := ask(t, q); !a.Amounts[0].Greatest.Equal(volume("960 mL")) {
			t.Errorf("%s without a bound: %+v, want 960 mL", planter, a.Amounts)
		}
	}
}

// Work that shuts nobody out may be done in a room that nobody has found dry, once somebody has looked.
func TestMayApply_LooksFirstWhereNobodyFoundItDry(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name      string
		dry, seen bool
		want      bool
	}{{"until dry, and nobody looked", true, false, true}, {"confirmed", true, true, false}, {"no confirmation is asked", false, false, false}} {
		q := question()
		q.Product = catalogue.Product{ID: "hands-a", Name: "by hand", Material: "hands", Form: catalogue.NoSupply}
		q.Running = []mayapply.Running{{
			KeepOut: reentry.KeepOut{Area: "floor", During: civil.Interval{From: at(3, "12:00"), To: at(3, "16:00")}}, UntilDry: c.dry, Confirmed: c.seen,
		}}
		a := ask(t, q)
		asked := slices.ContainsFunc(a.Steps(), func(w mayapply.Word) bool {
			return w.Rule == mayapply.RuleShut && strings.Contains(w.Text, "look first")
		})
		if !a.Allowed || asked != c.want {
			t.Errorf("%s: allowed %v, %v: want it allowed, and to look first: %v", c.name, a.Allowed, a.Words, c.want)
		}
	}
}

// A licence without a last day holds until further notice.
func TestMayApply_ALicenceWithoutAnEndHolds(t *testing.T) {
	t.Parallel()
	q := question()
	q.By.Licences[0].To = civil.Date(0)
	if a := ask(t, q); !a.Allowed {
		t.Errorf("refused: %v", a.Refusals())
	}
}

// drench makes the question one of a drench of the larvicide.
func drench(q *mayapply.Question) {
	q.Product.Material, q.Product.Label.Entry = "larvicide", catalogue.Entry{Kind: catalogue.EntryHours, Hours: 4 * time.Hour}
}
