-- +goose Up
ALTER TABLE client ADD COLUMN detail jsonb NOT NULL DEFAULT '{}';
ALTER TABLE client ADD COLUMN external_id text;
ALTER TABLE client ADD COLUMN revision bigint NOT NULL DEFAULT 1;
ALTER TABLE client ADD COLUMN deleted_at timestamptz;
ALTER TABLE client ADD CONSTRAINT client_external_id_is_not_empty CHECK (external_id <> '');
ALTER TABLE client ADD CONSTRAINT client_revision_is_positive CHECK (revision > 0);
CREATE UNIQUE INDEX client_external_id_names_one ON client (business_id, external_id) WHERE external_id IS NOT NULL AND deleted_at IS NULL;
COMMENT ON COLUMN client.detail IS 'Postal address; contacts: whom to ask and to tell.';
COMMENT ON COLUMN client.external_id IS 'What another system calls it; NULL where none does.';
COMMENT ON COLUMN client.revision IS 'Rises with each change of the record itself; the etag.';
COMMENT ON COLUMN client.deleted_at IS 'When it was deleted, kept for history; NULL while it is in use.';

ALTER TABLE plant ADD COLUMN external_id text;
ALTER TABLE plant ADD COLUMN revision bigint NOT NULL DEFAULT 1;
ALTER TABLE plant ADD COLUMN deleted_at timestamptz;
ALTER TABLE plant ADD CONSTRAINT plant_external_id_is_not_empty CHECK (external_id <> '');
ALTER TABLE plant ADD CONSTRAINT plant_revision_is_positive CHECK (revision > 0);
CREATE UNIQUE INDEX plant_external_id_names_one ON plant (business_id, external_id) WHERE external_id IS NOT NULL AND deleted_at IS NULL;
COMMENT ON COLUMN plant.external_id IS 'What another system calls it; NULL where none does.';
COMMENT ON COLUMN plant.revision IS 'Rises with each change of the record itself; the etag.';
COMMENT ON COLUMN plant.deleted_at IS 'When it was deleted, kept for history; NULL while it is in use.';

ALTER TABLE service ADD COLUMN external_id text;
ALTER TABLE service ADD COLUMN revision bigint NOT NULL DEFAULT 1;
ALTER TABLE service ADD COLUMN deleted_at timestamptz;
ALTER TABLE service ADD CONSTRAINT service_external_id_is_not_empty CHECK (external_id <> '');
ALTER TABLE service ADD CONSTRAINT service_revision_is_positive CHECK (revision > 0);
CREATE UNIQUE INDEX service_external_id_names_one ON service (business_id, external_id) WHERE external_id IS NOT NULL AND deleted_at IS NULL;
COMMENT ON COLUMN service.external_id IS 'What another system calls it; NULL where none does.';
COMMENT ON COLUMN service.revision IS 'Rises with each change of the record itself; the etag.';
COMMENT ON COLUMN service.deleted_at IS 'When it was deleted, kept for history; NULL while it is in use.';

-- +goose Down
DROP INDEX service_external_id_names_one;
ALTER TABLE service DROP COLUMN external_id, DROP COLUMN revision, DROP COLUMN deleted_at;
DROP INDEX plant_external_id_names_one;
ALTER TABLE plant DROP COLUMN external_id, DROP COLUMN revision, DROP COLUMN deleted_at;
DROP INDEX client_external_id_names_one;
ALTER TABLE client DROP COLUMN detail, DROP COLUMN external_id, DROP COLUMN revision, DROP COLUMN deleted_at;
