package casework

import (
	"encoding/json"
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
type Told = firm.Told

// AppendReport stores a report of what really happened: report, histories, courses, application records, keep-outs
// and deviations in one transaction. It refuses only what cannot be understood or what the caller has no right to.
// A report that is known already, word for word, gives what came of it the first time. One that corrects another takes
// its place: in the histories, in what is shut, and by a record of its own that follows each record of the first, also
// where it says that nothing was applied.
//
// Fails with Invalid (INVALID_FIELDS: unknown plant, area, product or technician, an end before its beginning, a time
// more than five minutes ahead), NotFound (NOT_FOUND for site, case or corrected report; VISIT_NOT_PUBLISHED),
// Forbidden (NOT_YOUR_REPORT) and Exists (EXISTS_ALREADY for another report of that id, EXTERNAL_ID_TAKEN for another
// report of that external id, ALREADY_REPORTED naming the first report of an application).
func AppendReport(tx *store.Tx, report firm.Report) (Told, error) {
	t := telling{tx: tx, report: report}
	if err := t.mayTell(); err != nil {
		return Told{}, err
	}
	if first, known, err := t.toldBefore(); err != nil || known {
		return first, err
	}
	// Whoever publishes waits for the report, and compares versions after it.
	if _, err := tx.ShareHead(); err != nil {
		return Told{}, err
	}
	if err := tx.LockSite(report.Site); err != nil {
		return Told{}, err
	}
	if err := inOrder(t.readPremises, t.readVisit, t.spreadOutcome, t.judgeFields, t.lockCases); err != nil {
		return Told{}, err
	}
	// A twin of the report may have held the cases until now.
	if first, known, err := t.toldBefore(); err != nil || known {
		return first, err
	}
	if err := inOrder(t.refuseSecond, t.readBefore, t.keepReport, t.dropCorrected, t.appendEvents, t.keepDeviations, t.keepRecords, t.bookUse, t.settleVisit, t.settleServices); err != nil {
		return Told{}, err
	}
	if err := recompute(tx, t.cases); err != nil {
		return Told{}, err
	}
	return Told{Report: t.told, Deviations: t.ownDeviations(), Records: t.records, Cases: t.cases}, nil
}

// inOrder takes steps until one fails.
func inOrder(steps ...func() error) error {
	for _, step := range steps {
		if err := step(); err != nil {
			return err
		}
	}
	return nil
}

// Report returns a report with what was kept beside it. A technician sees their own only.
//
// Fails with NotFound and Forbidden (NOT_YOUR_REPORT).
func Report(tx *store.Tx, id string) (Told, error) {
	report, err := tx.Report(id)
	if err != nil {
		return Told{}, err
	}
	if err := ownReport(tx.Caller(), report); err != nil {
		return Told{}, err
	}
	told := Told{Report: report, Cases: report.Cases}
	if told.Deviations, err = tx.DeviationsOf(id); err != nil {
		return Told{}, err
	}
	told.Records, err = tx.RecordsOf(id)
	return told, err
}

// ownReport: a technician tells and sees their own visits only.
func ownReport(caller firm.Caller, report firm.Report) error {
	if caller.Role == firm.Technician && caller.Technician != report.Technician {
		return fault.New(fault.Forbidden, "NOT_YOUR_REPORT", "a technician's reports are those of their own visits: want technician %s, not %s", caller.Technician, report.Technician)
	}
	return nil
}

// telling is one report on its way into the store, with what the steps read and make.
type telling struct {
	tx       *store.Tx
	report   firm.Report // with an outcome of each work item of the visit
	told     firm.Report // as it came, with what the server adds
	business firm.Business
	known    *catalogue.Catalogue // with the business's own records
	site     site.Site
	plants   []site.Plant
	products []catalogue.Product
	crew     []firm.CrewMember
	visit    *scheduler.Visit // nil for a visit that no plan knows
	first    firm.Report      // the report that this one corrects

	cases      []course.CaseID
	before     map[course.CaseID]course.Course // as they were, for what the report broke
	histories  []course.History
	deviations []firm.Deviation
	broke      map[int][]string // by index of the item, for its record
	records    []firm.Record

	around    []course.History // of the site's cases, without what this report or the one that it corrects told
	ofPlants  []course.History // what happened to the site's plants themselves
	lineage   course.Lineage   // of the site's plants, by both
	meanwhile []firm.Report    // of other stays at the site, while it was shut by what this report applied
	services  []site.Service
	incidents []firm.Incident      // of the site
	consents  []firm.ClientConsent // asked of its client
	shut      []firm.KeepOutFact   // by treatments told before, while the report's work was done
	dropped   []firm.KeepOutFact   // of applications that the report corrects
}

// mayTell: a technician tells of their own visits only.
func (t *telling) mayTell() error {
	caller := t.tx.Caller()
	t.report.Caller, t.report.ReceivedAt = caller.Subject, t.tx.Now()
	return ownReport(caller, t.report)
}

// toldBefore returns what came of the report when it is known already, word for word.
func (t *telling) toldBefore() (first Told, known bool, err error) {
	if first, known, err = t.toldElsewhere(); err != nil || known {
		return first, known, err
	}
	first, err = Report(t.tx, t.report.ID)
	if fault.Is(err, fault.NotFound) {
		return Told{}, false, nil
	}
	if err != nil {
		return Told{}, false, err
	}
	if !sameWords(first.Report, t.report) {
		f := fault.New(fault.Exists, "EXISTS_ALREADY", "report %s is known and says something else: give this one an id of its own, and name %s in corrects where it corrects it", t.report.ID, t.report.ID)
		f.Subject = t.report.ID
		return Told{}, false, f
	}
	return first, true, nil
}

// toldElsewhere returns what came of the report when another program's id of it is known under another id of ours, word
// for word.
func (t *telling) toldElsewhere() (first Told, known bool, err error) {
	if t.report.ExternalID == "" {
		return Told{}, false, nil
	}
	id, err := t.tx.ReportOfExternalID(t.report.ExternalID)
	if err != nil || id == "" || id == t.report.ID {
		return Told{}, false, err
	}
	if first, err = Report(t.tx, id); err != nil {
		return Told{}, false, err
	}
	again := t.report
	again.ID = id
	if !sameWords(first.Report, again) {
		f := fault.New(fault.Exists, "EXTERNAL_ID_TAKEN", "report %s has the external id %q and says something else: give this one an external id of its own, and name %s in corrects where it corrects it",
			id, t.report.ExternalID, id)
		f.Subject = id
		return Told{}, false, f
	}
	return first, true, nil
}

// sameWords says whether two reports tell the same, whatever the server added.
func sameWords(a, b firm.Report) bool {
	words := func(r firm.Report) string {
		r.ReceivedAt, r.Caller, r.OffPlan, r.Cases, r.Follows = 0, "", false, nil, nil
		text, err := json.Marshal(r)
		if err != nil {
			panic(fmt.Sprintf("casework: a report cannot be written: %v", err))
		}
		return string(text)
	}
	return words(a) == words(b)
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
	for i, product := range t.products {
		t.products[i] = catalogue.Shipped().InForce(product)
	}
	t.crew, err = t.tx.EverCrew()
	return err
}

// readVisit finds the visit and marks the report off plan when somebody else was to make it, elsewhere or on
// another day, or when no plan knows it.
func (t *telling) readVisit() (err error) {
	if t.report.Corrects != "" {
		if t.first, err = t.tx.Report(t.report.Corrects); err != nil {
			return err
		}
	}
	if t.report.Visit == "" {
		t.report.OffPlan = true
		return nil
	}
	if t.visit, err = PublishedVisit(t.tx, t.report.Visit); err != nil {
		return err
	}
	t.report.OffPlan = OffPlan(t.visit, t.report.Technician, t.site, t.report.Arrived)
	return nil
}

// spreadOutcome: an outcome given for the visit holds for each of its work items that the report does not name.
func (t *telling) spreadOutcome() error {
	t.told = t.report
	t.report.Items = slices.Clone(t.report.Items)
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
		wrong("left", "ENDS_BEFORE_IT_BEGINS", "left at %v, arrived at %v: want the leaving after the arrival", t.report.Left, t.report.Arrived)
	}
	if t.report.Left > latest {
		wrong("left", "IN_THE_FUTURE", "%v lies more than 5 minutes after the firm's clock, %v", t.report.Left, t.tx.Now())
	}
	for i, item := range t.report.Items {
		for _, field := range t.itemFields(item) {
			wrong(fmt.Sprintf("items[%d].%s", i, field.Path), field.Reason, "%s", field.Text)
		}
	}
	for i, finding := range t.report.Findings {
		fields = append(fields, findingFields(finding, t.plants, fmt.Sprintf("report.findings[%d]", i))...)
	}
	for i, dry := range t.report.DryConfirmed {
		if !t.hasArea(dry.Area) {
			wrong(fmt.Sprintf("dry_confirmations[%d].area", i), "UNKNOWN_AREA", "%s is no area of %s", dry.Area, t.site.Name)
		}
	}
	return fault.InvalidFields(fields)
}

