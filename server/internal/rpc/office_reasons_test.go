package rpc_test

import (
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	vernationv1 "vernation/proto/vernation/v1"
)

func (d *desk) incidents() vernationv1.IncidentServiceClient {
	return vernationv1.NewIncidentServiceClient(d.conn)
}

func (d *desk) consents() vernationv1.ClientConsentServiceClient {
	return vernationv1.NewClientConsentServiceClient(d.conn)
}

// later is more after the firm's clock than a fast clock may be.
func (d *desk) later() *timestamppb.Timestamp {
	return timestamppb.New(d.Clock.Now().Add(301 * time.Second).Time())
}

// compare calls CompareCourse with what cannot be answered.
func compare(change func(*desk, *vernationv1.CompareCourseRequest)) func(*desk) error {
	return func(d *desk) error {
		ask := &vernationv1.CompareCourseRequest{Name: d.name("cases/mealybugs/course"), StartOn: "2026-03-05"}
		change(d, ask)
		_, err := d.cases().CompareCourse(d.office, ask)
		return err
	}
}

// officeRefusals are those of reading findings and of what a case would need otherwise.
var officeRefusals = []refusal{
	{"GetFinding", "NOT_FOUND NOT_FOUND", func(d *desk) error {
		_, err := d.findings().GetFinding(d.office, &vernationv1.GetFindingRequest{Name: d.name("findings/nothing")})
		return err
	}},
	{"ListFindings", "INVALID_ARGUMENT PAGE_TOKEN_INVALID", func(d *desk) error {
		_, err := d.findings().ListFindings(d.office, &vernationv1.ListFindingsRequest{Parent: d.name(""), PageToken: "page-2"})
		return err
	}},
	{"ListFindings", "INVALID_ARGUMENT FILTER_INVALID", func(d *desk) error {
		_, err := d.findings().ListFindings(d.office, &vernationv1.ListFindingsRequest{Parent: d.name(""), Filter: `mood = "bad"`})
		return err
	}},
	{"ListFindings", "INVALID_ARGUMENT ORDER_INVALID", func(d *desk) error {
		_, err := d.findings().ListFindings(d.office, &vernationv1.ListFindingsRequest{Parent: d.name(""), OrderBy: "mood"})
		return err
	}},
	{"ListCases", "INVALID_ARGUMENT FILTER_INVALID", func(d *desk) error {
		_, err := d.cases().ListCases(d.office, &vernationv1.ListCasesRequest{Parent: d.name(""), Filter: `mood = "bad"`})
		return err
	}},
	{"ListCases", "INVALID_ARGUMENT ORDER_INVALID", func(d *desk) error {
		_, err := d.cases().ListCases(d.office, &vernationv1.ListCasesRequest{Parent: d.name(""), OrderBy: "mood"})
		return err
	}},
	{"GetOutlook", "NOT_FOUND NOT_FOUND", func(d *desk) error {
		_, err := d.cases().GetOutlook(d.office, &vernationv1.GetOutlookRequest{Name: d.name("cases/nothing/outlook")})
		return err
	}},
	{"ListAwaitedApprovals", "INVALID_ARGUMENT PAGE_TOKEN_INVALID", func(d *desk) error {
		_, err := d.cases().ListAwaitedApprovals(d.office, &vernationv1.ListAwaitedApprovalsRequest{Parent: d.name(""), PageToken: "page-2"})
		return err
	}},
	{"CompareCourse", "NOT_FOUND NOT_FOUND", compare(func(d *desk, r *vernationv1.CompareCourseRequest) { r.Name = d.name("cases/nothing/course") })},
	{"CompareCourse", "FAILED_PRECONDITION CASE_ENDED", compare(func(d *desk, r *vernationv1.CompareCourseRequest) { r.Name = d.name("cases/ended/course") })},
	{"CompareCourse", "INVALID_ARGUMENT CONTRADICTION", compare(func(_ *desk, r *vernationv1.CompareCourseRequest) { r.StartOn = "" })},
	{"CompareCourse", "INVALID_ARGUMENT CONTRADICTION", compare(func(d *desk, r *vernationv1.CompareCourseRequest) {
		r.Replace, r.Product = true, d.name("products/soap")
	})},
	{"CompareCourse", "INVALID_ARGUMENT UNKNOWN_PRODUCT", compare(func(d *desk, r *vernationv1.CompareCourseRequest) { r.Product = d.name("products/nothing") })},
	{"CompareCourse", "INVALID_ARGUMENT UNKNOWN_AREA", compare(func(d *desk, r *vernationv1.CompareCourseRequest) {
		r.Area = d.name("sites/offices-alder-row/areas/cellar")
	})},
	{"CompareCourse", "INVALID_ARGUMENT OUT_OF_RANGE", compare(func(_ *desk, r *vernationv1.CompareCourseRequest) { r.StartOn = "2026-03-01" })},
}

