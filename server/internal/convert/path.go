package convert

import (
	"errors"
	"slices"
	"strings"

	"vernation/server/internal/fault"
)

// contractNames gives the contract's name of a field whose name in the domain is another, by the domain's path
// without places in lists.
var contractNames = map[string]string{
	"site.id":                         "site_id",
	"site.client":                     "client_id",
	"site.name":                       "display_name",
	"site.zone":                       "time_zone",
	"site.kind":                       "place_kind",
	"site.keys":                       "key_ids",
	"site.water.area":                 "area_id",
	"site.areas.id":                   "area_id",
	"site.areas.name":                 "display_name",
	"site.areas.kind":                 "place_kind",
	"site.areas.open_to":              "open_to_area_ids",
	"site.areas.reached_only_through": "reached_only_through_area_id",
	"site.areas.climate.coldest":      "coldest_celsius",
	"site.areas.climate.usual":        "usual_celsius",
	"site.areas.climate.warmest":      "warmest_celsius",
	"site.areas.humidity.least":       "least_percent",
	"site.areas.humidity.usual":       "usual_percent",
	"site.areas.humidity.greatest":    "greatest_percent",
	"site.areas.treatment":            "treatment_place",
	"site.areas.treatment.capacity":   "capacity_plants",
	"site.agreement.ask_above":        "ask_above_minor",
	"site.agreement.consents.from":    "from_on",
	"site.agreement.consents.to":      "to_on",
	"site.agreement.consents.asked":   "client_consent",
	"site.agreement.shut_areas.asked": "client_consent",
	"site.barred.since":               "since_time",
	"site.agreement.shut_areas.area":  "area_id",
	"site.agreement.shut_areas.from":  "begins",
	"site.agreement.shut_areas.to":    "ends",
	"site.agreement.isolation_area":   "isolation_area_id",
	"plant.id":                        "plant_id",
	"plant.name":                      "display_name",
	"plant.replacement":               "replacement_minor",
	"plant.tolerance":                 "tolerances",
	"plant.owner_consents.by":         "consented_by",
	"plant.owner_consents.on":         "consented_on",
	"service_round.id":                "service_round_id",
	"service_round.groups":            "plants",
	"service_round.earliest":          "earliest_days",
	"service_round.ideal":             "ideal_days",
	"service_round.latest":            "latest_days",
	"product.id":                      "product_id",
	"product.name":                    "display_name",
	"product.packs.name":              "display_name",
	"product.label.max_hardness":      "max_hardness_mg_l",
	"product.label.max_humidity":      "max_humidity_percent",
	"product.label.entry.hours":       "interval",
	"technician.id":                   "technician_id",
	"technician.name":                 "display_name",
	"technician.paid_per_minute":      "paid_minor_per_minute",
	"technician.break_to":             "break_window",
	"technician.vessels.id":           "vessel_id",
	"technician.measures.name":        "display_name",
	"technician.scales.name":          "display_name",
	"technician.licences.to":          "to_on",
	"technician.keys.key":             "key_id",
	"technician.keys.to":              "to_on",
	"absence.to":                      "to_on",
	"holiday.name":                    "display_name",
	"holiday.to":                      "to_on",
}

// ContractPaths lets a failure name its wrong fields as the contract does: site.areas[0].kind is
// site.areas[0].place_kind. Any other error stays as it is.
func ContractPaths(err error) error {
	var wrong *fault.Fault
	if !errors.As(err, &wrong) || len(wrong.Fields) == 0 {
		return err
	}
	told := *wrong
	told.Fields = slices.Clone(wrong.Fields)
	for i := range told.Fields {
		told.Fields[i].Path = contractPath(told.Fields[i].Path)
	}
	return fault.InvalidFields(told.Fields)
}

// contractPath writes a path of the domain in the contract's names.
func contractPath(path string) string {
	// By jurisdiction in the domain, a list in the contract: the text names the entry.
	if under, _, cut := strings.Cut(path, "lawful_because."); cut {
		return under + "lawful_because"
	}
	steps := strings.Split(path, ".")
	domain := ""
	var batch []string
	if strings.HasPrefix(path, "requests[") { // of a batch: the rest is as it would be alone
		batch, steps = steps[:1], steps[1:]
	}
	for i, step := range steps {
		name, place, listed := strings.Cut(step, "[")
		domain = strings.TrimPrefix(domain+"."+name, ".")
		if renamed, ok := contractNames[domain]; ok {
			steps[i] = renamed
			if listed {
				steps[i] += "[" + place
			}
		}
	}
	return strings.Join(append(batch, steps...), ".")
}
