-- +goose Up
CREATE TABLE incident (
    business_id text        NOT NULL,
    incident_id text        NOT NULL,
    site_id     text        NOT NULL,
    kind        text        NOT NULL,
    product_id  text,
    happened_at timestamptz NOT NULL,
    told_at     timestamptz NOT NULL,
    detail      jsonb       NOT NULL,
    CONSTRAINT incident_named_once PRIMARY KEY (business_id, incident_id),
    CONSTRAINT incident_at_known_site FOREIGN KEY (business_id, site_id) REFERENCES site (business_id, site_id),
    CONSTRAINT incident_with_known_product FOREIGN KEY (business_id, product_id) REFERENCES product (business_id, product_id),
    CONSTRAINT incident_has_an_id CHECK (incident_id <> ''),
    CONSTRAINT incident_kind_is_known CHECK (kind IN ('spill', 'splash', 'exposure', 'stain', 'burnt-leaves', 'complaint'))
);
CREATE INDEX incident_by_site ON incident (business_id, site_id, incident_id);
CREATE INDEX incident_newest ON incident (business_id, happened_at, incident_id);
COMMENT ON TABLE incident IS 'A spill, splash, exposure, stain, burnt leaves or a complaint; its product is barred from the site until it is released. Never changed.';
COMMENT ON COLUMN incident.business_id IS 'The tenant.';
COMMENT ON COLUMN incident.incident_id IS 'Stable name.';
COMMENT ON COLUMN incident.site_id IS 'Where.';
COMMENT ON COLUMN incident.kind IS 'What kind of thing happened.';
COMMENT ON COLUMN incident.product_id IS 'The product that it was with; NULL where none was, and then nothing is barred.';
COMMENT ON COLUMN incident.happened_at IS 'When it happened.';
COMMENT ON COLUMN incident.told_at IS 'When the firm heard of it.';
COMMENT ON COLUMN incident.detail IS 'The whole of it as told.';
ALTER TABLE incident ENABLE ROW LEVEL SECURITY;
ALTER TABLE incident FORCE ROW LEVEL SECURITY;
CREATE POLICY incident_of_own_business ON incident USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT ON incident TO vernation_serve;

CREATE TABLE incident_release (
    business_id text        NOT NULL,
    incident_id text        NOT NULL,
    released_at timestamptz NOT NULL,
    released_by text        NOT NULL,
    reason      text        NOT NULL,
    CONSTRAINT incident_release_made_once PRIMARY KEY (business_id, incident_id),
    CONSTRAINT incident_release_of_known_incident FOREIGN KEY (business_id, incident_id) REFERENCES incident (business_id, incident_id),
    CONSTRAINT incident_release_says_who_and_why CHECK (released_by <> '' AND reason <> '')
);
COMMENT ON TABLE incident_release IS 'The responsible applicator''s word that the product of an incident may be used at its site again. Never changed.';
COMMENT ON COLUMN incident_release.business_id IS 'The tenant.';
COMMENT ON COLUMN incident_release.incident_id IS 'The incident.';
COMMENT ON COLUMN incident_release.released_at IS 'From when.';
COMMENT ON COLUMN incident_release.released_by IS 'Who.';
COMMENT ON COLUMN incident_release.reason IS 'Why.';
ALTER TABLE incident_release ENABLE ROW LEVEL SECURITY;
ALTER TABLE incident_release FORCE ROW LEVEL SECURITY;
CREATE POLICY incident_release_of_own_business ON incident_release USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT ON incident_release TO vernation_serve;

-- +goose Down
DROP TABLE incident_release;
DROP TABLE incident;
