package store

import (
	"bytes"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/server/internal/fault"
)

// keptFor is how long an answer is remembered, by the machine's clock.
const keptFor = 30 * 24 * time.Hour

// The lock ends with the transaction. READ COMMITTED then shows what the twin has committed meanwhile.
const oneTwinAtATimeSQL = `
SELECT pg_advisory_xact_lock(hashtextextended(concat_ws(chr(31), $1::text, $2::text, $3::text, $4::text), 0))`

const rememberedSQL = `
SELECT request_hash, answer
FROM idempotency
WHERE business_id = $1 AND caller = $2 AND method = $3 AND request_id = $4
ORDER BY request_id`

// Remembered returns the answer that a caller's earlier request of this id and method was given; found is false when
// there was none. Invalid (REQUEST_ID_REUSED) when that request had another body, which the hash tells. Twins of a
// request wait here for one another, so that the later one meets the earlier one's answer and not what it changed.
func (tx *Tx) Remembered(method, requestID string, hash []byte) (answer []byte, found bool, err error) {
	if _, err := tx.exec(oneTwinAtATimeSQL, tx.caller.Subject, method, requestID); err != nil {
		return nil, false, err
	}
	rows, err := list[struct {
		Hash   []byte `db:"request_hash"`
		Answer []byte
	}](tx, rememberedSQL, tx.caller.Subject, method, requestID)
	if err != nil || len(rows) == 0 {
		return nil, false, err
	}
	if !bytes.Equal(rows[0].Hash, hash) {
		f := fault.New(fault.Invalid, "REQUEST_ID_REUSED",
			"request id %q was used before for another request; repeat a request as it was, or give a new one a new id", requestID)
		f.Fields = []catalogue.FieldError{{Path: "request_id", Reason: f.Reason, Text: f.Message}}
		return nil, false, f
	}
	return rows[0].Answer, true, nil
}

const rememberSQL = `
INSERT INTO idempotency (business_id, caller, method, request_id, request_hash, answer, remembered_at)
VALUES ($1, $2, $3, $4, $5, $6, $7)`

// Remember keeps the answer to a request, in the transaction of what the request did. When a twin of the request did so
// at the same moment, In does the deed again and Remembered finds the twin's answer.
func (tx *Tx) Remember(method, requestID string, hash, answer []byte) error {
	if hash == nil {
		hash = []byte{}
	}
	if answer == nil {
		answer = []byte{}
	}
	_, err := tx.exec(rememberSQL, tx.caller.Subject, method, requestID, hash, answer, time.Now())
	return err
}

// DropForgotten removes the business's answers that are older than 30 days and returns how many those were.
func (tx *Tx) DropForgotten() (int, error) {
	return tx.exec(`DELETE FROM idempotency WHERE business_id = $1 AND remembered_at < $2`, time.Now().Add(-keptFor))
}
