package week

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/scheduler/travel"
)

// generator draws a week. Its problem grows from step to step.
type generator struct {
	*rand.Rand
	size      size
	places    *placesFile
	crewData  *crewFile
	products  []catalogue.Product
	catalogue *catalogue.Catalogue
	policy    course.Policy

	problem    scheduler.Problem
	towns      []travel.Position
	clusters   []travel.Position
	plants     []site.Plant      // as they stand today
	onSite     map[site.ID][]int // plants of a site, as indices
	day        map[site.ID]int   // of the horizon on which the site is visited as a rule
	bases      []travel.Place    // of the technicians, in their order
	town       []int             // of the technicians, in their order
	keyed      []int             // technicians who hold all keys of their town
	servicesAt map[site.ID][]site.Service
	health     map[site.PlantID]scheduler.Health
	applied    map[site.PlantID][]scheduler.Applied
	tested     map[site.PlantID][]catalogue.MaterialID
	found      int // cases so far
}

// monday begins every horizon, at the end of winter when rooms are warm and clocks do not change.
var monday = civil.NewDate(2026, time.February, 2)

func newGenerator(r *rand.Rand, s size) *generator {
	d := data()
	c := catalogue.Shipped()
	g := &generator{
		Rand: r, size: s, places: &d.places, crewData: &d.crew, products: d.shelf.Products, catalogue: c, policy: course.DefaultPolicy(c),
		onSite: map[site.ID][]int{}, day: map[site.ID]int{}, servicesAt: map[site.ID][]site.Service{}, health: map[site.PlantID]scheduler.Health{},
		applied: map[site.PlantID][]scheduler.Applied{}, tested: map[site.PlantID][]catalogue.MaterialID{},
	}
	g.problem = scheduler.Problem{
		// On Friday at noon the office plans the next week: notices of Monday's applications may still go out.
		Now:  d.places.Zone.At(monday.AddDays(-3), civil.NewClock(12, 0)),
		Zone: d.places.Zone, FirstDay: monday, Days: s.Days, Rules: scheduler.DefaultRules(c),
	}
	for i := range s.Towns {
		turn := 2 * math.Pi * float64(i) / float64(s.Towns)
		away := 0.0
		if i > 0 {
			away = d.places.TownSpacing
		}
		g.towns = append(g.towns, shifted(d.places.Centre, away*math.Cos(turn), away*math.Sin(turn)))
	}
	return g
}

// shifted is a position so many kilometres north and east of another; near enough for a town.
func shifted(from travel.Position, north, east float64) travel.Position {
	const kmPerDegree = 111.2 // 40 030 km of circumference over 360
	return travel.Position{
		Latitude:  rounded(from.Latitude + north/kmPerDegree),
		Longitude: rounded(from.Longitude + east/(kmPerDegree*math.Cos(from.Latitude*math.Pi/180))),
	}
}

// rounded keeps a position to some ten metres.
func rounded(degrees float64) float64 { return math.Round(degrees*1e4) / 1e4 }

// sites draws sites with their areas, plants and services until there are as many services as asked for.
func (g *generator) sites() {
	for n := 1; len(g.problem.Services) < g.size.Services; n++ {
		if (n-1)%g.places.SitesPerCluster == 0 {
			g.clusters = append(g.clusters, g.around(g.towns[len(g.clusters)%len(g.towns)], g.places.TownRadius/2))
		}
		g.site(n)
	}
	g.problem.Services = g.problem.Services[:g.size.Services]
}

// around draws a position at a normal distance from another.
func (g *generator) around(middle travel.Position, spread float64) travel.Position {
	return shifted(middle, g.NormFloat64()*spread, g.NormFloat64()*spread)
}

