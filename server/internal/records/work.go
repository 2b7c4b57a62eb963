package records

import (
	"slices"
	"strings"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
)

// work is one piece of work that a report says was done.
type work struct {
	report     string
	item       scheduler.ItemID // "" for one that no plan knew
	kind       string           // of follow-up or service
	service    bool
	ofCase     course.CaseID // "" for a service
	site       site.ID
	technician scheduler.TechnicianID
	at         civil.Instant // its beginning; that of the stay where none was told
	on         civil.Date    // in the site's zone
	// took is from beginning to end, 0 where the report tells none; planned that of the published visit, 0 where none held it.
	took, planned time.Duration
	made          *firm.Applied
	plants        int // treated or looked at, as far as the report says; 0 is all
}

// workOf lists what a report says was done. An outcome that it gives for the whole visit holds for each work item that it
// does not name.
func workOf(r firm.Report, visit scheduler.Visit, zone civil.Zone) []work {
	items := slices.Clone(r.Items)
	for _, w := range visit.Work {
		told := slices.ContainsFunc(items, func(i firm.ReportItem) bool { return i.Item == w.Item })
		if r.RestOutcome != "" && !told {
			items = append(items, firm.ReportItem{Item: w.Item, Outcome: r.RestOutcome})
		}
	}
	var done []work
	for _, i := range items {
		if i.Outcome != course.OutcomeDone {
			continue
		}
		w := work{report: r.ID, item: i.Item, site: r.Site, technician: r.Technician, at: i.Began, ofCase: i.Case, made: i.Application, plants: len(i.Plants)}
		if w.at.IsZero() {
			w.at = r.Arrived
		}
		if !i.Began.IsZero() && !i.Ended.IsZero() {
			w.took = i.Ended.Sub(i.Began)
		}
		w.on = zone.DateOf(w.at)
		w.kind, w.service = string(i.Kind), i.Service != ""
		if w.service {
			w.kind = string(i.Service)
		}
		for _, planned := range visit.Work {
			if planned.Item != i.Item || i.Item == "" {
				continue
			}
			w.planned += planned.Ends.Sub(planned.Begins)
			w.kind, w.service = string(planned.Kind), planned.Service != ""
			if w.service {
				w.kind = string(planned.Service)
			}
		}
		w.byName()
		if w.kind == "" && i.Application != nil {
			w.kind = string(course.KindApplication)
		}
		if w.kind == "" && i.Inspection != nil {
			w.kind = string(course.KindInspectInfested)
		}
		done = append(done, w)
	}
	return done
}

// byName reads out of the item's id what nothing else has told: "case/kind/run/ordinal" of a follow-up, "service#k" of an
// occurrence of a service.
func (w *work) byName() {
	parts := strings.Split(string(w.item), "/")
	switch n := len(parts); {
	case n >= 4:
		if w.kind == "" {
			w.kind = parts[n-3]
		}
		if w.ofCase == "" {
			w.ofCase = caseOf(w.item)
		}
	case strings.Contains(string(w.item), "#"):
		w.service = true
	}
}

// caseOf is the case of a follow-up: its id without kind, run and ordinal.
func caseOf(item scheduler.ItemID) course.CaseID {
	parts := strings.Split(string(item), "/")
	if len(parts) < 4 {
		return ""
	}
	return course.CaseID(strings.Join(parts[:len(parts)-3], "/"))
}
