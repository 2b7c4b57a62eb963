package roadtimes

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"vernation/server/internal/firm"
)

// osrmRequest asks for a table: longitude before latitude, the origins first and the destinations after them.
func (s *Service) osrmRequest(ctx context.Context, b block) (*http.Request, error) {
	var coordinates, sources, destinations []string
	for i, p := range append(append([]firm.RoadPoint{}, b.from...), b.to...) {
		latitude, longitude := p.Degrees()
		coordinates = append(coordinates, degrees(longitude)+","+degrees(latitude))
		if i < len(b.from) {
			sources = append(sources, strconv.Itoa(i))
		} else {
			destinations = append(destinations, strconv.Itoa(i))
		}
	}
	at := s.base.JoinPath("table", "v1", url.PathEscape(s.cfg.Profile), strings.Join(coordinates, ";"))
	at.RawQuery = "annotations=duration,distance&sources=" + strings.Join(sources, ";") + "&destinations=" + strings.Join(destinations, ";")
	return http.NewRequestWithContext(ctx, http.MethodGet, at.String(), nil)
}

func degrees(d float64) string { return strconv.FormatFloat(d, 'f', 5, 64) }

// readOSRM reads durations in seconds and distances in metres; null is no road.
func readOSRM(body []byte, b block) ([]firm.RoadTime, error) {
	var answer struct {
		Code      string
		Message   string
		Durations [][]*float64
		Distances [][]*float64
	}
	if err := json.Unmarshal(body, &answer); err != nil {
		return nil, err
	}
	if answer.Code != "Ok" {
		return nil, fmt.Errorf("%w: %s %s", errRefused, answer.Code, answer.Message)
	}
	if len(answer.Durations) != len(b.from) || len(answer.Distances) != len(b.from) {
		return nil, fmt.Errorf("%d rows of durations and %d of distances: want %d of each", len(answer.Durations), len(answer.Distances), len(b.from))
	}
	times := make([]firm.RoadTime, 0, len(b.from)*len(b.to))
	for row, durations := range answer.Durations {
		if len(durations) != len(b.to) || len(answer.Distances[row]) != len(b.to) {
			return nil, fmt.Errorf("row %d has %d durations and %d distances: want %d of each", row, len(durations), len(answer.Distances[row]), len(b.to))
		}
		for column, seconds := range durations {
			time, err := roadTime(seconds, answer.Distances[row][column], 1)
			if err != nil {
				return nil, fmt.Errorf("row %d, column %d: %w", row, column, err)
			}
			times = append(times, time)
		}
	}
	return times, nil
}

type valhallaPoint struct {
	Latitude  float64 `json:"lat"`
	Longitude float64 `json:"lon"`
}

const kilometres = "kilometers" // as the format spells it

// valhallaRequest asks in kilometres.
func (s *Service) valhallaRequest(ctx context.Context, b block) (*http.Request, error) {
	points := func(of []firm.RoadPoint) []valhallaPoint {
		written := make([]valhallaPoint, len(of))
		for i, p := range of {
			written[i].Latitude, written[i].Longitude = p.Degrees()
		}
		return written
	}
	body, err := json.Marshal(map[string]any{"sources": points(b.from), "targets": points(b.to), "costing": s.cfg.Profile, "units": kilometres})
	if err != nil {
		return nil, err
	}
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, s.base.JoinPath("sources_to_targets").String(), bytes.NewReader(body))
	if err == nil {
		request.Header.Set("Content-Type", "application/json")
	}
	return request, err
}

// readValhalla reads times in seconds and distances in kilometres, each by the indices that it bears; null is no road.
func readValhalla(body []byte, b block) ([]firm.RoadTime, error) {
	var answer struct {
		Units string
		Rows  [][]struct {
			From     *int     `json:"from_index"`
			To       *int     `json:"to_index"`
			Time     *float64 `json:"time"`
			Distance *float64 `json:"distance"`
		} `json:"sources_to_targets"`
	}
	if err := json.Unmarshal(body, &answer); err != nil {
		return nil, err
	}
	if answer.Units != kilometres && answer.Units != "km" {
		return nil, fmt.Errorf("distances in %q: want %s", answer.Units, kilometres)
	}
	times := make([]firm.RoadTime, len(b.from)*len(b.to))
	told := make([]bool, len(times))
	for _, row := range answer.Rows {
		for _, way := range row {
			if way.From == nil || way.To == nil || *way.From < 0 || *way.From >= len(b.from) || *way.To < 0 || *way.To >= len(b.to) {
				return nil, fmt.Errorf("a way without indices of the %d sources and %d targets", len(b.from), len(b.to))
			}
			time, err := roadTime(way.Time, way.Distance, 1000)
			if err != nil {
				return nil, fmt.Errorf("from %d to %d: %w", *way.From, *way.To, err)
			}
			at := *way.From*len(b.to) + *way.To
			times[at], told[at] = time, true
		}
	}
	for at, ok := range told {
		if !ok {
			return nil, fmt.Errorf("nothing from %d to %d", at/len(b.to), at%len(b.to))
		}
	}
	return times, nil
}

// mostSeconds and mostMetres bound one way: ten days, and once around the earth.
const (
	mostSeconds = 10 * 24 * 3600
	mostMetres  = 40_100_000
)

// roadTime rounds up to whole seconds and metres, so that rounding never makes a detour over a third place shorter than
// the direct way. A time without a distance, or a distance without a time, is no way.
func roadTime(seconds, distance *float64, metresPerUnit float64) (firm.RoadTime, error) {
	if seconds == nil || distance == nil {
		return firm.NoRoad, nil
	}
	metres := *distance * metresPerUnit
	// Written so that a NaN, which compares with nothing, is refused too.
	if !(*seconds >= 0 && *seconds <= mostSeconds && metres >= 0 && metres <= mostMetres) {
		return firm.RoadTime{}, errors.New("a time or a distance that no road has: want 0 s to ten days and 0 m to once around the earth")
	}
	// A thousandth of a metre is noise of the conversion from kilometres.
	return firm.RoadTime{Seconds: int32(math.Ceil(*seconds)), Metres: int32(math.Ceil(metres - 0.001))}, nil
}
