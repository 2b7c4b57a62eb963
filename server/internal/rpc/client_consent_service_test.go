package rpc_test

import (
	"slices"
	"strings"
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/server/internal/load"
)

// askingDesk is one whose offices want to be asked before each spray of whole plants.
func askingDesk(t *testing.T, change func(*site.Agreement)) *desk {
	t.Helper()
	return openDesk(t, func(file *load.File) {
		for i := range file.Sites {
			if file.Sites[i].ID == "offices-alder-row" {
				file.Sites[i].Agreement.ConsentNeeded = []catalogue.Method{catalogue.WholePlantSpray}
				if change != nil {
					change(&file.Sites[i].Agreement)
				}
			}
		}
	})
}

func (d *desk) ask(t *testing.T, id string, change func(*vernationv1.ClientConsent)) *vernationv1.ClientConsent {
	t.Helper()
	asked, err := d.consents().CreateClientConsent(d.office, d.question(id, change))
	if err != nil {
		t.Fatal(err)
	}
	return asked
}

func (d *desk) answer(t *testing.T, id string, change func(*vernationv1.AnswerClientConsentRequest)) *vernationv1.ClientConsent {
	t.Helper()
	ask := &vernationv1.AnswerClientConsentRequest{Name: d.name("clientConsents/" + id), Given: true, AnsweredBy: "the facilities desk", RequestId: request()}
	if change != nil {
		change(ask)
	}
	answered, err := d.consents().AnswerClientConsent(d.office, ask)
	if err != nil {
		t.Fatal(err)
	}
	return answered
}

func (d *desk) needed(t *testing.T) []*vernationv1.NeededConsent {
	t.Helper()
	page, err := d.consents().ListNeededConsents(d.office, &vernationv1.ListNeededConsentsRequest{Parent: d.name("")})
	if err != nil {
		t.Fatal(err)
	}
	return page.GetNeededConsents()
}

// What is not consented to is no way; asked for and given it is one, withdrawn it is none again, and all of it is kept in order.
func TestClientConsent_MakesAWayLawfulAndWithdrawnTakesItOut(t *testing.T) {
	t.Parallel()
	d := askingDesk(t, nil)
	d.find(t, "pothos-stairs", "pothos-printer")
	soap := d.name("products/soap")
	if c := d.course(t); c.GetProduct() == soap || !slices.ContainsFunc(c.GetRefusals(), func(r *vernationv1.Refusal) bool { return r.GetProduct() == soap && r.GetOnlyConsent() }) {
		t.Fatalf("unasked, the course uses %q and refuses soap for %v", c.GetProduct(), refusalOf(c, soap))
	}
	waits := func() (asked string, found bool) {
		for _, n := range d.needed(t) {
			if slices.Contains(n.GetProducts(), soap) && n.GetMethod() == vernationv1.Method_METHOD_WHOLE_PLANT_SPRAY && n.GetCase() == d.name("cases/mealybugs") {
				return n.GetAsked(), true
			}
		}
		return "", false
	}
	if asked, found := waits(); !found || asked != "" {
		t.Errorf("needed: %v", d.needed(t))
	}
	asked := d.ask(t, "spray", func(c *vernationv1.ClientConsent) {
		c.Method, c.Material, c.Case = vernationv1.Method_METHOD_UNSPECIFIED, "insecticidal-soap", d.name("cases/mealybugs")
	})
	if asked.GetState() != vernationv1.ConsentState_CONSENT_STATE_ASKED || asked.GetMethod() != vernationv1.Method_METHOD_WHOLE_PLANT_SPRAY || asked.GetAskedBy() != "office-1" {
		t.Errorf("asked: %v", asked)
	}
	if name, _ := waits(); name != asked.GetName() {
		t.Errorf("needed and asked: %v", d.needed(t))
	}
	if c := d.course(t); c.GetProduct() == soap {
		t.Error("a question alone makes the way lawful")
	}
	given := d.answer(t, "spray", nil)
	if given.GetState() != vernationv1.ConsentState_CONSENT_STATE_GIVEN || given.GetAnswers()[0].GetFromOn() != "2026-03-02" || given.GetAnswers()[0].GetRecordedBy() != "office-1" {
		t.Errorf("given: %v", given)
	}
	if c := d.course(t); c.GetProduct() != soap {
		t.Errorf("given, the course uses %q, refuses soap for %v", c.GetProduct(), refusalOf(c, soap))
	}
	if _, found := waits(); found {
		t.Errorf("given, it is still needed: %v", d.needed(t))
	}
	at := d.gathered(t).Sites
	at = slices.DeleteFunc(at, func(s site.Site) bool { return s.ID != "offices-alder-row" })
	if !at[0].Agreement.Consented(catalogue.WholePlantSpray, "insecticidal-soap", 20514) || at[0].Agreement.Consented(catalogue.WholePlantSpray, "horticultural-oil", 20514) {
		t.Errorf("what is planned from holds the consents %v", at[0].Agreement.Consents)
	}
	d.Clock.Set(d.at(t, "2026-03-02 12:00"))
	gone, err := d.consents().WithdrawClientConsent(d.office, &vernationv1.WithdrawClientConsentRequest{
		Name: asked.GetName(), AnsweredBy: "the owner of the building", Note: "guests next week", RequestId: request(),
	})
	if err != nil || gone.GetState() != vernationv1.ConsentState_CONSENT_STATE_WITHDRAWN || len(gone.GetAnswers()) != 2 || gone.GetAnswers()[1].GetBy() != "the owner of the building" {
		t.Errorf("withdrawn: %v, %v", gone, err)
	}
	if c := d.course(t); c.GetProduct() == soap {
		t.Error("withdrawn, the course still uses soap")
	}
	var told []string
	for _, e := range d.caseOf(t).GetEvents() {
		if e.GetClientConsent() == asked.GetName() {
			told = append(told, e.GetText())
		}
	}
	if want := []string{"office-1 asked the facilities desk for insecticidal soap", "consent to insecticidal soap given by the facilities desk",
		"consent to insecticidal soap withdrawn by the owner of the building"}; !slices.Equal(told, want) {
		t.Errorf("the case tells\n%q, want\n%q", told, want)
	}
	_, err = d.consents().WithdrawClientConsent(d.techA, &vernationv1.WithdrawClientConsentRequest{Name: asked.GetName(), AnsweredBy: "x", RequestId: request()})
	expect(t, err, codes.PermissionDenied, "ROLE_NEEDED")
}

