package casework

import (
	"slices"
	"strings"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/dilution"
	"vernation/server/internal/firm"
)

// licensed: by somebody without a licence of a category that the label asks for and that covers the kind of place.
func (t *telling) licensed(a application) {
	asked := a.product.Label.Categories
	if len(asked) == 0 {
		return
	}
	if _, ok := t.licenceThatCounts(a); ok {
		return
	}
	who, where := t.technician().Name, t.site.Jurisdiction
	if covering := t.covering(a); len(covering) == 0 {
		t.breach(a, scheduler.RuleLicence, "%s asks for a licence of category %s; none of that is known to cover %s in %s", a.product.Name, either(asked), plain(a.kind), where)
		return
	}
	told, held := t.licenceHeld(a)
	switch {
	case !held:
		t.breach(a, scheduler.RuleLicence, "%s asks for a licence of category %s in %s; %s held none on that day", a.product.Name, either(asked), where, who)
	case !slices.Contains(t.covering(a), told.Category):
		t.breach(a, scheduler.RuleLicence, "%s held a licence of category %s, which does not cover %s in %s; want %s", who, told.Category, plain(a.kind), where, either(t.covering(a)))
	case !t.supervisionAllowed():
		t.breach(a, scheduler.RuleLicence, "%s applied %s under %s; that somebody may apply under another's licence in %s is not known", who, a.product.Name, t.nameOfTechnician(told.Under), where)
	default:
		t.breach(a, scheduler.RuleLicence, "%s applied %s under %s, who held no licence of category %s in %s on that day", who, a.product.Name, t.nameOfTechnician(told.Under), told.Category, where)
	}
}

// licenceThatCounts is the technician's licence for an application: their own, else one under a supervisor who holds it,
// where the jurisdiction allows that.
func (t *telling) licenceThatCounts(a application) (scheduler.Licence, bool) {
	covering := t.covering(a)
	for _, l := range t.technician().Licences {
		if l.Under == "" && t.valid(l, a, covering) {
			return l, true
		}
	}
	if !t.supervisionAllowed() {
		return scheduler.Licence{}, false
	}
	for _, l := range t.technician().Licences {
		if l.Under != "" && l.Under != t.report.Technician && t.valid(l, a, covering) && t.holdsOwn(l.Under, l.Category, a) {
			return l, true
		}
	}
	return scheduler.Licence{}, false
}

// licenceHeld is the licence that an application was made under, whether it counts or not: the one that counts, else
// one of the categories that the label asks for.
func (t *telling) licenceHeld(a application) (scheduler.Licence, bool) {
	if l, ok := t.licenceThatCounts(a); ok {
		return l, true
	}
	for _, l := range t.technician().Licences {
		if t.valid(l, a, a.product.Label.Categories) {
			return l, true
		}
	}
	return scheduler.Licence{}, false
}

// covering lists the categories that the label asks for and that cover the kind of place there.
func (t *telling) covering(a application) []string {
	var covering []string
	for _, category := range catalogue.Shipped().Categories(t.site.Jurisdiction) {
		if slices.Contains(a.product.Label.Categories, category.ID) && slices.Contains(category.Covers, a.kind) {
			covering = append(covering, category.ID)
		}
	}
	return covering
}

func (t *telling) supervisionAllowed() bool {
	_, known := catalogue.Shipped().Supervision(t.site.Jurisdiction)
	return known
}

func (t *telling) valid(l scheduler.Licence, a application, categories []string) bool {
	return l.Jurisdiction == t.site.Jurisdiction && slices.Contains(categories, l.Category) && l.From <= a.on && (l.To.IsZero() || a.on <= l.To)
}

func (t *telling) holdsOwn(who scheduler.TechnicianID, category string, a application) bool {
	return slices.ContainsFunc(t.crew, func(m firm.CrewMember) bool {
		return m.ID == who && slices.ContainsFunc(m.Licences, func(l scheduler.Licence) bool {
			return l.Under == "" && t.valid(l, a, []string{category})
		})
	})
}

func (t *telling) nameOfTechnician(id scheduler.TechnicianID) string {
	for _, m := range t.crew {
		if m.ID == id {
			return m.Name
		}
	}
	return string(id)
}

// approved: without the responsible applicator's yes as it stood when the application began: to that product, up to
// that rate, by that way. An application above the label uses an approval up.
func (t *telling) approved(a application) {
	if a.physical() && len(a.product.Label.Categories) == 0 {
		return
	}
	approval := t.approvalBefore(a)
	switch {
	case approval == nil:
		t.breach(a, scheduler.RuleLicence, "%s was applied without an approval of the responsible applicator that stood then for this case", a.product.Name)
	case approval.Withdrawn:
		t.breach(a, scheduler.RuleLicence, "%s was applied after its approval for this case was withdrawn", a.product.Name)
	default:
		t.withinApproval(a, *approval)
	}
}

// withinApproval: the approval covers the rate and, where the visit says by which way it was to be done, the way.
func (t *telling) withinApproval(a application, approval course.Approval) {
	if approval.MaxRate != nil && !a.made.Volume.IsZero() && dilution.Strength(a.made.Concentrate, a.made.Volume).Cmp(approval.MaxRate.Share()) > 0 {
		t.breach(a, scheduler.RuleLicence, "%s was mixed %v in %v; it is approved for this case up to %v", a.product.Name, a.made.Concentrate, a.made.Volume, *approval.MaxRate)
	}
	if way, known := t.wayOf(a.Item); known && !slices.Contains(approval.Ways, way) {
		t.breach(a, scheduler.RuleLicence, "the approval of %s for this case does not cover the way %s", a.product.Name, plain(way))
	}
}

// approvalBefore is the last word on a product in the application's case before it began; nil where there was none, or
// where an application above the label used it up since.
func (t *telling) approvalBefore(a application) *course.Approval {
	i := slices.IndexFunc(t.around, func(h course.History) bool { return h.Case == caseOf(a.ReportItem) })
	if i < 0 {
		return nil
	}
	return ApprovalBefore(t.around[i], a.product.ID, a.Began)
}

// ApprovalBefore is the last word on a product in a case's history, events in the order in which they happened, by an
// instant: an approval, or its withdrawal. It is nil where there was none, or where an application above the label used it
// up since.
func ApprovalBefore(h course.History, product catalogue.ProductID, at civil.Instant) *course.Approval {
	var last *course.Approval
	for _, e := range h.Events {
		switch {
		case e.At > at:
		case e.Approval != nil && e.Approval.Product == product:
			last = e.Approval
		case e.Application != nil && e.Application.AboveLabel && e.Application.Product == product && e.Application.Began < at:
			last = nil
		}
	}
	return last
}

// wayOf is the kind of way by which the visit was to do an item.
func (t *telling) wayOf(item scheduler.ItemID) (kind course.WayKind, known bool) {
	if t.visit == nil || item == "" {
		return "", false
	}
	for _, work := range t.visit.Work {
		if work.Item == item && work.Way != "" {
			kind, _, _ := strings.Cut(string(work.Way), "/") // "at-treatment-place/bench"
			return course.WayKind(kind), true
		}
	}
	return "", false
}
