package rpc_test

import (
	"encoding/csv"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/convert"
	"vernation/server/internal/listing"
)

// corrected opens a works with an application that was reported, reported otherwise, and reported once more.
func corrected(t *testing.T) *works {
	t.Helper()
	w, visit := over(t)
	for i, id := range []string{"r1", "r2", "r3"} {
		ask := w.drench(t, id, visit)
		if i > 0 {
			ask.Report.Corrects = w.name("reports/r" + string(rune('0'+i)))
			ask.Report.Items[0].Application.Applied = "1." + string(rune('0'+i)) + " L"
		}
		if _, err := w.reports().CreateReport(w.office, ask); err != nil {
			t.Fatal(err)
		}
	}
	return w
}

func TestRecords_AreReadFilteredAndExportedInPages(t *testing.T) {
	t.Parallel()
	w := corrected(t)
	for filter, want := range map[string][]string{
		"":                  {"r3-1", "r2-1", "r1-1"},
		`corrected_by = ""`: {"r3-1"},
		`corrects:"*"`:      {"r3-1", "r2-1"},
		`product = "` + w.name("products/bti") + `" AND began >= "2026-03-02T17:00:00Z"`: {"r3-1", "r2-1", "r1-1"},
		`began > "2026-03-02T17:00:00Z"`:                                                 nil,
		`technician = "` + w.name("technicians/tech-b") + `"`:                            nil,
		`keep_until_on < "2029-03-02"`:                                                   nil,
	} {
		found, err := w.records().ListApplicationRecords(w.integration, &vernationv1.ListApplicationRecordsRequest{Parent: w.name(""), Filter: filter})
		if err != nil {
			t.Errorf("%s: %v", filter, err)
		}
		var got []string
		for _, r := range found.GetApplicationRecords() {
			got = append(got, convert.ID[string](r.GetName()))
			one, err := w.records().GetApplicationRecord(w.office, &vernationv1.GetApplicationRecordRequest{Name: r.GetName()})
			if err != nil || !proto.Equal(one, r) {
				t.Errorf("read alone it is %v, %v; in the list %v", one, err, r)
			}
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", filter, diff)
		}
	}
	var text strings.Builder
	ask, pages := &vernationv1.ExportApplicationRecordsRequest{Parent: w.name(""), PageSize: 2}, 0
	for {
		page, err := w.records().ExportApplicationRecords(w.integration, ask)
		if err != nil {
			t.Fatal(err)
		}
		text.WriteString(page.GetCsv())
		pages++
		if ask.PageToken = page.GetNextPageToken(); ask.PageToken == "" {
			break
		}
	}
	rows, err := csv.NewReader(strings.NewReader(text.String())).ReadAll()
	if err != nil || pages != 2 || len(rows) != 4 {
		t.Fatalf("%d pages, %d rows, %v: want two pages with a heading and three rows", pages, len(rows), err)
	}
	by := slices.Index(rows[0], "corrected_by")
	if diff := cmp.Diff([]string{"r2-1", "r3-1", ""}, []string{rows[1][by], rows[2][by], rows[3][by]}); diff != "" {
		t.Errorf("corrected by (-want +got):\n%s", diff)
	}
	_, err = w.records().ExportApplicationRecords(w.techA, &vernationv1.ExportApplicationRecordsRequest{Parent: w.name("")})
	expect(t, err, codes.PermissionDenied, "ROLE_NEEDED")
}

