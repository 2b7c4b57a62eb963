-- +goose Up
CREATE TABLE access_secrets (
    business_id text        NOT NULL,
    site_id     text        NOT NULL,
    version     bigint      NOT NULL,
    updated_at  timestamptz NOT NULL,
    secrets     jsonb       NOT NULL,
    CONSTRAINT access_secrets_one_a_site PRIMARY KEY (business_id, site_id),
    CONSTRAINT access_secrets_of_known_site FOREIGN KEY (business_id, site_id) REFERENCES site (business_id, site_id),
    CONSTRAINT access_secrets_version_counts_from_one CHECK (version >= 1)
);
COMMENT ON TABLE access_secrets IS 'What opens a site, apart from the site: read by the technician of the day in the day route of that day, and by the office. Each reading is kept.';
COMMENT ON COLUMN access_secrets.business_id IS 'The tenant.';
COMMENT ON COLUMN access_secrets.site_id IS 'The site that they open.';
COMMENT ON COLUMN access_secrets.version IS 'Rises with each change.';
COMMENT ON COLUMN access_secrets.updated_at IS 'When they were changed last.';
COMMENT ON COLUMN access_secrets.secrets IS 'Codes and what each opens, where keys lie, a note.';
ALTER TABLE access_secrets ENABLE ROW LEVEL SECURITY;
ALTER TABLE access_secrets FORCE ROW LEVEL SECURITY;
CREATE POLICY access_secrets_of_own_business ON access_secrets USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT, UPDATE ON access_secrets TO vernation_serve;

CREATE TABLE access_secrets_reading (
    business_id   text        NOT NULL,
    reading_id    text        NOT NULL,
    site_id       text        NOT NULL,
    read_at       timestamptz NOT NULL,
    reader        text        NOT NULL,
    role          text        NOT NULL,
    technician_id text,
    day_on        date,
    CONSTRAINT access_secrets_reading_named_once PRIMARY KEY (business_id, reading_id),
    CONSTRAINT access_secrets_reading_of_known_site FOREIGN KEY (business_id, site_id) REFERENCES site (business_id, site_id),
    CONSTRAINT access_secrets_reading_of_known_technician
        FOREIGN KEY (business_id, technician_id) REFERENCES technician (business_id, technician_id),
    CONSTRAINT access_secrets_reading_has_an_id CHECK (reading_id <> ''),
    CONSTRAINT access_secrets_reading_of_a_day_route_names_it CHECK ((technician_id IS NULL) = (day_on IS NULL))
);
CREATE INDEX access_secrets_reading_by_site ON access_secrets_reading (business_id, site_id, read_at, reading_id);
COMMENT ON TABLE access_secrets_reading IS 'Who read the access secrets of which site, and when. Appended to, never changed.';
COMMENT ON COLUMN access_secrets_reading.business_id IS 'The tenant.';
COMMENT ON COLUMN access_secrets_reading.reading_id IS 'Stable name.';
COMMENT ON COLUMN access_secrets_reading.site_id IS 'Whose secrets.';
COMMENT ON COLUMN access_secrets_reading.read_at IS 'When, by the firm''s clock.';
COMMENT ON COLUMN access_secrets_reading.reader IS 'Subject of the caller.';
COMMENT ON COLUMN access_secrets_reading.role IS 'Role of the caller.';
COMMENT ON COLUMN access_secrets_reading.technician_id IS 'Whose day route they were read in; NULL when the office read them.';
COMMENT ON COLUMN access_secrets_reading.day_on IS 'Day of that day route; NULL when the office read them.';
ALTER TABLE access_secrets_reading ENABLE ROW LEVEL SECURITY;
ALTER TABLE access_secrets_reading FORCE ROW LEVEL SECURITY;
CREATE POLICY access_secrets_reading_of_own_business ON access_secrets_reading USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT ON access_secrets_reading TO vernation_serve;

-- +goose Down
DROP TABLE access_secrets_reading;
DROP TABLE access_secrets;
