package rpc_test

import (
	"testing"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/course"
	"vernation/scheduler/quantity"
	"vernation/server/internal/casework"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

func TestProducts_ALabelThatChangesIsAnotherVersionAndRecordsKeepTheirs(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	w.spray(t, "spray-1", "2026-03-02 19:00")
	soap, err := w.products().GetProduct(w.office, &vernationv1.GetProductRequest{Name: w.name("products/soap")})
	if err != nil {
		t.Fatal(err)
	}
	change := proto.Clone(soap).(*vernationv1.Product)
	change.Label.LeastDays = soap.GetLabel().GetLeastDays() + 3
	_, err = w.products().UpdateProduct(w.office, &vernationv1.UpdateProductRequest{Product: change, UpdateMask: mask("label"), RequestId: request()})
	expectField(t, err, "product.label_version", "LABEL_VERSION_TAKEN")
	change.LabelVersion = "read in March"
	changed, err := w.products().UpdateProduct(w.office, &vernationv1.UpdateProductRequest{Product: change, UpdateMask: mask("label", "label_version"), RequestId: request()})
	if err != nil || changed.GetLabel().GetLeastDays() != change.GetLabel().GetLeastDays() {
		t.Fatalf("changed: %v, %v", changed, err)
	}
	labels, err := w.products().ListProductLabels(w.techB, &vernationv1.ListProductLabelsRequest{Parent: soap.GetName()})
	if err != nil || len(labels.GetLabels()) != 2 {
		t.Fatalf("labels: %v, %v: want two", labels, err)
	}
	var before *vernationv1.ProductLabel
	for _, label := range labels.GetLabels() {
		if label.GetLabelVersion() == soap.GetLabelVersion() {
			before = label
		}
	}
	if before.GetProduct().GetLabel().GetLeastDays() != soap.GetLabel().GetLeastDays() {
		t.Errorf("the label of before reads %v, want that of %v", before, soap)
	}
	page, err := w.records().ListApplicationRecords(w.office, &vernationv1.ListApplicationRecordsRequest{Parent: w.name("")})
	if err != nil || len(page.GetApplicationRecords()) != 1 || page.GetApplicationRecords()[0].GetLabelVersion() != soap.GetLabelVersion() {
		t.Errorf("records: %v, %v: want the label that was used", page, err)
	}
	// Back to the label of before: it is known under its version.
	_, err = w.products().UpdateProduct(w.office, &vernationv1.UpdateProductRequest{Product: soap, UpdateMask: mask("label", "label_version"), RequestId: request()})
	expect(t, err, codes.Aborted, "ETAG_STALE")
	soap.Etag = ""
	if _, err = w.products().UpdateProduct(w.office, &vernationv1.UpdateProductRequest{Product: soap, UpdateMask: mask("label", "label_version"), RequestId: request()}); err != nil {
		t.Error(err)
	}
}

// spray reports an application of soap to the mealybugs' plants by tech-a, within the label: 5/8 to 32 US fl oz, of which 28
// go on the plants.
func (w *works) spray(t *testing.T, id, began string) {
	t.Helper()
	from := w.at(t, began)
	w.Clock.Set(from.Add(time.Hour))
	report := firm.Report{
		ID: id, Technician: "tech-a", Site: "offices-alder-row", Arrived: from.Add(-15 * time.Minute), Left: from.Add(45 * time.Minute), SentAt: from.Add(50 * time.Minute),
		Items: []firm.ReportItem{{
			Item: course.NewItemID(mealybugs, course.KindApplication, 1, 1), Outcome: course.OutcomeDone, Began: from, Ended: from.Add(30 * time.Minute),
			Application: &firm.Applied{Product: "soap", Vessel: "sprayer", Concentrate: quantity.NewVolume(5, 8, quantity.USFluidOunce),
				Volume: quantity.NewVolume(32, 1, quantity.USFluidOunce), Applied: quantity.NewVolume(28, 1, quantity.USFluidOunce), LeftWent: firm.TakenHome},
		}},
	}
	err := w.Store.In(t.Context(), w.Office, func(tx *store.Tx) error {
		_, err := casework.AppendReport(tx, report)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

func TestProducts_WithdrawnOneIsNeitherChosenNorApplied(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	if _, err := w.products().DeleteProduct(w.office, &vernationv1.DeleteProductRequest{Name: w.name("products/soap"), RequestId: request()}); err != nil {
		t.Fatal(err)
	}
	plan := w.makePlan(t, 5)
	for _, route := range plan.GetRoutes() {
		for _, visit := range route.GetVisits() {
			for _, work := range visit.GetWorkItems() {
				if work.GetUse().GetProduct() == w.name("products/soap") {
					t.Errorf("%s applies a product that was withdrawn", work.GetItem())
				}
			}
		}
	}
	_, err := w.technicians().CheckApplication(w.techA, &vernationv1.CheckApplicationRequest{
		Name: w.name("technicians/tech-a"), Product: w.name("products/soap"), Plants: []string{w.name("plants/pothos-stairs")}, Takes: durationpb.New(10 * time.Minute),
	})
	expect(t, err, codes.FailedPrecondition, "DELETED")
}
