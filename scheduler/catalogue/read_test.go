package catalogue_test

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"vernation/scheduler/catalogue"
)

func TestLoad_ShippedFiguresAreSoundAndSayHowWellFounded(t *testing.T) {
	t.Parallel()
	c, err := catalogue.Load()
	if err != nil {
		t.Fatal(err)
	}
	counts := map[catalogue.Standing]int{}
	countStandings(reflect.ValueOf(*c), counts)
	total := 0
	for _, standing := range []catalogue.Standing{
		catalogue.Published, catalogue.Secondary, catalogue.CommonPractice, catalogue.Assumption, catalogue.FromMemory, catalogue.OwnRecords,
	} {
		t.Logf("%4d figures %s", counts[standing], standing)
		total += counts[standing]
	}
	t.Logf("%4d figures in all, %d sources, version %s", total, len(c.Sources), c.Version)
	if counts[catalogue.OwnRecords] != 0 {
		t.Error("shipped data holds a business's own records")
	}
	if counts[catalogue.Published] == 0 {
		t.Error("no published figure was counted")
	}
}

// countStandings counts every value that carries a Standing field of its own, wherever it lies.
func countStandings(v reflect.Value, counts map[catalogue.Standing]int) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			countStandings(v.Elem(), counts)
		}
	case reflect.Slice:
		for i := range v.Len() {
			countStandings(v.Index(i), counts)
		}
	case reflect.Map:
		for _, key := range v.MapKeys() {
			countStandings(v.MapIndex(key), counts)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if standing, ok := v.Field(i).Interface().(catalogue.Standing); ok && standing != "" {
				counts[standing]++
				continue
			}
			countStandings(v.Field(i), counts)
		}
	}
}

func TestLoad_EverySourceIsNamedBySomeFigure(t *testing.T) {
	t.Parallel()
	used := map[string]bool{}
	for _, file := range shippedFiles(t) {
		for _, match := range regexp.MustCompile(`source: ([a-z0-9-]+)`).FindAllStringSubmatch(string(file.Data), -1) {
			used[match[1]] = true
		}
	}
	for key := range catalogue.Shipped().Sources {
		if !used[key] {
			t.Errorf("source %q is named by no figure", key)
		}
	}
}

func TestVersion_ChangesWithTheData(t *testing.T) {
	t.Parallel()
	files := shippedFiles(t)
	same, err := catalogue.Read(files)
	if err != nil {
		t.Fatal(err)
	}
	if want := catalogue.Shipped().Version; same.Version != want || len(want) < 16 {
		t.Errorf("version of the same data is %q, want %q", same.Version, want)
	}
	files["pests.yaml"].Data = append(files["pests.yaml"].Data, "# a word more\n"...)
	other, err := catalogue.Read(files)
	if err != nil {
		t.Fatal(err)
	}
	if other.Version == same.Version {
		t.Errorf("version %q though the data differs", other.Version)
	}
}

// Whoever reads the data must not come to believe that a treatment cannot hurt anybody.
func TestData_NeverClaimsHarmlessness(t *testing.T) {
	t.Parallel()
	claim := regexp.MustCompile(`(?i)safe for (children|kids|pets|people|cats|dogs)|child[- ]safe|pet[- ]safe|harmless|non-?\s?toxic`)
	if !claim.MatchString("Non-toxic and SAFE FOR PETS") {
		t.Fatal("the pattern finds no claim where there is one")
	}
	for name, file := range shippedFiles(t) {
		for i, line := range strings.Split(string(file.Data), "\n") {
			if found := claim.FindString(line); found != "" {
				t.Errorf("%s:%d claims %q", name, i+1, found)
			}
		}
	}
}

func shippedFiles(t testing.TB) fstest.MapFS {
	t.Helper()
	files := fstest.MapFS{}
	entries, err := os.ReadDir("data")
	if err != nil {
		t.Fatal(err)
	}
	for _, entry := range entries {
		text, err := os.ReadFile("data/" + entry.Name())
		if err != nil {
			t.Fatal(err)
		}
		files[entry.Name()] = &fstest.MapFile{Data: text}
	}
	return files
}

