package convert_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/testing/protocmp"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/convert"
)

var names = convert.NamesOf("alpha")

// Each message that comes in, by name, read and written again.
var roundTrips = []struct {
	name  string
	empty proto.Message
	again func(proto.Message) (proto.Message, error)
}{
	{"Site", &vernationv1.Site{}, func(m proto.Message) (proto.Message, error) {
		m.(*vernationv1.Site).Etag = `W/"7"`
		s, err := convert.SiteFrom("site", "s", m.(*vernationv1.Site))
		s.Value.ID, s.Revision = "", 7
		return convert.Site(names, s), err
	}},
	{"Plant", &vernationv1.Plant{}, func(m proto.Message) (proto.Message, error) {
		m.(*vernationv1.Plant).Etag = `W/"7"`
		p, services, err := convert.PlantFrom("plant", "", m.(*vernationv1.Plant))
		p.Revision = 7
		return convert.Plant(names, p, services), err
	}},
	{"Client", &vernationv1.Client{}, func(m proto.Message) (proto.Message, error) {
		m.(*vernationv1.Client).Etag = `W/"7"`
		c, err := convert.ClientFrom("client", "", m.(*vernationv1.Client))
		c.Revision = 7
		return convert.Client(names, c), err
	}},
	{"SpeciesTolerance", &vernationv1.SpeciesTolerance{}, func(m proto.Message) (proto.Message, error) {
		m.(*vernationv1.SpeciesTolerance).Etag = `W/"7"`
		tolerance := convert.SpeciesToleranceFrom("", m.(*vernationv1.SpeciesTolerance))
		tolerance.Revision = 7
		return convert.SpeciesTolerance(names, tolerance), nil
	}},
	{"ServiceRound", &vernationv1.ServiceRound{}, func(m proto.Message) (proto.Message, error) {
		m.(*vernationv1.ServiceRound).Etag = `W/"7"`
		round, err := convert.ServiceRoundFrom("service_round", "", m.(*vernationv1.ServiceRound))
		round.Revision = 7
		return convert.ServiceRound(names, round), err
	}},
	{"Product", &vernationv1.Product{}, func(m proto.Message) (proto.Message, error) {
		m.(*vernationv1.Product).Etag = `W/"7"`
		p, err := convert.ProductFrom("product", "", m.(*vernationv1.Product))
		p.Revision = 7
		return convert.Product(names, p), err
	}},
	{"Technician", &vernationv1.Technician{}, func(m proto.Message) (proto.Message, error) {
		m.(*vernationv1.Technician).Etag = `W/"7"`
		t, err := convert.TechnicianFrom("technician", "", m.(*vernationv1.Technician))
		t.Revision = 7
		return convert.Technician(names, t), err
	}},
	{"Absence", &vernationv1.Absence{}, func(m proto.Message) (proto.Message, error) {
		m.(*vernationv1.Absence).Etag = `W/"7"`
		a, err := convert.AbsenceFrom("absence", "", m.(*vernationv1.Absence))
		a.Revision = 7
		return convert.Absence(names, a, nil), err
	}},
	{"Lot", &vernationv1.Lot{}, func(m proto.Message) (proto.Message, error) {
		m.(*vernationv1.Lot).Etag = `W/"7"`
		l, err := convert.LotFrom("lot", "", m.(*vernationv1.Lot))
		l.Revision = 7
		again := convert.Lot(names, l)
		again.Left, again.UseByOn = nil, ""
		return again, err
	}},
	{"Holiday", &vernationv1.Holiday{}, func(m proto.Message) (proto.Message, error) {
		m.(*vernationv1.Holiday).Etag = `W/"7"`
		h, err := convert.HolidayFrom("holiday", "", m.(*vernationv1.Holiday))
		h.Revision = 7
		return convert.Holiday(names, h), err
	}},
	{"PlantEvent", &vernationv1.PlantEvent{}, func(m proto.Message) (proto.Message, error) {
		told := m.(*vernationv1.PlantEvent)
		told.Moved.To = told.Moved.From + "-2" // the filler gives each name a site of its own
		e, err := convert.PlantEventFrom("plant_event", "", told)
		again := convert.PlantEvent(names, e)
		again.Site = ""
		return again, err
	}},
	{"Finding", &vernationv1.Finding{}, func(m proto.Message) (proto.Message, error) {
		f, seen := convert.FindingFrom(m.(*vernationv1.Finding))
		return convert.Finding(names, f, seen), nil
	}},
	{"Rate", &vernationv1.Rate{}, func(m proto.Message) (proto.Message, error) {
		rate, err := convert.RateFrom("rate", m.(*vernationv1.Rate))
		return convert.Rate(rate), err
	}},
}

