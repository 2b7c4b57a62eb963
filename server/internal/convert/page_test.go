package convert_test

import (
	"testing"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/convert"
	"vernation/server/internal/fault"
)

func TestPageToken_HoldsForItsQuestionOnly(t *testing.T) {
	t.Parallel()
	asked := &vernationv1.ListPlantsRequest{Parent: "businesses/alpha", Site: "businesses/alpha/sites/s", PageSize: 10}
	token := convert.NextPage(asked, "plant-10")
	for _, c := range []struct {
		name string
		ask  convert.Paged
		want string // "" is refused
	}{
		{"the same question", &vernationv1.ListPlantsRequest{Parent: asked.Parent, Site: asked.Site, PageSize: 10, PageToken: token}, "plant-10"},
		{"another size", &vernationv1.ListPlantsRequest{Parent: asked.Parent, Site: asked.Site, PageSize: 3, PageToken: token}, "plant-10"},
		{"another parent", &vernationv1.ListPlantsRequest{Parent: "businesses/beta", Site: asked.Site, PageToken: token}, ""},
		{"another filter", &vernationv1.ListPlantsRequest{Parent: asked.Parent, PageToken: token}, ""},
		{"another method", &vernationv1.ListCasesRequest{Parent: asked.Parent, Site: asked.Site, PageToken: token}, ""},
		{"no token of ours", &vernationv1.ListPlantsRequest{Parent: asked.Parent, Site: asked.Site, PageToken: "cGFnZSAy"}, ""},
		{"no base64", &vernationv1.ListPlantsRequest{Parent: asked.Parent, Site: asked.Site, PageToken: "page 2"}, ""},
	} {
		after, err := convert.PageAfter(c.ask)
		if c.want != "" && (err != nil || after != c.want) {
			t.Errorf("%s: %q, %v, want %q", c.name, after, err, c.want)
		}
		if c.want == "" && !fault.Is(err, fault.Invalid) {
			t.Errorf("%s: %q, %v, want an invalid one", c.name, after, err)
		}
	}
	if after, err := convert.PageAfter(&vernationv1.ListPlantsRequest{}); after != "" || err != nil {
		t.Errorf("the first page begins after %q, %v", after, err)
	}
	if size := convert.PageSize(&vernationv1.ListPlantsRequest{}); size != 50 {
		t.Errorf("an unset size is %d, want 50", size)
	}
}

// Whatever a caller sends as a token is the key of a page of the same question, or refused; nothing panics.
func FuzzPageAfter(f *testing.F) {
	asked := &vernationv1.ListSitesRequest{Parent: "businesses/alpha"}
	for _, seed := range []string{"", "x", "AAAA", "=", convert.NextPage(asked, "site-1"), convert.NextPage(asked, "")} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, token string) {
		ask := &vernationv1.ListSitesRequest{Parent: asked.GetParent(), PageToken: token}
		after, err := convert.PageAfter(ask)
		switch {
		case err != nil && !fault.Is(err, fault.Invalid):
			t.Errorf("%q: %v, want it read or invalid", token, err)
		case err == nil && token != "":
			if again, err := convert.PageAfter(&vernationv1.ListSitesRequest{Parent: asked.GetParent(), PageToken: convert.NextPage(asked, after)}); err != nil || again != after {
				t.Errorf("%q holds %q, which comes back as %q, %v", token, after, again, err)
			}
		}
	})
}

// Whatever text stands in a plant's pot volume or a service's day, reading it gives a value or a field with its path.
func FuzzPlantFrom(f *testing.F) {
	for _, seed := range [][2]string{{"4 L", "2026-03-02"}, {"", ""}, {"1/0 mL", "2026-02-30"}, {"5/8 US fl oz", "9999-12-31"}, {"-1 L", "x"}} {
		f.Add(seed[0], seed[1])
	}
	f.Fuzz(func(t *testing.T, volume, day string) {
		_, _, err := convert.PlantFrom("plant", "p", &vernationv1.Plant{PotVolume: volume, Services: []*vernationv1.Service{{LastOn: day}}})
		if err == nil {
			return
		}
		for _, field := range fault.Of(err).Fields {
			if field.Path != "plant.pot_volume" && field.Path != "plant.services[0].last_on" {
				t.Errorf("%q, %q: wrong field %+v", volume, day, field)
			}
		}
	})
}
