package rpc_test

import (
	"context"
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/scheduler/course"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

const (
	look        = vernationv1.FollowUpKind_FOLLOW_UP_KIND_INSPECT_INFESTED
	replacement = vernationv1.FollowUpKind_FOLLOW_UP_KIND_REPLACEMENT
)

// rule records a decision, which must be taken.
func (d *desk) rule(t *testing.T, decision vernationv1.CaseDecision, change func(*vernationv1.DecideCaseRequest)) *vernationv1.Course {
	t.Helper()
	course, err := d.decideCase(decision, change)
	if err != nil {
		t.Fatal(err)
	}
	return course
}

func TestDecisions_EndTheCase(t *testing.T) {
	t.Parallel()
	for decision, want := range map[vernationv1.CaseDecision]vernationv1.EndingKind{
		declined: vernationv1.EndingKind_ENDING_KIND_CLIENT_DECLINED, wrongPest: vernationv1.EndingKind_ENDING_KIND_WRONG_PEST,
		remove: vernationv1.EndingKind_ENDING_KIND_PLANTS_GONE,
	} {
		d := openDesk(t)
		d.find(t, "pothos-stairs", "pothos-printer")
		d.Clock.Set(d.at(t, "2026-03-02 08:00"))
		read := d.caseOf(t)
		ended := d.rule(t, decision, func(r *vernationv1.DecideCaseRequest) { r.Etag = read.GetEtag() })
		now := d.caseOf(t)
		if ended.GetEnding().GetKind() != want || now.GetEnding().GetKind() != want || len(ended.GetFollowUps()) != 0 || now.GetEtag() == read.GetEtag() {
			t.Errorf("%s: ended %v with %d follow-ups; the case says %v", decision, ended.GetEnding(), len(ended.GetFollowUps()), now.GetEnding())
		}
		if p := d.gathered(t); slices.ContainsFunc(p.FollowUps, func(f scheduler.FollowUp) bool { return f.Case == mealybugs }) || (stateOf(p, "pothos-stairs") == nil) != (decision == remove) {
			t.Errorf("%s: a plan still holds what it needed, or plants that are gone", decision)
		}
		if text := now.GetEvents()[len(now.GetEvents())-1].GetText(); decision != remove && !strings.Contains(text, "agreed on the telephone (decided by the client)") {
			t.Errorf("%s is told as %q", decision, text)
		}
	}
}

func TestDecisions_ReplacingIsTakenBackByTreating(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	d.find(t, "pothos-stairs", "pothos-printer")
	before := d.course(t)
	if p := before.GetReplacement().GetProposed(); p.GetKind() != replacement || len(followUps(before, replacement)) != 0 {
		t.Errorf("beside the course: %v; among its follow-ups %d", p, len(followUps(before, replacement)))
	}
	d.Clock.Set(d.at(t, "2026-03-02 08:00"))
	part := d.rule(t, replace, func(r *vernationv1.DecideCaseRequest) { r.Plants = d.plantNames("pothos-stairs") })
	if f := followUps(part, replacement); len(f) != 1 || !slices.Equal(f[0].GetPlants(), d.plantNames("pothos-stairs")) || len(followUps(part, application)) == 0 {
		t.Errorf("one group is to be replaced: %v", f)
	}
	d.Clock.Set(d.at(t, "2026-03-02 08:30"))
	all := d.rule(t, replace, nil)
	if len(followUps(all, replacement)) != 1 || len(followUps(all, application)) != 0 {
		t.Errorf("all are to be replaced: %d replacements, %d applications", len(followUps(all, replacement)), len(followUps(all, application)))
	}
	// Two decisions at one instant are read in the order in which they were made.
	again := d.rule(t, treat, nil)
	if len(followUps(again, replacement)) != 0 || len(followUps(again, application)) == 0 {
		t.Errorf("treated after all: %d replacements, %d applications", len(followUps(again, replacement)), len(followUps(again, application)))
	}
	if text := d.caseOf(t).GetEvents()[1].GetText(); text != "decided by the client: replace Pothos at the stairs, agreed on the telephone" {
		t.Errorf("told as %q", text)
	}
}

func TestDecisions_ACaseKeptLowIsWatchedAndBeginsAgain(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	d.find(t, "pothos-stairs")
	d.Clock.Set(d.at(t, "2026-03-02 08:00"))
	asked := &vernationv1.DecideCaseRequest{Name: d.name("cases/mealybugs"), Decision: keepLow, Reason: "a few are tolerated", RequestId: request()}
	low, err := d.cases().DecideCase(d.office, asked)
	if err != nil {
		t.Fatal(err)
	}
	if again, err := d.cases().DecideCase(d.office, asked); err != nil || !proto.Equal(again, low) {
		t.Errorf("asked again: %v, %v", again, err)
	}
	if len(followUps(low, look)) != 1 || len(followUps(low, application)) != 0 || low.GetEnding().GetKind() != vernationv1.EndingKind_ENDING_KIND_KEPT_LOW_UNDER_WATCH {
		t.Errorf("kept low: %v, ended %v", low.GetFollowUps(), low.GetEnding())
	}
	if p := d.gathered(t); !slices.ContainsFunc(p.FollowUps, func(f scheduler.FollowUp) bool { return f.Kind == course.KindInspectInfested && f.Case == mealybugs }) {
		t.Error("the look is in no plan")
	}
	_, err = d.decideCase(treat, nil)
	expect(t, err, codes.FailedPrecondition, "CASE_ENDED")
	d.Clock.Set(d.at(t, "2026-03-09 08:00"))
	found, err := d.findings().CreateFinding(d.office, d.finding("more", func(f *vernationv1.Finding) { f.Plants = d.plantNames("pothos-stairs") }))
	if err != nil || found.GetCase() != d.name("cases/mealybugs") || found.GetOpenedCase() {
		t.Errorf("more is found: %v, %v: want it in the case that is watched", found, err)
	}
	if now := d.course(t); now.GetEnding() != nil || len(followUps(now, application)) == 0 || d.caseOf(t).GetEnding() != nil {
		t.Errorf("then: ended %v with %d applications: want the case to go on", now.GetEnding(), len(followUps(now, application)))
	}
	d.Clock.Set(d.at(t, "2026-03-09 09:00"))
	d.rule(t, keepLow, nil)
	if ended := d.rule(t, declined, nil); ended.GetEnding().GetKind() != vernationv1.EndingKind_ENDING_KIND_CLIENT_DECLINED || len(ended.GetFollowUps()) != 0 {
		t.Errorf("declined while it was kept low: %v", ended.GetEnding())
	}
}

func TestOwnerConsent_IsGivenAndWithdrawn(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	asked := d.plant(func(p *vernationv1.Plant) { p.NotInCare = true })
	if _, err := d.plants().CreatePlant(d.office, asked); err != nil {
		t.Fatal(err)
	}
	may := func(on string) bool {
		state := stateOf(d.gathered(t), "lily-copier")
		return state.Plant.MayBeTreated(d.Business.Zone.DateOf(d.at(t, on+" 12:00")))
	}
	if may("2026-03-03") {
		t.Error("a plant that is not in care may be treated though nobody consented")
	}
	given, err := d.consent("lily-copier", "its owner", "2026-03-03", "")
	if err != nil || len(given.GetOwnerConsents()) != 1 || given.GetOwnerConsents()[0].GetConsentedBy() != "its owner" {
		t.Fatal(given, err)
	}
	if may("2026-03-02") || !may("2026-03-03") {
		t.Error("the consent does not hold from its day on")
	}
	withdrawn, err := d.consent("lily-copier", "its owner", "2026-03-03", "2026-03-05")
	if err != nil || len(withdrawn.GetOwnerConsents()) != 1 || withdrawn.GetOwnerConsents()[0].GetWithdrawnOn() != "2026-03-05" {
		t.Fatal(withdrawn, err)
	}
	if !may("2026-03-04") || may("2026-03-05") {
		t.Error("the consent does not end on the day on which it was withdrawn")
	}
	for _, ctx := range []context.Context{d.techA, d.integration} {
		_, err = d.plants().RecordOwnerConsent(ctx, &vernationv1.RecordOwnerConsentRequest{Name: d.name("plants/lily-copier"), OwnerConsent: given.GetOwnerConsents()[0], RequestId: request()})
		expect(t, err, codes.PermissionDenied, "ROLE_NEEDED")
	}
}

// wordsOf lists what a rule says in an answer.
func wordsOf(a *vernationv1.ApplicationAnswer, rule vernationv1.ApplicationRule) (texts []string) {
	for _, w := range a.GetWords() {
		if w.GetRule() == rule {
			texts = append(texts, w.GetKind().String()+": "+w.GetText())
		}
	}
	return texts
}

// told stores that the client was told on Monday at noon of the first spray, on Tuesday at 19:30.
func (d *desk) told(t *testing.T) {
	t.Helper()
	err := d.Store.In(t.Context(), d.Office, func(tx *store.Tx) error {
		begins := d.at(t, "2026-03-03 19:30")
		return tx.InsertNotices([]firm.Notice{{ID: "n-1", Item: "mealybugs/application/1/1", Site: "offices-alder-row", Begins: begins, DueAt: begins.Add(-24 * time.Hour), SentAt: d.at(t, "2026-03-02 12:00")}})
	})
	if err != nil {
		t.Fatal(err)
	}
}

// The soap dries for 3 h, and works only while it is wet: half as long again, 4 h 30 min after 20:02 (assumptions, both).
func TestCheckApplication_SaysWhatSpeaksHowMuchAndUntilWhenItIsShut(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	d.find(t, "pothos-stairs", "pothos-printer")
	ask := func(ctx context.Context, change func(*vernationv1.CheckApplicationRequest)) *vernationv1.ApplicationAnswer {
		t.Helper()
		answer, err := d.technicians().CheckApplication(ctx, d.wish(func(r *vernationv1.CheckApplicationRequest) {
			r.Begins = d.stamp(t, "2026-03-03 19:30")
			if change != nil {
				change(r)
			}
		}))
		if err != nil {
			t.Fatal(err)
		}
		return answer
	}
	bare := ask(d.techA, nil)
	if bare.GetAllowed() || len(wordsOf(bare, vernationv1.ApplicationRule_APPLICATION_RULE_APPROVAL)) != 1 || len(wordsOf(bare, vernationv1.ApplicationRule_APPLICATION_RULE_NOTICE)) != 1 || len(bare.GetCautions()) == 0 {
		t.Errorf("without approval and notice: %s", bare.GetText())
	}
	if _, err := d.cases().ApproveCourse(d.techA, d.approve("soap")); err != nil {
		t.Fatal(err)
	}
	d.told(t)
	may := ask(d.techA, nil)
	if !may.GetAllowed() || !slices.Equal(may.GetPlants(), d.plantNames("pothos-stairs")) || len(may.GetAmounts()) != 1 || may.GetNeed() == "" || may.GetFilling().GetVessel() != "pump sprayer" {
		t.Errorf("with both: %s", may.GetText())
	}
	if shut := may.GetShut(); len(shut) == 0 || shut[0].GetArea() != d.name("sites/offices-alder-row/areas/offices-floor") || !proto.Equal(shut[0].GetEnds(), d.stamp(t, "2026-03-04 00:32")) || !shut[0].GetUntilDry() {
		t.Errorf("shut %v: want the floor until 00:32 and until somebody has found it dry", shut)
	}
	if water := wordsOf(may, vernationv1.ApplicationRule_APPLICATION_RULE_WATER); len(water) != 1 || !strings.Contains(water[0], "NOTES: the hardness of the site's water is not known and counts as hard") {
		t.Errorf("of the water: %v", water)
	}
	noon := ask(d.office, func(r *vernationv1.CheckApplicationRequest) { r.Begins = d.stamp(t, "2026-03-03 12:00") })
	if noon.GetAllowed() || len(wordsOf(noon, vernationv1.ApplicationRule_APPLICATION_RULE_PEOPLE)) == 0 || !proto.Equal(noon.GetNextBegins(), d.stamp(t, "2026-03-03 19:30")) || len(noon.GetShut()) != 0 {
		t.Errorf("among people: next %v, %s", noon.GetNextBegins().AsTime(), noon.GetText())
	}
	hot := ask(d.techA, func(r *vernationv1.CheckApplicationRequest) {
		r.Readings = []*vernationv1.Reading{{Area: d.name("sites/offices-alder-row/areas/offices-floor"), Celsius: 33}}
	})
	if len(wordsOf(hot, vernationv1.ApplicationRule_APPLICATION_RULE_TEMPERATURE)) != 1 || hot.GetAllowed() {
		t.Errorf("at 33 °C: %s", hot.GetText())
	}
	humidity := func(percent *float64) []string {
		return wordsOf(ask(d.techA, func(r *vernationv1.CheckApplicationRequest) {
			r.Readings = []*vernationv1.Reading{{Area: d.name("sites/offices-alder-row/areas/offices-floor"), Celsius: 21, HumidityPercent: percent}}
		}), vernationv1.ApplicationRule_APPLICATION_RULE_HUMIDITY)
	}
	if unread, dry, damp := humidity(nil), humidity(proto.Float64(40)), humidity(proto.Float64(99)); len(unread) != 1 || len(dry) != 0 || len(damp) != 1 ||
		!strings.Contains(unread[0], "measure it before") || !strings.Contains(damp[0], "may be at 99 % relative humidity (read there)") {
		t.Errorf("of the humidity: unread %v, at 40 %% %v, at 99 %% %v", unread, dry, damp)
	}
	mite := ask(d.techA, func(r *vernationv1.CheckApplicationRequest) { r.Pest = "two-spotted-mite" })
	if len(wordsOf(mite, vernationv1.ApplicationRule_APPLICATION_RULE_PEST)) != 1 || len(wordsOf(mite, vernationv1.ApplicationRule_APPLICATION_RULE_APPROVAL)) != 1 {
		t.Errorf("against mites: %s", mite.GetText())
	}
	_, err := d.technicians().CheckApplication(d.integration, d.wish(nil))
	expect(t, err, codes.PermissionDenied, "ROLE_NEEDED")
}

// What was really applied shuts, waits and must be found dry: also for work that itself shuts nobody out.
func TestCheckApplication_KnowsWhatWasDoneBefore(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	d.find(t, "pothos-stairs", "pothos-printer")
	d.Clock.Set(d.at(t, "2026-03-04 09:00"))
	d.sprayed(t)
	again, err := d.technicians().CheckApplication(d.techA, d.wish(nil))
	if err != nil {
		t.Fatal(err)
	}
	if tooSoon := wordsOf(again, vernationv1.ApplicationRule_APPLICATION_RULE_RETREATMENT); len(tooSoon) != 1 || !strings.Contains(tooSoon[0], "2026-03-10") {
		t.Errorf("the next day: %v: want the label's 7 days from 3 March", tooSoon)
	}
	if dry := wordsOf(again, vernationv1.ApplicationRule_APPLICATION_RULE_SHUT); len(dry) != 1 || !strings.Contains(dry[0], "REFUSES: nobody has confirmed") {
		t.Errorf("nobody looked: %v", dry)
	}
	byHand, err := d.technicians().CheckApplication(d.techA, d.wish(func(r *vernationv1.CheckApplicationRequest) { r.Product = d.name("products/hand-removal") }))
	if err != nil {
		t.Fatal(err)
	}
	if dry := wordsOf(byHand, vernationv1.ApplicationRule_APPLICATION_RULE_SHUT); !byHand.GetAllowed() || len(dry) != 1 || !strings.Contains(dry[0], "ASKS: nobody has confirmed") {
		t.Errorf("by hand: allowed %v, %v: want it allowed once somebody has looked", byHand.GetAllowed(), dry)
	}
}
