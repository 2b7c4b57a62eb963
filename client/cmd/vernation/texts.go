package main

import (
	"fmt"
	"strconv"
	"strings"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/timestamppb"

	vernationv1 "vernation/proto/vernation/v1"
)

// texts print those answers by hand that people read as a whole.
var texts map[protoreflect.Name]func(*printer, proto.Message) error

// tables print those lists by hand that people read daily.
var tables map[protoreflect.Name]ownTable

// ownTable is the titles, and the cells of an item.
type ownTable struct {
	titles []string
	cells  func(*printer, proto.Message) []string
}

func init() { // both reach themselves through the printer
	texts = map[protoreflect.Name]func(*printer, proto.Message) error{
		"DayRoute":             func(p *printer, m proto.Message) error { return p.dayRoute(m.(*vernationv1.DayRoute)) },
		"Plan":                 func(p *printer, m proto.Message) error { return p.plan(m.(*vernationv1.Plan)) },
		"Case":                 func(p *printer, m proto.Message) error { return p.caseStory(m.(*vernationv1.Case)) },
		"Course":               func(p *printer, m proto.Message) error { return p.course(m.(*vernationv1.Course)) },
		"FindOpeningsResponse": func(p *printer, m proto.Message) error { return p.openings(m.(*vernationv1.FindOpeningsResponse)) },
		"ApplicationAnswer":    func(p *printer, m proto.Message) error { return p.answer(m.(*vernationv1.ApplicationAnswer)) },
	}
	tables = map[protoreflect.Name]ownTable{
		"Case":              {[]string{"CASE", "SITE", "PEST", "SEVERITY", "CERTAINTY", "OPENED", "ENDED"}, caseCells},
		"AwaitedApproval":   {[]string{"CASE", "SITE", "PEST", "PRODUCT", "WAYS", "FOLLOW-UPS", "EXPECTED"}, awaitedCells},
		"Site":              {[]string{"SITE", "NAME", "KIND", "CLIENT", "JURISDICTION", "ZONE", "DELETED"}, siteCells},
		"Plant":             {[]string{"PLANT", "NAME", "COUNT", "SPECIES", "SITE", "AREA", "DELETED"}, plantCells},
		"Visit":             {[]string{"VISIT", "STATE", "ARRIVES", "LEAVES", "TECHNICIAN", "SITE", "WORK"}, visitCells},
		"Plan":              {[]string{"PLAN", "STATE", "FROM", "DAYS", "COST", "BOUND", "MADE", "PUBLISHED"}, planCells},
		"PlanRun":           {[]string{"RUN", "STATE", "FROM", "DAYS", "ROUNDS", "COST", "BOUND", "PLAN"}, runCells},
		"ApplicationRecord": {[]string{"RECORD", "BEGAN", "SITE", "PRODUCT", "APPLIED", "RATE %", "TECHNICIAN", "ITEM"}, recordCells},
		"Finding":           {[]string{"FINDING", "SEEN", "PEST", "CERTAINTY", "LIFE", "SEVERITY", "SITE", "CASE", "PLANTS"}, findingCells},
		"Deviation":         {[]string{"DEVIATION", "RULE", "WHEN", "SITE", "ITEM", "SEEN BY"}, deviationCells},
	}
}

// own prints a table by hand.
func (p *printer) own(items protoreflect.List, by ownTable) error {
	grid := table{titles: by.titles}
	for i := range items.Len() {
		grid.add(by.cells(p, items.Get(i).Message().Interface())...)
	}
	return p.grid(grid)
}

// clock is an instant as people say it, in the zone of a site: Tue 3 Mar 19:30.
func (p *printer) clock(at *timestamppb.Timestamp, site string) string {
	if at == nil {
		return ""
	}
	return at.AsTime().In(p.zoneOf(site)).Format("Mon 2 Jan 15:04")
}

func caseCells(p *printer, m proto.Message) []string {
	c := m.(*vernationv1.Case)
	ended := ""
	if c.GetEnding() != nil {
		ended = enumText(c.GetEnding(), "kind")
	}
	return []string{id(c.GetName()), p.siteName(c.GetSite()), plain(c.GetPest()), strconv.Itoa(int(c.GetSeverity())), enumText(c, "certainty"), p.clock(c.GetCreateTime(), c.GetSite()), ended}
}

func awaitedCells(p *printer, m proto.Message) []string {
	a := m.(*vernationv1.AwaitedApproval)
	var ways []string
	for _, way := range a.GetWayKinds() {
		ways = append(ways, plain(enumWord(way.Descriptor(), way.Number())))
	}
	return []string{id(a.GetCase()), p.siteName(a.GetSite()), plain(a.GetPest()), id(a.GetProduct()), strings.Join(ways, ", "), strconv.Itoa(len(a.GetItems())), a.GetExpectedOn()}
}

func siteCells(p *printer, m proto.Message) []string {
	site := m.(*vernationv1.Site)
	return []string{
		id(site.GetName()), site.GetDisplayName(), enumText(site, "place_kind"), site.GetClientId(), site.GetJurisdiction(), site.GetTimeZone(),
		p.clock(site.GetDeleteTime(), site.GetName()),
	}
}

