package main

import (
	"fmt"
	"strings"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	vernationv1 "vernation/proto/vernation/v1"
)

// pageWidth is that of a plain terminal.
const pageWidth = 80

// dayRoute prints a technician's day, to be read aloud: where to go, how to get in, what to do, mix and wear, and what
// stays shut.
func (p *printer) dayRoute(route *vernationv1.DayRoute) error {
	_, err := fmt.Fprint(p.out, p.dayText(route, nil))
	return err
}

// dayText is the day in words. ticked are the work items that are told already, by id.
func (p *printer) dayText(route *vernationv1.DayRoute, ticked map[string]string) string {
	t := &dayText{p: p, zone: p.usualZone(), ticked: ticked}
	if visits := route.GetVisits(); len(visits) > 0 {
		t.zone = p.zoneOfBrief(visits[0])
	}
	t.heading(fmt.Sprintf("%s, %s", day(route.GetOn()), id(route.GetTechnician())))
	line := fmt.Sprintf("Leave the base %s, back %s", t.hour(route.GetDeparts()), t.hour(route.GetReturns()))
	if route.GetBreakBegins() != nil {
		line += fmt.Sprintf(", break %s-%s", t.hour(route.GetBreakBegins()), t.hour(route.GetBreakEnds()))
	}
	t.say("", line+".")
	t.load(route.GetLoad())
	for _, visit := range route.GetVisits() {
		t.visit(visit)
	}
	for i, mix := range route.GetMixes() {
		t.mix(i, mix)
	}
	if len(route.GetKeepOuts()) > 0 {
		t.heading("Keep out")
		for _, k := range route.GetKeepOuts() {
			t.say("- ", k.GetText())
		}
	}
	if cautions := t.cautions(route); len(cautions) > 0 {
		t.heading("Cautions")
		for _, caution := range cautions {
			t.say("- ", caution)
		}
	}
	return t.out.String()
}

// cautions are all that the day says, each once.
func (t *dayText) cautions(route *vernationv1.DayRoute) (all []string) {
	seen := map[string]bool{}
	lists := [][]string{route.GetCautions(), route.GetLoad().GetCautions()}
	for _, mix := range route.GetMixes() {
		lists = append(lists, mix.GetSheet().GetCautions())
	}
	for _, list := range lists {
		for _, caution := range list {
			if !seen[caution] {
				seen[caution] = true
				all = append(all, caution)
			}
		}
	}
	return all
}

// dayText is a day's text in the making.
type dayText struct {
	p      *printer
	zone   *time.Location
	ticked map[string]string
	out    strings.Builder
}

func (t *dayText) say(lead, text string) { t.out.WriteString(wrap(lead, text, pageWidth)) }

func (t *dayText) heading(text string) {
	if t.out.Len() > 0 {
		t.out.WriteByte('\n')
	}
	if t.p.coloured {
		text = bold + text + reset
	}
	t.out.WriteString(text + "\n")
}

func (t *dayText) hour(at *timestamppb.Timestamp) string {
	return at.AsTime().In(t.zone).Format("15:04")
}

// load tells what comes along in the morning.
func (t *dayText) load(load *vernationv1.LoadList) {
	for _, product := range load.GetProducts() {
		amount := product.GetVolume()
		switch {
		case product.GetMass() != "":
			amount = product.GetMass()
		case product.GetOrganisms() > 0:
			amount = fmt.Sprintf("%d organisms", product.GetOrganisms())
		}
		t.say("Load: ", strings.TrimSuffix(amount+" of "+product.GetDisplayName()+". "+product.GetStorage(), ". "))
		if product.GetEquipmentNotListed() {
			t.say("      ", "Its record lists no protective equipment: read the label before it is opened.")
		}
	}
	for _, what := range []struct {
		lead string
		list []string
	}{
		{"Carry water: ", []string{load.GetWater()}}, {"Vessels: ", load.GetVessels()}, {"Measures: ", load.GetMeasures()},
		{"Wear: ", load.GetEquipment()}, {"Keys: ", load.GetKeyIds()}, {"Bring: ", load.GetOthers()},
	} {
		if text := strings.Join(what.list, "; "); text != "" {
			t.say(what.lead, text)
		}
	}
	for _, missing := range load.GetMissing() {
		t.say("Missing: ", missing)
	}
}

