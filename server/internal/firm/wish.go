package firm

import (
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/mayapply"
	"vernation/scheduler/site"
)

// Wish is an application that a technician has in mind, and about which nothing is decided.
type Wish struct {
	Technician scheduler.TechnicianID
	Product    catalogue.ProductID
	Plants     []site.PlantID
	Takes      time.Duration    // from the beginning of the first plant to the end of the last
	Begins     civil.Instant    // unset is now
	Pest       catalogue.PestID // "" is that of the plants' case
	Area       site.AreaID      // in which they would be treated; "" is where each stands
	PatchTest  bool             // it is itself one
	Readings   []Reading
	// CarriesWater says that the water comes along; CarriedHardnessMgL is its hardness, nil is unknown and counts as hard.
	CarriesWater       bool
	CarriedHardnessMgL *float64
}

// Asked is the wish as a pack is asked about it, at an instant.
func (w Wish) Asked(now civil.Instant) mayapply.Wish {
	asked := mayapply.Wish{
		Product: w.Product, Plants: w.Plants, Now: now, Begins: w.Begins, Takes: w.Takes, Pest: w.Pest, Area: w.Area, PatchTest: w.PatchTest,
		Celsius: map[site.AreaID]float64{}, Humidity: map[site.AreaID]float64{}, CarriesWater: w.CarriesWater, CarriedHardnessMgL: w.CarriedHardnessMgL,
	}
	for _, reading := range w.Readings {
		asked.Celsius[reading.Area] = reading.Celsius
		if percent := reading.HumidityPercent; percent != nil {
			asked.Humidity[reading.Area] = *percent
		}
	}
	return asked
}

// Reading is what was read in an area: its temperature and, where that was read too, its relative humidity.
type Reading struct {
	Area            site.AreaID
	Celsius         float64
	HumidityPercent *float64
}

// WishAnswer is whether something speaks against a wish, and where that is.
type WishAnswer struct {
	Answer mayapply.Answer
	Site   site.ID
	Zone   civil.Zone
}
