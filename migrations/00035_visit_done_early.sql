-- +goose Up
-- What is done is told by its report, whenever it happened: a visit that was made earlier than published holds nobody's time.
ALTER TABLE visit DROP CONSTRAINT visit_one_technician_one_place;
ALTER TABLE visit ADD CONSTRAINT visit_one_technician_one_place
    EXCLUDE USING gist (business_id WITH =, technician_id WITH =, during WITH &&) WHERE (state <> 'done') DEFERRABLE INITIALLY DEFERRED;

-- +goose Down
ALTER TABLE visit DROP CONSTRAINT visit_one_technician_one_place;
ALTER TABLE visit ADD CONSTRAINT visit_one_technician_one_place
    EXCLUDE USING gist (business_id WITH =, technician_id WITH =, during WITH &&) DEFERRABLE INITIALLY DEFERRED;
