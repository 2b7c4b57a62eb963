-- +goose Up
CREATE TABLE report (
    business_id   text        NOT NULL,
    report_id     text        NOT NULL,
    visit_id      text,
    technician_id text        NOT NULL,
    site_id       text        NOT NULL,
    arrived_at    timestamptz NOT NULL,
    left_at       timestamptz NOT NULL,
    corrects      text,
    sent_at       timestamptz,
    received_at   timestamptz NOT NULL,
    caller        text        NOT NULL,
    off_plan      boolean     NOT NULL,
    detail        jsonb       NOT NULL,
    CONSTRAINT report_named_once PRIMARY KEY (business_id, report_id),
    CONSTRAINT report_of_known_technician FOREIGN KEY (business_id, technician_id) REFERENCES technician (business_id, technician_id),
    CONSTRAINT report_at_known_site FOREIGN KEY (business_id, site_id) REFERENCES site (business_id, site_id),
    CONSTRAINT report_corrects_known_report FOREIGN KEY (business_id, corrects) REFERENCES report (business_id, report_id),
    CONSTRAINT report_has_an_id CHECK (report_id <> ''),
    CONSTRAINT report_left_after_arriving CHECK (arrived_at <= left_at)
);
CREATE INDEX report_by_visit ON report (business_id, visit_id);
COMMENT ON TABLE report IS 'What really happened at a visit, as told; appended to, never changed.';
COMMENT ON COLUMN report.business_id IS 'The tenant.';
COMMENT ON COLUMN report.report_id IS 'Stable name.';
COMMENT ON COLUMN report.visit_id IS 'The visit that it tells of, which may have been withdrawn meanwhile; NULL for one that no plan knows.';
COMMENT ON COLUMN report.technician_id IS 'Who was there.';
COMMENT ON COLUMN report.site_id IS 'Where.';
COMMENT ON COLUMN report.arrived_at IS 'Real arrival.';
COMMENT ON COLUMN report.left_at IS 'Real leaving.';
COMMENT ON COLUMN report.corrects IS 'An earlier report that this one replaces in the history; NULL when none.';
COMMENT ON COLUMN report.sent_at IS 'When it was sent, by the sender''s clock.';
COMMENT ON COLUMN report.received_at IS 'When the firm heard of it.';
COMMENT ON COLUMN report.caller IS 'Who sent it.';
COMMENT ON COLUMN report.off_plan IS 'The visit had moved or was never planned.';
COMMENT ON COLUMN report.detail IS 'The whole report: items, findings, confirmations.';
ALTER TABLE report ENABLE ROW LEVEL SECURITY;
ALTER TABLE report FORCE ROW LEVEL SECURITY;
CREATE POLICY report_of_own_business ON report USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT ON report TO vernation_serve;

CREATE TABLE report_item (
    business_id text    NOT NULL,
    report_id   text    NOT NULL,
    ordinal     integer NOT NULL,
    item_id     text    NOT NULL,
    outcome     text    NOT NULL,
    CONSTRAINT report_item_in_order PRIMARY KEY (business_id, report_id, ordinal),
    CONSTRAINT report_item_of_known_report FOREIGN KEY (business_id, report_id) REFERENCES report (business_id, report_id),
    CONSTRAINT report_item_names_its_item CHECK (item_id <> ''),
    CONSTRAINT report_item_has_an_outcome CHECK (outcome <> '')
);
CREATE INDEX report_item_by_item ON report_item (business_id, item_id, report_id);
COMMENT ON TABLE report_item IS 'The planned items that a report tells of, so that the first report of an item is found.';
COMMENT ON COLUMN report_item.business_id IS 'The tenant.';
COMMENT ON COLUMN report_item.report_id IS 'The report.';
COMMENT ON COLUMN report_item.ordinal IS 'Place in the report, from 1.';
COMMENT ON COLUMN report_item.item_id IS 'The follow-up or the occurrence of a service.';
COMMENT ON COLUMN report_item.outcome IS 'What came of it.';
ALTER TABLE report_item ENABLE ROW LEVEL SECURITY;
ALTER TABLE report_item FORCE ROW LEVEL SECURITY;
CREATE POLICY report_item_of_own_business ON report_item USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT ON report_item TO vernation_serve;

CREATE TABLE deviation (
    business_id  text        NOT NULL,
    deviation_id text        NOT NULL,
    report_id    text        NOT NULL,
    rule         text        NOT NULL,
    item_id      text        NOT NULL,
    site_id      text        NOT NULL,
    happened_at  timestamptz NOT NULL,
    text         text        NOT NULL,
    CONSTRAINT deviation_named_once PRIMARY KEY (business_id, deviation_id),
    CONSTRAINT deviation_of_known_report FOREIGN KEY (business_id, report_id) REFERENCES report (business_id, report_id),
    CONSTRAINT deviation_at_known_site FOREIGN KEY (business_id, site_id) REFERENCES site (business_id, site_id),
    CONSTRAINT deviation_has_an_id CHECK (deviation_id <> ''),
    CONSTRAINT deviation_breaks_a_known_rule CHECK (rule IN ('shift', 'access', 'licence', 'timing', 'label', 'reentry', 'mix', 'pinned')),
    CONSTRAINT deviation_says_what_is_wrong CHECK (text <> '')
);
CREATE INDEX deviation_by_report ON deviation (business_id, report_id, deviation_id);
COMMENT ON TABLE deviation IS 'A fact in a report that broke a rule; stored, flagged, counted as what it was. Never changed.';
COMMENT ON COLUMN deviation.business_id IS 'The tenant.';
COMMENT ON COLUMN deviation.deviation_id IS 'Stable name.';
COMMENT ON COLUMN deviation.report_id IS 'The report.';
COMMENT ON COLUMN deviation.rule IS 'The hard rule that it broke.';
COMMENT ON COLUMN deviation.item_id IS 'The item; empty for unplanned work.';
COMMENT ON COLUMN deviation.site_id IS 'Where.';
COMMENT ON COLUMN deviation.happened_at IS 'When.';
COMMENT ON COLUMN deviation.text IS 'A sentence for people.';
ALTER TABLE deviation ENABLE ROW LEVEL SECURITY;
ALTER TABLE deviation FORCE ROW LEVEL SECURITY;
CREATE POLICY deviation_of_own_business ON deviation USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT ON deviation TO vernation_serve;

