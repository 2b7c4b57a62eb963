-- +goose Up
CREATE TABLE stamp (
    business_id   text        NOT NULL,
    stamp_id      text        NOT NULL,
    visit_id      text        NOT NULL,
    technician_id text        NOT NULL,
    item_id       text,
    event         text        NOT NULL,
    happened_at   timestamptz NOT NULL,
    received_at   timestamptz NOT NULL,
    caller        text        NOT NULL,
    off_plan      boolean     NOT NULL,
    CONSTRAINT stamp_named_once PRIMARY KEY (business_id, stamp_id),
    CONSTRAINT stamp_of_known_technician FOREIGN KEY (business_id, technician_id) REFERENCES technician (business_id, technician_id),
    CONSTRAINT stamp_has_an_id CHECK (stamp_id <> ''),
    CONSTRAINT stamp_names_its_visit CHECK (visit_id <> ''),
    CONSTRAINT stamp_event_is_known CHECK (event IN ('begun', 'ended'))
);
CREATE INDEX stamp_by_visit ON stamp (business_id, visit_id, happened_at, stamp_id);
CREATE INDEX stamp_by_time ON stamp (business_id, happened_at, stamp_id);
COMMENT ON TABLE stamp IS 'When a technician began or ended a visit or one of its work items, as told; appended to, never changed.';
COMMENT ON COLUMN stamp.business_id IS 'The tenant.';
COMMENT ON COLUMN stamp.stamp_id IS 'Stable name.';
COMMENT ON COLUMN stamp.visit_id IS 'The visit, which may have been withdrawn meanwhile.';
COMMENT ON COLUMN stamp.technician_id IS 'Who was there.';
COMMENT ON COLUMN stamp.item_id IS 'The work item; NULL for the visit as a whole.';
COMMENT ON COLUMN stamp.event IS 'Begun or ended.';
COMMENT ON COLUMN stamp.happened_at IS 'When, by the clock of whoever tells it.';
COMMENT ON COLUMN stamp.received_at IS 'When the firm heard of it.';
COMMENT ON COLUMN stamp.caller IS 'Who told it.';
COMMENT ON COLUMN stamp.off_plan IS 'The visit was moved, withdrawn or given to somebody else, or does not hold the work item any more.';
ALTER TABLE stamp ENABLE ROW LEVEL SECURITY;
ALTER TABLE stamp FORCE ROW LEVEL SECURITY;
CREATE POLICY stamp_of_own_business ON stamp USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT ON stamp TO vernation_serve;

-- +goose Down
DROP TABLE stamp;
