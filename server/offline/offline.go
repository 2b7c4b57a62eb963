// Package offline answers whether something may be applied where there is no signal, from a day pack that was pulled before.
//
// A technician's program pulls a day pack (DayRouteService.GetDayPack), opens it, and asks it what it would ask
// TechnicianService.CheckApplication, in the same words. Both answer by the same function from the same values, so that the
// pack's answer is the server's of the moment when the pack was made. What others did since it cannot know.
package offline

import (
	"fmt"
	"slices"
	"time"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/mayapply"
	"vernation/scheduler/site"
	"vernation/server/internal/convert"
	"vernation/server/internal/firm"
)

// Pack is an opened day pack. It is immutable and may be asked concurrently.
type Pack struct {
	technician string
	business   firm.BusinessID
	sites      []mayapply.Pack
}

// Open reads a day pack. It fails when the day pack names another version of the catalogue than the one in this program: the
// answers could differ, so pull a program of the server's version; and when a value cannot be read.
func Open(pack *vernationv1.DayPack) (*Pack, error) {
	shipped := catalogue.Shipped()
	if pack.GetCatalogueVersion() != shipped.Version {
		return nil, fmt.Errorf("the day pack was made with catalogue %q and this program holds %q: want a program of the server's version", pack.GetCatalogueVersion(), shipped.Version)
	}
	sites, err := convert.PacksFrom(pack, shipped)
	if err != nil {
		return nil, fmt.Errorf("the day pack cannot be read: %w", err)
	}
	return &Pack{technician: pack.GetTechnician(), business: convert.BusinessOf(pack.GetTechnician()), sites: sites}, nil
}

// CheckApplication answers whether the pack's technician may apply a product to plants of one of its sites; now is the clock
// of whoever asks. It fails for another technician, and for plants, products and areas that the pack does not hold; what
// speaks against the application is no failure.
func (p *Pack) CheckApplication(request *vernationv1.CheckApplicationRequest, now time.Time) (*vernationv1.ApplicationAnswer, error) {
	if request.GetName() != p.technician {
		return nil, fmt.Errorf("the day pack is %s's: want the question of nobody else, not of %s", p.technician, request.GetName())
	}
	wish := convert.WishFrom(request)
	at := civil.InstantOf(now)
	if wish.Begins.IsZero() {
		wish.Begins = at
	}
	i := slices.IndexFunc(p.sites, func(s mayapply.Pack) bool { return holds(s, wish.Plants) })
	if i < 0 {
		return nil, fmt.Errorf("no site of the day pack has all of the plants %q: want plants of one of its sites", request.GetPlants())
	}
	answer, err := p.sites[i].Ask(wish.Asked(at))
	if err != nil {
		return nil, err
	}
	s := p.sites[i].Site
	return convert.ApplicationAnswer(convert.NamesOf(p.business), firm.WishAnswer{Answer: answer, Site: s.ID, Zone: s.Zone}), nil
}

// holds says whether a site has all of some plants.
func holds(s mayapply.Pack, plants []site.PlantID) bool {
	return !slices.ContainsFunc(plants, func(id site.PlantID) bool {
		return !slices.ContainsFunc(s.Plants, func(p mayapply.PackedPlant) bool { return p.ID == id })
	})
}
