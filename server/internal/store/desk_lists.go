package store

import (
	"vernation/scheduler/course"
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
)

// rowsAs turns rows of a list into what the firm calls them.
func rowsAs[From, To any](rows []Listed[From], err error, as func(From) To) ([]Listed[To], error) {
	turned := make([]Listed[To], len(rows))
	for i, row := range rows {
		turned[i] = Listed[To]{Value: as(row.Value), After: row.After}
	}
	return turned, err
}

const incidentOpenSQL = `NOT EXISTS (SELECT FROM incident_release r WHERE r.business_id = $1 AND r.incident_id = i.incident_id)`

var incidentsListed = source{
	document: incidentSQL, from: "FROM incident i WHERE i.business_id = $1",
	columns: map[string]string{
		"name": "i.incident_id", "site": "i.site_id", "area": "coalesce(i.detail ->> 'area', '')", "product": "coalesce(i.product_id, '')",
		"case": "coalesce(i.detail ->> 'case', '')", "kind": "i.kind", "open": "(" + incidentOpenSQL + ")", "event_time": "i.happened_at", "create_time": "i.told_at",
	},
}

// ListIncidents returns a page of incidents with their releases.
func (tx *Tx) ListIncidents(asked listing.Question) ([]Listed[firm.Incident], error) {
	return listed[firm.Incident](tx, incidentsListed, asked)
}

var clientConsentsListed = source{
	document: clientConsentSQL, from: "FROM client_consent q WHERE q.business_id = $1",
	columns: map[string]string{
		"name": "q.client_consent_id", "site": "q.site_id", "case": "coalesce(q.case_id, '')", "method": "coalesce(q.detail ->> 'method', '')",
		"material": "coalesce(q.detail ->> 'material', '')", "state": "coalesce((SELECT a.kind FROM " + lastAnswerSQL + " a), 'asked')",
		"asked_of": "coalesce(q.detail ->> 'asked_of', '')", "ask_time": "q.asked_at",
	},
}

// ListClientConsents returns a page of what clients were asked for, with the answers.
func (tx *Tx) ListClientConsents(asked listing.Question) ([]Listed[firm.ClientConsent], error) {
	return listed[firm.ClientConsent](tx, clientConsentsListed, asked)
}

var findingsListed = source{
	document: `jsonb_build_object('event', h.event, 'case', h.case_id, 'site', c.site_id, 'told_at', to_jsonb(h.told_at), 'corrected', ` + correctedSQL + `)`,
	from:     "FROM history h JOIN infestation c ON c.business_id = $1 AND c.case_id = h.case_id WHERE h.business_id = $1 AND h.event ? 'finding'",
	columns: map[string]string{
		"name": "h.event_id", "site": "c.site_id", "case": "h.case_id", "pest": "coalesce(h.event #>> '{finding,pest}', '')",
		"certainty": "coalesce(h.event #>> '{finding,certainty}', '')", "life": "coalesce(h.event #>> '{finding,life}', '')",
		"severity": "coalesce((h.event #>> '{finding,severity}')::integer, 0)", "corrected": correctedSQL, "seen_time": "h.happened_at", "create_time": "h.told_at",
	},
}

// ListFindings returns a page of findings, those that reports told too.
func (tx *Tx) ListFindings(asked listing.Question) ([]Listed[firm.FindingTold], error) {
	rows, err := listed[findingRow](tx, findingsListed, asked)
	return rowsAs(rows, err, findingRow.value)
}

var reportsListed = source{
	document: "r.detail", from: "FROM report r WHERE r.business_id = $1",
	columns: map[string]string{
		"name": "r.report_id", "site": "r.site_id", "technician": "r.technician_id", "visit": "coalesce(r.visit_id, '')", "corrects": "coalesce(r.corrects, '')",
		"off_plan": "r.off_plan", "arrived": "r.arrived_at", "left": "r.left_at", "create_time": "r.received_at",
	},
}

// ListReports returns a page of reports as told.
func (tx *Tx) ListReports(asked listing.Question) ([]Listed[firm.Report], error) {
	return listed[firm.Report](tx, reportsListed, asked)
}

var deviationsListed = source{
	document: `jsonb_build_object('id', d.deviation_id, 'report', d.report_id, 'rule', d.rule, 'item', d.item_id, 'site', d.site_id,
		'at', to_jsonb(d.happened_at), 'text', d.text, 'look', ` + lookSQL + `)`,
	from: "FROM deviation d LEFT JOIN deviation_look l ON l.business_id = $1 AND l.deviation_id = d.deviation_id WHERE d.business_id = $1",
	columns: map[string]string{
		"name": "d.deviation_id", "report": "d.report_id", "rule": "d.rule", "site": "d.site_id", "item": "d.item_id",
		"acknowledged": "(l.looked_at IS NOT NULL)", "event_time": "d.happened_at",
	},
}

const lookSQL = `CASE WHEN l.looked_at IS NOT NULL THEN jsonb_build_object('at', to_jsonb(l.looked_at), 'by', l.looked_by, 'note', l.note) END`

// ListDeviations returns a page of deviations.
func (tx *Tx) ListDeviations(asked listing.Question) ([]Listed[firm.Deviation], error) {
	return listed[firm.Deviation](tx, deviationsListed, asked)
}

const casePlantsSQL = `ARRAY(SELECT p.plant_id FROM infestation_plant p WHERE p.business_id = $1 AND p.case_id = c.case_id ORDER BY p.plant_id)`

var casesListed = source{
	document: `jsonb_build_object('id', c.case_id, 'site', c.site_id, 'pest', c.pest_id, 'plants', to_jsonb(` + casePlantsSQL + `),
		'opened_at', to_jsonb(c.opened_at), 'ending', c.ending, 'ended_at', to_jsonb(c.ended_at), 'recurrence_of', coalesce(c.recurrence_of, ''),
		'recurrences', to_jsonb(` + recurrencesSQL + `), 'version', c.version)`,
	from: "FROM infestation c WHERE c.business_id = $1",
	columns: map[string]string{
		"name": "c.case_id", "site": "c.site_id", "pest": "c.pest_id", "plants": casePlantsSQL, "open": "(c.ended_at IS NULL)",
		"ending": "coalesce(c.ending ->> 'kind', '')", "recurrence_of": "coalesce(c.recurrence_of, '')", "create_time": "c.opened_at", "end_time": "c.ended_at",
	},
}

// ListCases returns a page of cases.
func (tx *Tx) ListCases(asked listing.Question) ([]Listed[firm.Case], error) {
	rows, err := listed[firm.Case](tx, casesListed, asked)
	return rowsAs(rows, err, func(c firm.Case) firm.Case {
		if len(c.Recurrences) == 0 {
			c.Recurrences = []course.CaseID(nil)
		}
		return c
	})
}
