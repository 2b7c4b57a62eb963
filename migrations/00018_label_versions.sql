-- +goose Up
-- What a business sets itself has a version; so has each label that was ever read of a product.
ALTER TABLE business ADD COLUMN version bigint NOT NULL DEFAULT 1;
ALTER TABLE business ADD CONSTRAINT business_version_is_positive CHECK (version > 0);
COMMENT ON COLUMN business.version IS 'Rises with each change of the policy; publishing compares it.';

ALTER TABLE product ADD COLUMN external_id text;
ALTER TABLE product ADD COLUMN revision bigint NOT NULL DEFAULT 1;
ALTER TABLE product ADD COLUMN deleted_at timestamptz;
ALTER TABLE product ADD CONSTRAINT product_external_id_is_not_empty CHECK (external_id <> '');
ALTER TABLE product ADD CONSTRAINT product_revision_is_positive CHECK (revision > 0);
CREATE UNIQUE INDEX product_external_id_names_one ON product (business_id, external_id) WHERE external_id IS NOT NULL AND deleted_at IS NULL;
COMMENT ON COLUMN product.external_id IS 'What another system calls it; NULL where none does.';
COMMENT ON COLUMN product.revision IS 'Rises with each change; the etag.';
COMMENT ON COLUMN product.deleted_at IS 'When it was withdrawn; NULL while it is used. A withdrawn one keeps its row: records name it.';

CREATE TABLE product_label (
    business_id   text  NOT NULL,
    product_id    text  NOT NULL,
    label_version text  NOT NULL,
    read_at       timestamptz,
    detail        jsonb NOT NULL,
    CONSTRAINT product_label_named_once PRIMARY KEY (business_id, product_id, label_version),
    CONSTRAINT product_label_of_known_product FOREIGN KEY (business_id, product_id) REFERENCES product (business_id, product_id)
);
COMMENT ON TABLE product_label IS 'Each label that was ever read of a product; appended to, never changed. Application records name the version.';
COMMENT ON COLUMN product_label.business_id IS 'The tenant.';
COMMENT ON COLUMN product_label.product_id IS 'The product.';
COMMENT ON COLUMN product_label.label_version IS 'The label, as the business names it.';
COMMENT ON COLUMN product_label.read_at IS 'When it was recorded; NULL for one from before labels were kept.';
COMMENT ON COLUMN product_label.detail IS 'The whole product as it was with that label.';
ALTER TABLE product_label ENABLE ROW LEVEL SECURITY;
ALTER TABLE product_label FORCE ROW LEVEL SECURITY;
CREATE POLICY product_label_of_own_business ON product_label USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT ON product_label TO vernation_serve;

-- The owner is bound by row security too, but for the length of this copy, which keeps each row in its business.
ALTER TABLE product NO FORCE ROW LEVEL SECURITY;
ALTER TABLE product_label NO FORCE ROW LEVEL SECURITY;
INSERT INTO product_label (business_id, product_id, label_version, detail)
SELECT business_id, product_id, label_version, detail
FROM product;
ALTER TABLE product FORCE ROW LEVEL SECURITY;
ALTER TABLE product_label FORCE ROW LEVEL SECURITY;

-- +goose Down
DROP TABLE product_label;
DROP INDEX product_external_id_names_one;
ALTER TABLE product DROP COLUMN external_id, DROP COLUMN revision, DROP COLUMN deleted_at;
ALTER TABLE business DROP COLUMN version;
