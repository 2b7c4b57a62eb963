-- +goose Up
CREATE TABLE species_tolerance (
    business_id          text   NOT NULL,
    species_tolerance_id text   NOT NULL,
    species_id           text   NOT NULL,
    material_id          text   NOT NULL,
    verdict              text   NOT NULL,
    source               text   NOT NULL,
    external_id          text,
    revision             bigint NOT NULL DEFAULT 1,
    deleted_at           timestamptz,
    CONSTRAINT species_tolerance_named_once PRIMARY KEY (business_id, species_tolerance_id),
    CONSTRAINT species_tolerance_of_known_business FOREIGN KEY (business_id) REFERENCES business (business_id),
    CONSTRAINT species_tolerance_has_an_id CHECK (species_tolerance_id <> ''),
    CONSTRAINT species_tolerance_verdict_is_known CHECK (verdict IN ('stands', 'patch-test', 'must-not')),
    CONSTRAINT species_tolerance_names_its_source CHECK (source <> ''),
    CONSTRAINT species_tolerance_external_id_is_not_empty CHECK (external_id <> ''),
    CONSTRAINT species_tolerance_revision_is_positive CHECK (revision > 0)
);
CREATE UNIQUE INDEX species_tolerance_one_of_species_and_material ON species_tolerance (business_id, species_id, material_id) WHERE deleted_at IS NULL;
CREATE UNIQUE INDEX species_tolerance_external_id_names_one ON species_tolerance (business_id, external_id)
WHERE external_id IS NOT NULL AND deleted_at IS NULL;
CREATE INDEX plant_by_species ON plant (business_id, species_id, site_id);
COMMENT ON TABLE species_tolerance IS 'The business''s own record of what its plants of a species stood of a material; it comes before what is shipped and never loosens a label.';
COMMENT ON COLUMN species_tolerance.business_id IS 'The tenant.';
COMMENT ON COLUMN species_tolerance.species_tolerance_id IS 'Stable name.';
COMMENT ON COLUMN species_tolerance.species_id IS 'Id in the catalogue, checked in code.';
COMMENT ON COLUMN species_tolerance.material_id IS 'Id in the catalogue, checked in code.';
COMMENT ON COLUMN species_tolerance.verdict IS 'Stands it, a patch test first, or must not have it.';
COMMENT ON COLUMN species_tolerance.source IS 'Which plants, when, what was seen.';
COMMENT ON COLUMN species_tolerance.external_id IS 'What another system calls it; NULL where none does.';
COMMENT ON COLUMN species_tolerance.revision IS 'Rises with each change of the record itself; the etag.';
COMMENT ON COLUMN species_tolerance.deleted_at IS 'When it was deleted; NULL while it is in use.';
ALTER TABLE species_tolerance ENABLE ROW LEVEL SECURITY;
ALTER TABLE species_tolerance FORCE ROW LEVEL SECURITY;
CREATE POLICY species_tolerance_of_own_business ON species_tolerance USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT, UPDATE ON species_tolerance TO vernation_serve;

CREATE TABLE plant_event_withdrawal (
    business_id    text        NOT NULL,
    plant_event_id text        NOT NULL,
    withdrawn_at   timestamptz NOT NULL,
    caller         text        NOT NULL,
    reason         text        NOT NULL,
    CONSTRAINT plant_event_withdrawal_told_once PRIMARY KEY (business_id, plant_event_id),
    CONSTRAINT plant_event_withdrawal_of_known_event FOREIGN KEY (business_id, plant_event_id) REFERENCES plant_event (business_id, plant_event_id),
    CONSTRAINT plant_event_withdrawal_says_why CHECK (reason <> '')
);
COMMENT ON TABLE plant_event_withdrawal IS 'Events of plants that were told wrongly and count no more; appended to, never changed.';
COMMENT ON COLUMN plant_event_withdrawal.business_id IS 'The tenant.';
COMMENT ON COLUMN plant_event_withdrawal.plant_event_id IS 'The event.';
COMMENT ON COLUMN plant_event_withdrawal.withdrawn_at IS 'When it was withdrawn.';
COMMENT ON COLUMN plant_event_withdrawal.caller IS 'Who withdrew it.';
COMMENT ON COLUMN plant_event_withdrawal.reason IS 'Why.';
ALTER TABLE plant_event_withdrawal ENABLE ROW LEVEL SECURITY;
ALTER TABLE plant_event_withdrawal FORCE ROW LEVEL SECURITY;
CREATE POLICY plant_event_withdrawal_of_own_business ON plant_event_withdrawal USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT ON plant_event_withdrawal TO vernation_serve;

-- +goose Down
DROP TABLE plant_event_withdrawal;
DROP INDEX plant_by_species;
DROP TABLE species_tolerance;
