package casework_test

import (
	"testing"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
	"vernation/server/internal/firmtest"
	"vernation/server/internal/storetest"
)

// product changes a product of the demo.
func product(t *testing.T, w *firmtest.Works, id catalogue.ProductID, change func(*catalogue.Product)) {
	t.Helper()
	storetest.Change(t, w.Database, "product", string(id), change)
}

// soapLabel changes the label of the soap.
func soapLabel(t *testing.T, w *firmtest.Works, change func(*catalogue.Label)) {
	t.Helper()
	product(t, w, "soap", func(p *catalogue.Product) { change(&p.Label) })
}

// plant changes a plant of the demo.
func plant(t *testing.T, w *firmtest.Works, id site.PlantID, change func(*site.Plant)) {
	t.Helper()
	storetest.Change(t, w.Database, "plant", string(id), change)
}

// stands records what a plant stands of the soap.
func stands(t *testing.T, w *firmtest.Works, id site.PlantID, verdict catalogue.Verdict) {
	t.Helper()
	plant(t, w, id, func(p *site.Plant) {
		p.Tolerance = []catalogue.Tolerance{{Material: "insecticidal-soap", Verdict: verdict, Standing: catalogue.OwnRecords}}
	})
}

// offices changes the site of the mealybugs; its areas are rows of their own.
func offices(t *testing.T, w *firmtest.Works, change func(*site.Site)) {
	t.Helper()
	storetest.Change(t, w.Database, "site", "offices-alder-row", change)
}

// licences gives a technician of the demo other licences.
func licences(t *testing.T, w *firmtest.Works, id scheduler.TechnicianID, list ...scheduler.Licence) {
	t.Helper()
	storetest.Change(t, w.Database, "technician", string(id), func(m *firm.CrewMember) { m.Licences = list })
}
