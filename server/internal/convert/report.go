package convert

import (
	"fmt"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
)

// reasonArea is the reason for an area of another site than the report's.
const reasonArea = "UNKNOWN_AREA"

// ReportFrom reads what really happened; id is the one that the caller gave the report.
//
// Fails with Invalid for what cannot be read, all at once.
func ReportFrom(id string, m *vernationv1.Report) (firm.Report, error) {
	r := &reading{}
	at := ID[site.ID](m.GetSite())
	report := firm.Report{
		ID:          id,
		Visit:       ID[scheduler.VisitID](m.GetVisit()),
		Technician:  ID[scheduler.TechnicianID](m.GetTechnician()),
		Site:        at,
		Arrived:     InstantFrom(m.GetArrived()),
		Left:        InstantFrom(m.GetLeft()),
		RestOutcome: outcomes.word(m.GetRestOutcome()),
		Note:        m.GetNote(),
		Corrects:    ID[string](m.GetCorrects()),
		SentAt:      InstantFrom(m.GetClientTime()),
		ExternalID:  m.GetExternalId(),
	}
	for i, item := range m.GetItems() {
		report.Items = append(report.Items, r.reportedItem(fmt.Sprintf("report.items[%d]", i), at, item))
	}
	report.Findings = each(m.GetFindings(), findingFrom)
	for i, dry := range m.GetDryConfirmations() {
		report.DryConfirmed = append(report.DryConfirmed, firm.DryConfirmation{
			Area: r.areaOf(fmt.Sprintf("report.dry_confirmations[%d].area", i), at, dry.GetArea()),
			Item: scheduler.ItemID(dry.GetItem()),
			Dry:  dry.GetDry(),
			At:   InstantFrom(dry.GetConfirmTime()),
			By:   dry.GetConfirmedBy(),
		})
	}
	return report, fault.InvalidFields(r.wrong)
}

func (r *reading) reportedItem(path string, at site.ID, m *vernationv1.ReportedItem) firm.ReportItem {
	item := firm.ReportItem{
		Item:          scheduler.ItemID(m.GetItem()),
		Case:          ID[course.CaseID](m.GetCase()),
		Outcome:       outcomes.word(m.GetOutcome()),
		Began:         InstantFrom(m.GetBegan()),
		Ended:         InstantFrom(m.GetEnded()),
		Plants:        IDs[site.PlantID](m.GetPlants()),
		Area:          r.areaOf(path+".area", at, m.GetArea()),
		Kind:          followUpKinds.word(m.GetFollowUpKind()),
		Service:       serviceKinds.word(m.GetServiceKind()),
		ConditionsMet: m.GetConditionsMet(),
		DoneCount:     numberFrom(m.DoneCount),
		Note:          m.GetNote(),
	}
	if made := m.GetApplication(); made != nil {
		item.Application = r.applied(path+".application", made)
	}
	if looked := m.GetInspection(); looked != nil {
		item.Inspection = &firm.Inspected{
			Found:         IDs[site.PlantID](looked.GetFound()),
			Severity:      int(looked.GetSeverity()),
			AdultsOnCards: numberFrom(looked.AdultsOnCards),
		}
	}
	return item
}

func (r *reading) applied(path string, m *vernationv1.ApplicationMade) *firm.Applied {
	made := &firm.Applied{
		Product:       ID[catalogue.ProductID](m.GetProduct()),
		Vessel:        scheduler.VesselID(m.GetVesselId()),
		Concentrate:   r.volume(path+".concentrate", m.GetConcentrate()),
		Volume:        r.volume(path+".volume", m.GetVolume()),
		Applied:       r.volume(path+".applied", m.GetApplied()),
		Mass:          r.mass(path+".mass", m.GetMass()),
		Organisms:     m.GetOrganisms(),
		LeftWent:      leftovers.word(m.GetLeftWent()),
		PeoplePresent: m.GetPeoplePresent(),
		LicenceNumber: m.GetLicenceNumber(),

		Celsius: copied(m.MeasuredCelsius), HumidityPercent: copied(m.MeasuredHumidityPercent),
	}
	if m.GetLeft() != "" {
		left := r.volume(path+".left", m.GetLeft())
		made.Left = &left
	}
	return made
}

// areaOf reads the name of an area that must be one of a site.
func (r *reading) areaOf(path string, at site.ID, name string) site.AreaID {
	named, id := AreaID(name)
	if name != "" && named != at {
		r.wrong.Add(path, reasonArea, "%s is no area of the site %s: want one of its areas", name, at)
	}
	return id
}

