package casework

import (
	"fmt"
	"slices"
	"strings"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// Told is what came of a report: the report as stored, and what was kept beside it.
type Told struct {
	Report     firm.Report
	Deviations []firm.Deviation
	Records    []firm.Record
	// Cases are those whose courses were computed anew.
	Cases []course.CaseID
}

// AppendReport stores a report of what really happened: report, histories, courses, application records, keep-outs
// and deviations in one transaction. It refuses only what cannot be understood or what the caller has no right to.
//
// Fails with Invalid (INVALID_FIELDS: unknown site, plant, product, technician or case, an end before its
// beginning, a time more than five minutes ahead), NotFound (VISIT_NOT_PUBLISHED), Forbidden (NOT_YOUR_REPORT)
// and Exists (ALREADY_REPORTED, naming the first report of a follow-up that was done).
func AppendReport(tx *store.Tx, report firm.Report) (Told, error) {
	t := telling{tx: tx, report: report}
	for _, step := range []func() error{
		t.mayTell, t.readPremises, t.readVisit, t.spreadOutcome, t.judgeFields, t.lockCases, t.refuseSecond,
		t.readBefore, t.keepReport, t.appendEvents, t.keepDeviations, t.keepRecords, t.settleVisit, t.settleServices,
	} {
		if err := step(); err != nil {
			return Told{}, err
		}
	}
	if err := recompute(tx, t.cases); err != nil {
		return Told{}, err
	}
	return Told{Report: t.report, Deviations: t.deviations, Records: t.records, Cases: t.cases}, nil
}

// telling is one report on its way into the store, with what the steps read and make.
type telling struct {
	tx       *store.Tx
	report   firm.Report
	business firm.Business
	site     site.Site
	plants   []site.Plant
	products []catalogue.Product
	crew     []firm.CrewMember
	visit    *scheduler.Visit // nil for a visit that no plan knows

	cases      []course.CaseID
	before     map[course.CaseID]course.Course // as they were, for what the report broke
	histories  []course.History
	deviations []firm.Deviation
	records    []firm.Record
}

// mayTell: a technician tells of their own visits only.
func (t *telling) mayTell() error {
	caller := t.tx.Caller()
	if caller.Role == firm.Technician && caller.Technician != t.report.Technician {
		return fault.New(fault.Forbidden, "NOT_YOUR_REPORT", "a technician reports their own visits: want technician %s, not %s", caller.Technician, t.report.Technician)
	}
	t.report.Caller = caller.Subject
	t.report.ReceivedAt = t.tx.Now()
	return nil
}

func (t *telling) readPremises() (err error) {
	if t.business, err = t.tx.Business(); err != nil {
		return err
	}
	if t.site, err = t.tx.Site(t.report.Site); err != nil {
		return err
	}
	if t.plants, err = t.tx.PlantsOf(t.site.ID); err != nil {
		return err
	}
	if t.products, err = t.tx.AllProducts(); err != nil {
		return err
	}
	t.crew, err = t.tx.Crew()
	return err
}

// readVisit finds the visit and marks the report off plan when somebody else was to make it, elsewhere or on
// another day, or when no plan knows it.
func (t *telling) readVisit() error {
	if t.report.Visit == "" {
		t.report.OffPlan = true
		return nil
	}
	visit, err := t.tx.Visit(t.report.Visit)
	if fault.Is(err, fault.NotFound) {
		return fault.New(fault.NotFound, "VISIT_NOT_PUBLISHED", "visit %s was never published: leave the visit out to report work that no plan knows", t.report.Visit)
	}
	if err != nil {
		return err
	}
	t.visit = &visit
	day := t.site.Zone.DateOf
	t.report.OffPlan = visit.Technician != t.report.Technician || visit.Site != t.report.Site ||
		day(visit.Arrives) != day(t.report.Arrived)
	return nil
}

// spreadOutcome: an outcome given for the visit holds for each of its work items that the report does not name.
func (t *telling) spreadOutcome() error {
	if t.visit == nil || t.report.RestOutcome == "" {
		return nil
	}
	told := map[scheduler.ItemID]bool{}
	for _, item := range t.report.Items {
		told[item.Item] = true
	}
	for _, work := range t.visit.Work {
		if !told[work.Item] {
			told[work.Item] = true
			t.report.Items = append(t.report.Items, firm.ReportItem{Item: work.Item, Outcome: t.report.RestOutcome, Area: work.Area})
		}
	}
	return nil
}

// judgeFields says everything that cannot be understood, all at once.
func (t *telling) judgeFields() error {
	var fields []catalogue.FieldError
	wrong := func(path, reason, text string, args ...any) {
		fields = append(fields, catalogue.FieldError{Path: "report." + path, Reason: reason, Text: fmt.Sprintf(text, args...)})
	}
	if !slices.ContainsFunc(t.crew, func(m firm.CrewMember) bool { return m.ID == t.report.Technician }) {
		wrong("technician", "UNKNOWN_TECHNICIAN", "technician %q is not of this business", t.report.Technician)
	}
	latest := t.tx.Now().Add(clockTolerance)
	if t.report.Arrived.IsZero() || t.report.Left < t.report.Arrived {
		wrong("left_at", "ENDS_BEFORE_IT_BEGINS", "left at %v, arrived at %v: want the leaving after the arrival", t.report.Left, t.report.Arrived)
	}
	if t.report.Left > latest {
		wrong("left_at", "IN_THE_FUTURE", "%v lies more than 5 minutes after the firm's clock, %v", t.report.Left, t.tx.Now())
	}
	for i, item := range t.report.Items {
		for _, field := range t.itemFields(item) {
			wrong(fmt.Sprintf("items[%d].%s", i, field.Path), field.Reason, "%s", field.Text)
		}
	}
	for i, finding := range t.report.Findings {
		fields = append(fields, findingFields(finding, t.plants, fmt.Sprintf("report.findings[%d]", i))...)
	}
	return fault.InvalidFields(fields)
}

func (t *telling) itemFields(item firm.ReportItem) []catalogue.FieldError {
	var fields []catalogue.FieldError
	wrong := func(path, reason, text string, args ...any) {
		fields = append(fields, catalogue.FieldError{Path: path, Reason: reason, Text: fmt.Sprintf(text, args...)})
	}
	if item.Ended < item.Began {
		wrong("ended_at", "ENDS_BEFORE_IT_BEGINS", "ended at %v, began at %v: want the end after the beginning", item.Ended, item.Began)
	}
	for _, id := range item.Plants {
		if _, ok := t.plant(id); !ok {
			wrong("plants", "UNKNOWN_PLANT", "plant %s does not stand at %s", id, t.site.Name)
		}
	}
	if made := item.Application; made != nil {
		if _, ok := t.product(made.Product); !ok {
			wrong("application.product", "UNKNOWN_PRODUCT", "product %q is not of this business", made.Product)
		}
		if caseOf(item) == "" {
			wrong("case", "REQUIRED", "an application without a follow-up needs the case that it was made for")
		}
		if item.Began.IsZero() || item.Ended.IsZero() {
			wrong("began_at", "REQUIRED", "an application needs its beginning and its end: the interval before entry counts from the end")
		}
	}
	if item.Outcome == course.OutcomeDone || item.Outcome == course.OutcomeInPart {
		switch kind := kindOf(item); {
		case kind == scheduler.KindApplication && item.Application == nil:
			wrong("application", "REQUIRED", "%s is an application that was done: say what was applied, how strong and how much", item.Item)
		case (kind == scheduler.KindInspectInfested || kind == scheduler.KindInspectNeighbours) && item.Inspection == nil:
			wrong("inspection", "REQUIRED", "%s is an inspection that was done: say which plants were looked at and what was found", item.Item)
		}
	}
	if item.Outcome == "" {
		wrong("outcome", "REQUIRED", "no outcome: want done, done in part, or why not")
	}
	return fields
}

// caseOf returns the case that a reported item belongs to: named, or the first part of its follow-up's id.
// A service has none.
func caseOf(item firm.ReportItem) course.CaseID {
	if item.Case != "" {
		return item.Case
	}
	if name, _, ok := strings.Cut(string(item.Item), "/"); ok {
		return course.CaseID(name)
	}
	return ""
}

// kindOf returns the kind of follow-up that a reported item is: the second part of its id, or what the report says.
func kindOf(item firm.ReportItem) scheduler.FollowUpKind {
	if parts := strings.Split(string(item.Item), "/"); len(parts) == 4 {
		return scheduler.FollowUpKind(parts[1])
	}
	return item.Kind
}

// lockCases locks every case that the report speaks of, and those that share plants with them.
func (t *telling) lockCases() (err error) {
	var ids []course.CaseID
	for _, item := range t.report.Items {
		if id := caseOf(item); id != "" {
			ids = append(ids, id)
		}
	}
	for i, finding := range t.report.Findings {
		id, err := noteFinding(t.tx, NewFinding{ID: fmt.Sprintf("%s-finding-%d", t.report.ID, i+1), Site: t.site.ID, At: t.report.Arrived, Finding: finding})
		if err != nil {
			return err
		}
		ids = append(ids, id)
	}
	t.cases, err = lockRelated(t.tx, ids)
	if err != nil {
		return err
	}
	t.histories, err = t.tx.Histories(t.cases)
	return err
}

// refuseSecond: one application per work item counts. A second report of it is a correction if it says so.
func (t *telling) refuseSecond() error {
	for _, item := range t.report.Items {
		if item.Item == "" || item.Application == nil {
			continue
		}
		for _, h := range t.histories {
			for _, e := range h.Events {
				if e.Application == nil || e.Application.FollowUp != item.Item {
					continue
				}
				if first := reportOf(e.ID); t.report.Corrects == "" || first != t.report.Corrects {
					f := fault.New(fault.Exists, "ALREADY_REPORTED", "%s was reported as done by report %s: to correct it, name that report in corrects", item.Item, first)
					f.Subject = first
					return f
				}
			}
		}
	}
	return nil
}

// readBefore keeps the courses as they were, to see what the report broke.
func (t *telling) readBefore() error {
	t.before = map[course.CaseID]course.Course{}
	for _, id := range t.cases {
		_, present, err := Course(t.tx, id)
		if err != nil {
			return err
		}
		t.before[id] = present
	}
	return nil
}

func (t *telling) keepReport() error { return t.tx.InsertReport(t.report) }

func (t *telling) plant(id site.PlantID) (site.Plant, bool) {
	for _, p := range t.plants {
		if p.ID == id {
			return p, true
		}
	}
	return site.Plant{}, false
}

func (t *telling) product(id catalogue.ProductID) (catalogue.Product, bool) {
	for _, p := range t.products {
		if p.ID == id {
			return p, true
		}
	}
	return catalogue.Product{}, false
}

func (t *telling) technician() firm.CrewMember {
	for _, m := range t.crew {
		if m.ID == t.report.Technician {
			return m
		}
	}
	panic("casework: the technician was judged before")
}

// followUp returns the planned follow-up of an item from its course as it was.
func (t *telling) followUp(item firm.ReportItem) (scheduler.FollowUp, bool) {
	for _, f := range t.before[caseOf(item)].FollowUps {
		if f.ID == item.Item {
			return f, true
		}
	}
	return scheduler.FollowUp{}, false
}

// plantsOf returns the plants that an item concerned: those named, else the follow-up's, else the visit's work item's.
func (t *telling) plantsOf(item firm.ReportItem) []site.PlantID {
	if len(item.Plants) > 0 {
		return item.Plants
	}
	if f, ok := t.followUp(item); ok {
		return f.Plants
	}
	if t.visit != nil {
		for _, w := range t.visit.Work {
			if w.Item == item.Item {
				return w.Plants
			}
		}
	}
	return nil
}

// areaOf returns the area in which an item was done: named, else that of its first plant.
func (t *telling) areaOf(item firm.ReportItem) site.AreaID {
	if item.Area != "" {
		return item.Area
	}
	for _, id := range t.plantsOf(item) {
		if p, ok := t.plant(id); ok {
			return p.Area
		}
	}
	return ""
}
