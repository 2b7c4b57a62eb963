package casework

import (
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// AskClient stores what a client was asked for. A material without a method asks for the material's own.
//
// Fails with NotFound for the site or the case, Exists for a question of that id, and Invalid (REQUIRED where it asks for nothing,
// UNKNOWN_MATERIAL, CONTRADICTION for a method that is not the material's or a sum without a case, UNKNOWN_AREA, OTHER_SITE for a
// case of another site, IN_THE_FUTURE, each with its field).
func AskClient(tx *store.Tx, c firm.ClientConsent) (firm.ClientConsent, error) {
	if c.AskedAt.IsZero() {
		c.AskedAt = tx.Now()
	}
	if c.AskedBy == "" {
		c.AskedBy = tx.Caller().Subject
	}
	c.ReceivedAt = tx.Now()
	material, known := catalogue.Shipped().Materials[c.Material]
	if known && c.Method == "" {
		c.Method = material.Method
	}
	at, err := tx.Site(c.Site)
	if err != nil {
		return firm.ClientConsent{}, err
	}
	var fields catalogue.FieldErrors
	if c.Method == "" && c.Material == "" && c.Shut == nil && c.Sum == nil {
		fields.Add("client_consent", "REQUIRED", "it asks for nothing: want a method, a material, an area to be shut or a sum")
	}
	switch {
	case c.Material == "":
	case !known:
		fields.Add("client_consent.material", catalogue.ReasonUnknownMaterial, "the catalogue holds no material %q", c.Material)
	case c.Method != material.Method:
		fields.Add("client_consent.method", catalogue.ReasonContradiction, "%s goes on by %s, not by %s", material.Name, plain(material.Method), plain(c.Method))
	}
	if c.Sum != nil && c.Case == "" {
		fields.Add("client_consent.case", catalogue.ReasonContradiction, "a sum without a case: want the case whose course it pays for")
	}
	if c.Shut != nil && !slices.ContainsFunc(at.Areas, func(a site.Area) bool { return a.ID == c.Shut.Area }) {
		fields.Add("client_consent.shut_area.area_id", catalogue.ReasonUnknownArea, "%s is no area of %s", c.Shut.Area, at.Name)
	}
	if c.AskedAt > tx.Now().Add(clockTolerance) {
		fields.Add("client_consent.ask_time", "IN_THE_FUTURE", "%v lies more than 5 minutes after the firm's clock, %v: want when the client was asked", c.AskedAt, tx.Now())
	}
	if c.Case != "" {
		of, err := tx.Case(c.Case)
		if err != nil {
			return firm.ClientConsent{}, err
		}
		if of.Site != string(c.Site) {
			fields.Add("client_consent.case", "OTHER_SITE", "case %s is at another site: want one of %s", of.ID, at.Name)
		}
	}
	if err := fault.InvalidFields(fields); err != nil {
		return firm.ClientConsent{}, err
	}
	return c, tx.InsertClientConsent(c)
}

// answerable are the states in which an answer is one: a consent that was withdrawn is asked for anew.
var answerable = map[firm.ConsentAnswerKind][]firm.ConsentAnswerKind{
	firm.ConsentGiven:     {"", firm.ConsentRefused},
	firm.ConsentRefused:   {""},
	firm.ConsentWithdrawn: {firm.ConsentGiven},
}

// AnswerConsent appends what a client answered, and the courses of the site follow. A consent that is given makes ways lawful in the
// next plan, one that is withdrawn takes them out; what stands fixed is a fact.
//
// Fails with NotFound, Invalid (IN_THE_FUTURE, OUT_OF_RANGE for a last day before the first) and Refused (NOT_ANSWERABLE: given or
// refused already, or withdrawn without having been given).
func AnswerConsent(tx *store.Tx, id string, a firm.ConsentAnswer) (firm.ClientConsent, error) {
	c, err := tx.ClientConsent(id)
	if err != nil {
		return firm.ClientConsent{}, err
	}
	if err := tx.LockSite(c.Site); err != nil {
		return firm.ClientConsent{}, err
	}
	if c, err = tx.ClientConsent(id); err != nil { // as whoever held the site left it
		return firm.ClientConsent{}, err
	}
	at, err := tx.Site(c.Site)
	if err != nil {
		return firm.ClientConsent{}, err
	}
	a.RecordedBy, a.ReceivedAt = tx.Caller().Subject, tx.Now()
	if a.At.IsZero() {
		a.At = tx.Now()
	}
	if a.Kind == firm.ConsentGiven && a.From.IsZero() {
		a.From = at.Zone.DateOf(a.At)
	}
	var fields catalogue.FieldErrors
	if a.At > tx.Now().Add(clockTolerance) {
		fields.Add("answer_time", "IN_THE_FUTURE", "%v lies more than 5 minutes after the firm's clock, %v: want when the client answered", a.At, tx.Now())
	}
	if !a.To.IsZero() && a.To < a.From {
		fields.Add("to_on", catalogue.ReasonOutOfRange, "%v lies before the first day, %v: want the days in sequence", a.To, a.From)
	}
	if err := fault.InvalidFields(fields); err != nil {
		return firm.ClientConsent{}, err
	}
	if state := c.State(); !slices.Contains(answerable[a.Kind], state) {
		if state == "" {
			return c, fault.New(fault.Refused, "NOT_ANSWERABLE", "the client has not answered: a consent that was never given cannot be withdrawn")
		}
		return c, fault.New(fault.Refused, "NOT_ANSWERABLE", "the consent is %s already, and cannot be %s: ask the client anew", state, a.Kind)
	}
	if err := tx.AnswerClientConsent(c, a); err != nil {
		return firm.ClientConsent{}, err
	}
	c.Answers = append(c.Answers, a)
	return c, recomputeSite(tx, c.Site)
}

// consented says whether the client's consent to an application held when it was begun: by the agreement, or by an answer that came
// before it and was withdrawn, if at all, after it.
func (t *telling) consented(a application) bool {
	agreed := t.site.Agreement
	agreed.Consents = slices.DeleteFunc(slices.Clone(agreed.Consents), func(c site.Consent) bool { return c.Asked != "" })
	if agreed.Consented(a.material.Method, a.material.ID, a.on) {
		return true
	}
	return slices.ContainsFunc(t.consents, func(c firm.ClientConsent) bool {
		return c.Method == a.material.Method && (c.Material == "" || c.Material == a.material.ID) && c.HeldAt(a.Began, a.on)
	})
}
