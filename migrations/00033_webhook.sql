-- +goose Up
CREATE TABLE webhook (
    business_id         text        NOT NULL,
    webhook_id          text        NOT NULL,
    url                 text        NOT NULL,
    nouns               text[]      NOT NULL,
    secret              bytea       NOT NULL,
    old_secret          bytea,
    old_secret_until_at timestamptz,
    created_at          timestamptz NOT NULL,
    deleted_at          timestamptz,
    CONSTRAINT webhook_named_once PRIMARY KEY (business_id, webhook_id),
    CONSTRAINT webhook_of_known_business FOREIGN KEY (business_id) REFERENCES business (business_id),
    CONSTRAINT webhook_has_an_id CHECK (webhook_id <> ''),
    CONSTRAINT webhook_has_an_address CHECK (url <> ''),
    CONSTRAINT webhook_secret_is_long_enough CHECK (length(secret) >= 32),
    CONSTRAINT webhook_old_secret_has_its_end CHECK ((old_secret IS NULL) = (old_secret_until_at IS NULL))
);
COMMENT ON TABLE webhook IS 'An address of somebody else''s that changes are sent to.';
COMMENT ON COLUMN webhook.business_id IS 'The tenant.';
COMMENT ON COLUMN webhook.webhook_id IS 'Stable name.';
COMMENT ON COLUMN webhook.url IS 'Where changes are posted to.';
COMMENT ON COLUMN webhook.nouns IS 'Only changes of these things; empty is all.';
COMMENT ON COLUMN webhook.secret IS 'Key of the signatures. Both ends need it, so that it cannot be kept as a hash.';
COMMENT ON COLUMN webhook.old_secret IS 'The key before, while both sign; NULL for none.';
COMMENT ON COLUMN webhook.old_secret_until_at IS 'Until when the key before signs too; the machine''s clock.';
COMMENT ON COLUMN webhook.created_at IS 'When it was made; the machine''s clock.';
COMMENT ON COLUMN webhook.deleted_at IS 'When it was deleted; NULL while it stands. The machine''s clock.';
ALTER TABLE webhook ENABLE ROW LEVEL SECURITY;
ALTER TABLE webhook FORCE ROW LEVEL SECURITY;
CREATE POLICY webhook_of_own_business ON webhook USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT, UPDATE ON webhook TO vernation_serve;

CREATE TABLE webhook_delivery (
    business_id    text        NOT NULL,
    webhook_id     text        NOT NULL,
    first_position bigint      NOT NULL,
    last_position  bigint      NOT NULL,
    state          text        NOT NULL,
    attempts       integer     NOT NULL,
    last_error     text        NOT NULL,
    created_at     timestamptz NOT NULL,
    attempted_at   timestamptz,
    settled_at     timestamptz,
    CONSTRAINT webhook_delivery_one_a_beginning PRIMARY KEY (business_id, webhook_id, first_position),
    CONSTRAINT webhook_delivery_of_known_webhook FOREIGN KEY (business_id, webhook_id) REFERENCES webhook (business_id, webhook_id),
    CONSTRAINT webhook_delivery_ends_after_it_begins CHECK (first_position <= last_position),
    CONSTRAINT webhook_delivery_state_is_real CHECK (state IN ('pending', 'delivered', 'given-up')),
    CONSTRAINT webhook_delivery_attempts_are_not_negative CHECK (attempts >= 0),
    CONSTRAINT webhook_delivery_is_settled_once_it_waits_no_more CHECK ((state = 'pending') = (settled_at IS NULL))
);
CREATE INDEX webhook_delivery_pending ON webhook_delivery (business_id, webhook_id, first_position) WHERE state = 'pending';
COMMENT ON TABLE webhook_delivery IS 'A run of changes that is sent in one request. Delivered ones are kept 30 days, others until they are delivered.';
COMMENT ON COLUMN webhook_delivery.business_id IS 'The tenant.';
COMMENT ON COLUMN webhook_delivery.webhook_id IS 'Where it goes.';
COMMENT ON COLUMN webhook_delivery.first_position IS 'Position of its first change.';
COMMENT ON COLUMN webhook_delivery.last_position IS 'Position of its last change; those between that the webhook does not ask for are left out.';
COMMENT ON COLUMN webhook_delivery.state IS 'Pending, delivered or given-up.';
COMMENT ON COLUMN webhook_delivery.attempts IS 'How often it was tried.';
COMMENT ON COLUMN webhook_delivery.last_error IS 'Why the last attempt failed; empty when none did.';
COMMENT ON COLUMN webhook_delivery.created_at IS 'When it was put together; the machine''s clock.';
COMMENT ON COLUMN webhook_delivery.attempted_at IS 'When it was tried last; NULL before. The machine''s clock.';
COMMENT ON COLUMN webhook_delivery.settled_at IS 'When it was delivered or given up; NULL while it waits. The machine''s clock.';
ALTER TABLE webhook_delivery ENABLE ROW LEVEL SECURITY;
ALTER TABLE webhook_delivery FORCE ROW LEVEL SECURITY;
CREATE POLICY webhook_delivery_of_own_business ON webhook_delivery USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT, UPDATE, DELETE ON webhook_delivery TO vernation_serve;

CREATE TABLE queue.webhook_lease (
    business_id   text        NOT NULL,
    webhook_id    text        NOT NULL,
    last_position bigint      NOT NULL,
    waiting       integer     NOT NULL,
    due_at        timestamptz NOT NULL,
    attempt       bigint      NOT NULL,
    holder        text,
    lease_until   timestamptz NOT NULL,
    CONSTRAINT webhook_lease_one_a_webhook PRIMARY KEY (business_id, webhook_id),
    CONSTRAINT webhook_lease_of_known_webhook FOREIGN KEY (business_id, webhook_id) REFERENCES webhook (business_id, webhook_id),
    CONSTRAINT webhook_lease_counts_are_not_negative CHECK (last_position >= 0 AND waiting >= 0 AND attempt >= 0)
);
COMMENT ON TABLE queue.webhook_lease IS 'Which webhooks have something to send, and who sends it: one sender of a webhook at a time, so that changes leave in their order. Without row security, because workers look across businesses: ids, times and counts only.';
COMMENT ON COLUMN queue.webhook_lease.business_id IS 'The tenant.';
COMMENT ON COLUMN queue.webhook_lease.webhook_id IS 'The webhook.';
COMMENT ON COLUMN queue.webhook_lease.last_position IS 'Up to here changes are in deliveries.';
COMMENT ON COLUMN queue.webhook_lease.waiting IS 'Deliveries that are pending.';
COMMENT ON COLUMN queue.webhook_lease.due_at IS 'Not before then is something tried; the machine''s clock.';
COMMENT ON COLUMN queue.webhook_lease.attempt IS 'How often a worker took it up: a worker whose attempt is no longer this one may settle nothing.';
COMMENT ON COLUMN queue.webhook_lease.holder IS 'The worker that has it; NULL while nobody has.';
COMMENT ON COLUMN queue.webhook_lease.lease_until IS 'Until then it is the holder''s; the machine''s clock.';

-- +goose Down
DROP TABLE queue.webhook_lease;
DROP TABLE webhook_delivery;
DROP TABLE webhook;
