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
		PoisonLine: row.PoisonLine, EmergencyLine: row.EmergencyLine,
	}, nil
}

const updateBusinessSQL = `
UPDATE business
SET
	name = $2,
	zone = $3,
	currency = $4,
	policy = $5,
	rates = $6,
	rules = $7,
	detour_percent = $8,
	speed_kmh = $9,
	poison_line = $10,
	emergency_line = $11
WHERE business_id = $1`

// UpdateBusiness changes the caller's business; its id cannot change.
func (tx *Tx) UpdateBusiness(b firm.Business) error {
	return changed("business", string(tx.caller.Business))(tx.exec(updateBusinessSQL, businessValues(b)[1:]...))
}
