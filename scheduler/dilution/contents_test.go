package dilution_test

import (
	"testing"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/dilution"
	"vernation/scheduler/quantity"
)

func powderMaking(t testing.TB) dilution.Making {
	t.Helper()
	m := soapMaking(t)
	m.Product.ID, m.Product.Name, m.Product.Form = "powder", "Wettable powder (placeholder)", catalogue.Solid
	limits := powderLimits(t)
	f, err := dilution.FillPowder(volume(t, "22 US fl oz"), limits, m.Vessel, []dilution.Scale{pocketScale(t, "1 g")})
	if err != nil {
		t.Fatal(err)
	}
	m.Filling, m.Limits, m.Powder = dilution.Filling{}, dilution.Limits{}, &dilution.Powder{PowderFilling: f, Limits: limits}
	return m
}

func organismMaking(t testing.TB) dilution.Making {
	t.Helper()
	m := btiMaking(t)
	m.Product = catalogue.Product{ID: "nematodes", Name: "Nematodes (placeholder)", Form: catalogue.Living, Label: catalogue.Label{
		Entry: catalogue.Entry{Kind: catalogue.EntryNone, Reason: "the label of the pack states no interval"},
	}}
	m.Vessel, m.Shut = can(t), nil
	f, err := dilution.FillOrganisms(volume(t, "7 L"), nematodes(t), m.Vessel, []dilution.Pack{{Name: "pack of 5 million", Organisms: 5_000_000, Parts: 4}})
	if err != nil {
		t.Fatal(err)
	}
	m.Filling, m.Limits, m.Organisms = dilution.Filling{}, dilution.Limits{}, &dilution.Organisms{OrganismFilling: f, Limits: nematodes(t)}
	return m
}

func readyMaking(t testing.TB) dilution.Making {
	t.Helper()
	m := soapMaking(t)
	m.Product.ID, m.Product.Name, m.Product.Form, m.Product.Label.MaxRate = "soap-rtu", "Soap, ready to use (placeholder)", catalogue.ReadyToUse, nil
	on := civil.NewDate(2026, 3, 3)
	draws, left, err := dilution.DrawFrom([]quantity.Volume{volume(t, "700 mL")}, "soap-rtu", on, []dilution.Container{
		{ID: "bottle 7", Product: "soap-rtu", Left: volume(t, "250 mL"), ExpiresOn: on.AddDays(20)},
		{ID: "bottle 8", Product: "soap-rtu", Left: volume(t, "750 mL"), ExpiresOn: on.AddDays(300)},
	})
	if err != nil {
		t.Fatal(err)
	}
	m.Filling, m.Limits = dilution.Filling{}, dilution.Limits{}
	m.Ready = &dilution.Ready{Need: volume(t, "700 mL"), Draws: draws[0], LastDay: left[0].LastDay()}
	return m
}

func twoStepMaking(t testing.TB) dilution.Making {
	t.Helper()
	m := soapMaking(t)
	greatest, least := rate(t, "1 mL", madeUp, "10 L"), rate(t, "9 mL", madeUp, "100 L")
	m.Product.Name, m.Product.Label.MaxRate = "Strong concentrate (placeholder)", &greatest
	m.Limits = dilution.Limits{Min: &least, Max: &greatest, LeastIsOurs: true}
	m.Vessel = dilution.Vessel{ID: "bottle", Name: "the bottle", Capacity: volume(t, "1 L"), Marks: volume(t, "100 mL")}
	jug := dilution.Vessel{ID: "jug", Name: "the jug", Capacity: volume(t, "500 mL"), Marks: volume(t, "50 mL")}
	two, err := dilution.FillInTwo(volume(t, "950 mL"), m.Limits, m.Vessel, jug, []dilution.Measure{{Name: "syringe", Capacity: volume(t, "10 mL"), Marks: volume(t, "1 mL")}})
	if err != nil {
		t.Fatal(err)
	}
	m.Filling, m.InTwo = dilution.Filling{}, &dilution.InTwo{TwoStep: two, StockVessel: jug}
	return m
}

// TestSheet_HoldsTheNumbersOfItsKind: others render the sheet from its values, so each kind is recorded in its own.
func TestSheet_HoldsTheNumbersOfItsKind(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		in    dilution.Making
		holds func(dilution.Sheet) bool
	}{
		"volume":    {soapMaking(t), func(s dilution.Sheet) bool { return s.Filling.Volume.Equal(volume(t, "32 US fl oz")) }},
		"powder":    {powderMaking(t), func(s dilution.Sheet) bool { return s.Powder != nil && s.Powder.Powder.Equal(mass(t, "3 g")) }},
		"organisms": {organismMaking(t), func(s dilution.Sheet) bool { return s.Organisms != nil && s.Organisms.Organisms == 6_250_000 }},
		"ready":     {readyMaking(t), func(s dilution.Sheet) bool { return len(s.Ready) == 2 && s.Filling.Volume.IsZero() }},
		"two steps": {twoStepMaking(t), func(s dilution.Sheet) bool { return s.InTwo != nil && s.Filling.Volume.Equal(volume(t, "1 L")) }},
	} {
		if s := dilution.MakeSheet(c.in); !c.holds(s) || s.Make == "" || s.Strength == "" || len(s.Steps) == 0 || len(s.Cautions) == 0 || s.LabelFirst == "" {
			t.Errorf("%s: %+v", name, s)
		}
	}
}

