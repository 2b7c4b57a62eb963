package convert

import (
	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
)

// Incident writes something that went wrong, with what comes first; of is the business, whose lines to call are among that.
func Incident(names Names, of firm.Business, i firm.Incident) *vernationv1.Incident {
	m := &vernationv1.Incident{
		Name: names.Incident(i.ID), Kind: incidentKinds.enum(i.Kind), Site: names.Site(i.Site), Area: names.Area(i.Site, i.Area),
		Product: names.Product(i.Product), Plants: names.Plants(i.Plants), Case: names.Case(i.Case), EventTime: Timestamp(i.At),
		ToldBy: i.By, Text: i.Text, MeasuresTaken: i.Done, Open: i.Release == nil, CreateTime: Timestamp(i.ReceivedAt),
		Cautions: i.Cautions(of),
	}
	if r := i.Release; r != nil {
		m.Release = &vernationv1.IncidentRelease{By: r.By, ReleaseTime: Timestamp(r.At), Reason: r.Reason}
	}
	return m
}

// IncidentFrom reads an incident that shall have an id.
//
// Fails with Invalid (UNKNOWN_AREA for an area of another site).
func IncidentFrom(id string, m *vernationv1.Incident) (firm.Incident, error) {
	r := &reading{}
	at := ID[site.ID](m.GetSite())
	return firm.Incident{
		ID: id, Kind: incidentKinds.word(m.GetKind()), Site: at, Area: r.areaOf("incident.area", at, m.GetArea()),
		Product: ID[catalogue.ProductID](m.GetProduct()), Plants: IDs[site.PlantID](m.GetPlants()), Case: ID[course.CaseID](m.GetCase()),
		At: InstantFrom(m.GetEventTime()), By: m.GetToldBy(), Text: m.GetText(), Done: m.GetMeasuresTaken(),
	}, fault.InvalidFields(r.wrong)
}
