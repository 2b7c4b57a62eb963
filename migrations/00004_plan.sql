-- +goose Up
CREATE TABLE plan_run (
    business_id     text        NOT NULL,
    plan_run_id     text        NOT NULL,
    state           text        NOT NULL,
    first_day_on    date        NOT NULL,
    days            integer     NOT NULL,
    seed            numeric     NOT NULL,
    iterations      integer     NOT NULL,
    limit_ms        bigint      NOT NULL,
    iterations_done integer     NOT NULL,
    best            jsonb       NOT NULL,
    bound_minor     numeric     NOT NULL,
    cancel_asked    boolean     NOT NULL,
    attempt         integer     NOT NULL,
    plan_id         text,
    failure         text        NOT NULL,
    created_at      timestamptz NOT NULL,
    created_by      text        NOT NULL,
    CONSTRAINT plan_run_named_once PRIMARY KEY (business_id, plan_run_id),
    CONSTRAINT plan_run_of_known_business FOREIGN KEY (business_id) REFERENCES business (business_id),
    CONSTRAINT plan_run_has_an_id CHECK (plan_run_id <> ''),
    CONSTRAINT plan_run_state_is_known CHECK (state IN ('pending', 'running', 'done', 'failed', 'cancelled')),
    CONSTRAINT plan_run_horizon_from_1_to_56_days CHECK (days BETWEEN 1 AND 56),
    CONSTRAINT plan_run_bounds_are_not_negative CHECK (iterations >= 0 AND limit_ms >= 0 AND iterations_done >= 0 AND attempt >= 0),
    CONSTRAINT plan_run_done_has_its_plan CHECK ((state = 'done') = (plan_id IS NOT NULL)),
    CONSTRAINT plan_run_failed_says_why CHECK (state <> 'failed' OR failure <> '')
);
COMMENT ON TABLE plan_run IS 'The making of one plan, which callers watch.';
COMMENT ON COLUMN plan_run.business_id IS 'The tenant.';
COMMENT ON COLUMN plan_run.plan_run_id IS 'Stable name.';
COMMENT ON COLUMN plan_run.state IS 'Pending, running, done, failed or cancelled.';
COMMENT ON COLUMN plan_run.first_day_on IS 'First day of the horizon.';
COMMENT ON COLUMN plan_run.days IS 'Days of the horizon.';
COMMENT ON COLUMN plan_run.seed IS 'Of the search; unsigned, of 64 bits.';
COMMENT ON COLUMN plan_run.iterations IS 'Iterations asked for.';
COMMENT ON COLUMN plan_run.limit_ms IS 'Limit of time in milliseconds; 0 is none.';
COMMENT ON COLUMN plan_run.iterations_done IS 'Progress: iterations made.';
COMMENT ON COLUMN plan_run.best IS 'Progress: cost of the best plan so far, by part, in minor units.';
COMMENT ON COLUMN plan_run.bound_minor IS 'Progress: proved lower bound in minor units.';
COMMENT ON COLUMN plan_run.cancel_asked IS 'The office asked for its end; the worker stops at its next look.';
COMMENT ON COLUMN plan_run.attempt IS 'Fences: a worker of another attempt may write nothing.';
COMMENT ON COLUMN plan_run.plan_id IS 'The plan when done.';
COMMENT ON COLUMN plan_run.failure IS 'A sentence when failed.';
COMMENT ON COLUMN plan_run.created_at IS 'When it was asked for.';
COMMENT ON COLUMN plan_run.created_by IS 'Who asked for it.';
ALTER TABLE plan_run ENABLE ROW LEVEL SECURITY;
ALTER TABLE plan_run FORCE ROW LEVEL SECURITY;
CREATE POLICY plan_run_of_own_business ON plan_run USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT, UPDATE ON plan_run TO vernation_serve;

