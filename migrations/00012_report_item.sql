-- +goose Up
-- Nobody read it: which report told an application first is known from the histories, corrections included.
DROP TABLE report_item;

-- +goose Down
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
INSERT INTO report_item (business_id, report_id, ordinal, item_id, outcome)
SELECT r.business_id, r.report_id, i.ordinal, i.item ->> 'item', i.item ->> 'outcome'
FROM
    report r,
    jsonb_array_elements(nullif(r.detail -> 'items', 'null')) WITH ORDINALITY AS i (item, ordinal)
WHERE i.item ->> 'item' <> '';
