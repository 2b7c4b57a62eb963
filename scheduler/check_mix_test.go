package scheduler_test

import (
	"testing"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
)

// Need 600 mL + 10 % = 660 mL = 22.317 US fl oz (29.5735295625 mL each, NIST Handbook 44, Appendix C); + 2 dead = 24.317.
// Rate 2.5/128 = 1.953125 %, least 90 % of it = 1.7578125 %.
func TestCheckMix_MarksRateAndAmount(t *testing.T) {
	t.Parallel()
	pair := func(volumeText, concentrate string) func(*story) {
		return func(s *story) { s.mix().Volume, s.mix().Concentrate = volume(volumeText), volume(concentrate) }
	}
	withMin := func(rate string) func(*story) {
		return func(s *story) {
			least := quantity.Rate{Concentrate: volume(rate), Per: volume("128 US fl oz"), Convention: quantity.MadeUpTo}
			s.label().MinRate = &least
		}
	}
	expectBreaches(t, scheduler.RuleMix, []breachCase{
		{name: "exactly the greatest rate", change: pair("32 US fl oz", "0.625 US fl oz")},
		{name: "a larger mix", change: pair("64 US fl oz", "1.25 US fl oz")},
		{name: "above the label", change: pair("32 US fl oz", "0.75 US fl oz"), want: "2.344 %: the label allows 1.758 to 1.953 %"},
		// 0.5/32 = 1.5625 % = 80 % of the rate.
		{name: "below the least of one rate", change: pair("32 US fl oz", "0.5 US fl oz"), want: "1.563 %: the label allows 1.758"},
		// 0.75/40 = 1.875 % = 96 % of the rate.
		{name: "within the tolerance", change: pair("40 US fl oz", "0.75 US fl oz")},
		{name: "the label's own least rate", change: withMin("2.5 US fl oz")},
		{name: "below the label's own least rate", want: "the label allows", change: func(s *story) {
			withMin("2 US fl oz")(s) // 1.5625 %
			pair("32 US fl oz", "0.375 US fl oz")(s)
		}},
		{name: "volume between two marks", change: pair("34 US fl oz", "0.625 US fl oz"), want: "its marks lie every 8 US fl oz"},
		{name: "dose between two marks", change: pair("32 US fl oz", "0.6 US fl oz"), want: "measure cup has marks every 0.125 US fl oz"},
		{name: "over the capacity", change: pair("136 US fl oz", "2.5 US fl oz"), want: "it holds 128 US fl oz"},
		// 7/16 in 24 = 1.823 %, but 24.317 are needed.
		{name: "does not cover need and dead volume", want: "2 US fl oz stays in pump sprayer", change: func(s *story) {
			s.crew().Measures[0].Marks = volume("1/16 US fl oz")
			pair("24 US fl oz", "0.4375 US fl oz")(s)
		}},
		{name: "states too small a need", change: func(s *story) { s.mix().Need = volume("600 mL") }, want: "states a need of 600 mL"},
		{name: "no rate on the label", change: func(s *story) { s.label().MaxRate = nil }, want: "no rate to be judged by"},
		{name: "other vessel", change: func(s *story) { s.mix().Vessel = "bucket" }, want: `vessel "bucket"`},
		{name: "other measure", change: func(s *story) { s.mix().Measure = "spoon" }, want: `measure "spoon"`},
		{name: "vessel for another method", change: func(s *story) {
			s.crew().Vessels[0].Methods = []catalogue.Method{catalogue.Drench}
		}, want: "which is for drench"},
	})
}

// withoutWater takes the office's water away: the mix is made in an area, or in none, and its vessel is rinsed at the base.
func withoutWater(area site.AreaID) func(*story) {
	return func(s *story) {
		s.office().Water.Area, s.mix().Area = "", area
		s.mix().RinseAtBase, s.mix().Rinse, s.route().Returns = true, during(3, "20:27", "20:32"), at(3, "20:32")
	}
}

func TestCheckMix_DrawnAndMadeInTime(t *testing.T) {
	t.Parallel()
	expectBreaches(t, scheduler.RuleMix, []breachCase{
		{name: "no mix", change: func(s *story) { s.spray().MixIndex = -1; s.route().Mixes = nil }, want: "without a mix"},
		{name: "a mix that is not there", change: func(s *story) { s.spray().MixIndex = 1; s.route().Mixes = nil }, want: "without a mix"},
		{name: "mixed too fast", change: func(s *story) { s.mix().Begins = at(3, "19:25") }, want: "mixing takes 6m0s"},
		{name: "used before it is ready", want: "before it is ready", change: func(s *story) {
			s.mix().Begins, s.mix().Ready = at(3, "20:02"), at(3, "20:08")
			s.mix().RinseAtBase, s.mix().Rinse = true, during(3, "20:28", "20:33")
			s.visit().Leaves, s.route().Returns = at(3, "20:08"), at(3, "20:33")
		}},
		{name: "made elsewhere", change: func(s *story) { s.mix().Site, s.mix().Area = "lodge", "plant-room" }, want: "made at the visit of first use"},
		{name: "made in an area of another site", change: func(s *story) { s.mix().Area = "plant-room" }, want: `area "plant-room", which office does not have`},
		{name: "in no area though there is water", change: func(s *story) { s.mix().Area = "" }, want: "is mixed in no area of office, which has water in store"},
		{name: "in an area though there is no water", change: withoutWater("store"), want: "is mixed in store of office, which has no water"},
		{name: "with carried water, in no area", change: withoutWater("")},
		{name: "with more carried water than the vessel holds", want: "it holds 24 US fl oz", change: func(s *story) {
			withoutWater("")(s)
			s.crew().Vessels[0].Capacity = volume("24 US fl oz")
		}},
		{name: "says another last use", change: func(s *story) { s.mix().LastUse = at(3, "20:01") }, want: "it ends at Tue 3 Mar 20:02"},
		// Life counts from 19:24 to the end of the last use at 20:02: 38 min.
		{name: "used up as its life ends", change: func(s *story) { s.label().MixLife = minutes(38); s.mix().UseBy = at(3, "20:02") }},
		{name: "used after its life", change: func(s *story) { s.label().MixLife = minutes(37); s.mix().UseBy = at(3, "20:01") }, want: "Tue 3 Mar 20:01 (its life of 37m0s)"},
		{name: "no life: the shift ends it", change: func(s *story) { s.mix().UseBy = at(3, "22:31") }, want: "the end of the shift"},
		{name: "somebody else's", change: func(s *story) { s.mix().Technician = "T2" }, want: `is "T2"'s`},
		{name: "used for nothing", want: "used for nothing", change: func(s *story) {
			s.visit().Work = s.visit().Work[:1]
			s.Plan.KeepOuts = nil
		}},
	})
}

