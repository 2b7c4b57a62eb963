-- +goose Up
CREATE TABLE road_times (
    business_id       text        NOT NULL,
    from_latitude_e5  integer     NOT NULL,
    from_longitude_e5 integer     NOT NULL,
    provider          text        NOT NULL,
    attribution       text        NOT NULL,
    asked_at          timestamptz NOT NULL,
    ways              bytea       NOT NULL,
    CONSTRAINT road_times_kept_once_a_point PRIMARY KEY (business_id, from_latitude_e5, from_longitude_e5),
    CONSTRAINT road_times_of_known_business FOREIGN KEY (business_id) REFERENCES business (business_id),
    CONSTRAINT road_times_point_is_on_the_earth
        CHECK (from_latitude_e5 BETWEEN -9000000 AND 9000000 AND from_longitude_e5 BETWEEN -18000000 AND 18000000),
    CONSTRAINT road_times_name_their_provider CHECK (provider <> ''),
    CONSTRAINT road_times_ways_are_whole CHECK (octet_length(ways) % 16 = 0)
);
COMMENT ON TABLE road_times IS 'A cache: how long and how far it is by road from one point to others, as a matrix service told it. Of the business, because where its clients are is nobody else''s to know; two businesses of one town ask twice.';
COMMENT ON COLUMN road_times.business_id IS 'The tenant.';
COMMENT ON COLUMN road_times.from_latitude_e5 IS 'The point that the ways leave: hundred-thousandths of a degree, north positive.';
COMMENT ON COLUMN road_times.from_longitude_e5 IS 'Hundred-thousandths of a degree, east positive.';
COMMENT ON COLUMN road_times.provider IS 'The service that told them, and how it was asked.';
COMMENT ON COLUMN road_times.attribution IS 'The notice that the service''s data ask for; empty for none.';
COMMENT ON COLUMN road_times.asked_at IS 'When the first of them was told; the firm''s clock.';
COMMENT ON COLUMN road_times.ways IS 'A way after the other, each as four signed numbers of 32 bits, the greatest byte first: the latitude and the longitude that it leads to (hundred-thousandths of a degree), its seconds, its metres; -1 and -1 where the service knows no road. Packed, because a thousand places have a million ways and every plan, opening and booking reads them all.';
ALTER TABLE road_times ENABLE ROW LEVEL SECURITY;
ALTER TABLE road_times FORCE ROW LEVEL SECURITY;
CREATE POLICY road_times_of_own_business ON road_times USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT, UPDATE, DELETE ON road_times TO vernation_serve;

ALTER TABLE plan ADD COLUMN travel jsonb NOT NULL DEFAULT '{}';
COMMENT ON COLUMN plan.travel IS 'Where its travel times come from: the matrix service and what its data ask to be shown, and how many ways were estimated instead. Empty in plans kept before that was written down.';

-- +goose Down
ALTER TABLE plan DROP COLUMN travel;
DROP TABLE road_times;
