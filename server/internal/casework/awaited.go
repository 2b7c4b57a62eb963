package casework

import (
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// AwaitedOf is what the course of one case waits for. A page of cases is listed whole: a case stands on one page.
type AwaitedOf struct {
	Case      course.CaseID
	Approvals []firm.AwaitedApproval
	Consents  []firm.NeededConsent
}

// Awaited returns what the courses of a page of cases that still need something wait for, by case. A case that waits for nothing is
// among them, so that a page may be empty and yet not be the last.
func Awaited(tx *store.Tx, page store.Page) ([]AwaitedOf, error) {
	cases, err := tx.GoingCasesAfter(page)
	if err != nil {
		return nil, err
	}
	products, err := tx.AllProducts()
	if err != nil {
		return nil, err
	}
	var all []AwaitedOf
	for _, c := range cases {
		_, present, err := Course(tx, c.ID)
		if err != nil {
			return nil, err
		}
		of := AwaitedOf{Case: c.ID}
		if of.Approvals, err = awaitedApprovals(tx, c, present, products); err != nil {
			return nil, err
		}
		if of.Consents, err = neededConsents(tx, c, present); err != nil {
			return nil, err
		}
		all = append(all, of)
	}
	return all, nil
}

// awaitedApprovals lists by product the applications of a course that are not approved. Physical work without a record needs nobody's yes.
func awaitedApprovals(tx *store.Tx, c firm.Case, present course.Course, products []catalogue.Product) ([]firm.AwaitedApproval, error) {
	var all []firm.AwaitedApproval
	for _, f := range present.FollowUps {
		if f.Approved {
			continue
		}
		for _, way := range f.Ways {
			for _, part := range way.Parts {
				if part.Use == nil {
					continue
				}
				at := slices.IndexFunc(products, func(p catalogue.Product) bool { return p.ID == part.Use.Product })
				if at < 0 {
					continue
				}
				i := slices.IndexFunc(all, func(a firm.AwaitedApproval) bool { return a.Product.ID == part.Use.Product })
				if i < 0 {
					i = len(all)
					all = append(all, firm.AwaitedApproval{
						Case: c.ID, Site: site.ID(c.Site), Pest: c.Pest, Product: products[at], Expected: f.Expected,
						Course: present.Version(), Cautions: present.Cautions,
					})
				}
				all[i].Expected = min(all[i].Expected, f.Expected)
				add(&all[i].Items, f.ID)
				add(&all[i].Ways, way.Kind)
				add(&all[i].Areas, part.Area)
				for _, plant := range f.Plants {
					add(&all[i].Plants, plant)
				}
			}
		}
	}
	if len(all) == 0 {
		return nil, nil
	}
	histories, err := Histories(tx, []course.CaseID{c.ID})
	if err != nil {
		return nil, err
	}
	for i := range all {
		all[i].Since = awaitedSince(c, histories, all[i].Product.ID)
	}
	return all, nil
}

// add puts a value into a list that does not hold it yet.
func add[T comparable](to *[]T, value T) {
	if !slices.Contains(*to, value) {
		*to = append(*to, value)
	}
}

// awaitedSince is when a case was opened or the approval of a product was last withdrawn.
func awaitedSince(c firm.Case, histories []course.History, product catalogue.ProductID) civil.Instant {
	since := c.OpenedAt
	for _, h := range histories {
		for _, e := range h.Events {
			if e.Approval != nil && e.Approval.Product == product && e.Approval.Withdrawn {
				since = max(since, e.At)
			}
		}
	}
	return since
}

// neededConsents lists what a course would use if the client consented, by material, and the sum that the client is to be asked for.
func neededConsents(tx *store.Tx, c firm.Case, present course.Course) ([]firm.NeededConsent, error) {
	at, err := tx.Site(site.ID(c.Site))
	if err != nil {
		return nil, err
	}
	asked, err := tx.ClientConsentsOf(at.ID)
	if err != nil {
		return nil, err
	}
	var all []firm.NeededConsent
	for _, r := range present.Refused {
		if !r.OnlyConsent {
			continue
		}
		i := slices.IndexFunc(all, func(n firm.NeededConsent) bool { return n.Material == r.Material })
		if i < 0 {
			i = len(all)
			method := catalogue.Shipped().Materials[r.Material].Method
			all = append(all, firm.NeededConsent{Case: c.ID, Site: at.ID, Method: method, Material: r.Material, Since: c.OpenedAt,
				Asked: waiting(asked, func(q firm.ClientConsent) bool {
					return q.Method == method && (q.Material == "" || q.Material == r.Material) && (q.Case == "" || q.Case == c.ID)
				})})
		}
		if r.Product != "" {
			all[i].Products = append(all[i].Products, r.Product)
		}
	}
	above, cost := at.Agreement.AskAbove, present.Replacement.Course
	agreed := slices.ContainsFunc(asked, func(q firm.ClientConsent) bool {
		return q.Case == c.ID && q.Sum != nil && *q.Sum >= cost && q.State() == firm.ConsentGiven
	})
	if above != nil && !at.Agreement.FollowUpsIncluded && present.Material != "" && cost > *above && !agreed {
		all = append(all, firm.NeededConsent{Case: c.ID, Site: at.ID, Sum: cost, AskAbove: *above, Since: c.OpenedAt,
			Asked: waiting(asked, func(q firm.ClientConsent) bool { return q.Case == c.ID && q.Sum != nil && *q.Sum >= cost })})
	}
	return all, nil
}

// waiting is the id of a question that asks for something and has no answer, or "".
func waiting(asked []firm.ClientConsent, about func(firm.ClientConsent) bool) string {
	for _, q := range asked {
		if q.State() == "" && about(q) {
			return q.ID
		}
	}
	return ""
}
