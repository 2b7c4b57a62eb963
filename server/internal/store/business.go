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
