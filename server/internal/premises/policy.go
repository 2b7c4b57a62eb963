package premises

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/travel"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// Policy returns what the business sets itself, each setting beside its default.
func Policy(tx *store.Tx) (firm.Policy, error) {
	business, err := tx.Business()
	if err != nil {
		return firm.Policy{}, err
	}
	version, err := tx.PolicyVersion()
	return policyOf(business, version), err
}

// ChangePolicy changes some of what the business sets itself; what the change does not name stays. A nil version is whatever
// it is; change gives the change from what stands.
//
// Fails with Invalid (UNKNOWN_SETTING, OUT_OF_RANGE, DUPLICATE, UNKNOWN_EXTENT: every wrong one) and Stale (ETAG_STALE)
// when the change was made to another version.
func ChangePolicy(tx *store.Tx, version *int64, change func(firm.Policy) (firm.PolicyChange, error)) (firm.Policy, error) {
	present, err := tx.LockPolicy()
	if err != nil {
		return firm.Policy{}, err
	}
	if err := (firm.Kept[firm.Policy]{Revision: present}).Fresh(version); err != nil {
		return firm.Policy{}, err
	}
	business, err := tx.Business()
	if err != nil {
		return firm.Policy{}, err
	}
	told, err := change(policyOf(business, present))
	if err != nil {
		return firm.Policy{}, err
	}
	if err := fault.InvalidFields(apply(&business, told)); err != nil {
		return firm.Policy{}, err
	}
	if err := tx.SetPolicy(business); err != nil {
		return firm.Policy{}, err
	}
	return Policy(tx)
}

// apply makes a change to a business and says what of it is wrong.
func apply(b *firm.Business, change firm.PolicyChange) []catalogue.FieldError {
	known := catalogue.Shipped()
	var fields catalogue.FieldErrors
	if b.Policy.Standings == nil {
		b.Policy.Standings = map[string]catalogue.Standing{}
	}
	seen := map[string]bool{}
	for i, s := range change.Settings {
		path := fmt.Sprintf("policy.settings[%d]", i)
		places := placesOf(b, s.Name)
		figure := known.Defaults()[s.Name]
		switch {
		case len(places) == 0:
			fields.Add(path+".setting_id", "UNKNOWN_SETTING", "there is no setting %q: want one that the policy lists", s.Name)
			continue
		case seen[s.Name]:
			fields.Add(path+".setting_id", catalogue.ReasonDuplicate, "%s is there twice: want each setting once", s.Name)
			continue
		}
		seen[s.Name] = true
		value, standing := figure.Value, figure.Standing
		if s.Value != nil && *s.Value != value {
			value, standing = *s.Value, catalogue.OwnRecords
			if err := known.Fits(s.Name, places[0], value); err != nil {
				fields.Add(path+".value", catalogue.ReasonOutOfRange, "%v", err)
				continue
			}
		}
		for _, place := range places {
			place.Set(value, figure.Unit)
		}
		found(b, s.Name, standing)
	}
	applyRest(b, change, &fields)
	return fields
}

// found notes how well a value is founded: the default as the catalogue says, an own one by the business.
func found(b *firm.Business, name string, standing catalogue.Standing) {
	if rate, ok := b.Rates.ByName()[name]; ok {
		rate.Standing, rate.Unit = standing, catalogue.Shipped().RateDefaults[name].Unit
		return
	}
	if _, ok := catalogue.Shipped().PolicyDefaults[name]; ok {
		b.Policy.Standings[name] = standing
	}
}

// applyRest makes the part of a change that is no number with a default.
func applyRest(b *firm.Business, change firm.PolicyChange, fields *catalogue.FieldErrors) {
	if len(change.Extents) > 0 {
		for i, extent := range change.Extents {
			if !slices.Contains(catalogue.Extents[:], extent) || i >= len(b.Policy.ExtentBySeverity) {
				fields.Add(fmt.Sprintf("policy.extent_by_severity[%d]", i), "UNKNOWN_EXTENT", "%q for severity %d: want one of %q", extent, i, catalogue.Extents)
				continue
			}
			b.Policy.ExtentBySeverity[i] = extent
		}
		if len(change.Extents) != len(b.Policy.ExtentBySeverity) {
			fields.Add("policy.extent_by_severity", catalogue.ReasonOutOfRange, "%d extents: want one for each severity, 0 to %d", len(change.Extents), len(b.Policy.ExtentBySeverity)-1)
		}
	}
	for _, part := range []struct {
		told *string
		at   *string
	}{{change.PoisonLine, &b.PoisonLine}, {change.EmergencyLine, &b.EmergencyLine}} {
		if part.told != nil {
			*part.at = strings.TrimSpace(*part.told)
		}
	}
	if change.DetourPercent != nil {
		b.DetourPercent = *change.DetourPercent
	}
	if change.SpeedKMH != nil {
		b.SpeedKMH = *change.SpeedKMH
	}
	if change.NoticesCountOnceSent != nil {
		b.NoticesCountOnceSent = *change.NoticesCountOnceSent
	}
	if err := (travel.GreatCircle{DetourPercent: b.DetourPercent, SpeedKMH: b.SpeedKMH}).Validate(); err != nil {
		fields.Add("policy.speed_kmh", catalogue.ReasonOutOfRange, "%v", err)
	}
}

// placesOf are where the value of a setting stands: in the policy, the rates or the rules; in two of them where they share it.
func placesOf(b *firm.Business, name string) []catalogue.Number {
	var places []catalogue.Number
	if place, ok := b.Policy.ByName(catalogue.Shipped())[name]; ok {
		places = append(places, place)
	}
	if place, ok := b.Rules.ByName()[name]; ok {
		places = append(places, place)
	}
	if rate, ok := b.Rates.ByName()[name]; ok {
		places = append(places, catalogue.Price(&rate.Amount))
	}
	return places
}

// policyOf writes what a business sets itself beside the defaults.
func policyOf(b firm.Business, version int64) firm.Policy {
	known := catalogue.Shipped()
	p := firm.Policy{
		Version: version, Name: b.Name, Currency: b.Currency, Zone: b.Zone, PoisonLine: b.PoisonLine, EmergencyLine: b.EmergencyLine, DetourPercent: b.DetourPercent, SpeedKMH: b.SpeedKMH,
		Extents: slices.Clone(b.Policy.ExtentBySeverity[:]), DefaultExtents: known.ExtentDefaults.BySeverity,
		NoticesCountOnceSent: b.NoticesCountOnceSent,
	}
	for severity, extent := range p.Extents {
		if extent == "" {
			p.Extents[severity] = p.DefaultExtents[severity]
		}
	}
	for _, name := range slices.Sorted(maps.Keys(known.Defaults())) {
		figure := known.Defaults()[name]
		s := firm.Setting{Name: name, Part: partOf(name), Value: placesOf(&b, name)[0].In(figure.Unit), Default: figure}
		s.Least, s.Greatest = known.Within(name)
		if s.Own = s.Value != figure.Value; s.Own {
			s.Standing = catalogue.OwnRecords
		} else {
			s.Standing = figure.Standing
		}
		p.Settings = append(p.Settings, s)
	}
	return p
}

// partOf says what a setting is for.
func partOf(name string) firm.SettingPart {
	if _, ok := catalogue.Shipped().RateDefaults[name]; ok {
		return firm.PriceSetting
	}
	if _, ok := catalogue.Shipped().RuleDefaults[name]; ok {
		return firm.RuleSetting
	}
	return firm.CourseSetting
}