func plantCells(p *printer, m proto.Message) []string {
	plant := m.(*vernationv1.Plant)
	site, area := "", id(plant.GetArea())
	if parts := strings.Split(plant.GetArea(), "/areas/"); len(parts) == 2 {
		site, area = parts[0], parts[1]
	}
	return []string{
		id(plant.GetName()), plant.GetDisplayName(), strconv.Itoa(int(plant.GetCount())), plain(plant.GetSpecies()), p.siteName(site), area,
		p.clock(plant.GetDeleteTime(), site),
	}
}

func visitCells(p *printer, m proto.Message) []string {
	v := m.(*vernationv1.Visit)
	return []string{id(v.GetName()), enumText(v, "state"), p.clock(v.GetArrives(), v.GetSite()), v.GetLeaves().AsTime().In(p.zoneOf(v.GetSite())).Format("15:04"), id(v.GetTechnician()), p.siteName(v.GetSite()), work(v)}
}

// work is what is done at a visit, each kind once.
func work(v *vernationv1.Visit) string {
	var parts []string
	seen := map[string]bool{}
	for _, item := range v.GetWorkItems() {
		text := item.GetItem()
		if item.GetServiceKind() != vernationv1.ServiceKind_SERVICE_KIND_UNSPECIFIED {
			text = enumText(item, "service_kind")
		}
		if !seen[text] {
			seen[text] = true
			parts = append(parts, text)
		}
	}
	return strings.Join(parts, ", ")
}

func planCells(p *printer, m proto.Message) []string {
	plan := m.(*vernationv1.Plan)
	return []string{
		id(plan.GetName()), enumText(plan, "state"), plan.GetFirstOn(), strconv.Itoa(int(plan.GetDays())), money(plan.GetCost().GetTotalMinor()), money(plan.GetBoundMinor()),
		when(plan.GetCreateTime(), plan.GetTimeZone()), when(plan.GetPublishTime(), plan.GetTimeZone()),
	}
}

func runCells(_ *printer, m proto.Message) []string {
	run := m.(*vernationv1.PlanRun)
	return []string{
		id(run.GetName()), enumText(run, "state"), run.GetFirstOn(), strconv.Itoa(int(run.GetDays())), strconv.Itoa(int(run.GetIteration())),
		money(run.GetBest().GetTotalMinor()), money(run.GetBoundMinor()), id(run.GetPlan()),
	}
}

func deviationCells(p *printer, m proto.Message) []string {
	d := m.(*vernationv1.Deviation)
	return []string{id(d.GetName()), enumText(d, "rule"), p.clock(d.GetEventTime(), d.GetSite()), p.siteName(d.GetSite()), d.GetItem(), d.GetAcknowledgedBy()}
}

// workOrState is what is done at a visit; one that is over holds its state alone.
func workOrState(v *vernationv1.Visit) string {
	if text := work(v); text != "" {
		return text
	}
	return enumText(v, "state")
}

func recordCells(p *printer, m proto.Message) []string {
	r := m.(*vernationv1.ApplicationRecord)
	return []string{id(r.GetName()), p.clock(r.GetBegan(), r.GetSite()), r.GetSiteDisplayName(), r.GetProductDisplayName(), r.GetApplied(), r.GetRatePercent(), id(r.GetTechnician()), r.GetItem()}
}

func findingCells(p *printer, m proto.Message) []string {
	f := m.(*vernationv1.Finding)
	return []string{
		id(f.GetName()), p.clock(f.GetSeenTime(), f.GetSite()), plain(f.GetPest()), enumText(f, "certainty"), enumText(f, "life"), strconv.Itoa(int(f.GetSeverity())),
		p.siteName(f.GetSite()), id(f.GetCase()), strings.Join(ids(f.GetPlants()), ", "),
	}
}

// openings prints free slots in the server's words, with the token that books each.
func (p *printer) openings(found *vernationv1.FindOpeningsResponse) error {
	var out strings.Builder
	for i, opening := range found.GetOpenings() {
		out.WriteString(wrap(fmt.Sprintf("%2d. ", i+1), opening.GetText(), pageWidth))
		if opening.GetToken() != "" {
			fmt.Fprintf(&out, "    to book it: --book-opening-token %s\n", opening.GetToken())
		}
	}
	for _, reason := range found.GetNone() {
		out.WriteString(wrap("No opening: ", reason.GetText(), pageWidth))
	}
	for _, slot := range found.GetSlots() {
		at := p.usualZone()
		lead := fmt.Sprintf("%s, %s: ", id(slot.GetTechnician()), slot.GetBegins().AsTime().In(at).Format("Mon 2 Jan 15:04 MST"))
		if slot.GetOpening() != nil {
			out.WriteString(wrap(lead, "free. "+slot.GetOpening().GetText(), pageWidth))
		}
		for _, reason := range slot.GetForbids() {
			out.WriteString(wrap(lead, reason.GetText(), pageWidth))
		}
	}
	_, err := fmt.Fprint(p.out, out.String())
	return err
}
