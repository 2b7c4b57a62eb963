-- +goose Up
CREATE TABLE infestation (
    business_id   text        NOT NULL,
    case_id       text        NOT NULL,
    site_id       text        NOT NULL,
    pest_id       text        NOT NULL,
    opened_at     timestamptz NOT NULL,
    ending        jsonb,
    ended_at      timestamptz,
    recurrence_of text,
    version       bigint      NOT NULL DEFAULT 0,
    CONSTRAINT infestation_named_once PRIMARY KEY (business_id, case_id),
    CONSTRAINT infestation_at_known_site FOREIGN KEY (business_id, site_id) REFERENCES site (business_id, site_id),
    CONSTRAINT infestation_recurs_from_known_case FOREIGN KEY (business_id, recurrence_of) REFERENCES infestation (business_id, case_id),
    CONSTRAINT infestation_has_an_id CHECK (case_id <> ''),
    CONSTRAINT infestation_pest_is_named CHECK (pest_id <> ''),
    CONSTRAINT infestation_ends_with_a_date CHECK ((ending IS NULL) = (ended_at IS NULL)),
    CONSTRAINT infestation_version_is_not_negative CHECK (version >= 0)
);
CREATE INDEX infestation_by_site ON infestation (business_id, site_id, case_id);
CREATE INDEX infestation_open ON infestation (business_id, case_id) WHERE ended_at IS NULL;
COMMENT ON TABLE infestation IS 'The case: one infestation until it ends ("case" is a reserved word of SQL). Whoever appends to its history locks its row first.';
COMMENT ON COLUMN infestation.business_id IS 'The tenant.';
COMMENT ON COLUMN infestation.case_id IS 'Stable name.';
COMMENT ON COLUMN infestation.site_id IS 'Where it is.';
COMMENT ON COLUMN infestation.pest_id IS 'Id in the catalogue, checked in code.';
COMMENT ON COLUMN infestation.opened_at IS 'When it was opened.';
COMMENT ON COLUMN infestation.ending IS 'How it ended; NULL while it is open.';
COMMENT ON COLUMN infestation.ended_at IS 'When it ended; NULL while it is open.';
COMMENT ON COLUMN infestation.recurrence_of IS 'An earlier case at the same site that came back; NULL when none.';
COMMENT ON COLUMN infestation.version IS 'Rises with each appended event; plans compare it.';
ALTER TABLE infestation ENABLE ROW LEVEL SECURITY;
ALTER TABLE infestation FORCE ROW LEVEL SECURITY;
CREATE POLICY infestation_of_own_business ON infestation USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT, UPDATE ON infestation TO vernation_serve;

CREATE TABLE infestation_plant (
    business_id text NOT NULL,
    case_id     text NOT NULL,
    plant_id    text NOT NULL,
    CONSTRAINT infestation_plant_listed_once PRIMARY KEY (business_id, case_id, plant_id),
    CONSTRAINT infestation_plant_of_known_case FOREIGN KEY (business_id, case_id) REFERENCES infestation (business_id, case_id),
    CONSTRAINT infestation_plant_is_known FOREIGN KEY (business_id, plant_id) REFERENCES plant (business_id, plant_id)
);
CREATE INDEX infestation_plant_by_plant ON infestation_plant (business_id, plant_id, case_id);
COMMENT ON TABLE infestation_plant IS 'The plants of a case.';
COMMENT ON COLUMN infestation_plant.business_id IS 'The tenant.';
COMMENT ON COLUMN infestation_plant.case_id IS 'The case.';
COMMENT ON COLUMN infestation_plant.plant_id IS 'A plant of it.';
ALTER TABLE infestation_plant ENABLE ROW LEVEL SECURITY;
ALTER TABLE infestation_plant FORCE ROW LEVEL SECURITY;
CREATE POLICY infestation_plant_of_own_business ON infestation_plant USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT ON infestation_plant TO vernation_serve;

CREATE TABLE history (
    business_id text        NOT NULL,
    case_id     text        NOT NULL,
    event_id    text        NOT NULL,
    happened_at timestamptz NOT NULL,
    told_at     timestamptz NOT NULL,
    event       jsonb       NOT NULL,
    CONSTRAINT history_tells_an_event_once PRIMARY KEY (business_id, case_id, event_id),
    CONSTRAINT history_of_known_case FOREIGN KEY (business_id, case_id) REFERENCES infestation (business_id, case_id),
    CONSTRAINT history_event_has_an_id CHECK (event_id <> ''),
    -- An event that tells nothing takes an earlier one back.
    CONSTRAINT history_one_thing_happened CHECK (
        num_nonnulls(event -> 'finding', event -> 'application', event -> 'inspection', event -> 'not_done',
            event -> 'approval', event -> 'ending', event -> 'done')
        BETWEEN CASE WHEN event ? 'corrects' THEN 0 ELSE 1 END AND 1)
);
COMMENT ON TABLE history IS 'All that is known of a case; appended to, never changed.';
COMMENT ON COLUMN history.business_id IS 'The tenant.';
COMMENT ON COLUMN history.case_id IS 'The case.';
COMMENT ON COLUMN history.event_id IS 'Makes an event count once, however often it is told.';
COMMENT ON COLUMN history.happened_at IS 'When it happened; late events lie between earlier ones.';
COMMENT ON COLUMN history.told_at IS 'When the firm heard of it.';
COMMENT ON COLUMN history.event IS 'The event: exactly one thing that happened.';
ALTER TABLE history ENABLE ROW LEVEL SECURITY;
ALTER TABLE history FORCE ROW LEVEL SECURITY;
CREATE POLICY history_of_own_business ON history USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT ON history TO vernation_serve;

CREATE TABLE course (
    business_id text        NOT NULL,
    case_id     text        NOT NULL,
    key         text        NOT NULL,
    computed_at timestamptz NOT NULL,
    course      jsonb       NOT NULL,
    CONSTRAINT course_one_of_each_case PRIMARY KEY (business_id, case_id),
    CONSTRAINT course_of_known_case FOREIGN KEY (business_id, case_id) REFERENCES infestation (business_id, case_id),
    CONSTRAINT course_key_is_named CHECK (key <> '')
);
COMMENT ON TABLE course IS 'What a case still needs: a cache under the hash of all that it depends on.';
COMMENT ON COLUMN course.business_id IS 'The tenant.';
COMMENT ON COLUMN course.case_id IS 'The case.';
COMMENT ON COLUMN course.key IS 'Hash of the input; another key means that the course is to be computed again.';
COMMENT ON COLUMN course.computed_at IS 'When it was computed.';
COMMENT ON COLUMN course.course IS 'The course.';
ALTER TABLE course ENABLE ROW LEVEL SECURITY;
ALTER TABLE course FORCE ROW LEVEL SECURITY;
CREATE POLICY course_of_own_business ON course USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT, UPDATE ON course TO vernation_serve;

-- +goose Down
DROP TABLE course;
DROP TABLE history;
DROP TABLE infestation_plant;
DROP TABLE infestation;
