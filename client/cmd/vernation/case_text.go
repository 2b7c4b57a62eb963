package main

import (
	"fmt"
	"strings"
	"time"

	vernationv1 "vernation/proto/vernation/v1"
)

// caseStory prints a case: what it is, and what happened, oldest first.
func (p *printer) caseStory(c *vernationv1.Case) error {
	var out strings.Builder
	zone := p.zoneOf(c.GetSite())
	fmt.Fprintf(&out, "Case %s: %s, %s, severity %d, at %s\n", id(c.GetName()), plain(c.GetPest()), enumText(c, "certainty"), c.GetSeverity(), p.siteName(c.GetSite()))
	out.WriteString(wrap("Plants: ", strings.Join(ids(c.GetPlants()), ", "), pageWidth))
	if c.GetRecurrenceOf() != "" {
		fmt.Fprintf(&out, "It is a recurrence of %s.\n", id(c.GetRecurrenceOf()))
	}
	for _, event := range c.GetEvents() {
		out.WriteString(wrap(event.GetEventTime().AsTime().In(zone).Format("Mon 2 Jan 2006 15:04")+"  ", event.GetText(), pageWidth))
	}
	if c.GetEnding() != nil {
		out.WriteString(wrap(fmt.Sprintf("Ended, %s: ", enumText(c.GetEnding(), "kind")), c.GetEnding().GetReason(), pageWidth))
	}
	fmt.Fprintf(&out, "etag %s\n", c.GetEtag())
	_, err := fmt.Fprint(p.out, out.String())
	return err
}

// course prints what a case still needs, why, and what may not be used.
func (p *printer) course(c *vernationv1.Course) error {
	var out strings.Builder
	say := func(lead, text string) { out.WriteString(wrap(lead, text, pageWidth)) }
	with := id(c.GetProduct())
	if with == "" {
		with = plain(c.GetMaterial())
	}
	if with == "" {
		with = "nothing lawful"
	}
	fmt.Fprintf(&out, "Course of case %s, by %s\n", strings.TrimSuffix(id(c.GetName()), "/course"), with)
	if c.GetEnding() != nil {
		say("Ended: ", c.GetEnding().GetReason())
	}
	if c.GetProof().GetText() != "" {
		say("- ", c.GetProof().GetText()+".")
	}
	for _, followUp := range c.GetFollowUps() {
		text := fmt.Sprintf("%s: %s", followUp.GetItem(), followUp.GetReason())
		if !followUp.GetApproved() {
			text += "; the responsible applicator has not approved it yet"
		}
		say(shortDay(followUp.GetExpectedOn())+"  ", text+".")
	}
	if c.GetChanceFree() > 0 {
		say("- ", fmt.Sprintf("After the last application none is left with a chance of %.0f %%: an estimate from laboratory figures; look at the plants.", 100*c.GetChanceFree()))
	}
	if c.GetReplacement().GetText() != "" {
		say("- ", c.GetReplacement().GetText())
	}
	if len(c.GetOtherProducts()) > 0 {
		say("Lawful too: ", strings.Join(ids(c.GetOtherProducts()), ", ")+".")
	}
	for _, refusal := range c.GetRefusals() {
		what := id(refusal.GetProduct())
		if what == "" {
			what = plain(refusal.GetMaterial())
		}
		say("Refused: ", what+": "+strings.Join(refusal.GetReasons(), "; ")+".")
	}
	for _, advice := range c.GetAdvice() {
		say("Advice: ", advice)
	}
	for _, assumed := range c.GetAssumptions() {
		say("Assumed: ", assumed)
	}
	for _, caution := range c.GetCautions() {
		say("Caution: ", caution)
	}
	fmt.Fprintf(&out, "etag %s\n", c.GetEtag())
	_, err := fmt.Fprint(p.out, out.String())
	return err
}

// ids are those of several names.
func ids(names []string) []string {
	short := make([]string, len(names))
	for i, name := range names {
		short[i] = id(name)
	}
	return short
}

// shortDay writes 2026-03-03 as Tue 3 Mar.
func shortDay(date string) string {
	at, err := time.Parse(time.DateOnly, date)
	if err != nil {
		return date
	}
	return at.Format("Mon 2 Jan")
}
