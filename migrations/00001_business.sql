-- +goose Up
-- btree_gist lets an exclusion constraint compare ids beside ranges; a database's owner may create it.
CREATE EXTENSION IF NOT EXISTS btree_gist;

-- The business of the transaction, set by set_config('vernation.business', ..., true); NULL, and so no row, when unset.
CREATE FUNCTION current_business() RETURNS text
    LANGUAGE sql STABLE PARALLEL SAFE
    RETURN nullif(current_setting('vernation.business', true), '');
COMMENT ON FUNCTION current_business() IS 'The business whose rows this transaction may see; NULL shows none.';

-- A server that serves asks whether the schema is as new as itself.
GRANT SELECT ON goose_db_version TO vernation_serve;

CREATE TABLE business (
    business_id    text    NOT NULL,
    name           text    NOT NULL,
    zone           text    NOT NULL,
    currency       text    NOT NULL,
    policy         jsonb   NOT NULL,
    rates          jsonb   NOT NULL,
    rules          jsonb   NOT NULL,
    detour_percent integer NOT NULL,
    speed_kmh      integer NOT NULL,
    poison_line    text    NOT NULL,
    emergency_line text    NOT NULL,
    CONSTRAINT business_named_once PRIMARY KEY (business_id),
    CONSTRAINT business_has_an_id CHECK (business_id <> '' AND length(business_id) <= 63),
    CONSTRAINT business_zone_is_named CHECK (zone <> ''),
    CONSTRAINT business_currency_is_three_letters CHECK (currency ~ '^[A-Z]{3}$'),
    CONSTRAINT business_detour_is_not_negative CHECK (detour_percent >= 0),
    CONSTRAINT business_speed_is_positive CHECK (speed_kmh > 0)
);
COMMENT ON TABLE business IS 'A firm that does the rounds: the tenant. Made with the owner''s address only.';
COMMENT ON COLUMN business.business_id IS 'Stable name; leads every key of every table.';
COMMENT ON COLUMN business.name IS 'Name for people.';
COMMENT ON COLUMN business.zone IS 'IANA time zone of plan days and shifts.';
COMMENT ON COLUMN business.currency IS 'ISO 4217 code of every amount in minor units.';
COMMENT ON COLUMN business.policy IS 'The business''s own settings of courses, with the standing of each.';
COMMENT ON COLUMN business.rates IS 'What the weighed terms of a plan cost, in minor units.';
COMMENT ON COLUMN business.rules IS 'Rules of notice, breaks, mixing, rinsing and supervision.';
COMMENT ON COLUMN business.detour_percent IS 'Length of roads in percent of the straight line.';
COMMENT ON COLUMN business.speed_kmh IS 'Usual speed in kilometres an hour.';
COMMENT ON COLUMN business.poison_line IS 'Telephone for poisonings, set by the business; empty when not set.';
COMMENT ON COLUMN business.emergency_line IS 'Telephone for emergencies, set by the business; empty when not set.';
ALTER TABLE business ENABLE ROW LEVEL SECURITY;
ALTER TABLE business FORCE ROW LEVEL SECURITY;
CREATE POLICY business_of_own_business ON business USING (business_id = (SELECT current_business()));
GRANT SELECT, UPDATE ON business TO vernation_serve;

-- +goose Down
DROP TABLE business;
REVOKE SELECT ON goose_db_version FROM vernation_serve;
DROP FUNCTION current_business();
DROP EXTENSION btree_gist;
