package catalogue_test

import (
	"maps"
	"math"
	"regexp"
	"slices"
	"testing"

	"vernation/scheduler/catalogue"
)

func TestSpecies_AreManyAndNamed(t *testing.T) {
	t.Parallel()
	species := catalogue.Shipped().Species
	if len(species) < 40 {
		t.Errorf("%d species, want at least 40 common indoor plants", len(species))
	}
	binomial := regexp.MustCompile(`^\p{Lu}\p{Ll}+ (× )?\p{L}+`)
	names := map[string]catalogue.SpeciesID{}
	for _, id := range slices.Sorted(maps.Keys(species)) {
		s := species[id]
		if !binomial.MatchString(s.Botanical) {
			t.Errorf("%s: %q is no botanical name", id, s.Botanical)
		}
		if !regexp.MustCompile(`(aceae)$`).MatchString(s.Family) {
			t.Errorf("%s: %q is no family", id, s.Family)
		}
		for _, name := range []string{s.Botanical, s.Common} {
			if other, twice := names[name]; twice {
				t.Errorf("%s and %s are both called %q", other, id, name)
			}
			names[name] = id
		}
	}
}

func TestTolerance_PublishedLists(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		species catalogue.SpeciesID
		soap    catalogue.Verdict
		source  string
	}{
		{"adiantum-raddianum", catalogue.MustNot, "extension agent's list: maidenhair fern"},
		{"euphorbia-milii", catalogue.MustNot, "extension agent's list: crown of thorns"},
		{"gardenia-jasminoides", catalogue.MustNot, "extension agent's list: gardenia"},
		{"rhododendron-simsii", catalogue.PatchTest, "extension agent's list, somewhat: azalea"},
		{"begonia-rex", catalogue.PatchTest, "extension agent's list, somewhat: begonia"},
		{"crassula-ovata", catalogue.PatchTest, "garden pages: jade"},
		{"nephrolepis-exaltata", catalogue.PatchTest, "garden pages: ferns"},
		{"howea-forsteriana", catalogue.PatchTest, "garden pages: palms"},
		{"schefflera-arboricola", catalogue.PatchTest, "garden pages: schefflera"},
		{"dieffenbachia-seguine", catalogue.PatchTest, "garden pages: dieffenbachia"},
		{"euphorbia-pulcherrima", catalogue.MustNot, "garden page: not on poinsettias in colour"},
	} {
		got := catalogue.Shipped().Tolerance(tc.species, "insecticidal-soap")
		if got.Verdict != tc.soap || got.Standing != catalogue.Secondary || got.Source == "" {
			t.Errorf("soap on %s: %+v, want %s (%s)", tc.species, got, tc.soap, tc.source)
		}
	}
}

func TestTolerance_ListsForOtherMaterials(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		species  catalogue.SpeciesID
		material catalogue.MaterialID
		want     catalogue.Verdict
		source   string
	}{
		{"rhododendron-simsii", "horticultural-oil", catalogue.MustNot, "University of Delaware: azalea among the oil-sensitive"},
		{"hibiscus-rosa-sinensis", "horticultural-oil", catalogue.PatchTest, "garden pages: hibiscus"},
		{"hibiscus-rosa-sinensis", "neem-azadirachtin", catalogue.PatchTest, "garden pages: hibiscus"},
		{"saintpaulia-ionantha", "neem-azadirachtin", catalogue.MustNot, "garden pages: hairy leaves"},
		{"saintpaulia-ionantha", "isopropyl-alcohol", catalogue.MustNot, "plant pages: African violet"},
		{"nephrolepis-exaltata", "isopropyl-alcohol", catalogue.MustNot, "plant pages: ferns"},
		{"phalaenopsis-amabilis", "isopropyl-alcohol", catalogue.PatchTest, "plant pages: Phalaenopsis"},
		{"maranta-leuconeura", "isopropyl-alcohol", catalogue.PatchTest, "page on household chemicals: maranta, calathea, dracaena"},
		{"dracaena-fragrans", "isopropyl-alcohol-wipe", catalogue.PatchTest, "page on household chemicals: maranta, calathea, dracaena"},
	} {
		got := catalogue.Shipped().Tolerance(tc.species, tc.material)
		if got.Verdict != tc.want || got.Standing != catalogue.Secondary || got.Source == "" {
			t.Errorf("%s on %s: %+v, want %s (%s)", tc.material, tc.species, got, tc.want, tc.source)
		}
	}
	// From memory only: palms, ferns and African violet among the plants that oils harm indoors.
	for species, want := range map[catalogue.SpeciesID]catalogue.Verdict{
		"howea-forsteriana": catalogue.PatchTest, "asplenium-nidus": catalogue.PatchTest, "saintpaulia-ionantha": catalogue.MustNot,
	} {
		if got := catalogue.Shipped().Tolerance(species, "horticultural-oil"); got.Verdict != want || got.Standing != catalogue.FromMemory {
			t.Errorf("oil on %s: %+v, want %s from memory", species, got, want)
		}
	}
}

