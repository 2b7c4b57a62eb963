package planning

import (
	"strings"

	"vernation/scheduler"
	"vernation/scheduler/site"
	"vernation/scheduler/travel"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// placesOf are the sites, and the bases of the crew.
func placesOf(sites []site.Site, crew []firm.CrewMember) []travel.Place {
	places := make([]travel.Place, 0, len(sites)+len(crew))
	for _, s := range sites {
		places = append(places, travel.Place{ID: placeOf(s.ID), Position: s.Position})
	}
	for _, m := range crew {
		places = append(places, travel.Place{ID: baseOf(m.ID), Position: travel.Position{Latitude: m.BaseLatitude, Longitude: m.BaseLongitude}})
	}
	return places
}

// readPlacesOf reads what Gather would make places of.
func readPlacesOf(tx *store.Tx) ([]travel.Place, error) {
	sites, err := tx.AllSites()
	if err != nil {
		return nil, err
	}
	crew, err := tx.Crew()
	if err != nil {
		return nil, err
	}
	left, err := tx.LeftCrew(tx.Now().Add(-scheduler.MaxShift))
	return placesOf(sites, append(crew, left...)), err
}

// readTravel estimates all ways by the great circle and lays the road times over it that the business keeps. It asks nobody:
// what is gathered depends on the store alone, so that a plan is published against the times that it was made with, or
// against newer ones that are kept.
func (g *gathering) readTravel() error {
	places := placesOf(g.problem.Sites, g.crew)
	g.problem.Travel = travel.GreatCircle{DetourPercent: g.business.DetourPercent, SpeedKMH: g.business.SpeedKMH}.Matrix(places)
	kept, err := g.tx.RoadTimes()
	if err != nil {
		return err
	}
	g.travel = layRoads(g.problem.Travel, places, kept)
	return nil
}

// layRoads writes road times over the estimates of a matrix, and says which ways stay estimated.
func layRoads(m travel.Matrix, places []travel.Place, kept []firm.RoadTimes) firm.TravelSource {
	at := map[firm.RoadPoint][]int{} // the places at a point
	for i, p := range places {
		point := firm.RoadPointOf(p.Position)
		at[point] = append(at[point], i)
	}
	var source firm.TravelSource
	for _, here := range at {
		source.Ways += len(here) * (len(places) - len(here))
	}
	source.Estimated = source.Ways
	for _, row := range kept {
		from := at[row.From]
		if len(from) == 0 {
			continue
		}
		// Where the service listens is its operator's to know.
		source.Provider, _, _ = strings.Cut(row.Provider, " at ")
		source.Attribution = row.Attribution
		if source.AskedAt.IsZero() || row.AskedAt < source.AskedAt {
			source.AskedAt = row.AskedAt
		}
		for k, point := range row.To {
			to := at[point]
			switch {
			case point == row.From:
			case row.Times[k] == firm.NoRoad:
				source.NoRoad += len(from) * len(to)
			default:
				source.Estimated -= len(from) * len(to)
				for _, i := range from {
					for _, j := range to {
						m.Seconds[i*len(places)+j], m.Metres[i*len(places)+j] = row.Times[k].Seconds, row.Times[k].Metres
					}
				}
			}
		}
	}
	return source
}
