package casework

import (
	"fmt"
	"slices"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/civil"
)

// agreed: something that the client refuses, or that the client is to be asked before and did not consent to.
func (t *telling) agreed(a application) {
	agreement, method := t.site.Agreement, a.material.Method
	if slices.Contains(agreement.RefusedMaterials, a.material.ID) {
		t.breach(a, scheduler.RuleAccess, "%s was applied; the client refuses %s", a.product.Name, a.material.Name)
	}
	if slices.Contains(agreement.RefusedMethods, method) {
		t.breach(a, scheduler.RuleAccess, "%s was applied; the client refuses the method %s", a.product.Name, plain(method))
	}
	if !t.consented(a) {
		t.breach(a, scheduler.RuleAccess, "%s was applied without the client's consent, which the agreement asks for before each %s", a.product.Name, plain(method))
	}
}

// accessTime: at the site outside its access windows.
func (t *telling) accessTime() {
	stay := civil.Interval{From: t.report.Arrived, To: max(t.report.Left, t.report.Arrived+1)}
	for _, run := range t.site.Access.Open(t.site.Zone, civil.Interval{From: stay.From.Add(-48 * time.Hour), To: stay.To.Add(48 * time.Hour)}) {
		if run.Covers(stay) {
			return
		}
	}
	t.deviate(visitWide, scheduler.RuleAccess, "", t.report.Arrived, fmt.Sprintf("at %s from %s to %s, outside its access windows",
		t.site.Name, t.site.Zone.Format(stay.From), t.site.Zone.Format(stay.To)))
}
