-- +goose Up
-- What programs of a business say who they are by. A credential names its business and its key, as a token does, and
-- then its secret: so the row is looked up inside that business, under the same row security as everything else, and
-- nobody needs to look across businesses before the caller is known. Claiming another business finds a hash that the
-- secret does not fit.
CREATE TABLE integration_key (
    business_id         text        NOT NULL,
    integration_key_id  text        NOT NULL,
    name                text        NOT NULL,
    scopes              text[]      NOT NULL,
    secret_hash         bytea       NOT NULL,
    earlier_secret_hash bytea,
    earlier_until_at    timestamptz,
    expires_at          timestamptz,
    created_at          timestamptz NOT NULL,
    created_by          text        NOT NULL,
    rotated_at          timestamptz NOT NULL,
    last_used_at        timestamptz,
    revoked_at          timestamptz,
    CONSTRAINT integration_key_named_once PRIMARY KEY (business_id, integration_key_id),
    CONSTRAINT integration_key_of_known_business FOREIGN KEY (business_id) REFERENCES business (business_id),
    CONSTRAINT integration_key_has_an_id CHECK (integration_key_id <> ''),
    CONSTRAINT integration_key_keeps_a_hash_of_32_bytes CHECK (
        octet_length(secret_hash) = 32 AND (earlier_secret_hash IS NULL OR octet_length(earlier_secret_hash) = 32)),
    CONSTRAINT integration_key_earlier_secret_has_an_end CHECK ((earlier_secret_hash IS NULL) = (earlier_until_at IS NULL))
);
COMMENT ON TABLE integration_key IS 'Keys of the programs of a business. Never deleted: a revoked one keeps its id. All times are of the machine''s clock.';
COMMENT ON COLUMN integration_key.business_id IS 'The tenant.';
COMMENT ON COLUMN integration_key.integration_key_id IS 'Stable name, part of the credential.';
COMMENT ON COLUMN integration_key.name IS 'What it is for, for people.';
COMMENT ON COLUMN integration_key.scopes IS 'Collections that it may be used for; empty is all that the role of an integration may.';
COMMENT ON COLUMN integration_key.secret_hash IS 'SHA-256 of the secret, which is 32 bytes of chance and so needs no slow hash.';
COMMENT ON COLUMN integration_key.earlier_secret_hash IS 'The same of the secret before the last rotation; NULL when there is none.';
COMMENT ON COLUMN integration_key.earlier_until_at IS 'Until when the earlier secret counts.';
COMMENT ON COLUMN integration_key.expires_at IS 'When the key ends; NULL is never.';
COMMENT ON COLUMN integration_key.created_at IS 'When it was made.';
COMMENT ON COLUMN integration_key.created_by IS 'Subject of who made it.';
COMMENT ON COLUMN integration_key.rotated_at IS 'When its present secret was made.';
COMMENT ON COLUMN integration_key.last_used_at IS 'When it was last used, to the minute; NULL before its first use.';
COMMENT ON COLUMN integration_key.revoked_at IS 'When it was revoked; NULL while it counts.';
ALTER TABLE integration_key ENABLE ROW LEVEL SECURITY;
ALTER TABLE integration_key FORCE ROW LEVEL SECURITY;
CREATE POLICY integration_key_of_own_business ON integration_key USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT ON integration_key TO vernation_serve;
GRANT UPDATE (secret_hash, earlier_secret_hash, earlier_until_at, rotated_at, last_used_at, revoked_at) ON integration_key TO vernation_serve;

-- +goose Down
DROP TABLE integration_key;