// An edit replaces the first occurrence of a text in a data file; the mistake it makes is expected on the
// line on which `at` then stands first.
type edit struct{ name, file, old, new, at, want string }

func TestRead_RefusesMistakesByFileAndLine(t *testing.T) {
	t.Parallel()
	for _, tc := range slices.Concat(formEdits, figureEdits, referenceEdits, placeEdits, handlingEdits) {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			files := shippedFiles(t)
			text := string(files[tc.file].Data)
			if !strings.Contains(text, tc.old) {
				t.Fatalf("%s holds no %q to edit", tc.file, tc.old)
			}
			text = strings.Replace(text, tc.old, tc.new, 1)
			files[tc.file].Data = []byte(text)
			before, _, found := strings.Cut(text, tc.at)
			if !found {
				t.Fatalf("%s holds no %q after the edit", tc.file, tc.at)
			}
			place := fmt.Sprintf("%s:%d:", tc.file, 1+strings.Count(before, "\n"))
			c, err := catalogue.Read(files)
			if err == nil || c != nil {
				t.Fatalf("accepted; want an error at %s", place)
			}
			if !slices.ContainsFunc(strings.Split(err.Error(), "\n"), func(line string) bool {
				return strings.HasPrefix(line, place) && strings.Contains(line, tc.want)
			}) {
				t.Errorf("error\n%v\nwant one at %s with %q", err, place, tc.want)
			}
			var mistake *catalogue.DataError
			if !errors.As(err, &mistake) || mistake.Line == 0 || mistake.Column == 0 {
				t.Errorf("error %v carries no place", err)
			}
		})
	}
}

// Mistakes of form: what the reader does not know, or finds twice.
var formEdits = []edit{
	{"syntax", "pests.yaml", "    name: citrus mealybug", "    name: [citrus mealybug", "    scientific: Planococcus", "must be specified"},
	{"unknown field", "pests.yaml", "    scientific: Planococcus citri", "    latin: Planococcus citri", "latin:", `unknown field "latin"`},
	{"key there twice", "species.yaml", "    family: Araceae", "    family: Araceae\n    family: Araceae", "    family: Araceae\n    sap", "family"},
	{"text for a number", "pests.yaml", "k: 378", "k: many", "k: many", ""},
	{"list for a source", "pests.yaml", "source: arai-1996, standing: published, note: \"pre", "source: [arai-1996, liu-qian-bradysia], standing: published, note: \"pre", "source: [arai", ""},
	{"one constant with a source of its own", "pests.yaml", "k: 378, source: arai-1996", "k: 378, k_source: karacaoglu-satar-2017, source: arai-1996", "k_source", `unknown field "k_source"`},
	{"two pests of one id", "pests.yaml", "id: fungus-gnat", "id: citrus-mealybug", "  - id: citrus-mealybug\n    name: fungus", "there twice"},
	{"two stages of one id", "pests.yaml", "id: crawler", "id: egg", "      - id: egg\n        name: crawlers", "there twice"},
	{"two effects on one stage", "materials.yaml", "stage: crawler", "stage: egg", "{pest: citrus-mealybug, stage: egg, reach: reached", "there twice"},
	{"two materials of one id", "materials.yaml", "id: bti-drench", "id: insecticidal-soap", "  - id: insecticidal-soap\n    name: Bti", "there twice"},
	{"two species of one id", "species.yaml", "id: ficus-elastica", "id: ficus-lyrata", "  - id: ficus-lyrata\n    botanical: Ficus elastica", "there twice"},
	{"two jurisdictions of one code", "jurisdictions.yaml", "code: GB", "code: US", "  - code: US\n    name: Great", "there twice"},
	{"source without a citation", "sources.yaml", "  csu-5595:\n    cite:", "  csu-5595:\n    cite: \"\" #", "    cite: \"\" #", "want text"},
	{"address of a whole site", "sources.yaml", "address: https://scalenet.info/references/Arai1996", "address: https://scalenet.info/", "address: https://scalenet.info/", "site_only: true where only the site is known"},
	{"page of which only the site is said to be known", "sources.yaml", "address: https://scalenet.info/references/Arai1996", "address: https://scalenet.info/references/Arai1996\n    site_only: true", "site_only", "want no site_only"},
	{"site without an address", "sources.yaml", "address: https://scalenet.info/references/Arai1996", "site_only: true", "site_only", "no address"},
	{"address without a scheme", "sources.yaml", "address: https://scalenet.info/references/Arai1996", "address: scalenet.info/references/Arai1996", "address: scalenet", "want one that begins with https://"},
	{"no settings", "policy.yaml", "rules:\n", "rules: {}\nrest:\n", "rest:", "unknown field"},
	{"no id", "species.yaml", "  - id: ficus-elastica\n    botanical", "  - botanical", "  - botanical", "no id"},
	{"no cautions", "materials.yaml", "    cautions:\n      - Cards never show mealybugs, scales or mites.\n      - Hang", "    law_note: >\n      - Hang", "- id: sticky-cards", "no cautions"},
	{"nothing unknown is said", "jurisdictions.yaml", "    unknown:\n      - which federal", "    notes:\n      - which federal", "notes:", "unknown field"},
	{"severity that is not described", "pests.yaml", "      2: several colonies", "      4: several colonies", "    severity:", "severity 2 is not described"},
	{"an early stage that lays", "pests.yaml", "habitat: soil\n        feeds: true", "habitat: soil\n        lays: true", "      - id: young-larva", "the last stage lays"},
}

