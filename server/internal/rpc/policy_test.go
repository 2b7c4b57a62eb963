package rpc_test

import (
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/firm"
)

// set asks for settings to be changed; a negative value gives one its default back.
func (w *works) set(values map[string]float64, paths ...string) (*vernationv1.Policy, error) {
	policy := &vernationv1.Policy{Name: w.name("policy")}
	for id, value := range values {
		setting := &vernationv1.Setting{SettingId: id}
		if value >= 0 {
			setting.Value = proto.Float64(value)
		}
		policy.Settings = append(policy.Settings, setting)
	}
	ask := &vernationv1.UpdatePolicyRequest{Policy: policy, RequestId: request()}
	if paths != nil {
		ask.UpdateMask = mask(paths...)
	}
	return w.policies().UpdatePolicy(w.office, ask)
}

func settingOf(t *testing.T, p *vernationv1.Policy, id string) *vernationv1.Setting {
	t.Helper()
	for _, s := range p.GetSettings() {
		if s.GetSettingId() == id {
			return s
		}
	}
	t.Fatalf("the policy has no setting %s", id)
	return nil
}

func TestPolicy_ChangesWhatIsNamedAndGivesDefaultsBack(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	before, err := d.policies().GetPolicy(d.office, &vernationv1.GetPolicyRequest{Name: d.name("policy")})
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range before.GetSettings() {
		if s.GetUnit() == "" || s.GetDefaultStanding() == 0 || s.GetStanding() == 0 || s.GetLeast() > s.GetDefaultValue() || s.GetDefaultValue() > s.GetGreatest() {
			t.Errorf("%v: want unit, standings, and a default between its bounds", s)
		}
	}
	changed, err := d.set(map[string]float64{"visit": 750, "notice_lead": 48, "until_dry.drench": 150}, "settings")
	if err != nil {
		t.Fatal(err)
	}
	visit := settingOf(t, changed, "visit")
	if visit.GetValue() != 750 || !visit.GetOwn() || visit.GetStanding() != vernationv1.Standing_STANDING_OWN_RECORDS || visit.GetDefaultValue() != 500 {
		t.Errorf("visit %v: want 750, own, beside the default of 500", visit)
	}
	if lead := settingOf(t, changed, "notice_lead"); lead.GetValue() != 48 || lead.GetUnit() != "hours" {
		t.Errorf("notice lead %v, want 48 hours", lead)
	}
	if len(changed.GetSettings()) != len(before.GetSettings()) || changed.GetEtag() == before.GetEtag() || changed.GetSpeedKmh() != before.GetSpeedKmh() {
		t.Error("more changed than was named, or no new version")
	}
	// What was read, sent back as it stands with one line more, changes that line alone.
	changed.PoisonLine = "555 0100"
	lined, err := d.policies().UpdatePolicy(d.office, &vernationv1.UpdatePolicyRequest{Policy: changed, UpdateMask: mask("*"), RequestId: request()})
	if err != nil || lined.GetPoisonLine() != "555 0100" {
		t.Fatalf("%v, %v", lined.GetPoisonLine(), err)
	}
	lined.PoisonLine, lined.Etag, changed.PoisonLine, changed.Etag = "", "", "", ""
	if !proto.Equal(lined, changed) {
		t.Error("reading and writing the whole policy changes more than was changed in between")
	}
	back, err := d.set(map[string]float64{"visit": -1})
	if visit := settingOf(t, back, "visit"); err != nil || visit.GetValue() != 500 || visit.GetOwn() {
		t.Errorf("back to the default: %v, %v", visit, err)
	}
}

func TestPolicy_ARateChangesWhatThePlanCosts(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	cheap := w.makePlan(t, 5)
	before := settingOf(t, policyOf(t, w), "visit").GetValue()
	if _, err := w.set(map[string]float64{"visit": before + 1000}); err != nil {
		t.Fatal(err)
	}
	dear := w.makePlan(t, 5)
	visits := func(p *vernationv1.Plan) int64 {
		for _, part := range p.GetCost().GetParts() {
			if part.GetPart() == vernationv1.CostPart_COST_PART_OPENING_VISITS {
				return part.GetAmountMinor()
			}
		}
		return 0
	}
	count := 0
	for _, route := range dear.GetRoutes() {
		count += len(route.GetVisits())
	}
	if visits(cheap) == 0 || visits(dear) != int64(count)*int64(before+1000) {
		t.Errorf("opening %d visits costs %d, before the change all cost %d: want %v each", count, visits(dear), visits(cheap), before+1000)
	}
}

