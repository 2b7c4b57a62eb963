-- +goose Up
CREATE TABLE deviation_look (
    business_id  text        NOT NULL,
    deviation_id text        NOT NULL,
    looked_at    timestamptz NOT NULL,
    looked_by    text        NOT NULL,
    note         text        NOT NULL,
    CONSTRAINT deviation_look_noted_once PRIMARY KEY (business_id, deviation_id),
    CONSTRAINT deviation_look_at_known_deviation FOREIGN KEY (business_id, deviation_id) REFERENCES deviation (business_id, deviation_id),
    CONSTRAINT deviation_look_says_who CHECK (looked_by <> '')
);
COMMENT ON TABLE deviation_look IS 'That the office looked at a deviation. Never changed.';
COMMENT ON COLUMN deviation_look.business_id IS 'The tenant.';
COMMENT ON COLUMN deviation_look.deviation_id IS 'The deviation.';
COMMENT ON COLUMN deviation_look.looked_at IS 'When.';
COMMENT ON COLUMN deviation_look.looked_by IS 'Who.';
COMMENT ON COLUMN deviation_look.note IS 'What was made of it; empty is nothing.';
ALTER TABLE deviation_look ENABLE ROW LEVEL SECURITY;
ALTER TABLE deviation_look FORCE ROW LEVEL SECURITY;
CREATE POLICY deviation_look_of_own_business ON deviation_look USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT ON deviation_look TO vernation_serve;

CREATE INDEX deviation_newest ON deviation (business_id, happened_at, deviation_id);
CREATE INDEX history_findings ON history (business_id, happened_at, event_id) WHERE event ? 'finding';
CREATE INDEX history_finding_by_name ON history (business_id, event_id) WHERE event ? 'finding';
CREATE INDEX infestation_recurrences ON infestation (business_id, recurrence_of, case_id) WHERE recurrence_of IS NOT NULL;
CREATE INDEX report_newest ON report (business_id, arrived_at, report_id);
CREATE INDEX report_by_site ON report (business_id, site_id, arrived_at, report_id);
CREATE INDEX report_by_technician ON report (business_id, technician_id, arrived_at, report_id);

-- +goose Down
DROP INDEX report_by_technician;
DROP INDEX report_by_site;
DROP INDEX report_newest;
DROP INDEX infestation_recurrences;
DROP INDEX history_finding_by_name;
DROP INDEX history_findings;
DROP INDEX deviation_newest;
DROP TABLE deviation_look;
