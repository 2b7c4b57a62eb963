package store

import (
	"github.com/lib/pq"

	"vernation/scheduler/civil"
	"vernation/server/internal/firm"
)

const roadTimesSQL = `
SELECT
	from_latitude_e5,
	from_longitude_e5,
	provider,
	attribution,
	asked_at,
	to_latitudes_e5,
	to_longitudes_e5,
	seconds,
	metres
FROM road_times
WHERE business_id = $1
ORDER BY from_latitude_e5, from_longitude_e5`

type roadTimesRow struct {
	Latitude    int32 `db:"from_latitude_e5"`
	Longitude   int32 `db:"from_longitude_e5"`
	Provider    string
	Attribution string
	AskedAt     instant       `db:"asked_at"`
	Latitudes   pq.Int32Array `db:"to_latitudes_e5"`
	Longitudes  pq.Int32Array `db:"to_longitudes_e5"`
	Seconds     pq.Int32Array
	Metres      pq.Int32Array
}

// RoadTimes returns all road times that the business keeps, by origin.
func (tx *Tx) RoadTimes() ([]firm.RoadTimes, error) {
	rows, err := list[roadTimesRow](tx, roadTimesSQL)
	kept := make([]firm.RoadTimes, len(rows))
	for i, row := range rows {
		kept[i] = firm.RoadTimes{
			From: firm.RoadPoint{Latitude: row.Latitude, Longitude: row.Longitude}, Provider: row.Provider,
			Attribution: row.Attribution, AskedAt: civil.Instant(row.AskedAt),
			To: make([]firm.RoadPoint, len(row.Seconds)), Times: make([]firm.RoadTime, len(row.Seconds)),
		}
		for k := range row.Seconds {
			kept[i].To[k] = firm.RoadPoint{Latitude: row.Latitudes[k], Longitude: row.Longitudes[k]}
			kept[i].Times[k] = firm.RoadTime{Seconds: row.Seconds[k], Metres: row.Metres[k]}
		}
	}
	return kept, err
}

const putRoadTimesSQL = `
INSERT INTO road_times (
	business_id, from_latitude_e5, from_longitude_e5, provider, attribution, asked_at,
	to_latitudes_e5, to_longitudes_e5, seconds, metres
) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
ON CONFLICT (business_id, from_latitude_e5, from_longitude_e5) DO UPDATE
SET
	provider = EXCLUDED.provider,
	attribution = EXCLUDED.attribution,
	asked_at = EXCLUDED.asked_at,
	to_latitudes_e5 = EXCLUDED.to_latitudes_e5,
	to_longitudes_e5 = EXCLUDED.to_longitudes_e5,
	seconds = EXCLUDED.seconds,
	metres = EXCLUDED.metres`

// PutRoadTimes keeps the road times from a point in the place of those from it that were kept before. An origin costs a round
// trip, because its lists are too long for a batch.
func (tx *Tx) PutRoadTimes(told firm.RoadTimes) error {
	var latitudes, longitudes, seconds, metres pq.Int32Array
	for i, to := range told.To {
		latitudes, longitudes = append(latitudes, to.Latitude), append(longitudes, to.Longitude)
		seconds, metres = append(seconds, told.Times[i].Seconds), append(metres, told.Times[i].Metres)
	}
	_, err := tx.exec(putRoadTimesSQL, told.From.Latitude, told.From.Longitude, told.Provider, told.Attribution,
		instant(told.AskedAt), latitudes, longitudes, seconds, metres)
	return err
}

const dropRoadTimesSQL = `
DELETE FROM road_times
WHERE business_id = $1
	AND (from_latitude_e5, from_longitude_e5) IN (SELECT latitude, longitude FROM unnest($2::integer[], $3::integer[]) AS p (latitude, longitude))`

// DropRoadTimes forgets the road times from points.
func (tx *Tx) DropRoadTimes(from []firm.RoadPoint) error {
	var latitudes, longitudes pq.Int32Array
	for _, p := range from {
		latitudes, longitudes = append(latitudes, p.Latitude), append(longitudes, p.Longitude)
	}
	_, err := tx.exec(dropRoadTimesSQL, latitudes, longitudes)
	return err
}
