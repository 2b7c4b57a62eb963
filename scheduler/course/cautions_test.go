package course_test

import (
	"slices"
	"strings"
	"testing"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
)

// remedy is a household remedy that the responsible applicator recorded as lawful, for the cautions that go with it.
func remedy(material catalogue.MaterialID, pest catalogue.PestID) catalogue.Product {
	p := productOf("remedy", material, pest)
	p.Form, p.Registration = catalogue.ReadyToUse, ""
	p.LawfulBecause = map[catalogue.JurisdictionCode]string{"US-PA": "recorded for a test"}
	return p
}

func TestCourse_CautionsStandWhereTheyBelong(t *testing.T) {
	t.Parallel()
	soaped := func() course.Input { return week(officeCase) }
	for _, test := range []struct {
		name  string
		input func() course.Input
		want  string
	}{
		{"bleach", soaped, "Bleach never with alcohol, acid, ammonia or peroxide; a bleach mix lasts 2 hours"},
		{"alcohol burns", func() course.Input {
			in := soaped()
			in.Products = []catalogue.Product{remedy("isopropyl-alcohol", "citrus-mealybug")}
			in.Plants[0].Tolerance = append(in.Plants[0].Tolerance, catalogue.Tolerance{Material: "isopropyl-alcohol", Verdict: catalogue.Stands, Standing: catalogue.OwnRecords})
			in.Sites[0].Agreement.RefusedMethods = []catalogue.Method{catalogue.ByHand}
			return in
		}, "Flammable, also at 35 %"},
		{"peroxide", func() course.Input {
			in := week(lobbyCase)
			in.Products = []catalogue.Product{remedy("hydrogen-peroxide", "fungus-gnat")}
			in.Products[0].Label.Places = []catalogue.PlaceKind{catalogue.Lodging, catalogue.PlantRoom}
			in.Products[0].Label.OpenFlowers = true
			return in
		}, "burns skin and eyes; vented cap"},
		{"floors", soaped, "slippery"},
		{"fish", func() course.Input {
			in := soaped()
			in.Sites[0].Areas[0].Sensitive = []catalogue.Sensitive{catalogue.FishTank}
			in.Products[0].Label.KeepAway[0].Condition = "cover the tank, stop its pump"
			return in
		}, "fish tank in open floor: cover it and stop its pump, or move the plant; fountains and floor drains count as water"},
		{"food", soaped, "no application in food areas unless the label names them"},
		{"eyes", soaped, "Eyes, rinse at once; first aid from the label"},
		{"numbers", soaped, "Label and safety data sheet to hand while mixing, and the business's own numbers for poison and emergency"},
		{"sap", soaped, "The sap of golden pothos (Epipremnum aureum) can irritate skin and eyes: gloves"},
		{"where to mix", soaped, "Never mix, rinse or fill in kitchens, hand basins, toilets or food areas"},
		{"dry plants", soaped, "Not on a dry, wilted, sunlit or just fertilised plant"},
		{"alone", soaped, "Alone after hours: agree on a time of check-in and of check-out; no ladder work alone"},
		{"wards", func() course.Input {
			in := soaped()
			in.Sites[0].Kind = catalogue.HealthCare
			in.Products[0].Label.Places = append(in.Products[0].Label.Places, catalogue.HealthCare)
			return in
		}, "ask the site's responsible person; nothing here guesses"},
		{"estimates", soaped, "An estimate from laboratory figures: look at the plant"},
		{"edible", func() course.Input {
			in := soaped()
			in.Plants[0].Edible, in.Products[0].Label.EdiblePlants = true, true
			return in
		}, "is for eating: the label's days to harvest, or never"},
		{"systemic", figWithScale, "no repotting and no cuttings for others"},
	} {
		c := compute(t, test.input())
		if c.Material == "" || !strings.Contains(strings.Join(c.Cautions, "\n"), test.want) {
			t.Errorf("%s: with %q the cautions do not say %q: %q", test.name, c.Material, test.want, c.Cautions)
		}
		if sorted := slices.Sorted(slices.Values(c.Cautions)); len(slices.Compact(sorted)) != len(c.Cautions) {
			t.Errorf("%s: a caution is said twice: %q", test.name, c.Cautions)
		}
		for _, about := range []string{"outrank everything", "asthma", "ladder", "dry, wilted", "repotting", "Bleach never", "food areas unless"} {
			if n := strings.Count(strings.Join(c.Cautions, "\n"), about); n > 1 {
				t.Errorf("%s: %q is said %d times: %q", test.name, about, n, c.Cautions)
			}
		}
	}
	if c := compute(t, week(homeCase)); len(c.Cautions) != 1 {
		t.Errorf("a suspicion with nothing applied: %q", c.Cautions)
	}
}

func TestCourse_APlantRoomInASchoolIsInASchool(t *testing.T) {
	t.Parallel()
	in := schoolWithMites()
	for i := range in.Sites[2].Areas {
		in.Sites[2].Areas[i].Kind = catalogue.PlantRoom
	}
	in.Products[0].Label.Places = append(in.Products[0].Label.Places, catalogue.PlantRoom)
	advice := compute(t, in).Advice
	if !slices.ContainsFunc(advice, func(s string) bool { return strings.HasPrefix(s, "notice of an application: 72 hours before") }) {
		t.Errorf("advice %q, want the school's 72 hours of notice (Pennsylvania, Act 36 of 2002)", advice)
	}
}
