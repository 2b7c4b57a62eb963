package records

import (
	"encoding/csv"
	"fmt"
	"strconv"
	"strings"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/server/internal/firm"
)

// column is one column of a table of text.
type column[T any] struct {
	heading string
	cell    func(T) string
}

// recordColumns are those of the export of application records. New ones come last, so that readers by place stay right.
var recordColumns = []column[firm.Record]{
	{"record", func(r firm.Record) string { return r.ID }},
	{"corrects", func(r firm.Record) string { return r.Corrects }},
	{"corrected_by", func(r firm.Record) string { return r.CorrectedBy }},
	{"not_made", func(r firm.Record) string { return r.NotMade }},
	{"keep_until", func(r firm.Record) string { return dayText(r.KeepUntil) }},
	{"jurisdiction", func(r firm.Record) string { return string(r.Jurisdiction) }},
	{"asked_for", func(r firm.Record) string { return strings.Join(r.Elements, "; ") }},
	{"missing", func(r firm.Record) string { return strings.Join(r.Missing, "; ") }},
	{"began", func(r firm.Record) string { return clockText(r.Began, r.Zone) }},
	{"ended", func(r firm.Record) string { return clockText(r.Ended, r.Zone) }},
	{"entry_from", func(r firm.Record) string { return clockText(r.EntryFrom, r.Zone) }},
	{"client", func(r firm.Record) string { return r.Client }},
	{"client_address", func(r firm.Record) string { return r.ClientAddress }},
	{"site", func(r firm.Record) string { return r.SiteName }},
	{"area", func(r firm.Record) string { return r.AreaName }},
	{"place_kind", func(r firm.Record) string { return string(r.PlaceKind) }},
	{"plants", func(r firm.Record) string { return plantsText(r.Plants) }},
	{"pest", func(r firm.Record) string { return r.Pest }},
	{"product", func(r firm.Record) string { return r.ProductName }},
	{"registration", func(r firm.Record) string { return r.Registration }},
	{"label_version", func(r firm.Record) string { return r.LabelVersion }},
	{"form", func(r firm.Record) string { return string(r.Form) }},
	{"material", func(r firm.Record) string { return string(r.Material) }},
	{"active_ingredient", func(r firm.Record) string { return r.ActiveIngredient }},
	{"method", func(r firm.Record) string { return string(r.Method) }},
	{"vessel", func(r firm.Record) string { return string(r.Vessel) }},
	{"rate_percent", func(r firm.Record) string { return r.RatePercent }},
	{"concentrate", func(r firm.Record) string { return volumeText(r.Concentrate) }},
	{"diluent", func(r firm.Record) string { return volumeText(diluent(r)) }},
	{"applied", func(r firm.Record) string { return volumeText(r.Applied) }},
	{"mass", func(r firm.Record) string { return massText(r.Mass) }},
	{"organisms", func(r firm.Record) string { return countText(r.Organisms) }},
	{"technician", func(r firm.Record) string { return r.TechnicianName }},
	{"licence_number", func(r firm.Record) string { return r.Licence }},
	{"supervisor", func(r firm.Record) string { return r.SupervisorName }},
	{"deviations", func(r firm.Record) string { return strings.Join(r.Deviations, "; ") }},
	{"case", func(r firm.Record) string { return string(r.Case) }},
	{"item", func(r firm.Record) string { return string(r.Item) }},
	{"report", func(r firm.Record) string { return r.Report }},
	{"catalogue_version", func(r firm.Record) string { return r.CatalogueVersion }},
}

// RecordText writes application records as comma-separated text (RFC 4180), with a heading where it is asked for.
func RecordText(records []firm.Record, heading bool) string {
	return tableText(recordColumns, records, heading)
}

// tableText writes rows as comma-separated text.
func tableText[T any](columns []column[T], rows []T, heading bool) string {
	var text strings.Builder
	writer := csv.NewWriter(&text)
	writer.UseCRLF = true // RFC 4180
	line := make([]string, len(columns))
	if heading {
		for i, c := range columns {
			line[i] = c.heading
		}
		_ = writer.Write(line) // a strings.Builder takes everything
	}
	for _, row := range rows {
		for i, c := range columns {
			line[i] = plainCell(c.cell(row))
		}
		_ = writer.Write(line)
	}
	writer.Flush()
	return text.String()
}

// plainCell keeps a spreadsheet from taking a text of somebody else's for a formula.
func plainCell(text string) string {
	if strings.ContainsAny(text[:min(len(text), 1)], "=+-@\t\r") {
		return "'" + text
	}
	return text
}

// clockText is an instant by the clock of a zone, with its distance from UTC; that of UTC where no zone is known.
func clockText(at civil.Instant, zone string) string {
	if at.IsZero() {
		return ""
	}
	location := time.UTC
	if known, err := civil.LoadZone(zone); zone != "" && err == nil {
		location = known.Location()
	}
	return at.Time().In(location).Format(time.RFC3339)
}

func dayText(day civil.Date) string {
	if day.IsZero() {
		return ""
	}
	return day.String()
}

func volumeText(v quantity.Volume) string {
	if v.IsZero() {
		return ""
	}
	return v.String()
}

func massText(m quantity.Mass) string {
	if m.Sign() == 0 {
		return ""
	}
	return m.String()
}

func countText(count int64) string {
	if count == 0 {
		return ""
	}
	return strconv.FormatInt(count, 10)
}

// diluent is the water of what came onto the plants; nothing where nothing was diluted.
func diluent(r firm.Record) quantity.Volume {
	if r.Concentrate.IsZero() {
		return quantity.Volume{}
	}
	return r.Applied.Sub(r.Concentrate)
}

// plantsText names plants by count and species: "2 Epipremnum aureum".
func plantsText(plants []firm.RecordedPlant) string {
	written := make([]string, len(plants))
	for i, p := range plants {
		name := string(p.Species)
		if species, known := catalogue.Shipped().Species[p.Species]; known {
			name = species.Botanical
		}
		written[i] = fmt.Sprintf("%d %s", p.Count, name)
	}
	return strings.Join(written, "; ")
}