// Nothing that is put on a leaf is taken to be stood by a species that nobody tried it on.
func TestTolerance_UnknownNeverMeansStands(t *testing.T) {
	t.Parallel()
	c := catalogue.Shipped()
	for _, species := range slices.Sorted(maps.Keys(c.Species)) {
		for id, material := range c.Materials {
			got := c.Tolerance(species, id)
			if got.Standing == "" {
				t.Errorf("%s and %s: no standing", species, id)
			}
			said := material.Tolerated != nil || slices.ContainsFunc(c.Species[species].Tolerance, func(t catalogue.Tolerance) bool { return t.Material == id })
			if !said && (got.Verdict != catalogue.PatchTest || got.Standing != catalogue.Assumption) {
				t.Errorf("%s and %s: %+v, though nothing is said of them", species, id, got)
			}
		}
	}
}

func TestSap_IrritatesInWholeGroups(t *testing.T) {
	t.Parallel()
	c := catalogue.Shipped()
	// Botanical Dermatology Database, by family; figs by a textbook of horticulture and on the cautious side.
	families := map[string]bool{"Araceae": true, "Araliaceae": true, "Euphorbiaceae": true, "Moraceae": true}
	for id, s := range c.Species {
		if families[s.Family] && !s.SapIrritates {
			t.Errorf("%s: the sap of %s is not said to irritate", id, s.Family)
		}
		if s.SapIrritates != (s.SapStanding != "") {
			t.Errorf("%s: who says that the sap irritates? %q", id, s.SapStanding)
		}
	}
	// Children's Hospital of Philadelphia, plants that irritate: devil's ivy, dieffenbachia, mother-in-law's tongue,
	// philodendron, peace lily, caladium.
	for _, id := range []catalogue.SpeciesID{"epipremnum-aureum", "dieffenbachia-seguine", "dracaena-trifasciata", "philodendron-hederaceum", "spathiphyllum-wallisii", "caladium-bicolor"} {
		if s := c.Species[id]; s.SapSource != "chop-irritants" || s.SapStanding != catalogue.Published {
			t.Errorf("%s: %q, %q", id, s.SapSource, s.SapStanding)
		}
	}
}

func TestReplacement_IsTheBaseTimesThePercentage(t *testing.T) {
	t.Parallel()
	c := catalogue.Shipped()
	for _, tc := range []struct {
		species catalogue.SpeciesID
		minor   []float64 // by pots up to 1, 4, 10, 25, 60 and 200 litres
	}{
		{"epipremnum-aureum", []float64{1200, 3200, 7500, 18000, 45000, 120000}},    // 100 %: the base itself
		{"howea-forsteriana", []float64{2600, 7000, 16500, 39600, 99000, 264000}},   // 220 %: 2640 and 7040 to whole units
		{"nephrolepis-exaltata", []float64{1100, 2900, 6800, 16200, 40500, 108000}}, // 90 %: 6750 halves to the even 68
	} {
		sizes := c.Species[tc.species].ReplacementBySize
		for i, size := range sizes {
			if i >= len(tc.minor) || size.Minor.Value != tc.minor[i] || size.Minor.Standing != catalogue.Assumption {
				t.Errorf("%s up to %d mL: %+v, want %v", tc.species, size.UpToPotML, size.Minor, tc.minor)
			}
		}
	}
	for id, s := range c.Species {
		for i, size := range s.ReplacementBySize {
			if size.Minor.Unit != catalogue.UnitMinor || math.Mod(size.Minor.Value, 100) != 0 || i > 0 && size.Minor.Value <= s.ReplacementBySize[i-1].Minor.Value {
				t.Errorf("%s up to %d mL: %+v", id, size.UpToPotML, size.Minor)
			}
		}
	}
}

