-- +goose Up
CREATE TABLE client_consent (
    business_id       text        NOT NULL,
    client_consent_id text        NOT NULL,
    site_id           text        NOT NULL,
    case_id           text,
    asked_at          timestamptz NOT NULL,
    told_at           timestamptz NOT NULL,
    detail            jsonb       NOT NULL,
    CONSTRAINT client_consent_named_once PRIMARY KEY (business_id, client_consent_id),
    CONSTRAINT client_consent_at_known_site FOREIGN KEY (business_id, site_id) REFERENCES site (business_id, site_id),
    CONSTRAINT client_consent_for_known_case FOREIGN KEY (business_id, case_id) REFERENCES infestation (business_id, case_id),
    CONSTRAINT client_consent_has_an_id CHECK (client_consent_id <> ''),
    CONSTRAINT client_consent_asks_for_something CHECK (detail ? 'method' OR detail ? 'shut' OR detail ? 'sum')
);
CREATE INDEX client_consent_by_site ON client_consent (business_id, site_id, client_consent_id);
CREATE INDEX client_consent_newest ON client_consent (business_id, asked_at, client_consent_id);
COMMENT ON TABLE client_consent IS 'What a client was asked for. Never changed; what came of it stands in client_consent_answer.';
COMMENT ON COLUMN client_consent.business_id IS 'The tenant.';
COMMENT ON COLUMN client_consent.client_consent_id IS 'Stable name.';
COMMENT ON COLUMN client_consent.site_id IS 'For which site.';
COMMENT ON COLUMN client_consent.case_id IS 'For which case; NULL where it is for none alone.';
COMMENT ON COLUMN client_consent.asked_at IS 'When the client was asked.';
COMMENT ON COLUMN client_consent.told_at IS 'When that was recorded.';
COMMENT ON COLUMN client_consent.detail IS 'The whole question: a method with or without a material, an area to be shut, a sum; who asked whom.';
ALTER TABLE client_consent ENABLE ROW LEVEL SECURITY;
ALTER TABLE client_consent FORCE ROW LEVEL SECURITY;
CREATE POLICY client_consent_of_own_business ON client_consent USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT ON client_consent TO vernation_serve;

CREATE TABLE client_consent_answer (
    business_id       text        NOT NULL,
    client_consent_id text        NOT NULL,
    ordinal           integer     NOT NULL,
    kind              text        NOT NULL,
    answered_at       timestamptz NOT NULL,
    from_on           date,
    to_on             date,
    detail            jsonb       NOT NULL,
    CONSTRAINT client_consent_answer_in_order PRIMARY KEY (business_id, client_consent_id, ordinal),
    CONSTRAINT client_consent_answer_of_known_question FOREIGN KEY (business_id, client_consent_id) REFERENCES client_consent (business_id, client_consent_id),
    CONSTRAINT client_consent_answer_is_known CHECK (kind IN ('given', 'refused', 'withdrawn')),
    CONSTRAINT client_consent_answer_given_from_a_day CHECK ((kind = 'given') = (from_on IS NOT NULL)),
    CONSTRAINT client_consent_answer_holds_some_days CHECK (to_on IS NULL OR from_on <= to_on)
);
COMMENT ON TABLE client_consent_answer IS 'What the client answered: given, refused or withdrawn, in order; the last one counts. Appended to, never changed.';
COMMENT ON COLUMN client_consent_answer.business_id IS 'The tenant.';
COMMENT ON COLUMN client_consent_answer.client_consent_id IS 'The question.';
COMMENT ON COLUMN client_consent_answer.ordinal IS 'Place among the answers, from 1.';
COMMENT ON COLUMN client_consent_answer.kind IS 'What was answered.';
COMMENT ON COLUMN client_consent_answer.answered_at IS 'When it was answered.';
COMMENT ON COLUMN client_consent_answer.from_on IS 'First day on which the consent holds; NULL unless given.';
COMMENT ON COLUMN client_consent_answer.to_on IS 'Last day; NULL is until withdrawn.';
COMMENT ON COLUMN client_consent_answer.detail IS 'The whole answer: by whom, who recorded it, what else was said.';
ALTER TABLE client_consent_answer ENABLE ROW LEVEL SECURITY;
ALTER TABLE client_consent_answer FORCE ROW LEVEL SECURITY;
CREATE POLICY client_consent_answer_of_own_business ON client_consent_answer USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT ON client_consent_answer TO vernation_serve;

-- +goose Down
DROP TABLE client_consent_answer;
DROP TABLE client_consent;
