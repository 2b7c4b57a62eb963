package reentry_test

import (
	"errors"
	"testing"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/reentry"
	"vernation/scheduler/site"
)

// school is one in Pennsylvania with a plant room, and an office building with a child care room in it.
func school() site.Site {
	return site.Site{ID: "school", Jurisdiction: "US-PA", Kind: catalogue.School, Areas: []site.Area{{ID: "class"}, {ID: "plant-room", Kind: catalogue.PlantRoom}}}
}

func officeWithChildCare() site.Site {
	return site.Site{ID: "office", Jurisdiction: "US-PA", Kind: catalogue.Office, Areas: []site.Area{{ID: "floor"}, {ID: "child-care", Kind: catalogue.School}}}
}

// TestNeeded_IsTheLabelsOrTheLawsWhicheverIsLonger: Pennsylvania Act 36 of 2002 asks for seven hours before pupils come back.
// The three hours until dry and the factor of one and a half are the business's, assumptions both of them.
func TestNeeded_IsTheLabelsOrTheLawsWhicheverIsLonger(t *testing.T) {
	t.Parallel()
	const h = time.Hour
	policy := reentry.Policy{UntilDry: map[catalogue.Method]time.Duration{catalogue.WholePlantSpray: 3 * h}, UnventilatedFactorPercent: 150}
	of := func(material catalogue.MaterialID, entry catalogue.Entry) catalogue.Product {
		return catalogue.Product{Material: material, Form: catalogue.Concentrate, Label: catalogue.Label{Entry: entry}}
	}
	dry, none := catalogue.Entry{Kind: catalogue.EntryUntilDry}, catalogue.Entry{Kind: catalogue.EntryNone, Reason: "poured into the soil"}
	hours := func(n int) catalogue.Entry {
		return catalogue.Entry{Kind: catalogue.EntryHours, Hours: time.Duration(n) * h}
	}
	for _, c := range []struct {
		name           string
		site           site.Site
		area           site.AreaID
		product        catalogue.Product
		aired, unaired time.Duration
		byLaw, unknown bool
	}{
		{"until dry in an office", officeWithChildCare(), "floor", of("horticultural-oil", dry), 3 * h, 4*h + h/2, false, false},
		// It works only while it is wet: the air is kept off it.
		{"soap, which must dry slowly", officeWithChildCare(), "floor", of("insecticidal-soap", dry), 4*h + h/2, 4*h + h/2, false, false},
		{"a room of another kind in an office", officeWithChildCare(), "child-care", of("insecticidal-soap", dry), 7 * h, 7 * h, true, false},
		{"a plant room in a school is in a school", school(), "plant-room", of("insecticidal-soap", dry), 7 * h, 7 * h, true, false},
		{"a label that needs none", school(), "class", of("bti-drench", none), 7 * h, 7 * h, true, false},
		{"a longer label", school(), "class", of("insecticidal-soap", hours(12)), 12 * h, 12 * h, false, false},
		{"an area that the site does not know", school(), "attic", of("insecticidal-soap", dry), 7 * h, 7 * h, true, false},
		{"work without a supply", school(), "class", catalogue.Product{Material: "removal-by-hand", Form: catalogue.NoSupply}, 0, 0, false, false},
		{"an organism, of which the law does not speak", school(), "class", catalogue.Product{Material: "steinernema-feltiae", Form: catalogue.Living, Label: catalogue.Label{Entry: none}}, 0, 0, false, false},
		{"a label that is not known", school(), "class", of("insecticidal-soap", catalogue.Entry{}), 0, 0, false, true},
	} {
		if _, known := catalogue.Shipped().Materials[c.product.Material]; !known {
			t.Fatalf("%s: the catalogue has no %s", c.name, c.product.Material)
		}
		term, err := reentry.Needed(catalogue.Shipped(), policy, c.site, c.area, c.product)
		if errors.Is(err, reentry.ErrUnknown) != c.unknown || term.KeepOut != c.aired || term.Unventilated != c.unaired || (term.Law != "") != c.byLaw || (term.Least == 7*h) != c.byLaw {
			t.Errorf("%s: %+v, %v, want %v and %v, by law %v", c.name, term, err, c.aired, c.unaired, c.byLaw)
		}
	}
}

func TestLeastAtSite_IsTheLongestOfItsAreas(t *testing.T) {
	t.Parallel()
	plain := officeWithChildCare()
	plain.Areas = plain.Areas[:1]
	for want, s := range map[time.Duration]site.Site{7 * time.Hour: officeWithChildCare(), 0: plain} {
		if got := reentry.LeastAtSite(catalogue.Shipped(), s); got != want {
			t.Errorf("%s with %d areas: %v, want %v", s.ID, len(s.Areas), got, want)
		}
	}
}