// spill is an incident with the soap at the offices, changed by a test.
func (d *desk) spill(id string, change func(*vernationv1.Incident)) *vernationv1.CreateIncidentRequest {
	incident := &vernationv1.Incident{
		Kind: vernationv1.IncidentKind_INCIDENT_KIND_SPILL, Site: d.name("sites/offices-alder-row"), Product: d.name("products/soap"),
		Area: d.name("sites/offices-alder-row/areas/offices-floor"), Text: "a cup of mix on the carpet by the printer",
	}
	if change != nil {
		change(incident)
	}
	return &vernationv1.CreateIncidentRequest{Parent: d.name(""), IncidentId: id, Incident: incident, RequestId: request()}
}

func newIncident(change func(*desk, *vernationv1.Incident)) func(*desk) error {
	return func(d *desk) error {
		_, err := d.incidents().CreateIncident(d.office, d.spill("never", func(i *vernationv1.Incident) { change(d, i) }))
		return err
	}
}

var incidentRefusals = []refusal{
	{"CreateIncident", "INVALID_ARGUMENT UNKNOWN_AREA", newIncident(func(d *desk, i *vernationv1.Incident) {
		i.Area = d.name("sites/offices-alder-row/areas/cellar")
	})},
	{"CreateIncident", "INVALID_ARGUMENT UNKNOWN_AREA", newIncident(func(d *desk, i *vernationv1.Incident) {
		i.Area = d.name("sites/hotel-quarry-square/areas/hotel-reading")
	})},
	{"CreateIncident", "INVALID_ARGUMENT UNKNOWN_PLANT", newIncident(func(d *desk, i *vernationv1.Incident) { i.Plants = d.plantNames("lily-reading") })},
	{"CreateIncident", "INVALID_ARGUMENT OTHER_SITE", newIncident(func(d *desk, i *vernationv1.Incident) {
		i.Site, i.Area, i.Case = d.name("sites/hotel-quarry-square"), "", d.name("cases/mealybugs")
	})},
	{"CreateIncident", "INVALID_ARGUMENT IN_THE_FUTURE", newIncident(func(d *desk, i *vernationv1.Incident) { i.EventTime = d.later() })},
	{"CreateIncident", "NOT_FOUND NOT_FOUND", newIncident(func(d *desk, i *vernationv1.Incident) { i.Site, i.Area = d.name("sites/nowhere"), "" })},
	{"CreateIncident", "NOT_FOUND NOT_FOUND", newIncident(func(d *desk, i *vernationv1.Incident) { i.Product = d.name("products/nothing") })},
	{"CreateIncident", "NOT_FOUND NOT_FOUND", newIncident(func(d *desk, i *vernationv1.Incident) { i.Case = d.name("cases/nothing") })},
	{"CreateIncident", "ALREADY_EXISTS EXISTS_ALREADY", func(d *desk) error {
		if _, err := d.incidents().CreateIncident(d.office, d.spill("told", nil)); err != nil {
			return err
		}
		_, err := d.incidents().CreateIncident(d.office, d.spill("told", func(i *vernationv1.Incident) { i.Text = "something else" }))
		return err
	}},
	{"GetIncident", "NOT_FOUND NOT_FOUND", func(d *desk) error {
		_, err := d.incidents().GetIncident(d.office, &vernationv1.GetIncidentRequest{Name: d.name("incidents/nothing")})
		return err
	}},
	{"ListIncidents", "INVALID_ARGUMENT PAGE_TOKEN_INVALID", func(d *desk) error {
		_, err := d.incidents().ListIncidents(d.office, &vernationv1.ListIncidentsRequest{Parent: d.name(""), PageToken: "page-2"})
		return err
	}},
	{"ListIncidents", "INVALID_ARGUMENT FILTER_INVALID", func(d *desk) error {
		_, err := d.incidents().ListIncidents(d.office, &vernationv1.ListIncidentsRequest{Parent: d.name(""), Filter: `mood = "bad"`})
		return err
	}},
	{"ListIncidents", "INVALID_ARGUMENT ORDER_INVALID", func(d *desk) error {
		_, err := d.incidents().ListIncidents(d.office, &vernationv1.ListIncidentsRequest{Parent: d.name(""), OrderBy: "mood"})
		return err
	}},
	{"ReleaseIncident", "NOT_FOUND NOT_FOUND", func(d *desk) error {
		_, err := d.incidents().ReleaseIncident(d.applicator, &vernationv1.ReleaseIncidentRequest{Name: d.name("incidents/nothing"), Reason: "looked at", RequestId: request()})
		return err
	}},
	{"ReleaseIncident", "FAILED_PRECONDITION RELEASED_ALREADY", func(d *desk) (err error) {
		for range 2 {
			if _, err = d.incidents().CreateIncident(d.office, d.spill("over", nil)); err == nil {
				_, err = d.incidents().ReleaseIncident(d.applicator, &vernationv1.ReleaseIncidentRequest{Name: d.name("incidents/over"), Reason: "looked at", RequestId: request()})
			}
		}
		return err
	}},
}

