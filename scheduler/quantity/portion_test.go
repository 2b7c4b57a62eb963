package quantity_test

import (
	"encoding/json"
	"math/big"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"

	"vernation/scheduler/quantity"
)

// Rates as labels write them; each by hand in units of one litre or one square metre.
func TestPortionRate_GivesWhatOneUnitGets(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		text, each, basis, said string
	}{
		// 453.592 37 g in 378.541 178 4 L (NIST Handbook 44, Appendix C).
		{`{mass: 1 lb, per_mix: 100 US gal}`, "45359237/37854117.84", "mix", "1 lb in 100 US gal of mix"},
		// 50 million on 100 m2 and 10 000 for a litre of medium: a greenhouse trade article on Steinernema feltiae.
		{`{organisms: 50000000, per_surface: 100 m2}`, "500000", "surface", "50 000 000 organisms for 100 m2 of soil"},
		{`{organisms: 10000, per_pot: 1 L}`, "10000", "pot", "10 000 organisms for 1 L of pot"},
		// The same article writes it as 10 million for a cubic metre of medium.
		{`{organisms: 10000000, per_pot: 1000 L}`, "10000", "pot", "10 000 000 organisms for 1000 L of pot"},
		// It also gives 1100 ft2 for the 100 m2: 102.193 344 m2 by the foot of 0.3048 m.
		{`{organisms: 50000000, per_surface: 1100 ft2}`, "50000000/102.193344", "surface", "50 000 000 organisms for 1100 ft2 of soil"},
		{`{mass: 1/2 av oz, per_pot: 1 US gal}`, "14.1747615625/3.785411784", "pot", "0.5 av oz for 1 US gal of pot"},
	} {
		var rate quantity.PortionRate
		if err := yaml.UnmarshalWithOptions([]byte(c.text), &rate, yaml.Strict()); err != nil {
			t.Fatal(err)
		}
		if err := rate.Validate(); err != nil {
			t.Errorf("%s: %v", c.text, err)
		}
		if rate.Each().Cmp(ratio(t, c.each)) != 0 || string(rate.Basis()) != c.basis || rate.String() != c.said {
			t.Errorf("%s: %v for one of %s, %q; want %s of %s, %q", c.text, rate.Each().RatString(), rate.Basis(), rate, c.each, c.basis, c.said)
		}
		var again quantity.PortionRate
		text, err := json.Marshal(rate)
		if err == nil {
			err = json.Unmarshal(text, &again)
		}
		if err != nil || !again.Like(rate) || again.Cmp(rate) != 0 || again.String() != rate.String() {
			t.Errorf("%s comes back as %v, %v", text, again, err)
		}
	}
}

func TestPortionRate_RefusesWhatIsNoRate(t *testing.T) {
	t.Parallel()
	litre := volume(t, "1 L")
	for name, rate := range map[string]quantity.PortionRate{
		"nothing":            {},
		"nothing for a mix":  {PerMix: litre},
		"for nothing":        {Organisms: 5},
		"both amounts":       {Organisms: 5, Mass: quantity.NewMass(1, 1, quantity.Gram), PerMix: litre},
		"two bases":          {Organisms: 5, PerMix: litre, PerPot: litre},
		"less than nothing":  {Organisms: -5, PerMix: litre},
		"below nothing":      {Mass: quantity.NewMass(-1, 1, quantity.Gram), PerMix: litre},
		"for less":           {Organisms: 5, PerPot: volume(t, "-1 L")},
		"more than anything": {Organisms: quantity.MaxOrganisms + 1, PerPot: litre},
	} {
		if rate.Validate() == nil {
			t.Errorf("%s was accepted: %v", name, rate)
		}
		if each := rate.Each(); each == nil {
			t.Errorf("%s has no amount", name)
		}
	}
}

// ratio reads "a/b" where both may be decimals.
func ratio(t testing.TB, text string) *big.Rat {
	t.Helper()
	above, below, divided := strings.Cut(text, "/")
	if !divided {
		return number(t, text)
	}
	return new(big.Rat).Quo(number(t, above), number(t, below))
}