// Mistakes in figures: without source, in no possible unit, out of every range.
var figureEdits = []edit{
	{"published without a source", "pests.yaml", "unit: share, source: polat-2008, standing: published", "unit: share, standing: published", "female_share", "no source"},
	{"secondary without a source", "materials.yaml", "source: yardener-soap, standing: secondary", "standing: secondary", "stage: egg, reach: spared", "no source"},
	{"source that is not listed", "pests.yaml", "source: polat-2008", "source: polat-2009", "source: polat-2009", `unknown source "polat-2009"`},
	{"laying counted without a source", "pests.yaml", "host: Syngonium, source: polat-2008", "host: Syngonium", "host: Syngonium", "no source"},
	{"laying without a count", "pests.yaml", "celsius: 25, eggs: 117.25, host: leek", "celsius: 25, host: leek", "celsius: 25, host: leek", "want eggs of one female, or days of laying"},
	{"laying at one temperature twice", "pests.yaml", "celsius: 25, eggs: 117.25", "celsius: 10, eggs: 117.25", "celsius: 10, eggs: 117.25", "want one for each temperature"},
	{"laying of no possible number", "pests.yaml", "eggs: 117.25", "eggs: -117.25", "eggs: -117.25", "want"},
	{"laying with a word that is none of ours", "pests.yaml", "eggs: 117.25", "young: 117.25", "young: 117.25", "young"},
	{"thermal constants without a source", "pests.yaml", "k: 401, source: arai-1996", "k: 401", "k: 401", "t0 and k come from one work"},
	{"thermal constants of two sources", "pests.yaml", "k: 401, source: arai-1996", "k: 401, source: arai-1996 and karacaoglu-satar-2017", "source: arai-1996 and", "never used with another study's k"},
	{"standing that is no standing", "pests.yaml", "unit: share, standing: assumption", "unit: share, standing: certain", "standing: certain", `standing "certain"`},
	{"no standing", "policy.yaml", "clear_bound: {value: 0.95, unit: share, standing: assumption}", "clear_bound: {value: 0.95, unit: share}", "clear_bound", `standing ""`},
	{"no value", "pests.yaml", "female_share: {value: 0.6, ", "female_share: {", "female_share", "no value"},
	{"no far end", "pests.yaml", "near: 300, far: 600,", "near: 300,", "near: 300", "no far end"},
	{"near end beyond the far end", "pests.yaml", "near: 300, far: 600", "near: 700, far: 600", "near: 700", "beyond the far end"},
	{"impossible unit", "pests.yaml", "unit: eggs", "unit: litres", "unit: litres", `unit "litres": want eggs`},
	{"impossible unit of a setting", "policy.yaml", "unit: looks", "unit: furlongs", "unit: furlongs", `unit "furlongs"`},
	{"price that does not say for what", "policy.yaml", "unit: minor units per visit", "unit: minor units per ", "visit_cost", "unit"},
	{"kill above one", "materials.yaml", "kill: {value: 0.93", "kill: {value: 93", "value: 93", "want 0 to 1"},
	{"kill below nought", "materials.yaml", "kill: {value: 0.93", "kill: {value: -0.1", "value: -0.1", "want 0 to 1"},
	{"kill that is no number", "materials.yaml", "kill: {value: 0.93", "kill: {value: .nan", "value: .nan", "want 0 to 1"},
	{"kill of a spared stage", "materials.yaml", "kill: {value: 0, unit: share, source: yardener-soap", "kill: {value: 0.2, unit: share, source: yardener-soap", "value: 0.2", "spared"},
	{"no development in no time", "pests.yaml", "k: 378", "k: 0", "k: 0", "want"},
	{"temperature of the sun", "pests.yaml", "celsius: 25, days: 7.86", "celsius: 5500, days: 7.86", "celsius: 5500", "want -20 to 60"},
	{"limits turned round", "pests.yaml", "lower_limit: {value: 15", "lower_limit: {value: 35", "lower_limit: {value: 35", "not below the upper limit"},
	{"heights that do not rise", "materials.yaml", "up_to_height_cm: 100", "up_to_height_cm: 50", "up_to_height_cm: 50, millilitres: {near: 200", "want the heights to rise"},
	{"pots that do not grow", "species.yaml", "up_to_pot_ml: 4000", "up_to_pot_ml: 400", "up_to_pot_ml: 400,", "want the pots to grow"},
	{"spray without amounts", "materials.yaml", "method: drench", "method: spot-spray", "- id: bti-drench", "says how much"},
	{"drench without a share", "materials.yaml", "    drench_share:", "    missed_share:", "missed_share: {value: 0.12", ""},
	{"years that nobody keeps", "jurisdictions.yaml", "keep_years: {value: 2,", "keep_years: {value: -2,", "value: -2", "want 0 to 100"},
	{"entry after no unit", "jurisdictions.yaml", "least_hours: {value: 7, unit: hours", "least_hours: {value: 7, unit: days", "least_hours: {value: 7, unit: days", "want hours"},
	{"lead time in days", "jurisdictions.yaml", "lead_hours: {value: 72, unit: hours", "lead_hours: {value: 72, unit: days", "unit: days", "want hours"},
}