// question is what the client of the offices is asked for, changed by a test.
func (d *desk) question(id string, change func(*vernationv1.ClientConsent)) *vernationv1.CreateClientConsentRequest {
	asks := &vernationv1.ClientConsent{
		Site: d.name("sites/offices-alder-row"), Method: vernationv1.Method_METHOD_WHOLE_PLANT_SPRAY, AskedOf: "the facilities desk",
	}
	if change != nil {
		change(asks)
	}
	return &vernationv1.CreateClientConsentRequest{Parent: d.name(""), ClientConsentId: id, ClientConsent: asks, RequestId: request()}
}

func newQuestion(change func(*desk, *vernationv1.ClientConsent)) func(*desk) error {
	return func(d *desk) error {
		_, err := d.consents().CreateClientConsent(d.office, d.question("never", func(c *vernationv1.ClientConsent) { change(d, c) }))
		return err
	}
}

// answered asks under an id, once, and answers.
func answered(id string, change func(*desk, *vernationv1.AnswerClientConsentRequest)) func(*desk) error {
	return func(d *desk) error {
		_, err := d.consents().GetClientConsent(d.office, &vernationv1.GetClientConsentRequest{Name: d.name("clientConsents/" + id)})
		if err != nil && id != "nothing" {
			_, err = d.consents().CreateClientConsent(d.office, d.question(id, nil))
		}
		if err != nil && id != "nothing" {
			return err
		}
		ask := &vernationv1.AnswerClientConsentRequest{Name: d.name("clientConsents/" + id), Given: true, AnsweredBy: "the facilities desk", RequestId: request()}
		change(d, ask)
		_, err = d.consents().AnswerClientConsent(d.office, ask)
		return err
	}
}

func withdrawn(id string, change func(*desk, *vernationv1.WithdrawClientConsentRequest)) func(*desk) error {
	return func(d *desk) error {
		ask := &vernationv1.WithdrawClientConsentRequest{Name: d.name("clientConsents/" + id), AnsweredBy: "the facilities desk", RequestId: request()}
		change(d, ask)
		_, err := d.consents().WithdrawClientConsent(d.office, ask)
		return err
	}
}