func (t *dayText) visit(visit *vernationv1.Visit) {
	t.zone = t.p.zoneOfBrief(visit)
	brief := visit.GetBrief()
	name := brief.GetDisplayName()
	if name == "" {
		name = t.p.siteName(visit.GetSite())
	}
	t.heading(shorten(fmt.Sprintf("%s-%s %s", t.hour(visit.GetArrives()), t.hour(visit.GetLeaves()), name), pageWidth))
	t.say("Visit: ", id(visit.GetName()))
	if brief.GetAccessNotes() != "" {
		t.say("Access: ", brief.GetAccessNotes())
	}
	if len(brief.GetKeyIds()) > 0 {
		t.say("Keys: ", strings.Join(brief.GetKeyIds(), ", "))
	}
	t.secrets(brief.GetAccessSecrets())
	if brief.GetWaterText() != "" {
		t.say("", sentence(brief.GetWaterText()))
	}
	for _, open := range brief.GetOpenConfirmations() {
		t.say("First: ", fmt.Sprintf("is %s dry? Confirm before anybody is let in (%s).", id(open.GetArea()), open.GetItem()))
	}
	for _, item := range visit.GetWorkItems() {
		t.work(item)
	}
}

// secrets tells what opens a site; the server gives it to the technician of the day alone.
func (t *dayText) secrets(secrets *vernationv1.AccessSecrets) {
	for _, code := range secrets.GetCodes() {
		t.say("Opens: ", code.GetOpens()+" "+code.GetCode())
	}
	if secrets.GetKeyPlace() != "" {
		t.say("Keys lie: ", secrets.GetKeyPlace())
	}
	if secrets.GetNote() != "" {
		t.say("Opens: ", secrets.GetNote())
	}
}

func (t *dayText) work(item *vernationv1.WorkItem) {
	lead := "- "
	if t.ticked != nil {
		lead = "[ ] "
		if t.ticked[item.GetItem()] != "" {
			lead = "[x] "
		}
	}
	t.say(lead, fmt.Sprintf("%s-%s %s", t.hour(item.GetBegins()), t.hour(item.GetEnds()), item.GetText()))
	hang := strings.Repeat(" ", len(lead))
	t.say(hang+"Item: ", item.GetItem())
	if outcome := t.ticked[item.GetItem()]; outcome != "" {
		t.say(hang+"Told: ", outcome)
	}
	for _, condition := range item.GetConditions() {
		t.say(hang+"Before it: ", condition)
	}
	if len(item.GetEquipment()) > 0 {
		t.say(hang+"Wear: ", strings.Join(item.GetEquipment(), ", "))
	}
	for _, reading := range item.GetReadings() {
		t.say(hang+"Measure: ", reading)
	}
	if item.MixIndex != nil {
		t.say(hang+"From: ", fmt.Sprintf("mix %d", item.GetMixIndex()+1))
	}
}

func (t *dayText) mix(i int, mix *vernationv1.Mix) {
	sheet := mix.GetSheet()
	t.heading(fmt.Sprintf("Mix %d: %s", i+1, id(mix.GetProduct())))
	amount := mix.GetConcentrate()
	switch {
	case mix.GetMass() != "":
		amount = mix.GetMass()
	case mix.GetOrganisms() > 0:
		amount = fmt.Sprintf("%d organisms", mix.GetOrganisms())
	}
	t.say("", fmt.Sprintf("%s in %s of finished mix. %s", amount, mix.GetVolume(), sheet.GetRateText()))
	t.say("Where: ", sheet.GetWhere())
	if sheet.GetWaterNote() != "" {
		t.say("Water: ", sheet.GetWaterNote())
	}
	for n, step := range sheet.GetSteps() {
		t.say(fmt.Sprintf("%d. ", n+1), step)
	}
	if len(sheet.GetEquipment()) > 0 {
		t.say("Wear: ", strings.Join(sheet.GetEquipment(), ", "))
	}
	t.say("Write on it: ", sheet.GetContainerText())
	t.say("What is left: ", sheet.GetLeftoverText())
}

