package scheduler_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"time"

	"pgregory.net/rapid"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/scheduler/travel"
)

// drawn makes random small Problems: one to three sites of one to three rooms, one or two technicians, chains of
// follow-ups by one or two ways, services, links, and what runs already. Each of the eight rules matters in some of them.
type drawn struct {
	choose chooser
	p      scheduler.Problem
	size   drawnSize
}

// chooser picks a whole number from least to most, both included; the name says what for.
type chooser func(name string, least, most int) int

// byRapid lets a property test choose, so that what fails is shrunk.
func byRapid(t *rapid.T) chooser {
	return func(name string, least, most int) int { return rapid.IntRange(least, most).Draw(t, name) }
}

// bySeed chooses by chance; a seed always gives the same.
func bySeed(seed uint64) chooser {
	random := rand.New(rand.NewPCG(seed, 0))
	return func(_ string, least, most int) int { return least + random.IntN(most-least+1) }
}

// byBytes reads the choices off a text, so that what mutates texts makes Problems: as many bytes a choice as its range
// asks for, and the least past the end.
func byBytes(text []byte) chooser {
	return func(_ string, least, most int) int {
		n := 0
		for width := most - least; width > 0; width >>= 8 {
			if len(text) == 0 {
				return least
			}
			n, text = n<<8|int(text[0]), text[1:]
		}
		return least + n%(most-least+1)
	}
}

// drawnSize bounds a drawn Problem.
type drawnSize struct {
	days, sites int
	items       int // follow-ups and services together
}

func (d *drawn) int(name string, least, most int) int { return d.choose(name, least, most) }
func (d *drawn) chance(name string, in int) bool      { return d.int(name, 1, in) == in }

func drawProblem(t *rapid.T) scheduler.Problem {
	return draw(byRapid(t), drawnSize{days: 9, sites: 3, items: 99})
}

// draw makes a valid Problem of what is chosen.
func draw(choose chooser, size drawnSize) scheduler.Problem {
	d := drawn{choose: choose, size: size}
	d.p = scheduler.Problem{
		Now: at(d0, "12:00"), Zone: newYork, FirstDay: march(d0), Days: size.days + 1 - d.int("days less", 1, size.days),
		Materials: []scheduler.MaterialFacts{
			{ID: "soap", Law: catalogue.RegisteredProduct, Name: "soap"}, {ID: "bti", Law: catalogue.RegisteredProduct, Name: "Bti"},
			{ID: "oil", Law: catalogue.RegisteredProduct, Name: "oil"}, {ID: "cards", Law: catalogue.DeviceOrOrganism, Name: "cards"},
		},
		Rules: storyProblem().Rules,
	}
	d.p.Rules.NoticeLead = nil
	d.p.Rules.BreakAfter = time.Duration(d.int("break after", 1, 6)) * time.Hour
	d.p.Rules.Sanitation = minutes(d.int("sanitation", 0, 2) * 5)
	d.products()
	for s := range d.int("sites", 1, size.sites) {
		d.site(s)
	}
	d.crew()
	d.matrix()
	for s := range d.p.Sites {
		d.work(&d.p.Sites[s])
	}
	d.links()
	d.running()
	return d.p
}

// d0 is the day of March on which drawn Problems begin; the clocks go forward inside most of them.
const d0 = 4

