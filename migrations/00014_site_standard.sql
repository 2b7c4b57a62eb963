-- +goose Up
ALTER TABLE site ADD COLUMN external_id text;
ALTER TABLE site ADD COLUMN revision bigint NOT NULL DEFAULT 1;
ALTER TABLE site ADD COLUMN deleted_at timestamptz;
ALTER TABLE site ADD CONSTRAINT site_external_id_is_not_empty CHECK (external_id <> '');
ALTER TABLE site ADD CONSTRAINT site_revision_is_positive CHECK (revision > 0);
CREATE UNIQUE INDEX site_external_id_names_one ON site (business_id, external_id) WHERE external_id IS NOT NULL AND deleted_at IS NULL;
CREATE INDEX site_by_name ON site (business_id, name, site_id);
COMMENT ON COLUMN site.external_id IS 'What another system calls it; NULL where none does.';
COMMENT ON COLUMN site.revision IS 'Rises with each change of the record itself; the etag.';
COMMENT ON COLUMN site.deleted_at IS 'When it was deleted, kept for history; NULL while it is in use.';

-- +goose Down
DROP INDEX site_by_name;
DROP INDEX site_external_id_names_one;
ALTER TABLE site DROP COLUMN external_id, DROP COLUMN revision, DROP COLUMN deleted_at;
