package firm_test

import (
	"reflect"
	"testing"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/server/internal/firm"
)

func TestDefaultRates_EveryRateHasAUnitAndAStanding(t *testing.T) {
	t.Parallel()
	rates := reflect.ValueOf(scheduler.DefaultRates(catalogue.Shipped()))
	for i := range rates.NumField() {
		rate := rates.Field(i).Interface().(scheduler.Rate)
		if rate.Unit == "" || rate.Standing == "" {
			t.Errorf("%s = %+v: want a unit and a standing", rates.Type().Field(i).Name, rate)
		}
	}
}

func TestWithDefaults_LeavesOnlyWhatAProblemResolves(t *testing.T) {
	t.Parallel()
	business := firm.Business{ID: "demo", Name: "Demo"}.WithDefaults(catalogue.Shipped())
	if business.ID != "demo" || business.Name != "Demo" {
		t.Errorf("what was set changed: %q, %q", business.ID, business.Name)
	}
	resolved := map[string]bool{"NoticeLead": true, "LeastEntry": true, "Supervision": true, "Categories": true}
	rules := reflect.ValueOf(business.Rules)
	for i := range rules.NumField() {
		if name := rules.Type().Field(i).Name; rules.Field(i).IsZero() != resolved[name] {
			t.Errorf("%s = %v", name, rules.Field(i))
		}
	}
	if business.Policy.PublishingDelay != business.Rules.PublishingDelay || business.Policy.LeastRatePercent != business.Rules.LeastRatePercent {
		t.Error("policy and rules disagree about the publishing delay or the least rate")
	}
}