func policyOf(t *testing.T, w *works) *vernationv1.Policy {
	t.Helper()
	policy, err := w.policies().GetPolicy(w.office, &vernationv1.GetPolicyRequest{Name: w.name("policy")})
	if err != nil {
		t.Fatal(err)
	}
	return policy
}

func TestPolicy_ARuleMovesTheVersionThatPublishingCompares(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	plan := w.makePlan(t, 5)
	// From 10 hours to one: the longest work time of a day was kept when the plan was made.
	if _, err := w.set(map[string]float64{"most_work": 1}); err != nil {
		t.Fatal(err)
	}
	_, err := w.plans().PublishPlan(w.office, &vernationv1.PublishPlanRequest{Name: plan.GetName(), Etag: plan.GetEtag(), RequestId: request()})
	expectRule(t, err, "PLAN_BREAKS_RULES", "RULE_SHIFT")
}

func TestPolicy_NothingUnsafeCanBeSet(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	for id, value := range map[string]float64{
		"until_dry.whole-plant-spray": 0, "unventilated_factor_percent": 90, "least_rate_percent": 101, "most_looks": 1.5, "most_chance": 1,
	} {
		_, err := d.set(map[string]float64{id: value})
		expectField(t, err, "policy.settings[0].value", "OUT_OF_RANGE")
	}
}

var policyRefusals = []refusal{
	{"GetPolicy", "NOT_FOUND NOT_FOUND", func(d *desk) error {
		stranger := bundle{keys: d.keys}
		caller, err := stranger.keys.Issue(firm.Caller{Business: "no-such", Subject: "office-1", Role: firm.Office}, 60e9)
		if err != nil {
			return nil
		}
		_, err = d.policies().GetPolicy(bearing("Bearer "+caller), &vernationv1.GetPolicyRequest{Name: "businesses/no-such/policy"})
		return err
	}},
	{"UpdatePolicy", "INVALID_ARGUMENT UNKNOWN_SETTING", func(d *desk) error { _, err := d.set(map[string]float64{"luck": 1}); return err }},
	{"UpdatePolicy", "INVALID_ARGUMENT OUT_OF_RANGE", func(d *desk) error { _, err := d.set(map[string]float64{"reserve_percent": 101}); return err }},
	{"UpdatePolicy", "INVALID_ARGUMENT DUPLICATE", func(d *desk) error {
		twice := &vernationv1.Setting{SettingId: "visit"}
		_, err := d.policies().UpdatePolicy(d.office, &vernationv1.UpdatePolicyRequest{
			Policy: &vernationv1.Policy{Name: d.name("policy"), Settings: []*vernationv1.Setting{twice, twice}}, RequestId: request(),
		})
		return err
	}},
	{"UpdatePolicy", "INVALID_ARGUMENT MASK_PATH_UNKNOWN", func(d *desk) error { _, err := d.set(nil, "colour"); return err }},
	{"UpdatePolicy", "INVALID_ARGUMENT MASK_PATH_READ_ONLY", func(d *desk) error { _, err := d.set(nil, "currency"); return err }},
	{"UpdatePolicy", "ABORTED ETAG_STALE", func(d *desk) error {
		_, err := d.policies().UpdatePolicy(d.office, &vernationv1.UpdatePolicyRequest{
			Policy: &vernationv1.Policy{Name: d.name("policy"), SpeedKmh: 30, Etag: "nonsense"}, RequestId: request(),
		})
		return err
	}},
}

func TestPolicy_IsForTheOfficeAlone(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	_, err := d.policies().GetPolicy(d.techA, &vernationv1.GetPolicyRequest{Name: d.name("policy")})
	expect(t, err, codes.PermissionDenied, "ROLE_NEEDED")
}