var clientConsentRefusals = []refusal{
	{"CreateClientConsent", "INVALID_ARGUMENT REQUIRED", newQuestion(func(_ *desk, c *vernationv1.ClientConsent) {
		c.Method = vernationv1.Method_METHOD_UNSPECIFIED
	})},
	{"CreateClientConsent", "INVALID_ARGUMENT UNKNOWN_MATERIAL", newQuestion(func(_ *desk, c *vernationv1.ClientConsent) { c.Material = "holy-water" })},
	{"CreateClientConsent", "INVALID_ARGUMENT CONTRADICTION", newQuestion(func(_ *desk, c *vernationv1.ClientConsent) {
		c.Method, c.Material = vernationv1.Method_METHOD_DRENCH, "insecticidal-soap"
	})},
	{"CreateClientConsent", "INVALID_ARGUMENT CONTRADICTION", newQuestion(func(_ *desk, c *vernationv1.ClientConsent) { c.SumMinor = new(int64) })},
	{"CreateClientConsent", "INVALID_ARGUMENT UNKNOWN_AREA", newQuestion(func(d *desk, c *vernationv1.ClientConsent) {
		c.ShutArea = &vernationv1.ShutArea{AreaId: "cellar", Begins: timestamppb.New(d.Clock.Now().Time()), Ends: d.later()}
	})},
	{"CreateClientConsent", "INVALID_ARGUMENT OTHER_SITE", newQuestion(func(d *desk, c *vernationv1.ClientConsent) {
		c.Site, c.Case = d.name("sites/hotel-quarry-square"), d.name("cases/mealybugs")
	})},
	{"CreateClientConsent", "INVALID_ARGUMENT IN_THE_FUTURE", newQuestion(func(d *desk, c *vernationv1.ClientConsent) { c.AskTime = d.later() })},
	{"CreateClientConsent", "NOT_FOUND NOT_FOUND", newQuestion(func(d *desk, c *vernationv1.ClientConsent) { c.Site = d.name("sites/nowhere") })},
	{"CreateClientConsent", "NOT_FOUND NOT_FOUND", newQuestion(func(d *desk, c *vernationv1.ClientConsent) { c.Case = d.name("cases/nothing") })},
	{"CreateClientConsent", "ALREADY_EXISTS EXISTS_ALREADY", func(d *desk) (err error) {
		for range 2 {
			_, err = d.consents().CreateClientConsent(d.office, d.question("twice", nil))
		}
		return err
	}},
	{"GetClientConsent", "NOT_FOUND NOT_FOUND", func(d *desk) error {
		_, err := d.consents().GetClientConsent(d.office, &vernationv1.GetClientConsentRequest{Name: d.name("clientConsents/nothing")})
		return err
	}},
	{"ListClientConsents", "INVALID_ARGUMENT PAGE_TOKEN_INVALID", func(d *desk) error {
		_, err := d.consents().ListClientConsents(d.office, &vernationv1.ListClientConsentsRequest{Parent: d.name(""), PageToken: "page-2"})
		return err
	}},
	{"ListClientConsents", "INVALID_ARGUMENT FILTER_INVALID", func(d *desk) error {
		_, err := d.consents().ListClientConsents(d.office, &vernationv1.ListClientConsentsRequest{Parent: d.name(""), Filter: `mood = "bad"`})
		return err
	}},
	{"ListClientConsents", "INVALID_ARGUMENT ORDER_INVALID", func(d *desk) error {
		_, err := d.consents().ListClientConsents(d.office, &vernationv1.ListClientConsentsRequest{Parent: d.name(""), OrderBy: "mood"})
		return err
	}},
	{"ListNeededConsents", "INVALID_ARGUMENT PAGE_TOKEN_INVALID", func(d *desk) error {
		_, err := d.consents().ListNeededConsents(d.office, &vernationv1.ListNeededConsentsRequest{Parent: d.name(""), PageToken: "page-2"})
		return err
	}},
	{"AnswerClientConsent", "INVALID_ARGUMENT IN_THE_FUTURE", answered("asked", func(d *desk, r *vernationv1.AnswerClientConsentRequest) { r.AnswerTime = d.later() })},
	{"AnswerClientConsent", "INVALID_ARGUMENT OUT_OF_RANGE", answered("asked", func(_ *desk, r *vernationv1.AnswerClientConsentRequest) {
		r.FromOn, r.ToOn = "2026-03-02", "2026-03-01"
	})},
	{"AnswerClientConsent", "INVALID_ARGUMENT CONTRADICTION", answered("asked", func(_ *desk, r *vernationv1.AnswerClientConsentRequest) {
		r.Given, r.ToOn = false, "2026-03-09"
	})},
	{"AnswerClientConsent", "NOT_FOUND NOT_FOUND", answered("nothing", func(*desk, *vernationv1.AnswerClientConsentRequest) {})},
	{"AnswerClientConsent", "FAILED_PRECONDITION NOT_ANSWERABLE", func(d *desk) (err error) {
		for range 2 {
			err = answered("asked", func(*desk, *vernationv1.AnswerClientConsentRequest) {})(d)
		}
		return err
	}},
	{"WithdrawClientConsent", "INVALID_ARGUMENT IN_THE_FUTURE", withdrawn("asked", func(d *desk, r *vernationv1.WithdrawClientConsentRequest) { r.AnswerTime = d.later() })},
	{"WithdrawClientConsent", "NOT_FOUND NOT_FOUND", withdrawn("nothing", func(*desk, *vernationv1.WithdrawClientConsentRequest) {})},
	{"WithdrawClientConsent", "FAILED_PRECONDITION NOT_ANSWERABLE", withdrawn("twice", func(*desk, *vernationv1.WithdrawClientConsentRequest) {})},
}