// products draws two concentrates, one ready to use and one device, with what their labels ask.
func (d *drawn) products() {
	soap, bti := storySoap(), roundDrench()
	bti.Label.Places = append(bti.Label.Places, catalogue.Office)
	soap.Label.MostInRow = d.int("most in row", 0, 3)
	soap.Label.MixLife = time.Duration(d.int("mix life", 0, 2)) * 2 * time.Hour
	bti.Label.MostAYear = d.int("most a year", 0, 3)
	if d.chance("hardness limit", 4) {
		soap.Label.MaxHardness = figure(120)
	}
	if d.chance("label hours", 4) {
		soap.Label.Hours = []civil.Window{window("06:00", "21:00")}
	}
	if d.chance("celsius", 4) {
		soap.Label.MinCelsius, soap.Label.MaxCelsius = figure(float64(d.int("coldest", 10, 19))), figure(float64(d.int("warmest", 21, 30)))
	}
	if d.chance("keep away", 4) {
		soap.Label.KeepAway = []catalogue.KeepAway{{Thing: catalogue.FishTank}}
	}
	if d.chance("incompatible", 4) {
		soap.Label.Incompatible = []catalogue.Incompatible{{Material: "oil", Days: d.int("incompatible days", 1, 3)}}
	}
	oil := soap
	oil.ID, oil.Name, oil.Material, oil.Registration, oil.Form = "oil-c", "oil C", "oil", "000-2", catalogue.ReadyToUse
	oil.Label = catalogue.Label{
		Places: soap.Label.Places, Pests: []catalogue.PestID{"citrus-mealybug"}, Entry: catalogue.Entry{Kind: catalogue.EntryHours, Hours: time.Hour},
		LeastDays: d.int("least days", 0, 2), Categories: soap.Label.Categories,
	}
	cards := catalogue.Product{
		ID: "cards-d", Name: "cards D", Material: "cards", Form: catalogue.Device,
		Label: catalogue.Label{
			Places: soap.Label.Places, Pests: []catalogue.PestID{"fungus-gnat"},
			Entry: catalogue.Entry{Kind: catalogue.EntryNone, Reason: "a card holds what it catches"},
		},
	}
	d.p.Products = []catalogue.Product{soap, bti, oil, cards}
}

func (d *drawn) calendar(name string) civil.Calendar {
	switch d.int(name, 0, 6) {
	case 0:
		return civil.Calendar{Always: true}
	case 1:
		return civil.Calendar{}
	case 2:
		return civil.Calendar{Weekly: []civil.Weekly{weekly(everyDay, "20:00", "32:00")}}
	}
	opens := d.int(name+" opens", 5, 14)
	closes := opens + d.int(name+" hours", 2, 12)
	return civil.Calendar{Weekly: []civil.Weekly{weekly(everyDay, fmt.Sprintf("%02d:00", opens), fmt.Sprintf("%02d:00", closes))}}
}

