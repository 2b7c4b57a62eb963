-- +goose Up
CREATE TABLE visit (
    business_id     text      NOT NULL,
    visit_id        text      NOT NULL,
    state           text      NOT NULL,
    technician_id   text      NOT NULL,
    site_id         text      NOT NULL,
    during          tstzrange NOT NULL,
    sign_in_seconds integer   NOT NULL,
    cost            jsonb     NOT NULL,
    plan_id         text,
    CONSTRAINT visit_named_once PRIMARY KEY (business_id, visit_id),
    CONSTRAINT visit_of_known_technician FOREIGN KEY (business_id, technician_id) REFERENCES technician (business_id, technician_id),
    CONSTRAINT visit_at_known_site FOREIGN KEY (business_id, site_id) REFERENCES site (business_id, site_id),
    CONSTRAINT visit_of_known_plan FOREIGN KEY (business_id, plan_id) REFERENCES plan (business_id, plan_id),
    CONSTRAINT visit_has_an_id CHECK (visit_id <> ''),
    CONSTRAINT visit_state_is_real CHECK (state IN ('published', 'announced', 'begun', 'done', 'pinned')),
    CONSTRAINT visit_leaves_after_it_arrives
        CHECK (NOT isempty(during) AND lower_inc(during) AND NOT upper_inc(during) AND NOT lower_inf(during) AND NOT upper_inf(during)),
    CONSTRAINT visit_sign_in_is_not_negative CHECK (sign_in_seconds >= 0),
    -- Deferred, so that two visits may change places in one transaction.
    CONSTRAINT visit_one_technician_one_place
        EXCLUDE USING gist (business_id WITH =, technician_id WITH =, during WITH &&) DEFERRABLE INITIALLY DEFERRED
);
CREATE INDEX visit_by_site ON visit (business_id, site_id);
CREATE INDEX visit_by_arrival ON visit (business_id, lower(during), visit_id);
COMMENT ON TABLE visit IS 'A visit that was made real by publishing. It keeps its id when it moves.';
COMMENT ON COLUMN visit.business_id IS 'The tenant.';
COMMENT ON COLUMN visit.visit_id IS 'Stable name.';
COMMENT ON COLUMN visit.state IS 'Published, announced, begun, done or pinned.';
COMMENT ON COLUMN visit.technician_id IS 'Who makes it.';
COMMENT ON COLUMN visit.site_id IS 'Where.';
COMMENT ON COLUMN visit.during IS 'From arriving to leaving, half open, as published; what really happened stands in the report.';
COMMENT ON COLUMN visit.sign_in_seconds IS 'Lost for parking and sign-in, from arriving.';
COMMENT ON COLUMN visit.cost IS 'Its cost by part in minor units.';
COMMENT ON COLUMN visit.plan_id IS 'The plan that placed it last; NULL for one that the office booked.';
ALTER TABLE visit ENABLE ROW LEVEL SECURITY;
ALTER TABLE visit FORCE ROW LEVEL SECURITY;
CREATE POLICY visit_of_own_business ON visit USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT, UPDATE, DELETE ON visit TO vernation_serve;

CREATE TABLE visit_work (
    business_id text        NOT NULL,
    visit_id    text        NOT NULL,
    ordinal     integer     NOT NULL,
    item_id     text        NOT NULL,
    area_id     text,
    begins_at   timestamptz NOT NULL,
    ends_at     timestamptz NOT NULL,
    detail      jsonb       NOT NULL,
    CONSTRAINT visit_work_in_order PRIMARY KEY (business_id, visit_id, ordinal),
    CONSTRAINT visit_work_of_known_visit FOREIGN KEY (business_id, visit_id) REFERENCES visit (business_id, visit_id),
    CONSTRAINT visit_work_in_known_area FOREIGN KEY (business_id, area_id) REFERENCES area (business_id, area_id),
    CONSTRAINT visit_work_names_its_item CHECK (item_id <> ''),
    CONSTRAINT visit_work_ends_after_it_begins CHECK (begins_at <= ends_at)
);
CREATE INDEX visit_work_by_item ON visit_work (business_id, item_id);
COMMENT ON TABLE visit_work IS 'The work items of a visit in order.';
COMMENT ON COLUMN visit_work.business_id IS 'The tenant.';
COMMENT ON COLUMN visit_work.visit_id IS 'The visit.';
COMMENT ON COLUMN visit_work.ordinal IS 'Place in the visit, from 1.';
COMMENT ON COLUMN visit_work.item_id IS 'The follow-up or the occurrence of a service.';
COMMENT ON COLUMN visit_work.area_id IS 'Where in the site; NULL for a service that covers several areas.';
COMMENT ON COLUMN visit_work.begins_at IS 'Planned beginning.';
COMMENT ON COLUMN visit_work.ends_at IS 'Planned end.';
COMMENT ON COLUMN visit_work.detail IS 'The whole work item: kind, way, plants, product and doses, mix.';
ALTER TABLE visit_work ENABLE ROW LEVEL SECURITY;
ALTER TABLE visit_work FORCE ROW LEVEL SECURITY;
CREATE POLICY visit_work_of_own_business ON visit_work USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT, UPDATE, DELETE ON visit_work TO vernation_serve;

