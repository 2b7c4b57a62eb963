package roadtimes_test

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"os"
	"os/exec"
	"strings"
	"testing"

	"vernation/scheduler/travel"
	"vernation/server/internal/firm"
	"vernation/server/internal/roadtimes"
)

// delaware are towns of that state, and two points that no road leads to: one in the ocean, and one on the far bank of the river, whose
// roads are not in the data.
var delaware = []struct {
	name   string
	at     travel.Position
	noRoad bool
}{
	{"Wilmington", travel.Position{Latitude: 39.7459, Longitude: -75.5466}, false},
	{"Newark", travel.Position{Latitude: 39.6837, Longitude: -75.7497}, false},
	{"Middletown", travel.Position{Latitude: 39.4496, Longitude: -75.7163}, false},
	{"the ocean", travel.Position{Latitude: 39.0, Longitude: -74.0}, true},
	{"Dover", travel.Position{Latitude: 39.1582, Longitude: -75.5244}, false},
	{"the far bank", travel.Position{Latitude: 39.55, Longitude: -75.40}, true},
	{"Lewes", travel.Position{Latitude: 38.7746, Longitude: -75.1393}, false},
	{"Seaford", travel.Position{Latitude: 38.6412, Longitude: -75.6110}, false},
}

// openReal begins the real program on the real map that .ci/roads has made ready.
func openReal(t *testing.T) (url string) {
	t.Helper()
	folder := os.Getenv("VERNATION_REAL_ROADS")
	if folder == "" {
		t.Skip("not asked of a real matrix service: .ci/roads makes one ready and sets VERNATION_REAL_ROADS")
	}
	service := exec.CommandContext(t.Context(), "node", "testdata/valhalla.mjs", folder)
	stop, err := service.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	said, err := service.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := service.Start(); err != nil {
		t.Fatal(err)
	}
	found := make(chan string, 1)
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		for lines := bufio.NewScanner(said); lines.Scan(); { // to the end, so that it never waits for a reader
			if at, ok := strings.CutPrefix(lines.Text(), "listening "); ok {
				found <- at
			}
		}
		close(found)
	}()
	t.Cleanup(func() {
		stop.Close()
		<-ended
		_ = service.Wait() // its end says nothing
	})
	url, ok := <-found
	if !ok {
		t.Fatal("the real matrix service ended before it listened")
	}
	return url
}

// routed asks the same program for one route, which it finds by another algorithm than a matrix.
func routed(t *testing.T, url string, from, to travel.Position) (seconds, metres float64) {
	t.Helper()
	question := fmt.Sprintf(`{"locations":[{"lat":%v,"lon":%v},{"lat":%v,"lon":%v}],"costing":"auto","units":"kilometers"}`, from.Latitude, from.Longitude, to.Latitude, to.Longitude)
	response, err := http.Post(url+"/route", "application/json", bytes.NewReader([]byte(question)))
	if err != nil {
		t.Fatal(err)
	}
	defer response.Body.Close()
	var answer struct {
		Trip struct {
			Summary struct{ Time, Length float64 }
		}
	}
	if err := json.NewDecoder(response.Body).Decode(&answer); err != nil {
		t.Fatal(err)
	}
	return answer.Trip.Summary.Time, answer.Trip.Summary.Length * 1000
}

// The program is Valhalla (release 3.6.1, MIT licence), the map an extract of OpenStreetMap (contributors, ODbL 1.0).
func TestRealRoads_AreThoseOfTheProgramsOwnRoutes(t *testing.T) {
	t.Parallel()
	url := openReal(t)
	var points []firm.RoadPoint
	for _, town := range delaware {
		points = append(points, firm.RoadPointOf(town.at))
	}
	var wanted []roadtimes.Wanted
	for _, from := range points {
		wanted = append(wanted, roadtimes.Wanted{From: from, To: points})
	}
	ask := func(side int) roadtimes.Told {
		told, err := open(t, roadtimes.Config{URL: url, Format: roadtimes.Valhalla, Side: side}).Tell(t.Context(), wanted)
		if err != nil {
			t.Fatal(err)
		}
		return told
	}
	told, inBlocks := ask(50), ask(3)
	var apart int
	for i, from := range delaware {
		for j, to := range delaware {
			got := told[points[i]][points[j]]
			if i == j {
				continue
			}
			if got == firm.NoRoad || from.noRoad || to.noRoad {
				if (got == firm.NoRoad) != (from.noRoad || to.noRoad) {
					t.Errorf("%s to %s: %v: want a road between towns and none else", from.name, to.name, got)
				}
				continue
			}
			// A matrix is found by another algorithm than a route, and the program's answers differ a little with what else is in the
			// request: by a percent where the toll road is hardly faster than the free one.
			seconds, metres := routed(t, url, from.at, to.at)
			for how, got := range map[string]firm.RoadTime{"in one request": got, "in blocks": inBlocks[points[i]][points[j]]} {
				if math.Abs(float64(got.Seconds)-seconds) > 0.03*seconds || math.Abs(float64(got.Metres)-metres) > 0.05*metres {
					t.Errorf("%s to %s: %d s, %d m %s: its own route takes %.0f s, %.0f m", from.name, to.name, got.Seconds, got.Metres, how, seconds, metres)
				}
			}
			// No road is shorter than the great circle but for the ways onto the road (200 m at each end), and nobody may drive faster
			// than 70 mph in that state.
			if straight := travel.Distance(from.at, to.at); float64(got.Metres) < straight-400 || float64(got.Metres)/float64(got.Seconds) > 31.3 {
				t.Errorf("%s to %s: %d m in %d s over %.0f m of great circle", from.name, to.name, got.Metres, got.Seconds, straight)
			}
			if back := told[points[j]][points[i]]; back.Seconds != got.Seconds {
				apart++
			}
		}
	}
	if apart == 0 {
		t.Error("every way takes as long there as back: one-way streets are lost")
	}
}