func TestBillableWork_IsThatOfTheReportsThatStand(t *testing.T) {
	t.Parallel()
	w := corrected(t)
	extra := w.drench(t, "look", &vernationv1.Visit{})
	extra.Report.Arrived, extra.Report.Left = w.stamp(t, "2026-03-02 14:00"), w.stamp(t, "2026-03-02 15:00")
	extra.Report.Items = []*vernationv1.ReportedItem{{
		Case: w.name("cases/gnats"), Outcome: vernationv1.Outcome_OUTCOME_DONE, Plants: []string{w.name("plants/lily-reading")}, Inspection: &vernationv1.InspectionMade{},
		Began: w.stamp(t, "2026-03-02 14:10"), Ended: w.stamp(t, "2026-03-02 14:22"),
	}}
	if _, err := w.reports().CreateReport(w.office, extra); err != nil {
		t.Fatal(err)
	}
	first, err := w.billing("2026-03-02", "2026-03-02", func(r *vernationv1.ExportBillableWorkRequest) { r.PageSize = 1 })
	if err != nil || first.GetNextPageToken() == "" {
		t.Fatal(first, err)
	}
	second, err := w.billing("2026-03-02", "2026-03-02", func(r *vernationv1.ExportBillableWorkRequest) { r.PageSize, r.PageToken = 1, first.GetNextPageToken() })
	if err != nil || second.GetNextPageToken() != "" {
		t.Fatal(second, err)
	}
	rows, err := csv.NewReader(strings.NewReader(first.GetCsv() + second.GetCsv())).ReadAll()
	if err != nil || len(rows) != 3 {
		t.Fatalf("%v, %v: want a heading, the drench as it was told last, and the look", rows, err)
	}
	cells := func(row []string) (got []string) {
		for _, heading := range []string{"report", "site_id", "kind", "case", "terms", "minutes", "applied", "began"} {
			got = append(got, row[slices.Index(rows[0], heading)])
		}
		return got
	}
	if diff := cmp.Diff([]string{"r3", "hotel-quarry-square", "application", "gnats", "billed", "20", "1.2 L", "2026-03-02T12:00:00-05:00"}, cells(rows[1])); diff != "" {
		t.Errorf("the drench (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff([]string{"look", "hotel-quarry-square", "inspect-infested", "gnats", "billed", "12", "", "2026-03-02T14:10:00-05:00"}, cells(rows[2])); diff != "" {
		t.Errorf("the look (-want +got):\n%s", diff)
	}
	elsewhere, err := w.billing("2026-03-02", "2026-03-02", func(r *vernationv1.ExportBillableWorkRequest) { r.Site = w.name("sites/offices-alder-row") })
	if err != nil || elsewhere.GetStays() != 0 || strings.Count(elsewhere.GetCsv(), "\n") != 1 {
		t.Errorf("at the other site: %v, %v; want a heading alone", elsewhere, err)
	}
}

func TestRecords_EveryDeclaredFieldFiltersAndOrders(t *testing.T) {
	t.Parallel()
	w := openWorks(t)
	everyField(t, "records", convert.RecordList, w.askRecords)
}

// everyField asks a list for each field that it declares.
func everyField(t *testing.T, name string, noun *listing.Noun, ask func(filter, order string) error) {
	t.Helper()
	for _, field := range noun.Fields() {
		value := map[listing.Kind]string{
			listing.Text: `= "a"`, listing.Texts: `:"a"`, listing.Number: "= 1", listing.Truth: "= true", listing.Day: `= "2026-03-02"`,
			listing.Instant: `= "2026-03-02T07:00:00Z"`,
		}[field.Kind]
		filters := []string{field.Name + " " + value}
		if field.Kind == listing.Word {
			filters = nil
			for i := range field.Enum.Descriptor().Values().Len() {
				filters = append(filters, field.Name+" != "+string(field.Enum.Descriptor().Values().Get(i).Name()))
			}
		}
		if field.Kind == listing.Text || field.Kind == listing.Texts || field.Kind == listing.Instant {
			filters = append(filters, field.Name+`:"*"`)
		}
		for _, filter := range filters {
			if err := ask(filter, ""); err != nil {
				t.Errorf("%s, %s: %v", name, filter, err)
			}
		}
		if field.Unordered {
			continue
		}
		if err := ask("", field.Name+" desc"); err != nil {
			t.Errorf("%s by %s: %v", name, field.Name, err)
		}
	}
}
