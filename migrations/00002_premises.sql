-- +goose Up
CREATE TABLE client (
    business_id text NOT NULL,
    client_id   text NOT NULL,
    name        text NOT NULL,
    CONSTRAINT client_named_once PRIMARY KEY (business_id, client_id),
    CONSTRAINT client_of_known_business FOREIGN KEY (business_id) REFERENCES business (business_id),
    CONSTRAINT client_has_an_id CHECK (client_id <> '')
);
COMMENT ON TABLE client IS 'Who pays.';
COMMENT ON COLUMN client.business_id IS 'The tenant.';
COMMENT ON COLUMN client.client_id IS 'Stable name.';
COMMENT ON COLUMN client.name IS 'Name for people.';
ALTER TABLE client ENABLE ROW LEVEL SECURITY;
ALTER TABLE client FORCE ROW LEVEL SECURITY;
CREATE POLICY client_of_own_business ON client USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT, UPDATE ON client TO vernation_serve;

CREATE TABLE site (
    business_id  text             NOT NULL,
    site_id      text             NOT NULL,
    client_id    text             NOT NULL,
    name         text             NOT NULL,
    zone         text             NOT NULL,
    jurisdiction text             NOT NULL,
    kind         text             NOT NULL,
    detail       jsonb            NOT NULL,
    version      bigint           NOT NULL DEFAULT 1,
    CONSTRAINT site_named_once PRIMARY KEY (business_id, site_id),
    CONSTRAINT site_of_known_client FOREIGN KEY (business_id, client_id) REFERENCES client (business_id, client_id),
    CONSTRAINT site_has_an_id CHECK (site_id <> ''),
    CONSTRAINT site_zone_is_named CHECK (zone <> ''),
    CONSTRAINT site_version_is_positive CHECK (version > 0)
);
CREATE INDEX site_by_client ON site (business_id, client_id);
COMMENT ON TABLE site IS 'An address where plants are looked after.';
COMMENT ON COLUMN site.business_id IS 'The tenant.';
COMMENT ON COLUMN site.site_id IS 'Stable name.';
COMMENT ON COLUMN site.client_id IS 'Who pays for it.';
COMMENT ON COLUMN site.name IS 'Name for people.';
COMMENT ON COLUMN site.zone IS 'IANA time zone of its access, people''s hours and dates of follow-ups.';
COMMENT ON COLUMN site.jurisdiction IS 'Code of the jurisdiction, such as US-PA.';
COMMENT ON COLUMN site.kind IS 'Kind of place.';
COMMENT ON COLUMN site.detail IS 'The whole site but its areas: position, access, keys, water, agreement.';
COMMENT ON COLUMN site.version IS 'Rises with each change of the site, its areas or its plants; publishing compares it.';
ALTER TABLE site ENABLE ROW LEVEL SECURITY;
ALTER TABLE site FORCE ROW LEVEL SECURITY;
CREATE POLICY site_of_own_business ON site USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT, UPDATE ON site TO vernation_serve;

CREATE TABLE area (
    business_id text    NOT NULL,
    area_id     text    NOT NULL,
    site_id     text    NOT NULL,
    ordinal     integer NOT NULL,
    name        text    NOT NULL,
    detail      jsonb   NOT NULL,
    CONSTRAINT area_named_once PRIMARY KEY (business_id, area_id),
    CONSTRAINT area_of_known_site FOREIGN KEY (business_id, site_id) REFERENCES site (business_id, site_id),
    CONSTRAINT area_is_of_one_site UNIQUE (business_id, site_id, area_id),
    CONSTRAINT area_has_an_id CHECK (area_id <> '')
);
COMMENT ON TABLE area IS 'A room or zone of a site.';
COMMENT ON COLUMN area.business_id IS 'The tenant.';
COMMENT ON COLUMN area.area_id IS 'Stable name, one of its kind in the business.';
COMMENT ON COLUMN area.site_id IS 'Where it is.';
COMMENT ON COLUMN area.ordinal IS 'Place among the site''s areas, from 1.';
COMMENT ON COLUMN area.name IS 'Name for people.';
COMMENT ON COLUMN area.detail IS 'The whole area: people''s hours, air, climate, ventilation, sensitive things, treatment place.';
ALTER TABLE area ENABLE ROW LEVEL SECURITY;
ALTER TABLE area FORCE ROW LEVEL SECURITY;
CREATE POLICY area_of_own_business ON area USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT, UPDATE, DELETE ON area TO vernation_serve;