// An area that the client lets be shut is one for the plan, beside what the agreement says, and the agreement stays as it is.
func TestClientConsent_ToShutAnAreaCountsBesideTheAgreement(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	before := d.officesOf(t)
	d.ask(t, "shut", func(c *vernationv1.ClientConsent) {
		c.Method, c.ShutArea = vernationv1.Method_METHOD_UNSPECIFIED, &vernationv1.ShutArea{
			AreaId: "offices-floor", Begins: d.stamp(t, "2026-03-03 18:00"), Ends: d.stamp(t, "2026-03-03 23:00"),
		}
	})
	if again := d.officesOf(t); !proto.Equal(again, before) {
		t.Errorf("a question alone changed the agreement: %v", again)
	}
	d.answer(t, "shut", nil)
	after := d.officesOf(t)
	if n := len(after.GetShutAreas()); n != len(before.GetShutAreas())+1 || after.GetShutAreas()[n-1].GetClientConsent() != d.name("clientConsents/shut") {
		t.Errorf("shut areas %v", after.GetShutAreas())
	}
}

func (d *desk) officesOf(t *testing.T) *vernationv1.Agreement {
	t.Helper()
	read, err := d.sites().GetSite(d.office, &vernationv1.GetSiteRequest{Name: d.name("sites/offices-alder-row")})
	if err != nil {
		t.Fatal(err)
	}
	return read.GetAgreement()
}

// A course dearer than the agreement's sum waits for the client, and one that the client pays for does not.
func TestClientConsent_ToASumIsNeededAboveTheAgreements(t *testing.T) {
	t.Parallel()
	above := quantity.Money(100)
	d := openDesk(t, func(file *load.File) {
		for i := range file.Sites {
			file.Sites[i].Agreement.AskAbove, file.Sites[i].Agreement.FollowUpsIncluded = &above, false
		}
	})
	d.find(t, "pothos-stairs", "pothos-printer")
	needed := d.needed(t)
	if len(needed) != 1 || needed[0].GetAskAboveMinor() != 100 || needed[0].GetSumMinor() <= 100 {
		t.Fatalf("needed: %v", needed)
	}
	for _, sum := range []struct {
		id    string
		minor int64
		left  int
	}{{"too-little", needed[0].GetSumMinor() - 1, 1}, {"enough", needed[0].GetSumMinor(), 0}} {
		d.ask(t, sum.id, func(c *vernationv1.ClientConsent) {
			c.Method, c.SumMinor, c.Case = vernationv1.Method_METHOD_UNSPECIFIED, &sum.minor, d.name("cases/mealybugs")
		})
		d.answer(t, sum.id, nil)
		if left := d.needed(t); len(left) != sum.left {
			t.Errorf("%s: needed %v", sum.id, left)
		}
	}
}

func TestClientConsents_AreListedByHowTheyStand(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	for _, id := range []string{"a", "b", "c"} {
		d.ask(t, id, nil)
	}
	d.answer(t, "b", nil)
	refused := d.answer(t, "c", func(r *vernationv1.AnswerClientConsentRequest) { r.Given = false })
	if refused.GetState() != vernationv1.ConsentState_CONSENT_STATE_REFUSED {
		t.Errorf("refused: %v", refused)
	}
	for filter, want := range map[string]string{
		"": "a b c", "state = CONSENT_STATE_ASKED": "a", "state = CONSENT_STATE_GIVEN": "b", "state = CONSENT_STATE_REFUSED": "c",
		"state = CONSENT_STATE_WITHDRAWN": "", "state != CONSENT_STATE_ASKED AND method = METHOD_WHOLE_PLANT_SPRAY": "b c",
	} {
		page, err := d.consents().ListClientConsents(d.office, &vernationv1.ListClientConsentsRequest{Parent: d.name(""), Filter: filter})
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, c := range page.GetClientConsents() {
			got = append(got, strings.TrimPrefix(c.GetName(), d.name("clientConsents/")))
		}
		if strings.Join(got, " ") != want {
			t.Errorf("%q: %v, want %s", filter, got, want)
		}
	}
	// A client who refused may still consent.
	if given := d.answer(t, "c", nil); given.GetState() != vernationv1.ConsentState_CONSENT_STATE_GIVEN || len(given.GetAnswers()) != 2 {
		t.Errorf("given after all: %v", given)
	}
}
