package load_test

import (
	"os"
	"strings"
	"testing"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/site"
	"vernation/server/internal/load"
)

const demoFile = "../../../testdata/demo.yaml"

func demo(t *testing.T) string {
	t.Helper()
	text, err := os.ReadFile(demoFile)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

func TestRead_DemoBusinessHasItsSitesAreasAndPlants(t *testing.T) {
	t.Parallel()
	file, err := load.Read("demo.yaml", []byte(demo(t)))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := file.Firm(); err != nil {
		t.Fatal(err)
	}
	areas, kinds, species := 0, map[catalogue.PlaceKind]bool{}, map[catalogue.SpeciesID]bool{}
	for _, s := range file.Sites {
		areas += len(s.Areas)
		kinds[s.Kind] = true
		for _, wrong := range s.Validate(catalogue.Shipped()) {
			t.Errorf("%s: %s: %s", s.ID, wrong.Path, wrong.Text)
		}
	}
	for _, p := range file.Plants {
		species[p.Species] = true
		for _, wrong := range p.Validate(catalogue.Shipped()) {
			t.Errorf("%s: %s: %s", p.ID, wrong.Path, wrong.Text)
		}
	}
	for _, p := range file.Products {
		for _, wrong := range p.Validate(catalogue.Shipped()) {
			t.Errorf("%s: %s: %s", p.ID, wrong.Path, wrong.Text)
		}
	}
	if len(file.Sites) != 8 || areas != 30 || len(file.Plants) != 150 || len(species) != 12 || len(file.Crew) != 2 || len(kinds) != 8 {
		t.Errorf("sites %d, areas %d, plants %d, species %d, technicians %d, kinds of place %d: want 8, 30, 150, 12, 2, 8",
			len(file.Sites), areas, len(file.Plants), len(species), len(file.Crew), len(kinds))
	}
}

func TestRead_HumidityOfAnAreaIsReadAndUnsetIsUnknown(t *testing.T) {
	t.Parallel()
	const climate = "climate: [{coldest: 18, usual: 21, warmest: 24}]"
	text := strings.Replace(demo(t), climate, climate+"\n        humidity: {least: 25, usual: 40, greatest: 60}", 1)
	file, err := load.Read("demo.yaml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	known := 0
	for _, s := range file.Sites {
		for _, area := range s.Areas {
			if area.Humidity == nil {
				continue
			}
			if known++; *area.Humidity != (site.Humidity{Least: 25, Usual: 40, Greatest: 60}) {
				t.Errorf("%s: %+v", area.ID, *area.Humidity)
			}
		}
	}
	if known != 1 {
		t.Errorf("the humidity of %d areas is known, want that of one", known)
	}
}

func TestRead_AMistakeNamesFileLineAndField(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, old, new string
		want           []string
	}{
		{"an unknown field", "    client: client-hotel", "    clyent: client-hotel", []string{"demo.yaml:", "clyent"}},
		{"a volume without whose unit", "capacity: 128 US fl oz", "capacity: 128 fl oz", []string{"demo.yaml:", "fl oz"}},
		{"a clock that does not exist", `opens: "07:30"`, `opens: "07:75"`, []string{"demo.yaml:", "07:75"}},
		{"a zone that does not exist", "    zone: America/New_York\n    jurisdiction", "    zone: America/Old_York\n    jurisdiction", []string{"demo.yaml:", "America/Old_York"}},
		{"text where a number stands", "count: 5", "count: five", []string{"demo.yaml:", "count"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			text := demo(t)
			if !strings.Contains(text, c.old) {
				t.Fatalf("the demo file holds no %q", c.old)
			}
			line := 1 + strings.Count(text[:strings.Index(text, c.old)], "\n")
			_, err := load.Read("demo.yaml", []byte(strings.Replace(text, c.old, c.new, 1)))
			if err == nil {
				t.Fatal("the mistake was not seen")
			}
			for _, want := range c.want {
				if !strings.Contains(err.Error(), want) {
					t.Errorf("%q does not name %q", err, want)
				}
			}
			if !strings.Contains(err.Error(), "demo.yaml:"+itoa(line)) && !strings.Contains(err.Error(), "demo.yaml:"+itoa(line+strings.Count(c.old, "\n"))) {
				t.Errorf("%q does not name line %d", err, line)
			}
		})
	}
}

func itoa(n int) string {
	digits := ""
	for ; n > 0; n /= 10 {
		digits = string(rune('0'+n%10)) + digits
	}
	return digits
}

func TestRead_ABusinessMapsSeverityToExtentByItsOwnPolicy(t *testing.T) {
	t.Parallel()
	text := strings.Replace(demo(t), "\nclients:", "\npolicy: {extent_by_severity: [spot, whole, whole, removal]}\nclients:", 1)
	file, err := load.Read("demo.yaml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	business, err := file.Firm()
	if err != nil {
		t.Fatal(err)
	}
	want := [4]catalogue.Extent{catalogue.ExtentSpot, catalogue.ExtentWhole, catalogue.ExtentWhole, catalogue.ExtentRemoval}
	if business.Policy.ExtentBySeverity != want || business.Policy.ClearBound != 0.95 {
		t.Errorf("policy %+v, want %v beside the defaults", business.Policy, want)
	}
}