// Mistakes in references: to what is not there.
var referenceEdits = []edit{
	{"unknown pest of an effect", "materials.yaml", "{pest: citrus-mealybug, stage: crawler", "{pest: mealybug, stage: crawler", "pest: mealybug", `unknown pest "mealybug": want one of brown-soft-scale, citrus-mealybug, fungus-gnat, `},
	{"unknown stage of an effect", "materials.yaml", "stage: crawler", "stage: nymph", "stage: nymph", `unknown stage "nymph" of citrus-mealybug`},
	{"unknown pest of a ceiling", "materials.yaml", "      citrus-mealybug: {near: 7", "      mealybug: {near: 7", "mealybug: {near: 7", `unknown pest "mealybug"`},
	{"unknown stage of a span", "pests.yaml", "to: older-nymph", "to: nymph", "to: nymph", `unknown stage "nymph"`},
	{"span turned round", "pests.yaml", "- from: crawler\n        to: older-nymph", "- from: older-nymph\n        to: crawler", "- from: older-nymph", "want a later stage"},
	{"unknown material of a tolerance", "species.yaml", "material: insecticidal-soap", "material: soap", "material: soap", `unknown material "soap": want one of bti-drench`},
	{"unknown verdict", "species.yaml", "verdict: patch-test", "verdict: perhaps", "verdict: perhaps", `unknown verdict "perhaps"`},
	{"unknown method", "materials.yaml", "method: trap", "method: magic", "method: magic", `unknown method "magic"`},
	{"unknown standing in law", "materials.yaml", "law: physical-work", "law: fine", "law: fine", `unknown standing in law "fine"`},
	{"household remedy without a reason", "materials.yaml", "    law: physical-work", "    law: household-remedy", "- id: removal-by-hand", "says by which rule or why"},
	{"unknown reach", "materials.yaml", "reach: partly", "reach: mostly", "reach: mostly", `unknown reach "mostly"`},
	{"unknown habitat", "pests.yaml", "habitat: air", "habitat: attic", "habitat: attic", `unknown habitat "attic"`},
	{"unknown extent", "policy.yaml", "[spot, spot, whole, neighbours]", "[spot, spot, all, neighbours]", "all, neighbours", `unknown extent "all": want one of spot, whole, touching, neighbours`},
	{"severity without an extent", "policy.yaml", "[spot, spot, whole, neighbours]", "[spot, whole, neighbours]", "extents:", "want one for each severity"},
	{"unknown kind of place", "jurisdictions.yaml", "covers: [outdoors]", "covers: [garden]", "covers: [garden]", `unknown kind of place "garden"`},
	{"unknown jurisdiction around", "jurisdictions.yaml", "within: US", "within: USA", "within: USA", `unknown jurisdiction "USA"`},
	{"jurisdiction within itself", "jurisdictions.yaml", "within: US", "within: US-PA", "within: US-PA", "lies within itself"},
	{"group without a standing", "materials.yaml", "    mode_of_action_standing: from-memory\n", "", "mode_of_action: 11A", "stand together"},
	{"supervision without a standing", "jurisdictions.yaml", "    supervision_standing: published\n", "", "    supervision: ", "stand together"},
	{"supervision without a source", "jurisdictions.yaml", "    supervision_source: psu-technician-2017\n", "", "    supervision: ", "no source"},
	{"ratio without a convention", "materials.yaml", "convention: added to", "convention: parts", "convention: parts", `unknown convention "parts": want one of made up to, added to`},
}

