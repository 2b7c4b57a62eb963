-- +goose Up
CREATE TABLE plan_run_problem (
    business_id text  NOT NULL,
    plan_run_id text  NOT NULL,
    document    bytea NOT NULL,
    CONSTRAINT plan_run_problem_kept_once PRIMARY KEY (business_id, plan_run_id),
    CONSTRAINT plan_run_problem_of_known_run FOREIGN KEY (business_id, plan_run_id) REFERENCES plan_run (business_id, plan_run_id)
);
COMMENT ON TABLE plan_run_problem IS 'What a run had to plan, so that anybody can replay and judge it.';
COMMENT ON COLUMN plan_run_problem.business_id IS 'The tenant.';
COMMENT ON COLUMN plan_run_problem.plan_run_id IS 'The run.';
COMMENT ON COLUMN plan_run_problem.document IS 'A Problem file with the options of its search, compressed by gzip (RFC 1952).';
ALTER TABLE plan_run_problem ENABLE ROW LEVEL SECURITY;
ALTER TABLE plan_run_problem FORCE ROW LEVEL SECURITY;
CREATE POLICY plan_run_problem_of_own_business ON plan_run_problem USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT, UPDATE ON plan_run_problem TO vernation_serve;

-- +goose Down
DROP TABLE plan_run_problem;
