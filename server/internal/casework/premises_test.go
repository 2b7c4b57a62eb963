package casework_test

import (
	"slices"
	"testing"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
	"vernation/server/internal/firmtest"
	"vernation/server/internal/store"
)

// product changes a product of the demo.
func product(t *testing.T, w *firmtest.Works, id catalogue.ProductID, change func(*catalogue.Product)) {
	t.Helper()
	w.In(t, w.Office, func(tx *store.Tx) error {
		p, err := tx.Product(id)
		if err != nil {
			return err
		}
		change(&p)
		return tx.UpdateProduct(p)
	})
}

// soapLabel changes the label of the soap.
func soapLabel(t *testing.T, w *firmtest.Works, change func(*catalogue.Label)) {
	t.Helper()
	product(t, w, "soap", func(p *catalogue.Product) { change(&p.Label) })
}

// plant changes a plant of the demo.
func plant(t *testing.T, w *firmtest.Works, id site.PlantID, change func(*site.Plant)) {
	t.Helper()
	w.In(t, w.Office, func(tx *store.Tx) error {
		p, err := tx.Plant(id)
		if err != nil {
			return err
		}
		change(&p)
		return tx.UpdatePlant(p)
	})
}

// stands records what a plant stands of the soap.
func stands(t *testing.T, w *firmtest.Works, id site.PlantID, verdict catalogue.Verdict) {
	t.Helper()
	plant(t, w, id, func(p *site.Plant) {
		p.Tolerance = []catalogue.Tolerance{{Material: "insecticidal-soap", Verdict: verdict, Standing: catalogue.OwnRecords}}
	})
}

// licences gives a technician of the demo other licences.
func licences(t *testing.T, w *firmtest.Works, id scheduler.TechnicianID, list ...scheduler.Licence) {
	t.Helper()
	w.In(t, w.Office, func(tx *store.Tx) error {
		crew, err := tx.Crew()
		if err != nil {
			return err
		}
		member := crew[slices.IndexFunc(crew, func(m firm.CrewMember) bool { return m.ID == id })]
		member.Licences = list
		return tx.UpdateCrewMember(member)
	})
}
