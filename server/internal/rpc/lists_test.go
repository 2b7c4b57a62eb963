package rpc_test

import (
	"testing"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/convert"
	"vernation/server/internal/listing"
)

// declaredLists are the lists that declare their fields, with a call of each.
var declaredLists = map[string]struct {
	noun *listing.Noun
	ask  func(d *desk, filter, order string) error
}{
	"cases": {convert.CaseList, func(d *desk, filter, order string) error {
		_, err := d.cases().ListCases(d.office, &vernationv1.ListCasesRequest{Parent: d.name(""), Filter: filter, OrderBy: order})
		return err
	}},
	"client consents": {convert.ClientConsentList, func(d *desk, filter, order string) error {
		_, err := d.consents().ListClientConsents(d.office, &vernationv1.ListClientConsentsRequest{Parent: d.name(""), Filter: filter, OrderBy: order})
		return err
	}},
	"deviations": {convert.DeviationList, func(d *desk, filter, order string) error {
		_, err := d.reports().ListDeviations(d.office, &vernationv1.ListDeviationsRequest{Parent: d.name(""), Filter: filter, OrderBy: order})
		return err
	}},
	"findings": {convert.FindingList, func(d *desk, filter, order string) error {
		_, err := d.findings().ListFindings(d.office, &vernationv1.ListFindingsRequest{Parent: d.name(""), Filter: filter, OrderBy: order})
		return err
	}},
	"incidents": {convert.IncidentList, func(d *desk, filter, order string) error {
		_, err := d.incidents().ListIncidents(d.office, &vernationv1.ListIncidentsRequest{Parent: d.name(""), Filter: filter, OrderBy: order})
		return err
	}},
	"reports": {convert.ReportList, func(d *desk, filter, order string) error {
		_, err := d.reports().ListReports(d.office, &vernationv1.ListReportsRequest{Parent: d.name(""), Filter: filter, OrderBy: order})
		return err
	}},
	"clients": {convert.ClientList, func(d *desk, filter, order string) error {
		_, err := d.clients().ListClients(d.office, &vernationv1.ListClientsRequest{Parent: d.name(""), Filter: filter, OrderBy: order})
		return err
	}},
	"plants": {convert.PlantList, func(d *desk, filter, order string) error {
		_, err := d.plants().ListPlants(d.office, &vernationv1.ListPlantsRequest{Parent: d.name(""), Filter: filter, OrderBy: order})
		return err
	}},
	"tolerances": {convert.SpeciesToleranceList, func(d *desk, filter, order string) error {
		_, err := d.tolerances().ListSpeciesTolerances(d.office, &vernationv1.ListSpeciesTolerancesRequest{Parent: d.name(""), Filter: filter, OrderBy: order})
		return err
	}},
	"rounds": {convert.ServiceRoundList, func(d *desk, filter, order string) error {
		_, err := d.rounds().ListServiceRounds(d.office, &vernationv1.ListServiceRoundsRequest{Parent: d.name(""), Filter: filter, OrderBy: order})
		return err
	}},
	"sites": {convert.SiteList, func(d *desk, filter, order string) error {
		_, err := d.sites().ListSites(d.office, &vernationv1.ListSitesRequest{Parent: d.name(""), Filter: filter, OrderBy: order})
		return err
	}},
	"products": {convert.ProductList, func(d *desk, filter, order string) error {
		_, err := d.products().ListProducts(d.office, &vernationv1.ListProductsRequest{Parent: d.name(""), Filter: filter, OrderBy: order})
		return err
	}},
	"technicians": {convert.TechnicianList, func(d *desk, filter, order string) error {
		_, err := d.technicians().ListTechnicians(d.office, &vernationv1.ListTechniciansRequest{Parent: d.name(""), Filter: filter, OrderBy: order})
		return err
	}},
	"absences": {convert.AbsenceList, func(d *desk, filter, order string) error {
		_, err := d.absences().ListAbsences(d.office, &vernationv1.ListAbsencesRequest{Parent: d.name(""), Filter: filter, OrderBy: order})
		return err
	}},
	"lots": {convert.LotList, func(d *desk, filter, order string) error {
		_, err := d.lots().ListLots(d.office, &vernationv1.ListLotsRequest{Parent: d.name(""), Filter: filter, OrderBy: order})
		return err
	}},
	"holidays": {convert.HolidayList, func(d *desk, filter, order string) error {
		_, err := d.holidays().ListHolidays(d.office, &vernationv1.ListHolidaysRequest{Parent: d.name(""), Filter: filter, OrderBy: order})
		return err
	}},
	"plans": {convert.PlanList, func(d *desk, filter, order string) error {
		_, err := d.planService().ListPlans(d.office, &vernationv1.ListPlansRequest{Parent: d.name(""), Filter: filter, OrderBy: order})
		return err
	}},
	"plan runs": {convert.PlanRunList, func(d *desk, filter, order string) error {
		_, err := d.planService().ListPlanRuns(d.office, &vernationv1.ListPlanRunsRequest{Parent: d.name(""), Filter: filter, OrderBy: order})
		return err
	}},
	"visits": {convert.VisitList, func(d *desk, filter, order string) error {
		_, err := d.visits().ListVisits(d.office, &vernationv1.ListVisitsRequest{Parent: d.name(""), Filter: filter, OrderBy: order})
		return err
	}},
}

func TestLists_EveryDeclaredFieldFiltersAndOrders(t *testing.T) {
	t.Parallel()
	d := openDesk(t)
	for name, list := range declaredLists {
		everyField(t, name, list.noun, func(filter, order string) error { return list.ask(d, filter, order) })
	}
}
