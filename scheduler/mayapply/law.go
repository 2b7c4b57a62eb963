package mayapply

import (
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/dilution"
	"vernation/scheduler/site"
)

// askLaw: a material that the law wants registered needs a product registered there; a household remedy is refused unless
// the responsible applicator recorded for that jurisdiction why it is lawful.
func (a *asking) askLaw() {
	where := a.Site.Jurisdiction
	switch a.material.Law {
	case catalogue.HouseholdRemedy:
		if d := a.material.Dilution; d != nil {
			_, text := dilution.Household(*d)
			a.say(RuleLaw, Notes, nil, "the usual household dilution, computed: %s; that gives no leave to use it", text)
		}
		if reason := a.Product.LawfulBecause[where]; reason != "" {
			a.say(RuleLaw, Notes, nil, "%s is a household remedy; the responsible applicator recorded for %s: %s", a.material.Name, where, reason)
			return
		}
		a.refuse(RuleLaw, "%s is a household remedy: refused unless the responsible applicator has recorded why it is lawful in %s", a.material.Name, where)
	case catalogue.RegisteredProduct:
		if a.Product.Registration == "" || !slices.Contains(a.Product.Jurisdictions, where) {
			a.refuse(RuleLaw, "%s is used only as a product registered in %s: the record of %s gives registration %q and %s", a.material.Name, where, a.Product.Name, a.Product.Registration, list(a.Product.Jurisdictions))
		}
	}
	if where != "" {
		if _, err := a.Catalogue.JurisdictionByCode(where); err != nil {
			a.say(RuleLaw, Notes, nil, "nothing is known of the law of %s: ask the responsible applicator", where)
		}
	}
}

// askIncident: a product that was in an incident at the site is barred there until the responsible applicator allows it again.
func (a *asking) askIncident() {
	if by, barred := a.Site.Bars(a.Product.ID); barred {
		a.refuse(RuleIncident, "%s is barred here since incident %s: the responsible applicator is to look at it and to allow the product again first", a.Product.Name, by.Incident)
	}
}

// askAgreement: what the client refused, what he consents to each time, the owner's word on plants not in our care, and the
// hours in which the site may be entered.
func (a *asking) askAgreement() {
	agreed := a.Site.Agreement
	if slices.Contains(agreed.RefusedMaterials, a.material.ID) {
		a.refuse(RuleAgreement, "the client refused %s", a.material.Name)
	}
	if slices.Contains(agreed.RefusedMethods, a.material.Method) {
		a.refuse(RuleAgreement, "the client refused the method %s", spaced(a.material.Method))
	}
	if !agreed.Consented(a.material.Method, a.material.ID, a.day) {
		a.refuse(RuleAgreement, "the client is asked before each %s and has not consented for %v", spaced(a.material.Method), a.day)
	}
	for _, p := range a.Plants {
		if !p.MayBeTreated(a.day) {
			a.say(RuleAgreement, Refuses, []site.PlantID{p.ID}, "it is not in our care and its owner has not consented")
		}
	}
	if !slices.ContainsFunc(a.openRuns(a.during())[0], func(run civil.Interval) bool { return run.Covers(a.during()) }) {
		a.refuse(RuleAccess, "the site may not be entered for the whole of %s", a.stretch(a.during()))
	}
}

// askLicence: who applies holds a category that the label asks for and that covers the kind of place, on that day, in that
// jurisdiction, or works under a named supervisor who does, where that is allowed.
func (a *asking) askLicence() {
	asked := a.Product.Label.Categories
	if len(asked) == 0 {
		return
	}
	for _, area := range a.areas() {
		var covering []string
		for _, c := range a.Catalogue.Categories(a.Site.Jurisdiction) {
			if slices.Contains(asked, c.ID) && slices.Contains(c.Covers, a.kindOf(area)) {
				covering = append(covering, c.ID)
			}
		}
		switch {
		case len(covering) == 0:
			a.say(RuleLicence, Refuses, a.plantsIn(area.ID), "no category that the label asks for (%s) is known to cover %s in %s", list(asked), spaced(a.kindOf(area)), a.Site.Jurisdiction)
		case a.holds(a.By, covering):
		case a.supervised(covering):
			text, _ := a.Catalogue.Supervision(a.Site.Jurisdiction)
			a.say(RuleLicence, Asks, a.plantsIn(area.ID), "%s applies under a licence holder: %s", a.By.Name, text)
		default:
			a.say(RuleLicence, Refuses, a.plantsIn(area.ID), "%s holds no licence of category %s in %s on %v, and works under nobody who does", a.By.Name, list(covering), a.Site.Jurisdiction, a.day)
		}
	}
}