// Report writes a report with what came of it.
func Report(names Names, told firm.Told) *vernationv1.Report {
	report := told.Report
	return &vernationv1.Report{
		Name:        names.Report(report.ID),
		Visit:       names.Visit(report.Visit),
		Technician:  names.Technician(report.Technician),
		Site:        names.Site(report.Site),
		Arrived:     Timestamp(report.Arrived),
		Left:        Timestamp(report.Left),
		Items:       each(report.Items, func(i firm.ReportItem) *vernationv1.ReportedItem { return reportedItem(names, report.Site, i) }),
		RestOutcome: outcomes.enum(report.RestOutcome),
		Findings:    each(report.Findings, func(f course.Finding) *vernationv1.Finding { return finding(names, f) }),
		DryConfirmations: each(report.DryConfirmed, func(d firm.DryConfirmation) *vernationv1.DryConfirmation {
			return &vernationv1.DryConfirmation{
				Area: names.Area(report.Site, d.Area), Item: string(d.Item), Dry: d.Dry, ConfirmTime: Timestamp(d.At), ConfirmedBy: d.By,
			}
		}),
		Corrects:           names.Report(report.Corrects),
		ClientTime:         Timestamp(report.SentAt),
		Note:               report.Note,
		OffPlan:            report.OffPlan,
		Deviations:         Deviations(names, told.Deviations),
		Cases:              each(told.Cases, names.Case),
		ApplicationRecords: each(told.Records, func(r firm.Record) string { return names.Record(r.ID) }),
		CreateTime:         Timestamp(report.ReceivedAt),
		Consequences:       each(report.Follows, Consequence),
		ExternalId:         report.ExternalID,
	}
}

// Consequence writes what follows from the outcome of a work item, or, without an item, of any.
func Consequence(f firm.Follows) *vernationv1.Consequence {
	return &vernationv1.Consequence{
		Item: string(f.Item), Outcome: outcomes.enum(f.Outcome), DueAgain: f.DueAgain, AfterDays: int32(f.AfterDays), DueAgainOn: f.DueOn.String(),
		NoticeAgain: f.NoticeAgain, Call: parties.enum(f.Call), CountsAsApplication: f.CountsAsApplication, Text: f.Text,
	}
}

// FollowUpKindFrom reads a kind of follow-up; unset is "".
func FollowUpKindFrom(kind vernationv1.FollowUpKind) course.FollowUpKind {
	return followUpKinds.word(kind)
}

func reportedItem(names Names, at site.ID, i firm.ReportItem) *vernationv1.ReportedItem {
	written := &vernationv1.ReportedItem{
		Item:          string(i.Item),
		Case:          names.Case(i.Case),
		Outcome:       outcomes.enum(i.Outcome),
		Began:         Timestamp(i.Began),
		Ended:         Timestamp(i.Ended),
		Plants:        names.Plants(i.Plants),
		DoneCount:     numberOf(i.DoneCount),
		Area:          names.Area(at, i.Area),
		ConditionsMet: i.ConditionsMet,
		Note:          i.Note,
		FollowUpKind:  followUpKinds.enum(i.Kind),
		ServiceKind:   serviceKinds.enum(i.Service),
	}
	if made := i.Application; made != nil {
		written.Application = applicationMade(names, *made)
	}
	if looked := i.Inspection; looked != nil {
		written.Inspection = &vernationv1.InspectionMade{
			Found: names.Plants(looked.Found), Severity: int32(looked.Severity), AdultsOnCards: numberOf(looked.AdultsOnCards),
		}
	}
	return written
}

func applicationMade(names Names, a firm.Applied) *vernationv1.ApplicationMade {
	return &vernationv1.ApplicationMade{
		Product:       names.Product(a.Product),
		VesselId:      string(a.Vessel),
		Concentrate:   volumeText(a.Concentrate),
		Volume:        volumeText(a.Volume),
		Applied:       a.Applied.Exact(),
		Mass:          massText(a.Mass),
		Organisms:     a.Organisms,
		Left:          toldVolume(a.Left),
		LeftWent:      leftovers.enum(a.LeftWent),
		PeoplePresent: a.PeoplePresent,
		LicenceNumber: a.LicenceNumber,

		MeasuredCelsius: copied(a.Celsius), MeasuredHumidityPercent: copied(a.HumidityPercent),
	}
}

// Deviations writes the facts that broke rules.
func Deviations(names Names, list []firm.Deviation) []*vernationv1.Deviation {
	return each(list, func(d firm.Deviation) *vernationv1.Deviation { return Deviation(names, d) })
}

// Deviation writes one of them.
func Deviation(names Names, d firm.Deviation) *vernationv1.Deviation {
	m := &vernationv1.Deviation{
		Name:      names.Deviation(d.ID),
		Report:    names.Report(d.Report),
		Rule:      rules.enum(d.Rule),
		Item:      string(d.Item),
		Site:      names.Site(d.Site),
		EventTime: Timestamp(d.At),
		Text:      d.Text,
	}
	if d.Look != nil {
		m.AcknowledgedBy, m.AcknowledgeTime, m.Note = d.Look.By, Timestamp(d.Look.At), d.Look.Note
	}
	return m
}

// toldVolume writes a volume where none and not told differ.
func toldVolume(v *quantity.Volume) string {
	if v == nil {
		return ""
	}
	return v.Exact()
}

// numberFrom reads a number where 0 and unset differ.
func numberFrom(n *int32) *int {
	if n == nil {
		return nil
	}
	read := int(*n)
	return &read
}

// numberOf writes a number where 0 and unset differ.
func numberOf(n *int) *int32 {
	if n == nil {
		return nil
	}
	written := int32(*n)
	return &written
}
