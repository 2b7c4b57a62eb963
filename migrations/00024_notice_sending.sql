-- +goose Up
-- Who was really told of an application, when and how; and whether that alone counts.
ALTER TABLE business ADD COLUMN notices_count_once_sent boolean NOT NULL DEFAULT false;
COMMENT ON COLUMN business.notices_count_once_sent IS 'A notice counts only once somebody says that it was sent; if not, publishing a visit counts as sending.';

-- Names that stand in a path: the item and the beginning, as one hash. The owner is bound by row security too, but for this.
ALTER TABLE notice NO FORCE ROW LEVEL SECURITY;
UPDATE notice SET notice_id = 'n-' || left(encode(sha256(convert_to(notice_id, 'UTF8')), 'hex'), 32);
ALTER TABLE notice FORCE ROW LEVEL SECURITY;
CREATE INDEX notice_by_due ON notice (business_id, due_at, notice_id);

CREATE TABLE notice_sending (
    business_id text        NOT NULL,
    sending_id  text        NOT NULL,
    notice_id   text        NOT NULL,
    withdraws   text,
    sent_at     timestamptz NOT NULL,
    told_at     timestamptz NOT NULL,
    caller      text        NOT NULL,
    way         text        NOT NULL,
    recipient   text        NOT NULL,
    note        text        NOT NULL,
    CONSTRAINT notice_sending_named_once PRIMARY KEY (business_id, sending_id),
    CONSTRAINT notice_sending_of_known_notice FOREIGN KEY (business_id, notice_id) REFERENCES notice (business_id, notice_id),
    CONSTRAINT notice_sending_withdraws_known_sending FOREIGN KEY (business_id, withdraws) REFERENCES notice_sending (business_id, sending_id),
    CONSTRAINT notice_sending_is_withdrawn_once UNIQUE (business_id, withdraws),
    CONSTRAINT notice_sending_has_an_id CHECK (sending_id <> ''),
    CONSTRAINT notice_sending_way_is_known CHECK (way IN ('email', 'letter', 'telephone', 'in-person', 'posted', 'other')),
    CONSTRAINT notice_sending_says_to_whom CHECK (recipient <> '' OR withdraws IS NOT NULL)
);
CREATE INDEX notice_sending_by_notice ON notice_sending (business_id, notice_id, sent_at);
COMMENT ON TABLE notice_sending IS 'A notice as it was really sent, or word that one was not sent after all; appended to, never changed.';
COMMENT ON COLUMN notice_sending.business_id IS 'The tenant.';
COMMENT ON COLUMN notice_sending.sending_id IS 'Stable name.';
COMMENT ON COLUMN notice_sending.notice_id IS 'The notice.';
COMMENT ON COLUMN notice_sending.withdraws IS 'An earlier sending that was told wrongly; NULL for a sending.';
COMMENT ON COLUMN notice_sending.sent_at IS 'When it went out; of a withdrawal that of the sending.';
COMMENT ON COLUMN notice_sending.told_at IS 'When the firm heard of it.';
COMMENT ON COLUMN notice_sending.caller IS 'Who says so.';
COMMENT ON COLUMN notice_sending.way IS 'How it went.';
COMMENT ON COLUMN notice_sending.recipient IS 'To whom.';
COMMENT ON COLUMN notice_sending.note IS 'What else is worth knowing; may be empty.';
ALTER TABLE notice_sending ENABLE ROW LEVEL SECURITY;
ALTER TABLE notice_sending FORCE ROW LEVEL SECURITY;
CREATE POLICY notice_sending_of_own_business ON notice_sending USING (business_id = (SELECT current_business()));
GRANT SELECT, INSERT ON notice_sending TO vernation_serve;

-- +goose Down
DROP TABLE notice_sending;
DROP INDEX notice_by_due;
ALTER TABLE business DROP COLUMN notices_count_once_sent;
