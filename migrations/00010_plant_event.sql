-- +goose Up
CREATE TABLE plant_event (
    business_id    text        NOT NULL,
    plant_event_id text        NOT NULL,
    site_id        text        NOT NULL,
    plant_ids      text[]      NOT NULL,
    happened_at    timestamptz NOT NULL,
    told_at        timestamptz NOT NULL,
    caller         text        NOT NULL,
    event          jsonb       NOT NULL,
    CONSTRAINT plant_event_named_once PRIMARY KEY (business_id, plant_event_id),
    CONSTRAINT plant_event_at_known_site FOREIGN KEY (business_id, site_id) REFERENCES site (business_id, site_id),
    CONSTRAINT plant_event_has_an_id CHECK (plant_event_id <> ''),
    CONSTRAINT plant_event_is_of_plants CHECK (cardinality(plant_ids) > 0),
    CONSTRAINT plant_event_one_thing_happened CHECK (
        num_nonnulls(event -> 'patch', event -> 'moved', event -> 'split', event -> 'joined', event -> 'gone') = 1)
);
CREATE INDEX plant_event_by_site ON plant_event (business_id, site_id, happened_at, plant_event_id);
COMMENT ON TABLE plant_event IS 'What happened to plants outside the work items of a visit: part of the history of every case that has them. Appended to, never changed.';
COMMENT ON COLUMN plant_event.business_id IS 'The tenant.';
COMMENT ON COLUMN plant_event.plant_event_id IS 'Stable name.';
COMMENT ON COLUMN plant_event.site_id IS 'Where the plants stand.';
COMMENT ON COLUMN plant_event.plant_ids IS 'All plants that it names, in order.';
COMMENT ON COLUMN plant_event.happened_at IS 'When it happened; late events lie between earlier ones.';
COMMENT ON COLUMN plant_event.told_at IS 'When the firm heard of it.';
COMMENT ON COLUMN plant_event.caller IS 'Who told it.';
COMMENT ON COLUMN plant_event.event IS 'The whole event: exactly one thing that happened.';
ALTER TABLE plant_event ENABLE ROW LEVEL SECURITY;
ALTER TABLE plant_event FORCE ROW LEVEL SECURITY;
CREATE POLICY plant_event_of_own_business ON plant_event USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT ON plant_event TO vernation_serve;

-- +goose Down
DROP TABLE plant_event;