CREATE TABLE day_route (
    business_id   text        NOT NULL,
    technician_id text        NOT NULL,
    day_on        date        NOT NULL,
    departs_at    timestamptz NOT NULL,
    returns_at    timestamptz NOT NULL,
    break_from_at timestamptz,
    break_to_at   timestamptz,
    mixes         jsonb       NOT NULL,
    CONSTRAINT day_route_one_a_technician_and_day PRIMARY KEY (business_id, technician_id, day_on),
    CONSTRAINT day_route_of_known_technician FOREIGN KEY (business_id, technician_id) REFERENCES technician (business_id, technician_id),
    CONSTRAINT day_route_returns_after_it_departs CHECK (departs_at <= returns_at),
    CONSTRAINT day_route_break_has_both_ends CHECK ((break_from_at IS NULL) = (break_to_at IS NULL) AND break_from_at <= break_to_at)
);
CREATE INDEX day_route_by_day ON day_route (business_id, day_on, technician_id);
COMMENT ON TABLE day_route IS 'A technician''s published day without its visits: departure, return, break, mixes.';
COMMENT ON COLUMN day_route.business_id IS 'The tenant.';
COMMENT ON COLUMN day_route.technician_id IS 'Whose.';
COMMENT ON COLUMN day_route.day_on IS 'Day on which the shift begins, in the business''s zone.';
COMMENT ON COLUMN day_route.departs_at IS 'Departure from the base.';
COMMENT ON COLUMN day_route.returns_at IS 'Return to the base, rinsing there included.';
COMMENT ON COLUMN day_route.break_from_at IS 'Beginning of the break; NULL when none is due.';
COMMENT ON COLUMN day_route.break_to_at IS 'End of the break; NULL when none is due.';
COMMENT ON COLUMN day_route.mixes IS 'Mixes of the day in order; work items refer to them by index.';
ALTER TABLE day_route ENABLE ROW LEVEL SECURITY;
ALTER TABLE day_route FORCE ROW LEVEL SECURITY;
CREATE POLICY day_route_of_own_business ON day_route USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT, UPDATE, DELETE ON day_route TO vernation_serve;