CREATE TABLE plant (
    business_id            text    NOT NULL,
    plant_id               text    NOT NULL,
    site_id                text    NOT NULL,
    area_id                text    NOT NULL,
    species_id             text    NOT NULL,
    plant_count            integer NOT NULL,
    height_cm              integer NOT NULL,
    watering_earliest_days integer NOT NULL,
    watering_ideal_days    integer NOT NULL,
    watering_latest_days   integer NOT NULL,
    last_watered_on        date,
    detail                 jsonb   NOT NULL,
    CONSTRAINT plant_named_once PRIMARY KEY (business_id, plant_id),
    CONSTRAINT plant_stands_in_an_area_of_its_site FOREIGN KEY (business_id, site_id, area_id) REFERENCES area (business_id, site_id, area_id),
    CONSTRAINT plant_has_an_id CHECK (plant_id <> ''),
    CONSTRAINT plant_count_from_1_to_10000 CHECK (plant_count BETWEEN 1 AND 10000),
    CONSTRAINT plant_height_from_0_to_3000_cm CHECK (height_cm BETWEEN 0 AND 3000),
    CONSTRAINT plant_watering_days_in_order
        CHECK (0 <= watering_earliest_days AND watering_earliest_days <= watering_ideal_days AND watering_ideal_days <= watering_latest_days)
);
CREATE INDEX plant_by_site ON plant (business_id, site_id, plant_id);
COMMENT ON TABLE plant IS 'One plant or a group of like plants standing together.';
COMMENT ON COLUMN plant.business_id IS 'The tenant.';
COMMENT ON COLUMN plant.plant_id IS 'Stable name.';
COMMENT ON COLUMN plant.site_id IS 'Where it is.';
COMMENT ON COLUMN plant.area_id IS 'The area of that site in which it stands.';
COMMENT ON COLUMN plant.species_id IS 'Id in the catalogue, checked in code.';
COMMENT ON COLUMN plant.plant_count IS 'Plants in the group.';
COMMENT ON COLUMN plant.height_cm IS 'Height of each in centimetres.';
COMMENT ON COLUMN plant.watering_earliest_days IS 'Not watered again before so many days.';
COMMENT ON COLUMN plant.watering_ideal_days IS 'Best watered again after so many days.';
COMMENT ON COLUMN plant.watering_latest_days IS 'Dry after so many days.';
COMMENT ON COLUMN plant.last_watered_on IS 'Day of the last watering done; NULL is unknown, and then it is due.';
COMMENT ON COLUMN plant.detail IS 'The whole plant: pot, planter, owner, neighbours, tolerance, replacement value.';
ALTER TABLE plant ENABLE ROW LEVEL SECURITY;
ALTER TABLE plant FORCE ROW LEVEL SECURITY;
CREATE POLICY plant_of_own_business ON plant USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT, UPDATE ON plant TO vernation_serve;

CREATE TABLE product (
    business_id   text  NOT NULL,
    product_id    text  NOT NULL,
    name          text  NOT NULL,
    material_id   text  NOT NULL,
    form          text  NOT NULL,
    registration  text  NOT NULL,
    label_version text  NOT NULL,
    detail        jsonb NOT NULL,
    CONSTRAINT product_named_once PRIMARY KEY (business_id, product_id),
    CONSTRAINT product_of_known_business FOREIGN KEY (business_id) REFERENCES business (business_id),
    CONSTRAINT product_has_an_id CHECK (product_id <> ''),
    CONSTRAINT product_form_is_known CHECK (form IN ('concentrate', 'ready-to-use', 'solid', 'living', 'device', 'none'))
);
COMMENT ON TABLE product IS 'The business''s own record of a real container and its label.';
COMMENT ON COLUMN product.business_id IS 'The tenant.';
COMMENT ON COLUMN product.product_id IS 'Stable name.';
COMMENT ON COLUMN product.name IS 'Name for people.';
COMMENT ON COLUMN product.material_id IS 'Id in the catalogue, checked in code.';
COMMENT ON COLUMN product.form IS 'Supply form.';
COMMENT ON COLUMN product.registration IS 'Registration number; empty where none is needed.';
COMMENT ON COLUMN product.label_version IS 'The label that was read.';
COMMENT ON COLUMN product.detail IS 'The whole product with its label.';
ALTER TABLE product ENABLE ROW LEVEL SECURITY;
ALTER TABLE product FORCE ROW LEVEL SECURITY;
CREATE POLICY product_of_own_business ON product USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT, UPDATE ON product TO vernation_serve;

