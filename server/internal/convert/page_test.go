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