func (t *telling) hasArea(id site.AreaID) bool {
	return slices.ContainsFunc(t.site.Areas, func(a site.Area) bool { return a.ID == id })
}

func (t *telling) itemFields(item firm.ReportItem) []catalogue.FieldError {
	var fields []catalogue.FieldError
	wrong := func(path, reason, text string, args ...any) {
		fields = append(fields, catalogue.FieldError{Path: path, Reason: reason, Text: fmt.Sprintf(text, args...)})
	}
	if item.Ended < item.Began {
		wrong("ended", "ENDS_BEFORE_IT_BEGINS", "ended at %v, began at %v: want the end after the beginning", item.Ended, item.Began)
	}
	if item.Ended > t.tx.Now().Add(clockTolerance) {
		wrong("ended", "IN_THE_FUTURE", "%v lies more than 5 minutes after the firm's clock, %v", item.Ended, t.tx.Now())
	}
	for i, id := range item.Plants {
		if _, ok := t.plant(id); !ok {
			wrong(fmt.Sprintf("plants[%d]", i), "UNKNOWN_PLANT", "plant %s does not stand at %s", id, t.site.Name)
		}
	}
	if item.Area != "" && !t.hasArea(item.Area) {
		wrong("area", "UNKNOWN_AREA", "%s is no area of %s", item.Area, t.site.Name)
	}
	if looked := item.Inspection; looked != nil {
		for i, id := range looked.Found {
			if _, ok := t.plant(id); !ok {
				wrong(fmt.Sprintf("inspection.found[%d]", i), "UNKNOWN_PLANT", "plant %s does not stand at %s", id, t.site.Name)
			}
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
			wrong("began", "REQUIRED", "an application needs its beginning and its end: the interval before entry counts from the end")
		}
	}
	if item.Outcome == course.OutcomeDone || item.Outcome == course.OutcomeInPart {
		switch kind := item.FollowUpKind(); {
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

// lockCases locks every case that the report speaks of, those that the report that it corrects spoke of, and those
// that share plants with them.
func (t *telling) lockCases() (err error) {
	ids := slices.Clone(t.first.Cases)
	for _, item := range t.report.Items {
		if id := caseOf(item); id != "" {
			ids = append(ids, id)
		}
	}
	for i, finding := range t.report.Findings {
		if finding.By == "" {
			finding.By = t.report.Caller
		}
		id, _, err := noteFinding(t.tx, NewFinding{ID: fmt.Sprint(t.report.ID, findingInfix, i+1), Site: t.site.ID, At: t.report.Arrived, Finding: finding})
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
		for _, h := range corrected(t.histories) {
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

func (t *telling) keepReport() error {
	t.told.Cases, t.told.Follows = t.cases, t.follows()
	return t.tx.InsertReport(t.told)
}

// dropCorrected takes back what the applications of the report that is corrected shut; what this one tells shuts anew.
func (t *telling) dropCorrected() error {
	for _, item := range t.first.Items {
		if item.Application == nil {
			continue
		}
		dropped, err := t.tx.DropReportedKeepOuts(item.Item, t.first.Technician, item.Application.Product, item.Began)
		if err != nil {
			return err
		}
		t.dropped = append(t.dropped, dropped...)
	}
	return nil
}