func (g *generator) site(n int) {
	kind := pick(g.Rand, g.places.Kinds, func(k placeKind) int { return k.Weight })
	s := site.Site{
		ID: site.ID(fmt.Sprintf("site-%04d", n)), Client: site.ClientID(fmt.Sprintf("client-%04d", n)), Name: fmt.Sprintf("%s %d", kind.Name, n),
		Position: g.around(g.clusters[len(g.clusters)-1], g.places.ClusterSpread), Zone: g.places.Zone, Jurisdiction: g.places.Jurisdiction,
		Kind: kind.Kind, Access: kind.Access[g.IntN(len(kind.Access))], SignIn: minutes(kind.SignIn.draw(g.Rand)),
	}
	if percent(g.Rand, kind.Key) {
		s.Keys = []site.KeyID{site.KeyID("key-" + string(s.ID))}
	}
	lead := time.Duration(kind.Notice[g.IntN(len(kind.Notice))]) * time.Hour
	s.Agreement.NoticeLead = &lead
	if percent(g.Rand, kind.RefusesPercent) {
		s.Agreement.RefusedMethods = kind.Refuses
	}
	store := g.area(s.ID, 0, kind.Store)
	s.Water.Area, s.Agreement.IsolationArea = store.ID, store.ID
	s.Areas = []site.Area{store}
	for i := range g.size.Areas.draw(g.Rand) {
		template := kind.Areas[i%len(kind.Areas)]
		area := g.area(s.ID, i+1, template)
		if template.OpenToBefore {
			area.OpenTo = []site.AreaID{s.Areas[i].ID}
		}
		if floor := i/len(kind.Areas) + 1; floor > 1 {
			area.Name = fmt.Sprintf("%s, floor %d", area.Name, floor)
		}
		s.Areas = append(s.Areas, area)
		g.planting(s.ID, area.ID)
	}
	g.problem.Sites = append(g.problem.Sites, s)
	g.serviceOf(s)
}

func (g *generator) area(of site.ID, n int, kind areaKind) site.Area {
	a := site.Area{
		ID: site.AreaID(fmt.Sprintf("%s/%d", of, n)), Name: kind.Name, Kind: kind.Kind, People: kind.People, Sensitive: kind.Sensitive,
		Climate: site.Climate{kind.Climate}, Ventilation: g.places.Ventilation, Public: kind.Public,
	}
	if kind.Treatment > 0 {
		a.Treatment = &site.TreatmentPlace{Hours: civil.Calendar{Always: true}, Water: true, Drain: true, Capacity: kind.Treatment}
	}
	return a
}

// planting draws the plants of an area.
func (g *generator) planting(at site.ID, area site.AreaID) {
	for range g.places.GroupsPerArea.draw(g.Rand) {
		kind := pick(g.Rand, g.places.Plants, func(k plantKind) int { return k.Weight })
		plant := site.Plant{
			ID: site.PlantID(fmt.Sprintf("%s/plant-%d", at, len(g.onSite[at])+1)), Site: at, Area: area, Species: kind.Species,
			Name: g.catalogue.Species[kind.Species].Common, Count: g.places.PlantsPerGroup.draw(g.Rand),
			PotVolume: quantity.NewVolume(int64(kind.Pot.draw(g.Rand)), 1, quantity.Litre), HeightCM: kind.Height.draw(g.Rand),
			Planter: site.Drained, Owner: site.OwnedByClient,
		}
		if percent(g.Rand, g.places.OwnRecord) {
			for _, product := range g.products {
				if g.catalogue.Tolerance(plant.Species, product.Material).Verdict == catalogue.PatchTest {
					plant.Tolerance = append(plant.Tolerance, catalogue.Tolerance{Material: product.Material, Verdict: catalogue.Stands, Standing: catalogue.OwnRecords})
				}
			}
		}
		g.onSite[at] = append(g.onSite[at], len(g.plants))
		g.plants = append(g.plants, plant)
	}
}

// serviceOf draws the services of a site; on which days they are due is settled when the rounds are.
func (g *generator) serviceOf(s site.Site) {
	for _, kind := range g.places.Services {
		byArea := map[site.AreaID][]site.Group{}
		for _, i := range g.onSite[s.ID] {
			plant := g.plants[i]
			takes := kind.MinutesPerGroup
			if kind.PlantsPerMinute > 0 {
				takes += (plant.Count + kind.PlantsPerMinute - 1) / kind.PlantsPerMinute
			}
			byArea[plant.Area] = append(byArea[plant.Area], site.Group{Plant: plant.ID, Minutes: takes})
		}
		if kind.Kind != site.WateringService && !percent(g.Rand, kind.Percent) {
			continue
		}
		service := site.Service{ID: fmt.Sprintf("%s/%s", s.ID, kind.Kind), Site: s.ID, Kind: kind.Kind, Earliest: kind.Earliest, Ideal: kind.Ideal, Latest: kind.Latest}
		for n, area := range s.Areas {
			if len(byArea[area.ID]) == 0 {
				continue
			}
			if kind.Kind != site.WateringService {
				service.Groups = append(service.Groups, byArea[area.ID]...)
				continue
			}
			watering := service
			watering.ID, watering.Groups = fmt.Sprintf("%s/%s-%d", s.ID, kind.Kind, n), byArea[area.ID]
			g.problem.Services = append(g.problem.Services, watering)
		}
		if len(service.Groups) > 0 {
			g.problem.Services = append(g.problem.Services, service)
		}
	}
}
