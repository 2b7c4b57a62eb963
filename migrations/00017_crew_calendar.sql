-- +goose Up
-- Who does not work when. A technician who left keeps a row: records and visits name it.
ALTER TABLE technician ADD COLUMN external_id text;
ALTER TABLE technician ADD COLUMN revision bigint NOT NULL DEFAULT 1;
ALTER TABLE technician ADD COLUMN deleted_at timestamptz;
ALTER TABLE technician ADD CONSTRAINT technician_external_id_is_not_empty CHECK (external_id <> '');
ALTER TABLE technician ADD CONSTRAINT technician_revision_is_positive CHECK (revision > 0);
CREATE UNIQUE INDEX technician_external_id_names_one ON technician (business_id, external_id) WHERE external_id IS NOT NULL AND deleted_at IS NULL;
COMMENT ON COLUMN technician.external_id IS 'What another system calls the technician; NULL where none does.';
COMMENT ON COLUMN technician.revision IS 'Rises with each change of the record itself; the etag.';
COMMENT ON COLUMN technician.deleted_at IS 'When the technician left the crew; NULL while a member. One who left is planned no more.';

CREATE TABLE absence (
    business_id   text   NOT NULL,
    absence_id    text   NOT NULL,
    technician_id text   NOT NULL,
    from_on       date   NOT NULL,
    to_on         date   NOT NULL,
    detail        jsonb  NOT NULL,
    external_id   text,
    revision      bigint NOT NULL DEFAULT 1,
    deleted_at    timestamptz,
    CONSTRAINT absence_named_once PRIMARY KEY (business_id, absence_id),
    CONSTRAINT absence_of_known_technician FOREIGN KEY (business_id, technician_id) REFERENCES technician (business_id, technician_id),
    CONSTRAINT absence_has_an_id CHECK (absence_id <> ''),
    CONSTRAINT absence_days_in_order CHECK (from_on <= to_on AND to_on - from_on <= 1830),
    CONSTRAINT absence_external_id_is_not_empty CHECK (external_id <> ''),
    CONSTRAINT absence_revision_is_positive CHECK (revision > 0)
);
CREATE UNIQUE INDEX absence_external_id_names_one ON absence (business_id, external_id) WHERE external_id IS NOT NULL AND deleted_at IS NULL;
CREATE INDEX absence_by_end ON absence (business_id, to_on, absence_id);
COMMENT ON TABLE absence IS 'Days on which a technician does not work.';
COMMENT ON COLUMN absence.business_id IS 'The tenant.';
COMMENT ON COLUMN absence.absence_id IS 'Stable name.';
COMMENT ON COLUMN absence.technician_id IS 'Who is absent.';
COMMENT ON COLUMN absence.from_on IS 'First day.';
COMMENT ON COLUMN absence.to_on IS 'Last day.';
COMMENT ON COLUMN absence.detail IS 'The whole absence: the part of each day where it is not all of it, a note.';
COMMENT ON COLUMN absence.external_id IS 'What another system calls it; NULL where none does.';
COMMENT ON COLUMN absence.revision IS 'Rises with each change; the etag.';
COMMENT ON COLUMN absence.deleted_at IS 'When it was taken back; NULL while it stands.';
ALTER TABLE absence ENABLE ROW LEVEL SECURITY;
ALTER TABLE absence FORCE ROW LEVEL SECURITY;
CREATE POLICY absence_of_own_business ON absence USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT, UPDATE ON absence TO vernation_serve;

CREATE TABLE holiday (
    business_id text   NOT NULL,
    holiday_id  text   NOT NULL,
    from_on     date   NOT NULL,
    to_on       date   NOT NULL,
    detail      jsonb  NOT NULL,
    external_id text,
    revision    bigint NOT NULL DEFAULT 1,
    deleted_at  timestamptz,
    CONSTRAINT holiday_named_once PRIMARY KEY (business_id, holiday_id),
    CONSTRAINT holiday_of_known_business FOREIGN KEY (business_id) REFERENCES business (business_id),
    CONSTRAINT holiday_has_an_id CHECK (holiday_id <> ''),
    CONSTRAINT holiday_days_in_order CHECK (from_on <= to_on AND to_on - from_on <= 366),
    CONSTRAINT holiday_external_id_is_not_empty CHECK (external_id <> ''),
    CONSTRAINT holiday_revision_is_positive CHECK (revision > 0)
);
CREATE UNIQUE INDEX holiday_external_id_names_one ON holiday (business_id, external_id) WHERE external_id IS NOT NULL AND deleted_at IS NULL;
CREATE INDEX holiday_by_end ON holiday (business_id, to_on, holiday_id);
COMMENT ON TABLE holiday IS 'Days on which the business is shut: nobody works but who has a shift of that date.';
COMMENT ON COLUMN holiday.business_id IS 'The tenant.';
COMMENT ON COLUMN holiday.holiday_id IS 'Stable name.';
COMMENT ON COLUMN holiday.from_on IS 'First day.';
COMMENT ON COLUMN holiday.to_on IS 'Last day.';
COMMENT ON COLUMN holiday.detail IS 'The whole holiday with its name for people.';
COMMENT ON COLUMN holiday.external_id IS 'What another system calls it; NULL where none does.';
COMMENT ON COLUMN holiday.revision IS 'Rises with each change; the etag.';
COMMENT ON COLUMN holiday.deleted_at IS 'When it was taken back; NULL while it stands.';
ALTER TABLE holiday ENABLE ROW LEVEL SECURITY;
ALTER TABLE holiday FORCE ROW LEVEL SECURITY;
CREATE POLICY holiday_of_own_business ON holiday USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT, UPDATE ON holiday TO vernation_serve;

-- +goose Down
DROP TABLE holiday;
DROP TABLE absence;
DROP INDEX technician_external_id_names_one;
ALTER TABLE technician DROP COLUMN external_id, DROP COLUMN revision, DROP COLUMN deleted_at;
