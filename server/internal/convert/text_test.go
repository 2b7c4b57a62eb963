package convert_test

import (
	"errors"
	"slices"
	"testing"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/convert"
	"vernation/server/internal/fault"
)

// Texts that have the form that the contract asks for, and still cannot be read.
func TestTexts_ThatCannotBeReadAreSaidAllAtOnceByPath(t *testing.T) {
	t.Parallel()
	window := &vernationv1.Window{Opens: "07:00", Closes: "39:99"}
	_, err := convert.SiteFrom("site", "s", &vernationv1.Site{
		TimeZone: "Europe/Atlantis",
		Access: &vernationv1.Calendar{
			Weekly:     []*vernationv1.WeeklyWindow{{Window: window}},
			Exceptions: []*vernationv1.DatedException{{On: "2026-03-02"}, {On: "2026-02-30"}},
		},
		Areas:     []*vernationv1.Area{{}, {TreatmentPlace: &vernationv1.TreatmentPlace{Hours: &vernationv1.Calendar{Weekly: []*vernationv1.WeeklyWindow{{Window: window}}}}}},
		Agreement: &vernationv1.Agreement{Consents: []*vernationv1.Consent{{FromOn: "2026-02-29", ToOn: "2026-04-31"}}},
	})
	wantFields(t, err, map[string]string{
		"site.time_zone":                                              "UNKNOWN_TIME_ZONE",
		"site.access.weekly[0].window.closes":                         "CLOCK_FORM",
		"site.access.exceptions[1].on":                                "DATE_FORM",
		"site.areas[1].treatment_place.hours.weekly[0].window.closes": "CLOCK_FORM",
		"site.agreement.consents[0].from_on":                          "DATE_FORM",
		"site.agreement.consents[0].to_on":                            "DATE_FORM",
	})
	_, _, err = convert.PlantFrom("plant", "p", &vernationv1.Plant{
		PotVolume: "3 gal", Services: []*vernationv1.Service{{LastOn: "2026-13-01"}},
	})
	wantFields(t, err, map[string]string{"plant.pot_volume": "VOLUME_FORM", "plant.services[0].last_on": "DATE_FORM"})
	_, err = convert.ProductFrom("product", "p", &vernationv1.Product{
		Label:         &vernationv1.Label{MinRate: &vernationv1.Rate{Concentrate: "1 oz"}, MaxRate: &vernationv1.Rate{Per: "1/0 mL"}, Hours: []*vernationv1.Window{window}},
		LawfulBecause: []*vernationv1.LawfulBecause{{Jurisdiction: "GB"}, {Jurisdiction: "GB"}},
	})
	wantFields(t, err, map[string]string{
		"product.label.min_rate.concentrate":     "VOLUME_FORM",
		"product.label.max_rate.per":             "VOLUME_FORM",
		"product.label.hours[0].closes":          "CLOCK_FORM",
		"product.lawful_because[1].jurisdiction": "DUPLICATE",
	})
}

// wantFields asks for exactly these wrong fields, by path, with their reasons.
func wantFields(t *testing.T, err error, want map[string]string) {
	t.Helper()
	var wrong *fault.Fault
	if !errors.As(err, &wrong) || wrong.Kind != fault.Invalid {
		t.Fatalf("error %v, want an invalid one", err)
	}
	for _, field := range wrong.Fields {
		if want[field.Path] != field.Reason || field.Text == "" {
			t.Errorf("%s: %s (%q), want %q", field.Path, field.Reason, field.Text, want[field.Path])
		}
	}
	for path := range want {
		if !slices.ContainsFunc(wrong.Fields, func(f fieldError) bool { return f.Path == path }) {
			t.Errorf("%s is not among the wrong fields", path)
		}
	}
}
