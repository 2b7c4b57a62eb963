package dispatch_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/mayapply"
	"vernation/scheduler/site"
	"vernation/server/internal/dispatch"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/firmtest"
	"vernation/server/internal/store"
	"vernation/server/internal/storetest"
)

// mayApply asks about a product on the pothos by tech-a, for the 32 minutes that the course gives it.
func mayApply(t *testing.T, w *firmtest.Works, product catalogue.ProductID, begins string, change func(*firm.Wish)) mayapply.Answer {
	t.Helper()
	wish := firm.Wish{
		Technician: "tech-a", Product: product, Plants: []site.PlantID{"pothos-stairs", "pothos-printer"}, Takes: 32 * time.Minute, Begins: w.At(t, begins),
	}
	if change != nil {
		change(&wish)
	}
	var told firm.WishAnswer
	err := w.Store.Reading(t.Context(), w.TechA, func(tx *store.Tx) (err error) {
		told, err = dispatch.MayApply(tx, wish)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return told.Answer
}

func refusedBy(a mayapply.Answer, rule mayapply.Rule) bool {
	return slices.ContainsFunc(a.Refusals(), func(w mayapply.Word) bool { return w.Rule == rule })
}

// What a visit that is booked shuts does not speak against the application for which it was booked, and does against
// everything else in that room.
func TestMayApply_ABookedApplicationIsShutOutByOthersOnly(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	book(t, w, "spray", "mealybugs/application/1/1", "2026-03-05 19:45")
	if a := mayApply(t, w, "soap", "2026-03-05 19:45", nil); !a.Allowed || len(a.Shut) == 0 {
		t.Errorf("the booked spray:\n%s", a.Text(w.Business.Zone))
	}
	w.MoveClock(t, "2026-03-05 19:50") // the technician is there, and asks before beginning
	if a := mayApply(t, w, "soap", "2026-03-05 19:50", nil); refusedBy(a, mayapply.RuleShut) {
		t.Errorf("the booked spray, five minutes late:\n%s", a.Text(w.Business.Zone))
	}
	hands := mayApply(t, w, "hand-removal", "2026-03-05 21:00", nil)
	if !refusedBy(hands, mayapply.RuleShut) {
		t.Errorf("work by hand while it is shut:\n%s", hands.Text(w.Business.Zone))
	}
	if other := mayApply(t, w, "soap", "2026-03-05 21:00", func(wish *firm.Wish) { wish.Technician = "tech-b" }); !refusedBy(other, mayapply.RuleShut) {
		t.Errorf("somebody else's spray while it is shut:\n%s", other.Text(w.Business.Zone))
	}
	if before := mayApply(t, w, "hand-removal", "2026-03-05 18:00", nil); !before.Allowed {
		t.Errorf("work by hand before:\n%s", before.Text(w.Business.Zone))
	}
	// Once it was made, it shuts everybody out, whoever made it.
	w.MoveClock(t, "2026-03-05 20:30")
	made := w.Spray(t, "made", 1, "2026-03-05 19:50")
	made.Visit = "spray"
	w.Report(t, made)
	if again := mayApply(t, w, "soap", "2026-03-05 20:30", nil); !refusedBy(again, mayapply.RuleShut) {
		t.Errorf("once more after it was made:\n%s", again.Text(w.Business.Zone))
	}
}

// Two technicians are called alike: a licence under one of them is none under the other.
func TestMayApply_ASupervisorIsKnownByMoreThanAName(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	licence := scheduler.Licence{Jurisdiction: "US-PA", Category: "22", Number: "B2", From: civil.NewDate(2025, 1, 1), To: civil.NewDate(2027, 12, 31)}
	under := licence
	under.Under = "tech-c"
	w.In(t, w.Office, func(tx *store.Tx) error {
		twin, err := tx.CrewMember("tech-a")
		twin.ID, twin.Licences = "tech-c", nil // called as tech-a is, without a licence
		if err != nil {
			return err
		}
		return tx.InsertCrew([]firm.CrewMember{twin})
	})
	storetest.Change(t, w.Database, "technician", "tech-b", func(m *firm.CrewMember) { m.Licences = []scheduler.Licence{under} })
	asked := func(wish *firm.Wish) { wish.Technician = "tech-b" }
	if a := mayApply(t, w, "soap", "2026-03-05 19:45", asked); !refusedBy(a, mayapply.RuleLicence) {
		t.Errorf("under a namesake of the licence holder:\n%s", a.Text(w.Business.Zone))
	}
	under.Under = "tech-a"
	storetest.Change(t, w.Database, "technician", "tech-b", func(m *firm.CrewMember) { m.Licences = []scheduler.Licence{under} })
	if a := mayApply(t, w, "soap", "2026-03-05 19:45", asked); refusedBy(a, mayapply.RuleLicence) {
		t.Errorf("under the licence holder:\n%s", a.Text(w.Business.Zone))
	}
}

func TestMayApply_ReadsApprovalTestsAndConsentAsTheyStand(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	book(t, w, "spray", "mealybugs/application/1/1", "2026-03-05 19:45") // so that the client is told
	evening := func(change func(*firm.Wish)) mayapply.Answer {
		return mayApply(t, w, "soap", "2026-03-05 19:45", change)
	}
	if a := evening(func(wish *firm.Wish) { wish.Plants = append(wish.Plants, "fig-window") }); !refusedBy(a, mayapply.RuleApproval) {
		t.Errorf("a plant of no case is approved:\n%s", a.Text(w.Business.Zone))
	}
	if a := evening(func(wish *firm.Wish) { wish.Technician = "tech-b" }); !refusedBy(a, mayapply.RuleLicence) {
		t.Errorf("without a licence for it:\n%s", a.Text(w.Business.Zone))
	}
	carried := evening(func(wish *firm.Wish) { wish.CarriesWater, wish.CarriedHardnessMgL = true, new(float64) })
	if slices.ContainsFunc(carried.Words, func(word mayapply.Word) bool { return word.Rule == mayapply.RuleWater }) {
		t.Errorf("of soft water that comes along: %v", carried.Words)
	}
	bench := evening(func(wish *firm.Wish) { wish.Area = "offices-store" })
	if len(bench.Shut) == 0 || bench.Shut[0].Area != "offices-store" {
		t.Errorf("treated in the store it shuts %v", bench.Shut)
	}
	if text := evening(nil).Text(w.Business.Zone); !strings.Contains(text, "The label on the container, local codes and the responsible applicator outrank this answer.") {
		t.Errorf("without its caution:\n%s", text)
	}
	err := w.Store.Reading(t.Context(), w.TechA, func(tx *store.Tx) error {
		_, err := dispatch.MayApply(tx, firm.Wish{Technician: "tech-a", Product: "soap", Plants: []site.PlantID{"nothing"}, Takes: time.Minute})
		return err
	})
	firmtest.Field(t, firmtest.Refused(t, err, fault.Invalid, "INVALID_FIELDS"), "plants[0]", "UNKNOWN_PLANT")
}
