-- +goose Up
CREATE TABLE idempotency (
    business_id   text        NOT NULL,
    caller        text        NOT NULL,
    method        text        NOT NULL,
    request_id    text        NOT NULL,
    request_hash  bytea       NOT NULL,
    answer        bytea       NOT NULL,
    remembered_at timestamptz NOT NULL,
    CONSTRAINT idempotency_request_done_once PRIMARY KEY (business_id, caller, method, request_id),
    CONSTRAINT idempotency_of_known_business FOREIGN KEY (business_id) REFERENCES business (business_id),
    CONSTRAINT idempotency_request_has_an_id CHECK (request_id <> '')
);
CREATE INDEX idempotency_by_age ON idempotency (business_id, remembered_at);
COMMENT ON TABLE idempotency IS 'Answers to requests that were done, so that a repeated one is answered and not done again. Kept 30 days.';
COMMENT ON COLUMN idempotency.business_id IS 'The tenant.';
COMMENT ON COLUMN idempotency.caller IS 'Who asked.';
COMMENT ON COLUMN idempotency.method IS 'What was asked for.';
COMMENT ON COLUMN idempotency.request_id IS 'The caller''s own id of the request.';
COMMENT ON COLUMN idempotency.request_hash IS 'Hash of the validated request: the same id with another body is refused.';
COMMENT ON COLUMN idempotency.answer IS 'The first answer, as sent.';
COMMENT ON COLUMN idempotency.remembered_at IS 'When, by the machine''s clock.';
ALTER TABLE idempotency ENABLE ROW LEVEL SECURITY;
ALTER TABLE idempotency FORCE ROW LEVEL SECURITY;
CREATE POLICY idempotency_of_own_business ON idempotency USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT, DELETE ON idempotency TO vernation_serve;

-- +goose Down
DROP TABLE idempotency;