// zoneOfBrief is the zone that a visit tells, else that of its site.
func (p *printer) zoneOfBrief(visit *vernationv1.Visit) *time.Location {
	if zone, err := time.LoadLocation(visit.GetBrief().GetTimeZone()); err == nil && visit.GetBrief().GetTimeZone() != "" {
		return zone
	}
	return p.zoneOf(visit.GetSite())
}

// day writes 2026-03-03 as Tuesday 3 March 2026.
func day(date string) string {
	at, err := time.Parse(time.DateOnly, date)
	if err != nil {
		return date
	}
	return at.Format("Monday 2 January 2006")
}

// when is an instant in a zone by name, as people say it.
func when(at *timestamppb.Timestamp, zoneName string) string {
	if at == nil {
		return ""
	}
	zone, err := time.LoadLocation(zoneName)
	if err != nil {
		zone = time.UTC
	}
	return at.AsTime().In(zone).Format("Mon 2 Jan 15:04")
}

// plan prints a plan: who goes where, what is left out and why, what stays shut, and what it costs.
func (p *printer) plan(plan *vernationv1.Plan) error {
	var out strings.Builder
	fmt.Fprintf(&out, "Plan %s: %s, %d days from %s\n", id(plan.GetName()), enumText(plan, "state"), plan.GetDays(), day(plan.GetFirstOn()))
	for _, route := range plan.GetRoutes() {
		zone, err := time.LoadLocation(plan.GetTimeZone())
		if err != nil {
			zone = time.UTC
		}
		hour := func(at *timestamppb.Timestamp, in *time.Location) string { return at.AsTime().In(in).Format("15:04") }
		fmt.Fprintf(&out, "\n%s, %s: leaves the base %s, back %s\n", day(route.GetOn()), id(route.GetTechnician()), hour(route.GetDeparts(), zone), hour(route.GetReturns(), zone))
		for _, visit := range route.GetVisits() {
			in := p.zoneOf(visit.GetSite())
			out.WriteString(wrap(fmt.Sprintf("  %s-%s ", hour(visit.GetArrives(), in), hour(visit.GetLeaves(), in)), p.siteName(visit.GetSite())+": "+workOrState(visit), pageWidth))
		}
	}
	p.planRest(&out, plan)
	_, err := fmt.Fprint(p.out, out.String())
	return err
}

// planRest tells what stays shut, what is not in the plan, and what it costs.
func (p *printer) planRest(out *strings.Builder, plan *vernationv1.Plan) {
	out.WriteByte('\n')
	for _, k := range plan.GetKeepOuts() {
		out.WriteString(wrap("Shut: ", k.GetText(), pageWidth))
	}
	for _, u := range plan.GetUnplanned() {
		var why []string
		for _, reason := range u.GetReasons() {
			why = append(why, reason.GetText())
		}
		out.WriteString(wrap(fmt.Sprintf("Not in it, %s: ", enumText(u, "status")), fmt.Sprintf("%s at %s: %s", u.GetItem(), money(u.GetCostMinor()), strings.Join(why, "; ")), pageWidth))
	}
	fmt.Fprintf(out, "Cost %s %s; no plan costs less than %s; %d rounds\n", money(plan.GetCost().GetTotalMinor()), plan.GetCurrency(), money(plan.GetBoundMinor()), plan.GetIterations())
	for _, caution := range plan.GetCautions() {
		out.WriteString(wrap("Caution: ", caution, pageWidth))
	}
}

// answer prints whether something may be applied, in the server's words.
func (p *printer) answer(answer *vernationv1.ApplicationAnswer) error {
	var out strings.Builder
	out.WriteString(lines(answer.GetText()))
	for _, caution := range answer.GetCautions() {
		if !strings.Contains(answer.GetText(), caution) {
			out.WriteString(wrap("Caution: ", caution, pageWidth))
		}
	}
	_, err := fmt.Fprint(p.out, out.String())
	return err
}
