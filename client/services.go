package client

import vernationv1 "vernation/proto/vernation/v1"

// Clients calls the service of clients with whom to ask and to tell.
func (c *Client) Clients() vernationv1.ClientServiceClient {
	return vernationv1.NewClientServiceClient(c.conn)
}

// Sites calls the service of sites with their areas and agreements.
func (c *Client) Sites() vernationv1.SiteServiceClient {
	return vernationv1.NewSiteServiceClient(c.conn)
}

// AccessSecrets calls the service of what opens the sites.
func (c *Client) AccessSecrets() vernationv1.AccessSecretsServiceClient {
	return vernationv1.NewAccessSecretsServiceClient(c.conn)
}

// Plants calls the service of plants and groups of plants.
func (c *Client) Plants() vernationv1.PlantServiceClient {
	return vernationv1.NewPlantServiceClient(c.conn)
}

// SpeciesTolerances calls the service of the business's own records of what its plants stood, by species.
func (c *Client) SpeciesTolerances() vernationv1.SpeciesToleranceServiceClient {
	return vernationv1.NewSpeciesToleranceServiceClient(c.conn)
}

// ServiceRounds calls the service of the routine work at sites.
func (c *Client) ServiceRounds() vernationv1.ServiceRoundServiceClient {
	return vernationv1.NewServiceRoundServiceClient(c.conn)
}

// PlantEvents calls the service of what happened to plants outside the work items of a visit.
func (c *Client) PlantEvents() vernationv1.PlantEventServiceClient {
	return vernationv1.NewPlantEventServiceClient(c.conn)
}

// Products calls the service of products with their labels.
func (c *Client) Products() vernationv1.ProductServiceClient {
	return vernationv1.NewProductServiceClient(c.conn)
}

// Technicians calls the service of technicians.
func (c *Client) Technicians() vernationv1.TechnicianServiceClient {
	return vernationv1.NewTechnicianServiceClient(c.conn)
}

// Absences calls the service of technicians' absences.
func (c *Client) Absences() vernationv1.AbsenceServiceClient {
	return vernationv1.NewAbsenceServiceClient(c.conn)
}

// Holidays calls the service of the business's holidays.
func (c *Client) Holidays() vernationv1.HolidayServiceClient {
	return vernationv1.NewHolidayServiceClient(c.conn)
}

// Policies calls the service of what a business sets itself.
func (c *Client) Policies() vernationv1.PolicyServiceClient {
	return vernationv1.NewPolicyServiceClient(c.conn)
}

// Lots calls the service of the stock of products.
func (c *Client) Lots() vernationv1.LotServiceClient {
	return vernationv1.NewLotServiceClient(c.conn)
}

// Findings calls the service of findings.
func (c *Client) Findings() vernationv1.FindingServiceClient {
	return vernationv1.NewFindingServiceClient(c.conn)
}

// Cases calls the service of cases, their courses, approvals and decisions.
func (c *Client) Cases() vernationv1.CaseServiceClient {
	return vernationv1.NewCaseServiceClient(c.conn)
}

// Plans calls the service of plan runs, plans, publishing and bookings.
func (c *Client) Plans() vernationv1.PlanServiceClient {
	return vernationv1.NewPlanServiceClient(c.conn)
}

// Visits calls the service of visits that were made real.
func (c *Client) Visits() vernationv1.VisitServiceClient {
	return vernationv1.NewVisitServiceClient(c.conn)
}

// DayRoutes calls the service of day routes.
func (c *Client) DayRoutes() vernationv1.DayRouteServiceClient {
	return vernationv1.NewDayRouteServiceClient(c.conn)
}

// Stamps calls the service of when visits and work items were begun and ended.
func (c *Client) Stamps() vernationv1.StampServiceClient {
	return vernationv1.NewStampServiceClient(c.conn)
}

// Reports calls the service of reports and deviations.
func (c *Client) Reports() vernationv1.ReportServiceClient {
	return vernationv1.NewReportServiceClient(c.conn)
}

// Notices calls the service of notices of applications.
func (c *Client) Notices() vernationv1.NoticeServiceClient {
	return vernationv1.NewNoticeServiceClient(c.conn)
}

// Measures calls the service of measures.
func (c *Client) Measures() vernationv1.MeasureServiceClient {
	return vernationv1.NewMeasureServiceClient(c.conn)
}

// Records calls the service of application records.
func (c *Client) Records() vernationv1.RecordServiceClient {
	return vernationv1.NewRecordServiceClient(c.conn)
}

// Incidents calls the service of what went wrong at sites.
func (c *Client) Incidents() vernationv1.IncidentServiceClient {
	return vernationv1.NewIncidentServiceClient(c.conn)
}

// ClientConsents calls the service of what clients are asked for.
func (c *Client) ClientConsents() vernationv1.ClientConsentServiceClient {
	return vernationv1.NewClientConsentServiceClient(c.conn)
}

// Changes calls the service of what changed: the feed, a technician's stream and its acknowledgement.
func (c *Client) Changes() vernationv1.ChangeServiceClient {
	return vernationv1.NewChangeServiceClient(c.conn)
}

// Webhooks calls the service of addresses that changes are sent to.
func (c *Client) Webhooks() vernationv1.WebhookServiceClient {
	return vernationv1.NewWebhookServiceClient(c.conn)
}

// Keys calls the service of integration keys.
func (c *Client) Keys() vernationv1.KeyServiceClient {
	return vernationv1.NewKeyServiceClient(c.conn)
}
