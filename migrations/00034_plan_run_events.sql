-- +goose Up
ALTER TABLE plan_run ADD COLUMN events jsonb NOT NULL DEFAULT '{}';
COMMENT ON COLUMN plan_run.events IS 'What was told to have happened, where it plans again: who is absent, what is shut, what takes longer.';
CREATE INDEX plan_run_newest ON plan_run (business_id, created_at, plan_run_id);

-- +goose Down
DROP INDEX plan_run_newest;
ALTER TABLE plan_run DROP COLUMN events;