CREATE TABLE technician (
    business_id            text             NOT NULL,
    technician_id          text             NOT NULL,
    name                   text             NOT NULL,
    base_latitude          double precision NOT NULL,
    base_longitude         double precision NOT NULL,
    paid_per_minute_minor  numeric          NOT NULL,
    speed_percent          integer          NOT NULL,
    responsible_applicator boolean          NOT NULL,
    detail                 jsonb            NOT NULL,
    version                bigint           NOT NULL DEFAULT 1,
    CONSTRAINT technician_named_once PRIMARY KEY (business_id, technician_id),
    CONSTRAINT technician_of_known_business FOREIGN KEY (business_id) REFERENCES business (business_id),
    CONSTRAINT technician_has_an_id CHECK (technician_id <> ''),
    CONSTRAINT technician_base_is_on_earth CHECK (base_latitude BETWEEN -90 AND 90 AND base_longitude BETWEEN -180 AND 180),
    CONSTRAINT technician_pay_is_not_negative CHECK (paid_per_minute_minor >= 0),
    CONSTRAINT technician_speed_is_positive CHECK (speed_percent > 0),
    CONSTRAINT technician_version_is_positive CHECK (version > 0)
);
COMMENT ON TABLE technician IS 'A member of the crew: shifts, licences, keys, vessels.';
COMMENT ON COLUMN technician.business_id IS 'The tenant.';
COMMENT ON COLUMN technician.technician_id IS 'Stable name.';
COMMENT ON COLUMN technician.name IS 'Name for people.';
COMMENT ON COLUMN technician.base_latitude IS 'Of the base, degrees north.';
COMMENT ON COLUMN technician.base_longitude IS 'Of the base, degrees east.';
COMMENT ON COLUMN technician.paid_per_minute_minor IS 'Pay of a minute in minor units of the business''s currency.';
COMMENT ON COLUMN technician.speed_percent IS 'Travel speed in percent of the business''s.';
COMMENT ON COLUMN technician.responsible_applicator IS 'May approve applications.';
COMMENT ON COLUMN technician.detail IS 'The whole crew member: shifts, break, licences, skills, keys, vessels, measures.';
COMMENT ON COLUMN technician.version IS 'Rises with each change; publishing compares it.';
ALTER TABLE technician ENABLE ROW LEVEL SECURITY;
ALTER TABLE technician FORCE ROW LEVEL SECURITY;
CREATE POLICY technician_of_own_business ON technician USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT, UPDATE ON technician TO vernation_serve;

CREATE TABLE service (
    business_id   text    NOT NULL,
    service_id    text    NOT NULL,
    site_id       text    NOT NULL,
    kind          text    NOT NULL,
    groups        jsonb   NOT NULL,
    earliest_days integer NOT NULL,
    ideal_days    integer NOT NULL,
    latest_days   integer NOT NULL,
    last_done_on  date,
    CONSTRAINT service_named_once PRIMARY KEY (business_id, service_id),
    CONSTRAINT service_of_known_site FOREIGN KEY (business_id, site_id) REFERENCES site (business_id, site_id),
    CONSTRAINT service_has_an_id CHECK (service_id <> ''),
    CONSTRAINT service_kind_is_known CHECK (kind IN ('watering', 'grooming', 'fertilising')),
    CONSTRAINT service_days_in_order CHECK (0 <= earliest_days AND earliest_days <= ideal_days AND ideal_days <= latest_days)
);
CREATE INDEX service_by_site ON service (business_id, site_id, service_id);
COMMENT ON TABLE service IS 'Routine work at a site on a rhythm of its own.';
COMMENT ON COLUMN service.business_id IS 'The tenant.';
COMMENT ON COLUMN service.service_id IS 'Stable name.';
COMMENT ON COLUMN service.site_id IS 'Where it is done.';
COMMENT ON COLUMN service.kind IS 'Watering, grooming or fertilising.';
COMMENT ON COLUMN service.groups IS 'Plants with the minutes of each.';
COMMENT ON COLUMN service.earliest_days IS 'Not again before so many days from the last time.';
COMMENT ON COLUMN service.ideal_days IS 'Best again after so many days.';
COMMENT ON COLUMN service.latest_days IS 'Late, and priced, after so many days.';
COMMENT ON COLUMN service.last_done_on IS 'Day of the last time done; NULL is never, due at once.';
ALTER TABLE service ENABLE ROW LEVEL SECURITY;
ALTER TABLE service FORCE ROW LEVEL SECURITY;
CREATE POLICY service_of_own_business ON service USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT, UPDATE ON service TO vernation_serve;

-- +goose Down
DROP TABLE service;
DROP TABLE technician;
DROP TABLE product;
DROP TABLE plant;
DROP TABLE area;
DROP TABLE site;
DROP TABLE client;
