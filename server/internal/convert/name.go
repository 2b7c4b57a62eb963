package convert

import (
	"strings"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
)

// Names writes the resource names of one business. The name of an unset id is empty.
type Names struct{ business firm.BusinessID }

// NamesOf returns the names of a business: the caller's, never the request's.
func NamesOf(business firm.BusinessID) Names { return Names{business} }

// The collections of a business.
const (
	absenceCollection          = "absences"
	areaCollection             = "areas"
	businessCollection         = "businesses"
	caseCollection             = "cases"
	clientCollection           = "clients"
	consentCollection          = "clientConsents"
	dayRouteCollection         = "dayRoutes"
	deviationCollection        = "deviations"
	findingCollection          = "findings"
	holidayCollection          = "holidays"
	incidentCollection         = "incidents"
	keyCollection              = "integrationKeys"
	lotCollection              = "lots"
	noticeCollection           = "notices"
	planCollection             = "plans"
	planRunCollection          = "planRuns"
	plantCollection            = "plants"
	plantEventCollection       = "plantEvents"
	productCollection          = "products"
	recordCollection           = "applicationRecords"
	reportCollection           = "reports"
	serviceRoundCollection     = "serviceRounds"
	siteCollection             = "sites"
	speciesToleranceCollection = "speciesTolerances"
	stampCollection            = "stamps"
	technicianCollection       = "technicians"
	visitCollection            = "visits"
)

// name writes businesses/{business}/{collection}/{id}, or "" for an unset id.
func (n Names) name(collection, id string) string {
	if id == "" {
		return ""
	}
	return strings.Join([]string{businessCollection, string(n.business), collection, id}, "/")
}

// Business names the business.
func (n Names) Business() string { return businessCollection + "/" + string(n.business) }

// Client names a client.
func (n Names) Client(id string) string { return n.name(clientCollection, id) }

// Sites names sites, in order.
func (n Names) Sites(ids []site.ID) []string { return each(ids, n.Site) }

// Site names a site.
func (n Names) Site(id site.ID) string { return n.name(siteCollection, string(id)) }

// Area names an area of a site; "" where either is unset.
func (n Names) Area(at site.ID, id site.AreaID) string {
	if at == "" || id == "" {
		return ""
	}
	return n.Site(at) + "/" + areaCollection + "/" + string(id)
}

// Plant names a plant.
func (n Names) Plant(id site.PlantID) string { return n.name(plantCollection, string(id)) }

// Plants names plants, in order.
func (n Names) Plants(ids []site.PlantID) []string { return each(ids, n.Plant) }

// PlantEvent names an event of plants.
func (n Names) PlantEvent(id string) string { return n.name(plantEventCollection, id) }

// ServiceRound names routine work at a site.
func (n Names) ServiceRound(id string) string { return n.name(serviceRoundCollection, id) }

// SpeciesTolerance names the business's own record of what plants of a species stood.
func (n Names) SpeciesTolerance(id string) string { return n.name(speciesToleranceCollection, id) }

// Product names a product.
func (n Names) Product(id catalogue.ProductID) string { return n.name(productCollection, string(id)) }

// Technician names a technician.
func (n Names) Technician(id scheduler.TechnicianID) string {
	return n.name(technicianCollection, string(id))
}

// Absence names an absence of a technician.
func (n Names) Absence(id string) string { return n.name(absenceCollection, id) }

// Holiday names a holiday.
func (n Names) Holiday(id string) string { return n.name(holidayCollection, id) }

// Lot names a lot of a product.
func (n Names) Lot(id string) string { return n.name(lotCollection, id) }

// Measures names the measures of the business.
func (n Names) Measures() string { return n.Business() + "/measures" }

// Notice names a notice.
func (n Names) Notice(id string) string { return n.name(noticeCollection, id) }

// Policy names the policy of the business.
func (n Names) Policy() string { return n.Business() + "/policy" }