func (d *drawn) site(s int) {
	id := site.ID(fmt.Sprintf("s%d", s))
	out := site.Site{
		ID: id, Client: "client", Name: string(id), Zone: newYork, Jurisdiction: "US-PA", Kind: catalogue.Office,
		Access: d.calendar("access"), SignIn: minutes(d.int("sign-in", 0, 9)),
	}
	if len(out.Access.Weekly) == 0 || d.chance("wide open", 2) {
		out.Access = civil.Calendar{Always: true}
	}
	for a := range 4 - d.int("areas less", 1, 3) {
		area := site.Area{
			ID: site.AreaID(fmt.Sprintf("%s-a%d", id, a)), Name: fmt.Sprintf("room %d of %s", a, id), People: d.calendar("people in it"),
			Ventilation: d.calendar("ventilation"), Climate: site.Climate{{Coldest: 18, Usual: 20, Warmest: 22}},
		}
		if a > 0 && d.chance("open to", 3) {
			area.OpenTo = []site.AreaID{out.Areas[0].ID}
		} else if a > 0 && d.chance("through", 4) {
			area.ReachedOnlyThrough = out.Areas[a-1].ID
		}
		if a > 0 && d.chance("treatment", 2) {
			area.Treatment = &site.TreatmentPlace{Hours: civil.Calendar{Always: true}, Capacity: d.int("capacity", 3, 9)}
		}
		out.Areas = append(out.Areas, area)
	}
	if d.chance("water", 2) {
		out.Water.Area = out.Areas[len(out.Areas)-1].ID
	}
	if d.chance("hardness known", 2) {
		out.Water.HardnessMgL = figure(float64(d.int("hardness", 0, 240)))
	}
	if d.chance("least entry", 3) {
		d.p.Rules.LeastEntry = append(d.p.Rules.LeastEntry, scheduler.SiteEntry{Site: id, Least: time.Duration(d.int("least entry hours", 1, 9)) * time.Hour})
	}
	d.agreement(&out)
	if d.chance("usual", 3) {
		day := civil.Weekday(d.int("usual day", 1, 5))
		out.Agreement.UsualTechnician, out.Agreement.UsualDay = "T1", &day
		out.Agreement.DayFixed, out.Agreement.TechnicianFixed = d.chance("day fixed", 4), d.chance("technician fixed", 4)
	}
	for k := range 4 - d.int("plants less", 1, 3) {
		health := []scheduler.Health{scheduler.Clean, scheduler.Neighbour, scheduler.SuspectedInfested, scheduler.ConfirmedInfested}[d.int("health", 0, 3)]
		plant := storyPlant(site.PlantID(fmt.Sprintf("%s-p%d", id, k)), id, out.Areas[d.int("area", 0, len(out.Areas)-1)].ID, health)
		for _, material := range []catalogue.MaterialID{"bti", "oil", "cards"} {
			plant.Tolerance = append(plant.Tolerance, catalogue.Tolerance{Material: material, Verdict: catalogue.Stands, Standing: catalogue.OwnRecords})
		}
		switch d.int("tolerance", 1, 12) {
		case 11:
			plant.Tolerance[0].Verdict, plant.PatchTested = catalogue.PatchTest, []catalogue.MaterialID{"soap"}
		case 12:
			plant.Tolerance[0].Verdict = catalogue.PatchTest
		}
		plant.Plant.Watering.Last = march(d0 - d.int("watered", 0, 9))
		if d.chance("applied before", 4) {
			began := at(d0-d.int("days ago", 1, 8), "10:00")
			plant.Applied = []scheduler.Applied{{Product: "soap-a", Material: "soap", Began: began, Ended: began + 600}}
		}
		d.p.Plants = append(d.p.Plants, plant)
	}
	d.p.Sites = append(d.p.Sites, out)
}

// agreement draws what the client of a site asks for: keys, notice, consent, areas that it shuts.
func (d *drawn) agreement(out *site.Site) {
	if d.chance("key", 4) {
		out.Keys = []site.KeyID{"badge"}
	}
	if d.chance("notice", 4) {
		d.p.Rules.NoticeLead = append(d.p.Rules.NoticeLead, scheduler.SiteNotice{Site: out.ID, Lead: time.Duration(d.int("lead hours", 1, 24)) * time.Hour, Known: true})
	}
	if d.chance("consent", 5) {
		out.Agreement.ConsentNeeded = []catalogue.Method{catalogue.WholePlantSpray}
		out.Agreement.Consents = []site.Consent{{Method: catalogue.WholePlantSpray, From: march(d0), To: march(d0 + d.int("consent holds", 0, 9))}}
	}
	if d.chance("shut", 4) {
		begins := d.int("shut from", 0, 24)
		out.Agreement.ShutAreas = []site.ShutArea{{Area: out.Areas[0].ID, From: at(d0, "12:00").Add(time.Duration(begins) * time.Hour), To: at(d0, "12:00").Add(time.Duration(begins+d.int("shut hours", 4, 24)) * time.Hour)}}
	}
	if d.chance("fish", 6) {
		out.Areas[len(out.Areas)-1].Sensitive = []catalogue.Sensitive{catalogue.FishTank}
	}
}

// licences draws what the second technician may: as much as the first, under the first, or not to the end.
func (d *drawn) licences(first, second *scheduler.Technician) {
	second.Licences = slices.Clone(first.Licences)
	switch d.int("licence", 0, 5) {
	case 3:
		second.Licences[0].Under = first.ID
		d.p.Rules.Supervision = []catalogue.JurisdictionCode{"US-PA"}
	case 4:
		second.Licences[0].To = march(d0 + d.int("lapses", 0, 3))
	case 5:
		second.Licences = nil
	}
	if d.chance("badge", 3) {
		second.Keys = []scheduler.KeyHeld{{Key: "badge", From: march(1), To: march(d0 + d.int("badge until", 0, 4))}}
	}
	if d.chance("ladder", 2) {
		second.Skills = []string{"ladder"}
	}
	first.Skills = []string{"ladder"}
}