func TestLoadList_AddsUpADay(t *testing.T) {
	t.Parallel()
	on := civil.NewDate(2026, 3, 3)
	mix := func(m dilution.Making, carried bool) dilution.Load {
		return dilution.Load{Product: m.Product, Concentrate: m.Filling.Concentrate, Water: m.Filling.Water, Carried: carried, Vessel: m.Vessel.Name, Measure: m.Filling.Measure}
	}
	powder, ready, living := powderMaking(t), readyMaking(t), organismMaking(t)
	loads := []dilution.Load{
		mix(soapMaking(t), true), mix(btiMaking(t), false), mix(soapMaking(t), false),
		{Product: powder.Product, Powder: powder.Powder.Powder, Water: powder.Powder.Volume, Vessel: powder.Vessel.Name, Measure: powder.Powder.Scale},
		{Product: ready.Product, Concentrate: ready.Ready.Need},
		{Product: living.Product, Organisms: living.Organisms.OrganismFilling.Organisms, Water: living.Organisms.Volume, Carried: true, Vessel: living.Vessel.Name},
	}
	list := dilution.MakeLoadList(on, loads, []dilution.Container{
		{ID: "soap 1", Product: "soap", Left: volume(t, "1 US fl oz"), ExpiresOn: on.AddDays(90)},
		{ID: "soap 2", Product: "soap", Left: volume(t, "32 US fl oz"), ExpiresOn: on.AddDays(900)},
		{ID: "bti 1", Product: "bti", Left: volume(t, "64 US fl oz"), ExpiresOn: on.AddDays(-1)},
		{ID: "rtu 1", Product: "soap-rtu", Left: volume(t, "750 mL"), ExpiresOn: on.AddDays(10)},
	})
	// Two soap mixes of 5/8 = 1.25: one from the older bottle, a quarter from the other.
	soap := list.Products[0]
	if !soap.Volume.Equal(volume(t, "1.25 US fl oz")) || len(soap.Draws) != 2 || !soap.Draws[1].Amount.Equal(volume(t, "0.25 US fl oz")) {
		t.Errorf("soap: %+v", soap)
	}
	// Carried: 31.375 fl oz with the first soap and 7 L with the nematodes.
	if want := volume(t, "31.375 US fl oz").Add(volume(t, "7 L")); !list.Water.Equal(want) {
		t.Errorf("water %v, want %v", list.Water, want)
	}
	if len(list.Missing) != 1 || len(list.Products) != 5 || len(list.Vessels) != 2 {
		t.Errorf("missing %q, %d products, vessels %q", list.Missing, len(list.Products), list.Vessels)
	}
	golden(t, "load", list.Text())
	golden(t, "load-nothing", dilution.MakeLoadList(on, nil, nil).Text())
}

func TestBringsWater_WhereThereIsNoneOrItIsHarderThanTheLabelAllows(t *testing.T) {
	t.Parallel()
	soft, hard, limit := 30.0, 300.0, 150.0
	silent, stated := catalogue.Product{Form: catalogue.Concentrate}, catalogue.Product{Form: catalogue.Concentrate, Label: catalogue.Label{MaxHardness: &limit}}
	living := catalogue.Product{Form: catalogue.Living}
	for name, c := range map[string]struct {
		product  catalogue.Product
		there    bool
		hardness *float64
		want     bool
	}{
		"no water":                    {silent, false, &soft, true},
		"unknown counts as hard":      {silent, true, nil, true},
		"known and no limit":          {silent, true, &hard, false},
		"within the limit":            {stated, true, &soft, false},
		"above the limit":             {stated, true, &hard, true},
		"unknown against a limit":     {stated, true, nil, true},
		"living goods want tap water": {living, true, nil, false},
		"living goods without any":    {living, false, nil, true},
	} {
		if got := dilution.BringsWater(c.product, c.there, c.hardness); got != c.want {
			t.Errorf("%s: brings water %v, want %v", name, got, c.want)
		}
	}
	if list := dilution.MakeLoadList(civil.NewDate(2026, 3, 3), []dilution.Load{{Product: soapMaking(t).Product, Concentrate: volume(t, "1 US fl oz")}}, nil); len(list.Missing) != 0 {
		t.Errorf("missing %q, though nobody told of containers", list.Missing)
	}
}