// DayRoute names a technician's day route of a day.
func (n Names) DayRoute(id scheduler.TechnicianID, day civil.Date) string {
	return n.Technician(id) + "/" + dayRouteCollection + "/" + day.String()
}

// Finding names a finding.
func (n Names) Finding(id string) string { return n.name(findingCollection, id) }

// Case names a case.
func (n Names) Case(id course.CaseID) string { return n.name(caseCollection, string(id)) }

// Course names the course of a case.
func (n Names) Course(id course.CaseID) string { return n.Case(id) + "/course" }

// Outlook names the outlook of a case.
func (n Names) Outlook(id course.CaseID) string { return n.Case(id) + "/outlook" }

// Incident names an incident.
func (n Names) Incident(id string) string { return n.name(incidentCollection, id) }

// ClientConsent names what a client was asked for.
func (n Names) ClientConsent(id string) string { return n.name(consentCollection, id) }

// Deviation names a deviation.
func (n Names) Deviation(id string) string { return n.name(deviationCollection, id) }

// Visit names a visit.
func (n Names) Visit(id scheduler.VisitID) string { return n.name(visitCollection, string(id)) }

// Stamp names a stamp.
func (n Names) Stamp(id string) string { return n.name(stampCollection, id) }

// Report names a report.
func (n Names) Report(id string) string { return n.name(reportCollection, id) }

// Record names an application record.
func (n Names) Record(id string) string { return n.name(recordCollection, id) }

// Plan names a plan.
func (n Names) Plan(id string) string { return n.name(planCollection, id) }

// PlanRun names the making of a plan.
func (n Names) PlanRun(id string) string { return n.name(planRunCollection, id) }

// BusinessOf reads the business of a name.
func BusinessOf(name string) firm.BusinessID {
	id, _, _ := strings.Cut(strings.TrimPrefix(name, businessCollection+"/"), "/")
	return firm.BusinessID(id)
}

// IntegrationKey names a key of a program.
func (n Names) IntegrationKey(id string) string { return n.name(keyCollection, id) }

// ID reads the last id of a name, as a type of id: ID[site.ID]("businesses/b/sites/s") is "s", that of "" is "".
// The form of the name and its business were held to before.
func ID[T ~string](name string) T {
	return T(name[strings.LastIndexByte(name, '/')+1:])
}

// IDs reads the last id of each name, in order.
func IDs[T ~string](names []string) []T { return each(names, ID[T]) }

// AreaID reads the name of an area: businesses/b/sites/s/areas/a is "s", "a".
func AreaID(name string) (at site.ID, id site.AreaID) {
	return site.ID(above(name, areaCollection)), ID[site.AreaID](name)
}

// CaseOfCourse reads the name of a course: businesses/b/cases/c/course is "c".
func CaseOfCourse(name string) course.CaseID {
	return ID[course.CaseID](strings.TrimSuffix(name, "/course"))
}

// CaseOfOutlook reads the name of an outlook: businesses/b/cases/c/outlook is "c".
func CaseOfOutlook(name string) course.CaseID {
	return ID[course.CaseID](strings.TrimSuffix(name, "/outlook"))
}

// TechnicianOfDayRoute reads whose day route a name speaks of; ID gives its day as text.
func TechnicianOfDayRoute(name string) scheduler.TechnicianID {
	return scheduler.TechnicianID(above(name, dayRouteCollection))
}

// above returns the id before the last collection of a name.
func above(name, collection string) string {
	parent, _, _ := strings.Cut(name, "/"+collection+"/")
	return ID[string](parent)
}

// each converts a list; nil stays nil.
func each[From, To any](list []From, one func(From) To) []To {
	if list == nil {
		return nil
	}
	converted := make([]To, len(list))
	for i, value := range list {
		converted[i] = one(value)
	}
	return converted
}

// words converts a list of ids or texts to another kind of text; nil stays nil.
func words[From, To ~string](list []From) []To {
	return each(list, func(value From) To { return To(value) })
}
