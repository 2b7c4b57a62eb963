-- +goose Up
-- Lists of application records: by time, by site and case, and what corrects a record.
CREATE INDEX application_record_by_beginning ON application_record (business_id, began_at, record_id);
CREATE INDEX application_record_by_correction ON application_record (business_id, corrects) WHERE corrects IS NOT NULL;
CREATE INDEX application_record_by_site ON application_record (business_id, site_id, began_at);
CREATE INDEX application_record_by_case ON application_record (business_id, case_id) WHERE case_id IS NOT NULL;

-- +goose Down
DROP INDEX application_record_by_case;
DROP INDEX application_record_by_site;
DROP INDEX application_record_by_correction;
DROP INDEX application_record_by_beginning;
