package store

import (
	"encoding/binary"
	"slices"

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
	ways
FROM road_times
WHERE business_id = $1
ORDER BY from_latitude_e5, from_longitude_e5`

type roadTimesRow struct {
	Latitude    int32 `db:"from_latitude_e5"`
	Longitude   int32 `db:"from_longitude_e5"`
	Provider    string
	Attribution string
	AskedAt     instant `db:"asked_at"`
	Ways        []byte
}

// RoadTimes returns all road times that the business keeps, by origin.
func (tx *Tx) RoadTimes() ([]firm.RoadTimes, error) {
	rows, err := list[roadTimesRow](tx, roadTimesSQL)
	kept := make([]firm.RoadTimes, len(rows))
	for i, row := range rows {
		kept[i] = firm.RoadTimes{
			From: firm.RoadPoint{Latitude: row.Latitude, Longitude: row.Longitude}, Provider: row.Provider,
			Attribution: row.Attribution, AskedAt: civil.Instant(row.AskedAt),
			To: make([]firm.RoadPoint, 0, len(row.Ways)/bytesPerWay), Times: make([]firm.RoadTime, 0, len(row.Ways)/bytesPerWay),
		}
		for way := range slices.Chunk(row.Ways, bytesPerWay) {
			kept[i].To = append(kept[i].To, firm.RoadPoint{Latitude: number(way, 0), Longitude: number(way, 1)})
			kept[i].Times = append(kept[i].Times, firm.RoadTime{Seconds: number(way, 2), Metres: number(way, 3)})
		}
	}
	return kept, err
}

// bytesPerWay are those of four numbers of 32 bits.
const bytesPerWay = 4 * 4

// number reads one of the four numbers of a way.
func number(way []byte, at int) int32 { return int32(binary.BigEndian.Uint32(way[4*at:])) }

const putRoadTimesSQL = `
INSERT INTO road_times (
	business_id, from_latitude_e5, from_longitude_e5, provider, attribution, asked_at, ways
) VALUES ($1, $2, $3, $4, $5, $6, $7)
ON CONFLICT (business_id, from_latitude_e5, from_longitude_e5) DO UPDATE
SET
	provider = EXCLUDED.provider,
	attribution = EXCLUDED.attribution,
	asked_at = EXCLUDED.asked_at,
	ways = EXCLUDED.ways`

// PutRoadTimes keeps the road times from a point in the place of those from it that were kept before. An origin costs a round
// trip, because its ways are too many for a batch.
func (tx *Tx) PutRoadTimes(told firm.RoadTimes) error {
	ways := make([]byte, 0, len(told.To)*bytesPerWay)
	for i, to := range told.To {
		for _, n := range [...]int32{to.Latitude, to.Longitude, told.Times[i].Seconds, told.Times[i].Metres} {
			ways = binary.BigEndian.AppendUint32(ways, uint32(n))
		}
	}
	_, err := tx.exec(putRoadTimesSQL, told.From.Latitude, told.From.Longitude, told.Provider, told.Attribution, instant(told.AskedAt), ways)
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