func (a *asking) holds(p Person, categories []string) bool {
	return slices.ContainsFunc(p.Licences, func(l Licence) bool { return l.Under == "" && a.valid(l, categories) })
}

func (a *asking) valid(l Licence, categories []string) bool {
	return l.Jurisdiction == a.Site.Jurisdiction && slices.Contains(categories, l.Category) && l.From <= a.day && (l.To.IsZero() || a.day <= l.To)
}

func (a *asking) supervised(categories []string) bool {
	if _, known := a.Catalogue.Supervision(a.Site.Jurisdiction); !known {
		return false
	}
	return slices.ContainsFunc(a.By.Licences, func(l Licence) bool {
		return l.Under != "" && a.valid(l, categories) && slices.ContainsFunc(a.Crew, func(p Person) bool {
			return p.Name == l.Under && p.Name != a.By.Name && a.holds(p, []string{l.Category})
		})
	})
}

// askApproval: the responsible applicator says yes to a product before it goes out. Physical work and devices ask for it only
// where their label asks for a licence.
func (a *asking) askApproval() {
	physical := a.material.Law == catalogue.PhysicalWork || a.material.Law == catalogue.DeviceOrOrganism
	if physical && len(a.Product.Label.Categories) == 0 {
		return
	}
	switch top := a.Product.Label.MaxRate; {
	case a.Approval == nil:
		a.refuse(RuleApproval, "the responsible applicator has not approved it")
	case a.Approval.MaxRate != nil && top != nil && a.Approval.MaxRate.Cmp(*top) < 0:
		a.say(RuleApproval, Notes, nil, "%s approved up to %v, less than the label's %v: that is the greatest rate here", a.Approval.By, *a.Approval.MaxRate, *top)
	}
}

// askNotice: the lead of a notice, from the agreement, else the strictest known of the jurisdiction, else the policy's; and the
// signs that the law asks for. Work without a product asks for neither.
func (a *asking) askNotice() {
	if !a.pesticide() {
		return
	}
	for _, area := range a.areas() {
		lead, known, text := a.Catalogue.NoticeLead(a.Site.Jurisdiction, a.kindOf(area), a.Site.Kind)
		why := text
		if own := a.Site.Agreement.NoticeLead; own != nil && (!known || *own > lead) {
			lead, known, why = *own, true, "as agreed with the client"
		}
		if !known {
			lead, why = a.Policy.NoticeLead, "no rule is known for this kind of place; the business's practice"
		}
		switch {
		case lead == 0:
		case a.NoticeSent == nil:
			a.say(RuleNotice, Refuses, a.plantsIn(area.ID), "no notice was given; %s before are asked (%s)", span(lead), why)
		case a.NoticeSent.Add(lead) > a.Begins:
			a.say(RuleNotice, Refuses, a.plantsIn(area.ID), "notice was given %s before; %s are asked (%s)", span(a.Begins.Sub(*a.NoticeSent)), span(lead), why)
		}
		for _, posting := range a.Catalogue.Postings(a.Site.Jurisdiction, a.kindOf(area)) {
			a.say(RuleNotice, Asks, a.plantsIn(area.ID), "%s", posting.Text)
		}
	}
}

// pesticide says whether law on pesticides speaks of it: a product on plants, and neither work by hand nor device nor animal.
func (a *asking) pesticide() bool {
	return a.onPlants() && a.material.Law != catalogue.PhysicalWork && a.material.Law != catalogue.DeviceOrOrganism
}

// askRecord names the fields that were not read from a container.
func (a *asking) askRecord() {
	if len(a.Product.Placeholders) > 0 {
		a.say(RuleRecord, Asks, nil, "not read from a container, read off the label in hand first: %s", list(a.Product.Placeholders))
	}
}

func (a *asking) stretch(v civil.Interval) string {
	to := a.Site.Zone.FormatClock(v.To)
	if a.Site.Zone.DateOf(v.To) != a.Site.Zone.DateOf(v.From) {
		to = a.Site.Zone.Format(v.To)
	}
	return a.Site.Zone.Format(v.From) + " to " + to
}