func TestCheckMix_ReadyToUseIsNeverDiluted(t *testing.T) {
	t.Parallel()
	ready := func(s *story) { s.Problem.Products[0].Form = catalogue.ReadyToUse }
	expectBreaches(t, scheduler.RuleMix, []breachCase{
		{name: "diluted", change: ready, want: "never diluted"},
		{name: "from its container", change: func(s *story) {
			ready(s)
			s.route().Mixes, s.spray().MixIndex = nil, -1
		}},
	})
}

func TestCheckMix_VesselsAreRinsed(t *testing.T) {
	t.Parallel()
	expectBreaches(t, scheduler.RuleMix, []breachCase{
		{name: "not at all", change: func(s *story) { s.mix().Rinse.To = s.mix().Rinse.From }, want: "is not rinsed after soap-a by the end of the route"},
		{name: "too fast", change: func(s *story) { s.mix().Rinse.To = at(3, "20:06") }, want: "a rinse takes 5m0s"},
		{name: "at the base", change: func(s *story) {
			s.mix().RinseAtBase, s.mix().Rinse, s.route().Returns = true, during(3, "20:27", "20:32"), at(3, "20:32")
		}},
		{name: "without water", change: func(s *story) { s.office().Water.Area, s.mix().Area = "", "" }, want: "rinse there or at the base on return"},
		{name: "an older mix of another product is open there", want: "was not rinsed out", change: func(s *story) {
			s.Problem.Mixes = []scheduler.Mix{{Technician: "T1", Product: "oil-a", Vessel: "sprayer", Begins: at(3, "14:00"), Ready: at(3, "14:06")}}
		}},
		{name: "an older mix that was rinsed out", change: func(s *story) {
			s.Problem.Mixes = []scheduler.Mix{{Technician: "T1", Product: "oil-a", Vessel: "sprayer", Begins: at(3, "14:00"), Ready: at(3, "14:06"), Rinse: during(3, "15:00", "15:05")}}
		}},
	})
}

// otherProduct turns the second of two sprays into one of another soap from the same sprayer, mixed at a clock time and
// sprayed for 10 min right after the 6 min of mixing; the first mix is rinsed from 20:02 for so many minutes.
func otherProduct(rinse int, mixed string) func(*story) {
	return func(s *story) {
		begins := at(3, mixed)
		ready, ends := begins.Add(minutes(6)), begins.Add(minutes(16))
		twoSprays("00:42")(s)
		product := storySoap()
		product.ID = "soap-b"
		s.Problem.Products = append(s.Problem.Products, product)
		second := &s.visit().Work[2]
		second.Use.Product = "soap-b"
		second.MixIndex, second.Begins, second.Ends = 1, ready, ends
		s.Plan.KeepOuts[0].During.To = ends.Add(minutes(270))
		s.mix().LastUse, s.mix().Rinse = at(3, "20:02"), during(3, "20:02", "20:02")
		s.mix().Rinse.To = s.mix().Rinse.From.Add(minutes(rinse))
		mix := *s.mix()
		mix.Product, mix.Begins, mix.Ready, mix.LastUse = "soap-b", begins, ready, ends
		mix.Rinse.From, mix.Rinse.To = ends, ends.Add(minutes(5))
		s.route().Mixes = append(s.route().Mixes, mix)
		s.visit().Leaves, s.route().Returns = mix.Rinse.To, mix.Rinse.To.Add(minutes(20))
	}
}

func TestCheckMix_AnotherProductOnlyAfterARinse(t *testing.T) {
	t.Parallel()
	expectBreaches(t, scheduler.RuleMix, []breachCase{
		{name: "rinsed between", change: otherProduct(5, "20:07")},
		{name: "not rinsed between", change: otherProduct(0, "20:02"), want: "vessel sprayer is not rinsed between soap-a and soap-b"},
		{name: "rinsed too fast", change: otherProduct(4, "20:06"), want: "a rinse takes 5m0s"},
		{name: "one product needs no rinse between two fillings", change: func(s *story) {
			otherProduct(0, "20:02")(s)
			s.visit().Work[2].Use.Product, s.route().Mixes[1].Product = "soap-a", "soap-a"
		}},
	})
}
