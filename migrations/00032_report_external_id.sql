-- +goose Up
ALTER TABLE report ADD COLUMN external_id text;
ALTER TABLE report ADD CONSTRAINT report_external_id_names_one UNIQUE (business_id, external_id);
ALTER TABLE report ADD CONSTRAINT report_external_id_is_not_empty CHECK (external_id <> '');
COMMENT ON COLUMN report.external_id IS 'Id under which another program knows it; NULL for none.';

-- +goose Down
ALTER TABLE report DROP COLUMN external_id;
