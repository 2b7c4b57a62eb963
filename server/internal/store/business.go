package store

import (
	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/server/internal/firm"
)

type businessRow struct {
	Name          string
	Zone          string
	Currency      string
	Policy        document[course.Policy]
	Rates         document[scheduler.Rates]
	Rules         document[scheduler.PlaceRules]
	DetourPercent int    `db:"detour_percent"`
	SpeedKMH      int    `db:"speed_kmh"`
	PoisonLine    string `db:"poison_line"`
	EmergencyLine string `db:"emergency_line"`
	CountOnceSent bool   `db:"notices_count_once_sent"`
}

// Business returns the caller's business with its policy, rates and rules.
func (tx *Tx) Business() (firm.Business, error) {
	id := tx.caller.Business
	row, err := one[businessRow](tx, "business", string(id), businessSQL)
	if err != nil {
		return firm.Business{}, err
	}
	zone, err := civil.LoadZone(row.Zone)
	if err != nil {
		return firm.Business{}, failure(tx.ctx, err)
	}
	return firm.Business{
		ID: id, Name: row.Name, Zone: zone, Currency: row.Currency,
		Policy: row.Policy.value, Rates: row.Rates.value, Rules: row.Rules.value,
		DetourPercent: row.DetourPercent, SpeedKMH: row.SpeedKMH,
		PoisonLine: row.PoisonLine, EmergencyLine: row.EmergencyLine, NoticesCountOnceSent: row.CountOnceSent,
	}, nil
}

// PolicyVersion is the version of the caller's business: it rises when policy, rates or rules change.
func (tx *Tx) PolicyVersion() (int64, error) {
	return one[int64](tx, "business", string(tx.caller.Business), `SELECT version FROM business WHERE business_id = $1`)
}

// LockPolicy is PolicyVersion of a business whose policy nobody else changes before this transaction ends.
func (tx *Tx) LockPolicy() (int64, error) {
	return one[int64](tx, "business", string(tx.caller.Business), `SELECT version FROM business WHERE business_id = $1 FOR UPDATE`)
}

const setPolicySQL = `
UPDATE business
SET
	policy = $2,
	rates = $3,
	rules = $4,
	detour_percent = $5,
	speed_kmh = $6,
	poison_line = $7,
	emergency_line = $8,
	notices_count_once_sent = $9,
	version = version + 1
WHERE business_id = $1`

// SetPolicy writes what a business sets itself: policy, rates, rules, how it travels, whom it calls, when notices count. Its version rises.
func (tx *Tx) SetPolicy(b firm.Business) error {
	return changed("business", string(tx.caller.Business))(tx.exec(setPolicySQL, jsonOf(b.Policy), jsonOf(b.Rates), jsonOf(b.Rules),
		b.DetourPercent, b.SpeedKMH, b.PoisonLine, b.EmergencyLine, b.NoticesCountOnceSent))
}
