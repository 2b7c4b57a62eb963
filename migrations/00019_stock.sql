-- +goose Up
-- What stands on the shelf: containers as they were received, and everything that was put in or taken out.
CREATE TABLE lot (
    business_id text   NOT NULL,
    lot_id      text   NOT NULL,
    product_id  text   NOT NULL,
    received_on date   NOT NULL,
    expires_on  date,
    opened_on   date,
    detail      jsonb  NOT NULL,
    external_id text,
    revision    bigint NOT NULL DEFAULT 1,
    deleted_at  timestamptz,
    CONSTRAINT lot_named_once PRIMARY KEY (business_id, lot_id),
    CONSTRAINT lot_of_known_product FOREIGN KEY (business_id, product_id) REFERENCES product (business_id, product_id),
    CONSTRAINT lot_has_an_id CHECK (lot_id <> ''),
    CONSTRAINT lot_opened_after_it_was_received CHECK (opened_on >= received_on),
    CONSTRAINT lot_external_id_is_not_empty CHECK (external_id <> ''),
    CONSTRAINT lot_revision_is_positive CHECK (revision > 0)
);
CREATE INDEX lot_by_product ON lot (business_id, product_id, lot_id);
CREATE UNIQUE INDEX lot_external_id_names_one ON lot (business_id, external_id) WHERE external_id IS NOT NULL AND deleted_at IS NULL;
COMMENT ON TABLE lot IS 'Containers of one product that came in together, with one date on them.';
COMMENT ON COLUMN lot.business_id IS 'The tenant.';
COMMENT ON COLUMN lot.lot_id IS 'Stable name.';
COMMENT ON COLUMN lot.product_id IS 'What is in it.';
COMMENT ON COLUMN lot.received_on IS 'When it came in.';
COMMENT ON COLUMN lot.expires_on IS 'The last day printed on it; NULL is unknown, and then nothing is drawn from it.';
COMMENT ON COLUMN lot.opened_on IS 'When it was opened; NULL while it is shut.';
COMMENT ON COLUMN lot.detail IS 'The whole lot: pack size, packs, number on the container, days that it keeps open, where it stands.';
COMMENT ON COLUMN lot.external_id IS 'What another system calls it; NULL where none does.';
COMMENT ON COLUMN lot.revision IS 'Rises with each change of the record itself; the etag.';
COMMENT ON COLUMN lot.deleted_at IS 'When it was taken off the list; NULL while it counts.';
ALTER TABLE lot ENABLE ROW LEVEL SECURITY;
ALTER TABLE lot FORCE ROW LEVEL SECURITY;
CREATE POLICY lot_of_own_business ON lot USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT, UPDATE ON lot TO vernation_serve;

-- Amounts are in the base unit of what the product is measured in: millilitres, grams or organisms.
CREATE TABLE stock_movement (
    business_id text        NOT NULL,
    movement_id text        NOT NULL,
    product_id  text        NOT NULL,
    lot_id      text,
    kind        text        NOT NULL,
    happened_at timestamptz NOT NULL,
    told_at     timestamptz NOT NULL,
    amount      numeric     NOT NULL,
    record_id   text,
    detail      jsonb       NOT NULL,
    CONSTRAINT stock_movement_named_once PRIMARY KEY (business_id, movement_id),
    CONSTRAINT stock_movement_of_known_product FOREIGN KEY (business_id, product_id) REFERENCES product (business_id, product_id),
    CONSTRAINT stock_movement_of_known_lot FOREIGN KEY (business_id, lot_id) REFERENCES lot (business_id, lot_id),
    CONSTRAINT stock_movement_of_known_record FOREIGN KEY (business_id, record_id) REFERENCES application_record (business_id, record_id),
    CONSTRAINT stock_movement_has_an_id CHECK (movement_id <> ''),
    CONSTRAINT stock_movement_kind_is_known CHECK (kind IN ('received', 'used', 'counted')),
    CONSTRAINT stock_movement_use_names_its_record CHECK ((kind = 'used') = (record_id IS NOT NULL)),
    CONSTRAINT stock_movement_all_but_use_names_its_lot CHECK (kind = 'used' OR lot_id IS NOT NULL)
);
CREATE INDEX stock_movement_by_lot ON stock_movement (business_id, lot_id, happened_at);
CREATE INDEX stock_movement_by_product ON stock_movement (business_id, product_id, happened_at, movement_id);
CREATE INDEX stock_movement_by_record ON stock_movement (business_id, record_id);
COMMENT ON TABLE stock_movement IS 'What was put on the shelf, taken from it and found there; appended to, never changed. A lot holds what was counted last and the sum of what happened since.';
COMMENT ON COLUMN stock_movement.business_id IS 'The tenant.';
COMMENT ON COLUMN stock_movement.movement_id IS 'Stable name.';
COMMENT ON COLUMN stock_movement.product_id IS 'Of what.';
COMMENT ON COLUMN stock_movement.lot_id IS 'From or into which lot; NULL for a use that no lot on record could give.';
COMMENT ON COLUMN stock_movement.kind IS 'Received, used or counted.';
COMMENT ON COLUMN stock_movement.happened_at IS 'When it happened.';
COMMENT ON COLUMN stock_movement.told_at IS 'When the firm heard of it.';
COMMENT ON COLUMN stock_movement.amount IS 'What came in, less than nothing for what went out; of a count what was found there. In millilitres, grams or organisms, as the product is measured.';
COMMENT ON COLUMN stock_movement.record_id IS 'The application record that a use follows from; NULL for the rest.';
COMMENT ON COLUMN stock_movement.detail IS 'The whole movement with its amount in the unit in which it was told.';
ALTER TABLE stock_movement ENABLE ROW LEVEL SECURITY;
ALTER TABLE stock_movement FORCE ROW LEVEL SECURITY;
CREATE POLICY stock_movement_of_own_business ON stock_movement USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT ON stock_movement TO vernation_serve;

-- +goose Down
DROP TABLE stock_movement;
DROP TABLE lot;