CREATE TABLE application_record (
    business_id       text        NOT NULL,
    record_id         text        NOT NULL,
    report_id         text        NOT NULL,
    corrects          text,
    case_id           text,
    client            text        NOT NULL,
    site_id           text        NOT NULL,
    area_id           text        NOT NULL,
    jurisdiction      text        NOT NULL,
    product_id        text        NOT NULL,
    product_name      text        NOT NULL,
    registration      text        NOT NULL,
    label_version     text        NOT NULL,
    catalogue_version text        NOT NULL,
    concentrate_ml    numeric     NOT NULL,
    applied_ml        numeric     NOT NULL,
    began_at          timestamptz NOT NULL,
    ended_at          timestamptz NOT NULL,
    entry_from_at     timestamptz,
    technician_id     text        NOT NULL,
    licence           text        NOT NULL,
    keep_until_on     date        NOT NULL,
    detail            jsonb       NOT NULL,
    CONSTRAINT application_record_named_once PRIMARY KEY (business_id, record_id),
    CONSTRAINT application_record_of_known_report FOREIGN KEY (business_id, report_id) REFERENCES report (business_id, report_id),
    CONSTRAINT application_record_corrects_known_record FOREIGN KEY (business_id, corrects) REFERENCES application_record (business_id, record_id),
    CONSTRAINT application_record_of_known_case FOREIGN KEY (business_id, case_id) REFERENCES infestation (business_id, case_id),
    CONSTRAINT application_record_in_known_area FOREIGN KEY (business_id, site_id, area_id) REFERENCES area (business_id, site_id, area_id),
    CONSTRAINT application_record_of_known_product FOREIGN KEY (business_id, product_id) REFERENCES product (business_id, product_id),
    CONSTRAINT application_record_of_known_technician FOREIGN KEY (business_id, technician_id) REFERENCES technician (business_id, technician_id),
    CONSTRAINT application_record_has_an_id CHECK (record_id <> ''),
    -- Completeness only: what was done is written down even where it broke a rule.
    CONSTRAINT application_record_is_complete CHECK (client <> '' AND jurisdiction <> '' AND product_name <> ''),
    CONSTRAINT application_record_amounts_are_not_negative CHECK (concentrate_ml >= 0 AND applied_ml >= 0),
    CONSTRAINT application_record_ended_after_it_began CHECK (began_at <= ended_at)
);
CREATE INDEX application_record_by_report ON application_record (business_id, report_id, record_id);
COMMENT ON TABLE application_record IS 'The legal record of one application; never changed, only followed by a correction.';
COMMENT ON COLUMN application_record.business_id IS 'The tenant.';
COMMENT ON COLUMN application_record.record_id IS 'Stable name.';
COMMENT ON COLUMN application_record.report_id IS 'The report that tells of it.';
COMMENT ON COLUMN application_record.corrects IS 'An earlier record that this one follows as its correction; NULL when none.';
COMMENT ON COLUMN application_record.case_id IS 'The case; NULL for an application without one.';
COMMENT ON COLUMN application_record.client IS 'Name of the client, and address as text.';
COMMENT ON COLUMN application_record.site_id IS 'Where.';
COMMENT ON COLUMN application_record.area_id IS 'In which area.';
COMMENT ON COLUMN application_record.jurisdiction IS 'Whose law asks for the record.';
COMMENT ON COLUMN application_record.product_id IS 'What was applied.';
COMMENT ON COLUMN application_record.product_name IS 'Its name at that time.';
COMMENT ON COLUMN application_record.registration IS 'Its registration number; empty where none is needed.';
COMMENT ON COLUMN application_record.label_version IS 'The label that was read.';
COMMENT ON COLUMN application_record.catalogue_version IS 'The data that the course was computed with.';
COMMENT ON COLUMN application_record.concentrate_ml IS 'Concentrate on the plants in millilitres, rounded to six decimals; exact in detail.';
COMMENT ON COLUMN application_record.applied_ml IS 'Finished mix on the plants in millilitres, rounded to six decimals; exact in detail.';
COMMENT ON COLUMN application_record.began_at IS 'Real beginning.';
COMMENT ON COLUMN application_record.ended_at IS 'Real end.';
COMMENT ON COLUMN application_record.entry_from_at IS 'When people may enter, before any confirmation that it is dry; NULL when unknown.';
COMMENT ON COLUMN application_record.technician_id IS 'Who applied.';
COMMENT ON COLUMN application_record.licence IS 'Number of the licence; empty when none was held or needed.';
COMMENT ON COLUMN application_record.keep_until_on IS 'Last day on which the law asks for the record.';
COMMENT ON COLUMN application_record.detail IS 'The whole record: plants, pest, rate, exact amounts, elements, deviations.';
ALTER TABLE application_record ENABLE ROW LEVEL SECURITY;
ALTER TABLE application_record FORCE ROW LEVEL SECURITY;
CREATE POLICY application_record_of_own_business ON application_record USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT ON application_record TO vernation_serve;

-- +goose Down
DROP TABLE application_record;
DROP TABLE deviation;
DROP TABLE report_item;
DROP TABLE report;
