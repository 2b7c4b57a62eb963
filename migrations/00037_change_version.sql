-- +goose Up
ALTER TABLE queue.change_count ADD COLUMN version bigint NOT NULL DEFAULT 0;
ALTER TABLE queue.change_count ADD CONSTRAINT change_count_version_is_not_negative CHECK (version >= 0);
COMMENT ON COLUMN queue.change_count.version IS 'Rises with every deed that writes something people read, told or not: an answer made at a version is good as long as it stands.';

-- +goose Down
ALTER TABLE queue.change_count DROP CONSTRAINT change_count_version_is_not_negative;
ALTER TABLE queue.change_count DROP COLUMN version;