func TestMessages_EveryFieldThatComesInComesBack(t *testing.T) {
	t.Parallel()
	for _, message := range roundTrips {
		t.Run(message.name, func(t *testing.T) {
			t.Parallel()
			filler := &filler{t: t}
			// Several fillings, so that each value of an enum stands in each field once.
			for range 15 {
				told := proto.Clone(message.empty)
				filler.fill(told.ProtoReflect())
				again, err := message.again(told)
				if err != nil {
					t.Fatal(err)
				}
				if diff := cmp.Diff(told, again, protocmp.Transform()); diff != "" {
					t.Fatalf("what comes back differs (-told +again):\n%s", diff)
				}
			}
		})
	}
}

func TestMessages_AZeroThatIsSetIsNotUnset(t *testing.T) {
	t.Parallel()
	zeros := &vernationv1.Site{Agreement: &vernationv1.Agreement{AskAboveMinor: proto.Int64(0)}, Water: &vernationv1.Water{HardnessMgL: proto.Float64(0)}, TimeZone: "Europe/London"}
	zeros.Agreement.NoticeLead = convert.Duration(1)
	zeros.Agreement.NoticeLead.Nanos = 0
	s, err := convert.SiteFrom("site", "s", zeros)
	if err != nil {
		t.Fatal(err)
	}
	if a := s.Value.Agreement; a.AskAbove == nil || a.NoticeLead == nil || s.Value.Water.HardnessMgL == nil {
		t.Errorf("ask above %v, notice lead %v, hardness %v: want all set to 0", a.AskAbove, a.NoticeLead, s.Value.Water.HardnessMgL)
	}
	again := convert.Site(names, s)
	if again.Agreement.AskAboveMinor == nil || again.Agreement.NoticeLead == nil || again.Water.HardnessMgL == nil {
		t.Errorf("written again: %v, %v", again.Agreement, again.Water)
	}
	none, err := convert.SiteFrom("site", "s", &vernationv1.Site{TimeZone: "Europe/London"})
	if err != nil {
		t.Fatal(err)
	}
	if a := none.Value.Agreement; a.AskAbove != nil || a.NoticeLead != nil || a.UsualDay != nil || none.Value.Water.HardnessMgL != nil {
		t.Errorf("of a site without agreement and water: %+v, %+v", a, none.Value.Water)
	}
}

func TestPlant_WateringServiceIsThePlantsRhythm(t *testing.T) {
	t.Parallel()
	plant, services, err := convert.PlantFrom("plant", "p", &vernationv1.Plant{
		Area: "businesses/alpha/sites/s/areas/a", PotVolume: "4 L",
		Services: []*vernationv1.Service{{
			Kind: vernationv1.ServiceKind_SERVICE_KIND_WATERING, EarliestDays: 5, IdealDays: 7, LatestDays: 9, LastOn: "2026-03-02", Minutes: 4,
		}},
	})
	if err != nil {
		t.Fatal(err)
	}
	if w := plant.Value.Watering; w.Earliest != 5 || w.Ideal != 7 || w.Latest != 9 || w.Last.String() != "2026-03-02" {
		t.Errorf("watering %+v, want 5, 7, 9 days since 2026-03-02", w)
	}
	if len(services) != 1 || services[0].Site != "s" || services[0].Groups[0].Plant != "p" || services[0].Groups[0].Minutes != 4 {
		t.Errorf("services %+v, want one of plant p at site s of 4 minutes", services)
	}
}
