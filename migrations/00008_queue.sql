-- +goose Up
CREATE SCHEMA queue;
COMMENT ON SCHEMA queue IS 'Which plan runs are to be worked on, and by whom. Without row security, since workers look across businesses: it holds ids only.';
GRANT USAGE ON SCHEMA queue TO vernation_serve;
-- The queue library's tables come with the next migration, made by the same owner.
ALTER DEFAULT PRIVILEGES IN SCHEMA queue GRANT SELECT, INSERT, UPDATE, DELETE ON TABLES TO vernation_serve;
ALTER DEFAULT PRIVILEGES IN SCHEMA queue GRANT USAGE, SELECT ON SEQUENCES TO vernation_serve;

CREATE TABLE queue.plan_run_lease (
    business_id text        NOT NULL,
    plan_run_id text        NOT NULL,
    attempt     integer     NOT NULL,
    lease_until timestamptz NOT NULL,
    holder      text,
    CONSTRAINT plan_run_lease_one_a_run PRIMARY KEY (business_id, plan_run_id),
    CONSTRAINT plan_run_lease_of_known_run FOREIGN KEY (business_id, plan_run_id) REFERENCES plan_run (business_id, plan_run_id),
    CONSTRAINT plan_run_lease_attempt_is_not_negative CHECK (attempt >= 0)
);
CREATE UNIQUE INDEX plan_run_lease_one_run_of_a_business_at_a_time ON queue.plan_run_lease (business_id) WHERE holder IS NOT NULL;
COMMENT ON TABLE queue.plan_run_lease IS 'Runs that are not finished. Without row security, because workers look across businesses: ids only.';
COMMENT ON COLUMN queue.plan_run_lease.business_id IS 'The tenant.';
COMMENT ON COLUMN queue.plan_run_lease.plan_run_id IS 'The run.';
COMMENT ON COLUMN queue.plan_run_lease.attempt IS 'How often a worker took it up; the same as the run''s.';
COMMENT ON COLUMN queue.plan_run_lease.lease_until IS 'Until then it is somebody''s: the holder''s, or the queue''s when nobody holds it. After it the run is queued again. The machine''s clock.';
COMMENT ON COLUMN queue.plan_run_lease.holder IS 'The worker that has it; NULL while it waits.';

-- +goose Down
DROP SCHEMA queue CASCADE;
