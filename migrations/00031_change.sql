-- +goose Up
CREATE TABLE queue.change_count (
    business_id   text   NOT NULL,
    last_position bigint NOT NULL,
    CONSTRAINT change_count_one_a_business PRIMARY KEY (business_id),
    CONSTRAINT change_count_of_known_business FOREIGN KEY (business_id) REFERENCES business (business_id),
    CONSTRAINT change_count_is_not_negative CHECK (last_position >= 0)
);
COMMENT ON TABLE queue.change_count IS 'The position of each business''s last change. Every deed that changes something locks its row last, until it commits: so positions become visible in their order, and a reader skips none. Without row security, because those who pass changes on look across businesses: ids and counts only.';
COMMENT ON COLUMN queue.change_count.business_id IS 'The tenant.';
COMMENT ON COLUMN queue.change_count.last_position IS 'Position of the last change; 0 before the first.';

CREATE TABLE change (
    business_id   text        NOT NULL,
    position      bigint      NOT NULL,
    changed_at    timestamptz NOT NULL,
    noun          text        NOT NULL,
    subject_id    text        NOT NULL,
    kind          text        NOT NULL,
    case_id       text        NOT NULL,
    site_id       text        NOT NULL,
    technician_id text        NOT NULL,
    day_on        date,
    begins_at     timestamptz,
    safety        boolean     NOT NULL,
    CONSTRAINT change_in_order PRIMARY KEY (business_id, position),
    CONSTRAINT change_of_known_business FOREIGN KEY (business_id) REFERENCES business (business_id),
    CONSTRAINT change_position_is_positive CHECK (position > 0),
    CONSTRAINT change_names_what_changed CHECK (noun <> '' AND subject_id <> '' AND kind <> ''),
    CONSTRAINT change_for_safety_concerns_somebody CHECK (NOT safety OR technician_id <> '')
);
CREATE INDEX change_by_technician ON change (business_id, technician_id, position) WHERE technician_id <> '';
CREATE INDEX change_by_case ON change (business_id, case_id, position) WHERE case_id <> '';
CREATE INDEX change_for_safety ON change (business_id, position) WHERE safety;
COMMENT ON TABLE change IS 'What changed, in the order in which it became true. Written by the deed itself, appended to, never changed and never dropped.';
COMMENT ON COLUMN change.business_id IS 'The tenant.';
COMMENT ON COLUMN change.position IS 'Place in the business''s order, from 1, without gaps.';
COMMENT ON COLUMN change.changed_at IS 'When, by the firm''s clock.';
COMMENT ON COLUMN change.noun IS 'Kind of thing.';
COMMENT ON COLUMN change.subject_id IS 'Its id.';
COMMENT ON COLUMN change.kind IS 'What happened to it.';
COMMENT ON COLUMN change.case_id IS 'The case that it belongs to; empty for none or several.';
COMMENT ON COLUMN change.site_id IS 'The site that it happened at; empty for none.';
COMMENT ON COLUMN change.technician_id IS 'The technician whose day route it concerns; empty for none.';
COMMENT ON COLUMN change.day_on IS 'Day of that day route; NULL for none.';
COMMENT ON COLUMN change.begins_at IS 'Beginning of the visit or keep-out; NULL for other things.';
COMMENT ON COLUMN change.safety IS 'Not knowing it could hurt somebody: the technician acknowledges it, or the office hears of it.';
ALTER TABLE change ENABLE ROW LEVEL SECURITY;
ALTER TABLE change FORCE ROW LEVEL SECURITY;
CREATE POLICY change_of_own_business ON change USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT ON change TO vernation_serve;

CREATE TABLE acknowledgement (
    business_id     text        NOT NULL,
    position        bigint      NOT NULL,
    acknowledged_at timestamptz NOT NULL,
    caller          text        NOT NULL,
    CONSTRAINT acknowledgement_once_a_change PRIMARY KEY (business_id, position),
    CONSTRAINT acknowledgement_of_known_change FOREIGN KEY (business_id, position) REFERENCES change (business_id, position)
);
COMMENT ON TABLE acknowledgement IS 'That the technician whom a change concerns has seen it. Appended to, never changed.';
COMMENT ON COLUMN acknowledgement.business_id IS 'The tenant.';
COMMENT ON COLUMN acknowledgement.position IS 'The change.';
COMMENT ON COLUMN acknowledgement.acknowledged_at IS 'When, by the firm''s clock.';
COMMENT ON COLUMN acknowledgement.caller IS 'Who said so.';
ALTER TABLE acknowledgement ENABLE ROW LEVEL SECURITY;
ALTER TABLE acknowledgement FORCE ROW LEVEL SECURITY;
CREATE POLICY acknowledgement_of_own_business ON acknowledgement USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT ON acknowledgement TO vernation_serve;

-- +goose Down
DROP TABLE acknowledgement;
DROP TABLE change;
DROP TABLE queue.change_count;