func (d *drawn) crew() {
	first, second := roundLicensed(), roundHelper()
	second.Vessels, second.Measures = first.Vessels[d.int("vessels", 0, 2):], first.Measures
	d.licences(&first, &second)
	for _, t := range []scheduler.Technician{first, second}[:3-d.int("technicians", 1, 2)] {
		t.Shifts, t.SpeedPercent = nil, d.int("speed", 60, 140)
		for day := range d.p.Days {
			if d.chance("off", 5) {
				continue
			}
			begins := d.int("begins", 5, 18)
			shift := scheduler.Shift{Day: march(d0 + day), BreakTakes: minutes(30)}
			shift.During = civil.Interval{From: at(d0+day, fmt.Sprintf("%02d:00", begins)), To: at(d0+day, fmt.Sprintf("%02d:00", begins+d.int("length", 2, 10)))}
			middle := shift.During.From + (shift.During.To-shift.During.From)/2
			shift.BreakWindow = civil.Interval{From: middle - 3600, To: middle + 3600}
			t.Shifts = append(t.Shifts, shift)
		}
		d.p.Technicians = append(d.p.Technicians, t)
	}
}

func (d *drawn) matrix() {
	m := travel.Matrix{Places: []travel.PlaceID{"base"}}
	for _, s := range d.p.Sites {
		m.Places = append(m.Places, travel.PlaceID(s.ID))
	}
	for from := range m.Places {
		for to := range m.Places {
			seconds := 0
			if from != to {
				seconds = d.int("seconds", 60, 2400)
			}
			m.Seconds, m.Metres = append(m.Seconds, int32(seconds)), append(m.Metres, int32(seconds*8))
		}
	}
	d.p.Travel = m
}

func (d *drawn) plantsOf(id site.ID) []site.PlantID {
	var ids []site.PlantID
	for _, plant := range d.p.Plants {
		if plant.Plant.Site == id {
			ids = append(ids, plant.Plant.ID)
		}
	}
	return ids
}

func (d *drawn) areaOf(id site.PlantID) site.AreaID {
	for _, plant := range d.p.Plants {
		if plant.Plant.ID == id {
			return plant.Plant.Area
		}
	}
	return ""
}

// full says whether the Problem holds as many items as it may.
func (d *drawn) full() bool { return len(d.p.FollowUps)+len(d.p.Services) >= d.size.items }

// work draws chains of follow-ups and services of a site.
func (d *drawn) work(s *site.Site) {
	plants := d.plantsOf(s.ID)
	for chain := range 3 - d.int("chains less", 0, 3) {
		due := scheduler.Due{EarliestOn: march(d0 + d.int("earliest", -1, 3))}
		due.LatestOn = due.EarliestOn.AddDays(d.int("latest", 0, 3))
		if d.chance("stands", 2) {
			due.StandsUntilOn = due.LatestOn.AddDays(d.int("stands until", 0, 3))
		}
		plant := plants[d.int("plant", 0, len(plants)-1)]
		for n := range d.int("length", 1, 3) {
			if d.full() {
				return
			}
			id := scheduler.ItemID(fmt.Sprintf("%s/%d/%d", s.ID, chain, n))
			f := d.followUp(id, s, plant)
			f.Due = due
			d.p.FollowUps = append(d.p.FollowUps, f)
			lag := d.int("lag", 0, 4)
			due = scheduler.Due{After: id, EarliestLag: lag, IdealLag: lag, LatestLag: lag + d.int("more", 0, 2)}
			if d.chance("lag stands", 2) {
				due.StandsUntilLag = due.LatestLag + d.int("stands", 0, 2)
			}
		}
	}
	for k := range d.int("services", 0, 2) {
		if d.full() {
			return
		}
		service := site.Service{ID: fmt.Sprintf("water-%s-%d", s.ID, k), Site: s.ID, Kind: site.WateringService, Earliest: d.int("soonest", 1, 3), Ideal: 4, Latest: 5}
		if d.chance("done before", 2) {
			service.Last = march(d0 - d.int("ago", 0, 6))
		}
		for _, plant := range plants {
			if d.chance("in service", 2) {
				service.Groups = append(service.Groups, site.Group{Plant: plant, Minutes: d.int("minutes", 1, 30)})
			}
		}
		if len(service.Groups) > 0 {
			d.p.Services = append(d.p.Services, service)
		}
	}
}