CREATE TABLE area_use (
    business_id      text        NOT NULL,
    area_id          text        NOT NULL,
    kind             text        NOT NULL,
    item_id          text        NOT NULL,
    visit_id         text        NOT NULL,
    during           tstzrange   NOT NULL,
    reported         boolean     NOT NULL DEFAULT false,
    overtaken        boolean     NOT NULL DEFAULT false,
    technician_id    text        NOT NULL,
    product_id       text        NOT NULL,
    until_dry        boolean     NOT NULL DEFAULT false,
    confirmed_dry_at timestamptz,
    CONSTRAINT area_use_stated_once PRIMARY KEY (business_id, area_id, kind, item_id, visit_id, during, reported),
    CONSTRAINT area_use_of_known_area FOREIGN KEY (business_id, area_id) REFERENCES area (business_id, area_id),
    CONSTRAINT area_use_kind_is_known CHECK (kind IN ('work', 'keep-out')),
    CONSTRAINT area_use_is_half_open
        CHECK (NOT isempty(during) AND lower_inc(during) AND NOT upper_inc(during) AND NOT lower_inf(during) AND NOT upper_inf(during)),
    CONSTRAINT area_use_only_keep_outs_are_reported CHECK (kind = 'keep-out' OR NOT reported),
    CONSTRAINT area_use_only_work_is_overtaken CHECK (kind = 'work' OR NOT overtaken),
    -- Keep-outs may overlap each other, and so may work; the two exclude each other. Deferred for the sake of swaps.
    CONSTRAINT area_use_no_work_in_keep_out
        EXCLUDE USING gist (business_id WITH =, area_id WITH =, during WITH &&, kind WITH <>) WHERE (NOT overtaken)
        DEFERRABLE INITIALLY DEFERRED
);
CREATE INDEX area_use_by_visit ON area_use (business_id, visit_id);
CREATE INDEX area_use_by_item ON area_use (business_id, item_id);
COMMENT ON TABLE area_use IS 'Who is in an area, and when nobody may be. Applications stand as the keep-outs that they make.';
COMMENT ON COLUMN area_use.business_id IS 'The tenant.';
COMMENT ON COLUMN area_use.area_id IS 'The area.';
COMMENT ON COLUMN area_use.kind IS 'Work (somebody is in it) or keep-out (nobody may be).';
COMMENT ON COLUMN area_use.item_id IS 'The item worked on, or whose application shuts the area.';
COMMENT ON COLUMN area_use.visit_id IS 'The visit; empty for an unplanned application.';
COMMENT ON COLUMN area_use.during IS 'From when to when, half open.';
COMMENT ON COLUMN area_use.reported IS 'The keep-out is of an application that was really made, not planned.';
COMMENT ON COLUMN area_use.overtaken IS 'Planned work that a keep-out really made has overtaken: a fact is never refused, the plan shows it as a breach.';
COMMENT ON COLUMN area_use.technician_id IS 'Who works, or may be in it while applying; empty when unknown.';
COMMENT ON COLUMN area_use.product_id IS 'What was applied; empty for work.';
COMMENT ON COLUMN area_use.until_dry IS 'A confirmation that it is dry is asked of the next person there.';
COMMENT ON COLUMN area_use.confirmed_dry_at IS 'When somebody found it dry; NULL while open.';
ALTER TABLE area_use ENABLE ROW LEVEL SECURITY;
ALTER TABLE area_use FORCE ROW LEVEL SECURITY;
CREATE POLICY area_use_of_own_business ON area_use USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT, UPDATE, DELETE ON area_use TO vernation_serve;

CREATE TABLE notice (
    business_id text        NOT NULL,
    notice_id   text        NOT NULL,
    item_id     text        NOT NULL,
    site_id     text        NOT NULL,
    begins_at   timestamptz NOT NULL,
    due_at      timestamptz NOT NULL,
    sent_at     timestamptz,
    known       boolean     NOT NULL,
    used        boolean     NOT NULL,
    CONSTRAINT notice_named_once PRIMARY KEY (business_id, notice_id),
    CONSTRAINT notice_for_known_site FOREIGN KEY (business_id, site_id) REFERENCES site (business_id, site_id),
    CONSTRAINT notice_has_an_id CHECK (notice_id <> ''),
    CONSTRAINT notice_due_before_it_begins CHECK (due_at <= begins_at)
);
CREATE INDEX notice_by_beginning ON notice (business_id, begins_at, notice_id);
CREATE INDEX notice_by_item ON notice (business_id, item_id);
COMMENT ON TABLE notice IS 'What a client or the people in a building must be told before an application.';
COMMENT ON COLUMN notice.business_id IS 'The tenant.';
COMMENT ON COLUMN notice.notice_id IS 'Stable name.';
COMMENT ON COLUMN notice.item_id IS 'The application.';
COMMENT ON COLUMN notice.site_id IS 'Where.';
COMMENT ON COLUMN notice.begins_at IS 'The beginning that it names.';
COMMENT ON COLUMN notice.due_at IS 'Latest sending.';
COMMENT ON COLUMN notice.sent_at IS 'When it went out; NULL while it has not.';
COMMENT ON COLUMN notice.known IS 'Whether a published lead is known; if not, the policy''s holds.';
COMMENT ON COLUMN notice.used IS 'A visit that did not take place has used it up.';
ALTER TABLE notice ENABLE ROW LEVEL SECURITY;
ALTER TABLE notice FORCE ROW LEVEL SECURITY;
CREATE POLICY notice_of_own_business ON notice USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT, UPDATE ON notice TO vernation_serve;

-- +goose Down
DROP TABLE notice;
DROP TABLE area_use;
DROP TABLE day_route;
DROP TABLE visit_work;
DROP TABLE visit;
