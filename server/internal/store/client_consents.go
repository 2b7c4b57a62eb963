package store

import (
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
)

// consentsSQL are the consents of a site s: those of its agreement, and what the client answered to a question about a method.
// What came from an answer is never read from the agreement, whoever may have stored it there.
const consentsSQL = `nullif(
	jsonb_path_query_array(s.detail, '$.agreement.consents[*] ? (!exists(@.asked))') || coalesce((
		SELECT jsonb_agg(jsonb_build_object(
			'method', q.detail -> 'method', 'material', coalesce(q.detail ->> 'material', ''), 'asked', q.client_consent_id,
			'from', to_char(a.from_on, 'YYYY-MM-DD'), 'to', coalesce(to_char(a.to_on, 'YYYY-MM-DD'), '')
		) ORDER BY q.client_consent_id)
		FROM client_consent q
		JOIN LATERAL ` + lastAnswerSQL + ` a ON a.kind = 'given'
		WHERE q.business_id = $1 AND q.site_id = s.site_id AND q.detail ? 'method'
	), '[]'),
	'[]'
)`

// shutAreasSQL are the same of areas that people are kept out of.
const shutAreasSQL = `nullif(
	jsonb_path_query_array(s.detail, '$.agreement.shut_areas[*] ? (!exists(@.asked))') || coalesce((
		SELECT jsonb_agg(q.detail -> 'shut' || jsonb_build_object('asked', q.client_consent_id) ORDER BY q.client_consent_id)
		FROM client_consent q
		JOIN LATERAL ` + lastAnswerSQL + ` a ON a.kind = 'given'
		WHERE q.business_id = $1 AND q.site_id = s.site_id AND q.detail ? 'shut'
	), '[]'),
	'[]'
)`

// lastAnswerSQL is the answer to a question q that counts.
const lastAnswerSQL = `(
	SELECT l.kind, l.from_on, l.to_on
	FROM client_consent_answer l
	WHERE l.business_id = $1 AND l.client_consent_id = q.client_consent_id
	ORDER BY l.ordinal DESC
	LIMIT 1
)`

const insertClientConsentSQL = `
INSERT INTO client_consent (business_id, client_consent_id, site_id, case_id, asked_at, told_at, detail)
VALUES ($1, $2, $3, $4, $5, $6, $7)`

// InsertClientConsent stores what a client was asked for; Exists when a question of that id is known.
func (tx *Tx) InsertClientConsent(c firm.ClientConsent) error {
	c.Answers = nil
	_, err := tx.exec(insertClientConsentSQL, c.ID, string(c.Site), text(c.Case), instant(c.AskedAt), instant(c.ReceivedAt), jsonOf(c))
	return err
}

// clientConsentSQL is the JSON of what a client was asked for, with the answers.
const clientConsentSQL = `q.detail || jsonb_build_object('answers', (
	SELECT jsonb_agg(a.detail ORDER BY a.ordinal)
	FROM client_consent_answer a
	WHERE a.business_id = $1 AND a.client_consent_id = q.client_consent_id
))`

const clientConsentColumnsSQL = selecting + clientConsentSQL + ` FROM client_consent q WHERE q.business_id = $1 `

// ClientConsent returns what a client was asked for, with the answers.
func (tx *Tx) ClientConsent(id string) (firm.ClientConsent, error) {
	row, err := one[document[firm.ClientConsent]](tx, "client consent", id, clientConsentColumnsSQL+`AND q.client_consent_id = $2`, id)
	return row.value, err
}

// ClientConsentsOf returns what the client of a site was asked for, with the answers, by id.
func (tx *Tx) ClientConsentsOf(at site.ID) ([]firm.ClientConsent, error) {
	return documents[firm.ClientConsent](tx, clientConsentColumnsSQL+`AND q.site_id = $2 ORDER BY q.client_consent_id`, string(at))
}

const insertConsentAnswerSQL = `
INSERT INTO client_consent_answer (business_id, client_consent_id, ordinal, kind, answered_at, from_on, to_on, detail)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`

// AnswerClientConsent appends an answer. The site gets a new version.
func (tx *Tx) AnswerClientConsent(c firm.ClientConsent, a firm.ConsentAnswer) error {
	_, err := tx.exec(insertConsentAnswerSQL, c.ID, len(c.Answers)+1, string(a.Kind), instant(a.At), date(a.From), date(a.To), jsonOf(a))
	if err != nil {
		return err
	}
	return tx.touchSites([]site.ID{c.Site})
}