func (d *drawn) followUp(id scheduler.ItemID, s *site.Site, plant site.PlantID) scheduler.FollowUp {
	f := scheduler.FollowUp{
		ID: id, Case: "case", Site: s.ID, Plants: []site.PlantID{plant}, Approved: true, Certainty: "confirmed",
		PricePerDay: prices(d.int("price", 0, 900), 9), LeftOutPrice: quantity.Money(d.int("left out", 0, 200_000)),
	}
	area := d.areaOf(plant)
	if d.chance("look", 3) {
		f.Kind, f.Pest = scheduler.KindInspectInfested, "citrus-mealybug"
		part := scheduler.Part{Kind: scheduler.WorkPart, Area: area, Takes: minutes(d.int("takes", 1, 90)), Persons: 1}
		if d.chance("high", 5) {
			part.Skills = []string{"ladder"}
		}
		if d.chance("part windows", 5) {
			part.Windows = []civil.Window{window("07:00", "15:00"), window("18:00", "26:00")}
		}
		f.Ways = []scheduler.Way{{ID: "w", Kind: scheduler.InPlace, Parts: []scheduler.Part{part}}}
		return f
	}
	f.Kind = scheduler.KindApplication
	use := d.use(&f, plant)
	part := scheduler.Part{Kind: scheduler.ApplicationPart, Area: area, Takes: minutes(d.int("takes", 5, 60)), Persons: 1, Use: use}
	f.Ways = []scheduler.Way{{ID: "in-place", Kind: scheduler.InPlace, Parts: []scheduler.Part{part}}}
	if use.Entry == catalogue.EntryNone {
		return f
	}
	for _, place := range s.Areas {
		if place.Treatment == nil || place.ID == area {
			continue
		}
		there := part
		there.Area = place.ID
		carry := scheduler.Part{Kind: scheduler.CarryOutPart, Area: area, Takes: minutes(8), Persons: 1}
		back := scheduler.Part{Kind: scheduler.CarryBackPart, Area: place.ID, Takes: minutes(8), Persons: 1}
		wait := scheduler.Part{Kind: scheduler.WaitPart, Area: place.ID, Takes: use.KeepOut}
		f.Ways = append(f.Ways, scheduler.Way{
			ID: scheduler.WayID("at-" + place.ID), Kind: scheduler.AtTreatmentPlace, MostAway: time.Duration(d.int("most away", 6, 30)) * time.Hour,
			Parts: []scheduler.Part{carry, there, wait, back},
		})
	}
	return f
}

// use draws what a follow-up applies: a spray of soap, a drench, a ready-to-use spray, or cards.
func (d *drawn) use(f *scheduler.FollowUp, plant site.PlantID) *scheduler.Use {
	f.Pest = "citrus-mealybug"
	use := storyUse()
	use.KeepOut = minutes(d.int("keep out", 10, 300))
	use.KeepOutUnventilated = use.KeepOut * 3 / 2
	use.Doses = []scheduler.Dose{{Plant: plant, Amount: quantity.NewVolume(int64(d.int("dose", 50, 1800)), 1, quantity.Millilitre)}}
	switch d.int("product", 1, 12) {
	case 7, 8, 9, 10:
		f.Pest = "fungus-gnat"
		use.Product, use.Method, use.Entry = "drench-b", catalogue.Drench, catalogue.EntryHours
		use.KeepOut, use.KeepOutUnventilated = 4*time.Hour, 4*time.Hour
	case 11:
		use.Product, use.Method, use.Entry = "oil-c", catalogue.SpotSpray, catalogue.EntryHours
		use.KeepOut += time.Hour
		use.KeepOutUnventilated = use.KeepOut
	case 12:
		f.Pest = "fungus-gnat"
		use = &scheduler.Use{Product: "cards-d", Method: catalogue.Trap, Entry: catalogue.EntryNone}
	}
	return use
}