CREATE TABLE plan (
    business_id  text        NOT NULL,
    plan_id      text        NOT NULL,
    plan_run_id  text,
    first_day_on date        NOT NULL,
    days         integer     NOT NULL,
    made_at      timestamptz NOT NULL,
    plan         jsonb       NOT NULL,
    versions     jsonb       NOT NULL,
    follow_ups   jsonb       NOT NULL,
    CONSTRAINT plan_named_once PRIMARY KEY (business_id, plan_id),
    CONSTRAINT plan_of_known_business FOREIGN KEY (business_id) REFERENCES business (business_id),
    CONSTRAINT plan_of_known_run FOREIGN KEY (business_id, plan_run_id) REFERENCES plan_run (business_id, plan_run_id),
    CONSTRAINT plan_run_keeps_one_plan UNIQUE (business_id, plan_run_id),
    CONSTRAINT plan_has_an_id CHECK (plan_id <> ''),
    CONSTRAINT plan_horizon_from_1_to_56_days CHECK (days BETWEEN 1 AND 56)
);
COMMENT ON TABLE plan IS 'An immutable answer over a horizon of days; written once, never changed.';
COMMENT ON COLUMN plan.business_id IS 'The tenant.';
COMMENT ON COLUMN plan.plan_id IS 'Stable name.';
COMMENT ON COLUMN plan.plan_run_id IS 'The run that made it; NULL when it was made at once.';
COMMENT ON COLUMN plan.first_day_on IS 'First day of the horizon.';
COMMENT ON COLUMN plan.days IS 'Days of the horizon.';
COMMENT ON COLUMN plan.made_at IS 'When it was made.';
COMMENT ON COLUMN plan.plan IS 'Day routes, keep-outs, what was left out and why, cost by part.';
COMMENT ON COLUMN plan.versions IS 'Versions of the cases, sites and technicians that it was made from.';
COMMENT ON COLUMN plan.follow_ups IS 'The follow-ups that it was made for.';
ALTER TABLE plan ENABLE ROW LEVEL SECURITY;
ALTER TABLE plan FORCE ROW LEVEL SECURITY;
CREATE POLICY plan_of_own_business ON plan USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT ON plan TO vernation_serve;

ALTER TABLE plan_run ADD CONSTRAINT plan_run_made_known_plan FOREIGN KEY (business_id, plan_id) REFERENCES plan (business_id, plan_id);

CREATE TABLE plan_head (
    business_id  text        NOT NULL,
    version      bigint      NOT NULL,
    plan_id      text,
    published_at timestamptz,
    CONSTRAINT plan_head_one_of_each_business PRIMARY KEY (business_id),
    CONSTRAINT plan_head_of_known_business FOREIGN KEY (business_id) REFERENCES business (business_id),
    CONSTRAINT plan_head_of_known_plan FOREIGN KEY (business_id, plan_id) REFERENCES plan (business_id, plan_id),
    CONSTRAINT plan_head_version_is_not_negative CHECK (version >= 0),
    CONSTRAINT plan_head_published_with_a_date CHECK ((plan_id IS NULL) = (published_at IS NULL))
);
COMMENT ON TABLE plan_head IS 'What is published now. Publishing locks the row; begin, end and report share it.';
COMMENT ON COLUMN plan_head.business_id IS 'The tenant.';
COMMENT ON COLUMN plan_head.version IS 'Rises with each publishing; its etag.';
COMMENT ON COLUMN plan_head.plan_id IS 'The plan published last; NULL before the first.';
COMMENT ON COLUMN plan_head.published_at IS 'When it was published.';
ALTER TABLE plan_head ENABLE ROW LEVEL SECURITY;
ALTER TABLE plan_head FORCE ROW LEVEL SECURITY;
CREATE POLICY plan_head_of_own_business ON plan_head USING (business_id = (SELECT current_business()));
GRANT SELECT, UPDATE ON plan_head TO vernation_serve;

CREATE TABLE publication (
    business_id  text        NOT NULL,
    version      bigint      NOT NULL,
    plan_id      text        NOT NULL,
    published_at timestamptz NOT NULL,
    CONSTRAINT publication_one_of_each_version PRIMARY KEY (business_id, version),
    CONSTRAINT publication_of_known_plan FOREIGN KEY (business_id, plan_id) REFERENCES plan (business_id, plan_id)
);
CREATE INDEX publication_by_plan ON publication (business_id, plan_id);
COMMENT ON TABLE publication IS 'Every publishing there was; appended to, never changed.';
COMMENT ON COLUMN publication.business_id IS 'The tenant.';
COMMENT ON COLUMN publication.version IS 'The head''s version that it made.';
COMMENT ON COLUMN publication.plan_id IS 'The plan.';
COMMENT ON COLUMN publication.published_at IS 'When.';
ALTER TABLE publication ENABLE ROW LEVEL SECURITY;
ALTER TABLE publication FORCE ROW LEVEL SECURITY;
CREATE POLICY publication_of_own_business ON publication USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT ON publication TO vernation_serve;

-- +goose Down
DROP TABLE publication;
DROP TABLE plan_head;
ALTER TABLE plan_run DROP CONSTRAINT plan_run_made_known_plan;
DROP TABLE plan;
DROP TABLE plan_run;
