package records_test

import (
	"encoding/csv"
	"flag"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"vernation/scheduler/catalogue"
	"vernation/server/internal/firm"
	"vernation/server/internal/firmtest"
	"vernation/server/internal/listing"
	"vernation/server/internal/records"
	"vernation/server/internal/store"
)

var update = flag.Bool("update", false, "write the golden files anew")

// golden compares what people read with a file.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("%s (-want +got):\n%s", path, diff)
	}
}

// all are the records of the firm, the earliest first.
func all(t *testing.T, w *firmtest.Works) (found []firm.Record) {
	t.Helper()
	w.In(t, w.Office, func(tx *store.Tx) error {
		rows, err := records.Records(tx, records.Of{}, listing.Question{Order: []listing.Key{{Field: "began"}, {Field: "name"}}})
		for _, row := range rows {
			found = append(found, row.Value)
		}
		return err
	})
	return found
}

// whole is a record that holds all that a record of ours can.
func whole(t *testing.T) firm.Record {
	t.Helper()
	w := firmtest.Open(t)
	w.MoveClock(t, "2026-03-07 09:00")
	r := w.Report(t, w.Spray(t, "r", 1, "2026-03-03 20:00")).Records[0]
	r.ClientAddress, r.ActiveIngredient = "12 Alder Row", "potassium salts of fatty acids"
	return r
}

func TestMissing_EveryElementThatAJurisdictionAsksForIsLookedFor(t *testing.T) {
	t.Parallel()
	r := whole(t)
	// What no record of ours can hold: nobody measures floors, a site has no postal address, and a report tells of rests and
	// mishaps where a record does not.
	never := []string{
		"anything unexpected, such as a spill, an exposure or drift, and what was done", "area and place of application",
		"pesticides disposed of, and how", "site address", "size of area treated",
	}
	var asked []string
	for _, jurisdiction := range catalogue.Shipped().Jurisdictions {
		asked = append(asked, jurisdiction.Records.Elements...)
	}
	slices.Sort(asked)
	r.Elements = slices.Compact(asked)
	if len(r.Elements) < 40 {
		t.Fatalf("%d elements are asked for: the catalogue had more", len(r.Elements))
	}
	if diff := cmp.Diff(never, records.Missing(r)); diff != "" {
		t.Errorf("missing of a whole record (-want +got):\n%s", diff)
	}
	// A record that holds nothing lacks everything but what is asked of work under supervision alone.
	nothing := firm.Record{Elements: r.Elements}
	supervised := []string{"instructions given to technicians under supervision", "supervised noncertified person", "trainee and supervisor"}
	want := slices.DeleteFunc(slices.Clone(r.Elements), func(e string) bool { return slices.Contains(supervised, e) })
	if diff := cmp.Diff(want, records.Missing(nothing)); diff != "" {
		t.Errorf("missing of an empty record (-want +got):\n%s", diff)
	}
	if missing := records.Missing(firm.Record{Elements: []string{"colour of the sky"}}); len(missing) != 1 {
		t.Errorf("an element that nobody knows counts as held: %v", missing)
	}
	if missing := records.Missing(firm.Record{Elements: r.Elements, NotMade: "not made"}); len(missing) > 0 {
		t.Errorf("of an application that was not made is asked: %v", missing)
	}
}

// 7 Pa. Code 128.35 asks for the elements and for three years, 40 CFR 171.303 for the size of the area.
func TestRecords_SayWhatIsMissingUntilWhenToKeepAndWhatCorrectsThem(t *testing.T) {
	t.Parallel()
	w := firmtest.Open(t)
	w.MoveClock(t, "2026-03-07 09:00")
	w.Report(t, w.Spray(t, "first", 1, "2026-03-03 20:00"))
	second := w.Spray(t, "second", 1, "2026-03-03 20:00")
	second.Corrects, second.Items[0].Application.Applied = "first", firmtest.Volume(t, "26 US fl oz")
	w.Report(t, second)
	third := w.Spray(t, "third", 1, "2026-03-03 20:00")
	third.Corrects, third.Items = "second", nil
	w.Report(t, third)
	found := all(t, w)
	if len(found) != 3 {
		t.Fatalf("%d records: want the first, its correction, and that it was not made", len(found))
	}
	chain := []string{found[0].CorrectedBy, found[1].CorrectedBy, found[2].CorrectedBy}
	if diff := cmp.Diff([]string{"second-1", "third-not-made-1", ""}, chain); diff != "" {
		t.Errorf("corrected by (-want +got):\n%s", diff)
	}
	if found[0].Applied.Equal(found[1].Applied) || found[0].KeepUntil.String() != "2029-03-03" {
		t.Errorf("the first holds %v, kept until %v: want it unchanged, kept three years", found[0].Applied, found[0].KeepUntil)
	}
	if diff := cmp.Diff([]string{"customer name and address", "site address", "size of area treated"}, found[0].Missing); diff != "" {
		t.Errorf("missing (-want +got):\n%s", diff)
	}
	w.In(t, w.Office, func(tx *store.Tx) error {
		one, err := records.Record(tx, "first-1")
		if diff := cmp.Diff(found[0].Missing, one.Missing); diff != "" || one.CorrectedBy != "second-1" {
			t.Errorf("read alone: %s, corrected by %s", diff, one.CorrectedBy)
		}
		return err
	})
	for i := range found {
		found[i].CatalogueVersion = "catalogue" // rises with its data
	}
	golden(t, "records.csv", records.RecordText(found, true))
}

// RFC 4180, section 2: fields that hold line breaks, double quotes or commas stand in double quotes, a double quote in
// them is doubled, lines end in CRLF.
func TestRecordText_IsCommaSeparatedTextThatAnyReaderReads(t *testing.T) {
	t.Parallel()
	r := firm.Record{ID: "r-1", Client: "Smith, \"Sons\"\nand daughters", SiteName: "=1+1", AreaName: "-hall", ProductName: "@soap", Pest: "a-b"}
	text := records.RecordText([]firm.Record{r, r}, true) + records.RecordText([]firm.Record{r}, false)
	if !strings.Contains(text, "\"Smith, \"\"Sons\"\"\r\nand daughters\"") || !strings.HasSuffix(text, "\r\n") {
		t.Errorf("%q is not of the form", text)
	}
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil || len(rows) != 4 {
		t.Fatalf("%d rows, %v: want a heading and three", len(rows), err)
	}
	at := func(heading string) string { return rows[3][slices.Index(rows[0], heading)] }
	got := []string{at("client"), at("site"), at("area"), at("product"), at("pest"), at("record")}
	if diff := cmp.Diff([]string{"Smith, \"Sons\"\nand daughters", "'=1+1", "'-hall", "'@soap", "a-b", "r-1"}, got); diff != "" {
		t.Errorf("read back (-want +got):\n%s", diff)
	}
}