// A species may bring values of its own instead.
func TestReplacement_OfItsOwnComesBeforeTheBase(t *testing.T) {
	t.Parallel()
	files := shippedFiles(t)
	files["species.yaml"].Data = append(files["species.yaml"].Data, `
  - id: of-its-own
    botanical: Ficus propria
    common: a fig with its own price
    family: Moraceae
    replacement_percent: {value: 100, unit: percent, standing: assumption}
    replacement_by_size:
      - {up_to_pot_ml: 5000, minor: {value: 12345, unit: minor units, standing: assumption}}
`...)
	c, err := catalogue.Read(files)
	if err != nil {
		t.Fatal(err)
	}
	if sizes := c.Species["of-its-own"].ReplacementBySize; len(sizes) != 1 || sizes[0].Minor.Value != 12345 {
		t.Errorf("%+v", sizes)
	}
}

// Mistakes in species and jurisdictions; TestRead_RefusesMistakesByFileAndLine makes each.
var placeEdits = []edit{
	{"sap without a standing", "species.yaml", "    sap_standing: published\n", "", "    sap_irritates: true", "stand together"},
	{"sap of an unknown source", "species.yaml", "sap_source: chop-irritants", "sap_source: hearsay", "    sap_irritates: true", `unknown source "hearsay"`},
	{"percentage in no unit", "species.yaml", "replacement_percent: {value: 100, unit: percent", "replacement_percent: {value: 100, unit: share", "unit: share", "want percent"},
	{"no price beside the base", "species.yaml", "replacement_percent: {value: 100, ", "replacement_percent: {", "replacement_percent: {unit", "no value"},
	{"no base prices", "species.yaml", "replacement_base:\n", "replacement_base: []\nbase:\n", "base:\n  -", "unknown field"},
	{"unknown kind of supervision", "jurisdictions.yaml", "kind: within-reach", "kind: by-telephone", "kind: by-telephone", `unknown kind of supervision "by-telephone": want one of own-licence`},
	{"supervision that its rules do not give", "jurisdictions.yaml", "kind: within-reach", "kind: own-licence", "    supervision_rules:", "lets somebody apply under another's licence"},
	{"supervision rule without a source", "jurisdictions.yaml", "source: pa-code-128-2, standing: assumption}", "standing: published}", "- {who: registered technician", "no source"},
	{"elements without a source", "jurisdictions.yaml", "      elements_source: cfr-40-171-303\n", "", "      elements:", "no source"},
	{"letters in inches", "jurisdictions.yaml", "letter_height: {value: 12.7, unit: millimetres", "letter_height: {value: 12.7, unit: inches", "unit: inches", "want millimetres"},
	{"sign at no place", "jurisdictions.yaml", "      - places: [office, home]\n        text: \"Written", "      - places: []\n        text: \"Written", "places: []", "no kinds of place"},
	{"sign that stays a negative time", "jurisdictions.yaml", "stays_hours: {value: 48", "stays_hours: {value: -48", "value: -48", "want 0 to"},
	{"sign without a source", "jurisdictions.yaml", "        source: ak-46-03-320\n", "", "      - places: [office, home]", "no source"},
	{"duty without words", "jurisdictions.yaml", "- {text: \"A technician is 16", "- {text: \"\", source: pa-code-128-52, standing: published}\n      - {text: \"A technician is 16", "- {text: \"\"", "want text"},
	{"category of toxicity missing", "jurisdictions.yaml", "category: IV,", "category: III,", "entry_defaults:", "no interval for category IV"},
	{"unknown category of toxicity", "jurisdictions.yaml", "category: IV,", "category: V,", "category: V,", `unknown category of toxicity "V"`},
	{"worse category entered sooner", "jurisdictions.yaml", "category: I, interval: {value: 48", "category: I, interval: {value: 8", "entry_defaults:", "category II is shut longer than the worse I"},
	{"entry default in days", "jurisdictions.yaml", "category: II, interval: {value: 24, unit: hours", "category: II, interval: {value: 24, unit: days", "category: II,", "want hours"},
}