func TestRead_NamesAFileThatIsMissingOrEmpty(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"sources.yaml", "pests.yaml", "materials.yaml", "species.yaml", "jurisdictions.yaml", "policy.yaml"} {
		files := shippedFiles(t)
		delete(files, name)
		if _, err := catalogue.Read(files); err == nil || !strings.Contains(err.Error(), name+": ") || !errors.Is(err, fs.ErrNotExist) && !strings.Contains(err.Error(), "does not exist") {
			t.Errorf("without %s: %v", name, err)
		}
		files[name] = &fstest.MapFile{}
		if _, err := catalogue.Read(files); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("with an empty %s: %v", name, err)
		}
	}
}

func TestRead_NamesEveryMistakeAtOnce(t *testing.T) {
	t.Parallel()
	files := shippedFiles(t)
	for name, change := range map[string][2]string{
		"pests.yaml": {"unit: eggs", "unit: litres"}, "materials.yaml": {"method: trap", "method: magic"}, "species.yaml": {"verdict: patch-test", "verdict: perhaps"},
	} {
		files[name].Data = []byte(strings.Replace(string(files[name].Data), change[0], change[1], 1))
	}
	_, err := catalogue.Read(files)
	for _, want := range []string{"litres", "magic", "perhaps"} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error names no %q: %v", want, err)
		}
	}
}

func FuzzRead_NeverPanics(f *testing.F) {
	files := shippedFiles(f)
	for name, file := range files {
		f.Add(name, file.Data)
	}
	f.Add("pests.yaml", []byte("pests: [{id: a, stages: [&x {id: egg}, *x]}]"))
	f.Add("policy.yaml", []byte("? [a]\n: b\n"))
	f.Fuzz(func(t *testing.T, name string, text []byte) {
		broken := fstest.MapFS{}
		for known, file := range files {
			broken[known] = file
		}
		broken[name] = &fstest.MapFile{Data: text}
		if c, err := catalogue.Read(broken); (c == nil) == (err == nil) {
			t.Errorf("catalogue %v with error %v", c, err)
		}
	})
}
