package course

import (
	"fmt"
	"slices"
	"strings"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/reentry"
	"vernation/scheduler/site"
)

// topics are words, in small letters, that name what a caution is about, where several sources speak of the same: the first that is
// said stands.
var topics = [...]string{
	"responsible applicator outrank", "wards, child care", "no ladder work", "no application in food areas", "dry, wilted", "repotting", "bleach never",
}

// addCautions says once each what holds for a candidate on these plants at this site, and after that the material's own cautions
// on what is not said yet.
func (s *story) addCautions(c *Course, p *candidate) {
	add := func(text string) {
		for _, topic := range topics {
			about := func(said string) bool { return strings.Contains(strings.ToLower(said), topic) }
			if about(text) && slices.ContainsFunc(c.Cautions, about) {
				return
			}
		}
		addOnce(&c.Cautions, text)
	}
	if p.material.Method.Sprays() && !isPhysical(p.material) {
		add("Not on a dry, wilted, sunlit or just fertilised plant; water first; patch test first; out of the sun until dry.")
	}
	if p.material.Systemic {
		add("A systemic in the soil: out of reach of children and pets, watered in, no repotting and no cuttings for others; what the state limits holds.")
	}
	s.cautionPlants(p, add)
	s.cautionPlaces(p, add)
	if p.product.Diluted() {
		add("Never mix, rinse or fill in kitchens, hand basins, toilets or food areas; no hose in the vessel; no drink bottles; nothing into drains.")
		add("Label and safety data sheet to hand while mixing, and the business's own numbers for poison and emergency.")
	}
	for _, text := range p.material.Cautions {
		add(text)
	}
	add("Tools are cleaned between plants. Bleach never with alcohol, acid, ammonia or peroxide; a bleach mix lasts 2 hours; ventilate.")
	add("Change or brush clothes and wash hands before the next site: hands and clothes carry the pest.")
}

// cautionPlants are the cautions of the plants themselves: sap and fruit.
func (s *story) cautionPlants(p *candidate, add func(string)) {
	for _, plant := range p.plants {
		species := s.in.Catalogue.Species[plant.Species]
		if species.SapIrritates {
			add(fmt.Sprintf("The sap of %s (%s) can irritate skin and eyes: gloves.", species.Common, species.Botanical))
		}
		if plant.Edible {
			add(fmt.Sprintf("%s is for eating: the label's days to harvest, or never.", plantName(plant)))
		}
	}
}

// cautionPlaces are the cautions of where it happens: who is there, what is sensitive, who works alone.
func (s *story) cautionPlaces(p *candidate, add func(string)) {
	areas := s.areas(p.plants)
	for _, area := range areas {
		for _, near := range airOf(s.site, area) {
			for _, thing := range near.Sensitive {
				add(fmt.Sprintf("%s in %s: %s.", words(string(thing)), near.Name, sensitiveText(thing)))
			}
		}
		switch s.areaKind(area) {
		case catalogue.HealthCare, catalogue.School, catalogue.Home, catalogue.Lodging:
			add("Wards, child care, pregnancy, asthma: ask the site's responsible person; nothing here guesses.")
		case catalogue.FoodService:
			add("No application in food areas unless the label names them; no food, cups or toys exposed.")
		}
		if least, text := reentry.LeastByLaw(s.in.Catalogue, s.site, area.ID); least > 0 && !p.isPhysical() {
			add(fmt.Sprintf("By law %s stays shut at least %s after an application. %s", area.Name, durationText(least), text))
		}
	}
	if slices.ContainsFunc(areas, func(a site.Area) bool { return s.shuts(p, a) }) {
		add("Alone after hours: agree on a time of check-in and of check-out; no ladder work alone.")
	}
}

func sensitiveText(thing catalogue.Sensitive) string {
	switch thing {
	case catalogue.FishTank, catalogue.Pond:
		return "cover it and stop its pump, or move the plant; fountains and floor drains count as water"
	case catalogue.Birds, catalogue.Cats, catalogue.Dogs:
		return "out of the room until people may enter again"
	case catalogue.Children:
		return "nothing within reach; ask the responsible person"
	case catalogue.OpenFood:
		return "nothing exposed while it is applied and until people may enter again"
	case catalogue.AirIntake:
		return "off, or covered, until people may enter again"
	case catalogue.DelicateFloor, catalogue.DelicateFabric:
		return "soap and oil make it slippery or mark it: cover, cordon off, wipe, and dry before leaving"
	}
	return "say beforehand what will be noticed, and for how long"
}
