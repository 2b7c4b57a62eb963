-- +goose Up
-- Measures over a span of days read what was reported, planned and ended in it.
CREATE INDEX report_by_arrival ON report (business_id, arrived_at, report_id);
CREATE INDEX report_by_correction ON report (business_id, corrects) WHERE corrects IS NOT NULL;
CREATE INDEX plan_by_making ON plan (business_id, made_at, plan_id);
CREATE INDEX infestation_by_end ON infestation (business_id, ended_at, case_id) WHERE ended_at IS NOT NULL;

-- +goose Down
DROP INDEX infestation_by_end;
DROP INDEX plan_by_making;
DROP INDEX report_by_correction;
DROP INDEX report_by_arrival;