func (d *drawn) links() {
	for i := range d.p.FollowUps {
		if i > 0 && d.chance("link", 3) {
			link := scheduler.Link{From: d.p.FollowUps[i-1].ID, To: d.p.FollowUps[i].ID, Kind: []scheduler.LinkKind{scheduler.LeastLag, scheduler.Order, scheduler.Needs}[d.int("kind", 0, 2)]}
			if link.Kind == scheduler.LeastLag {
				link.Days, link.Hours = d.int("link days", 1, 2), time.Duration(d.int("link hours", 0, 5))*time.Hour
			}
			d.p.Links = append(d.p.Links, link)
		}
		for _, service := range d.p.Services {
			if service.Site == d.p.FollowUps[i].Site && d.chance("instead", 3) {
				d.p.Links = append(d.p.Links, scheduler.Link{From: d.p.FollowUps[i].ID, To: scheduler.ItemID(service.ID), Kind: []scheduler.LinkKind{scheduler.InsteadOf, scheduler.Not}[d.int("service link", 0, 1)]})
			}
		}
	}
}

// running draws a keep-out that runs already, a visit that is pinned, and notices that were sent.
func (d *drawn) running() {
	if d.chance("running", 3) {
		area := d.p.Sites[0].Areas[0].ID
		d.p.KeepOuts = []scheduler.KeepOut{{Area: area, During: civil.Interval{From: d.p.Now - 3600, To: d.p.Now.Add(time.Duration(d.int("runs", 1, 30)) * time.Hour)}, Product: "soap-a", By: "T1"}}
	}
	for _, f := range d.p.FollowUps {
		if len(d.p.Rules.NoticeLead) > 0 && d.chance("notice sent", 4) {
			d.p.Notices = append(d.p.Notices, scheduler.NoticeSent{Item: f.ID, Begins: d.p.Now.Add(time.Duration(d.int("notice names", 2, 30)) * time.Hour), SentAt: d.p.Now - 7200, Used: d.chance("used up", 6)})
		}
	}
	if d.chance("pinned", 4) {
		d.pinned()
	}
}

// pinned draws a visit of the office that does not move: a look at plants that the Problem no longer lists, in the first
// shift that has room for it.
func (d *drawn) pinned() {
	s := &d.p.Sites[d.int("pinned at", 0, len(d.p.Sites)-1)]
	t := &d.p.Technicians[d.int("pinned for", 0, len(d.p.Technicians)-1)]
	takes := minutes(d.int("pinned takes", 5, 40))
	for _, shift := range t.Shifts {
		arrives := shift.During.From.Add(time.Duration(d.int("pinned after", 45, 120)) * time.Minute)
		v := scheduler.Visit{
			ID: "pinned", State: scheduler.Pinned, Technician: t.ID, Site: s.ID, Arrives: arrives, Leaves: arrives.Add(s.SignIn + takes), SignIn: s.SignIn,
			Work: []scheduler.WorkItem{{Item: "earlier/look", Kind: scheduler.KindInspectInfested, Area: s.Areas[0].ID, Begins: arrives.Add(s.SignIn), Ends: arrives.Add(s.SignIn + takes), MixIndex: -1}},
		}
		if v.Arrives > d.p.Now && v.Leaves.Add(45*time.Minute) <= shift.During.To {
			d.p.Fixed = []scheduler.Visit{v}
			return
		}
	}
}
