package dispatch

import (
	"errors"
	"fmt"
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/mayapply"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// MayApply answers whether something speaks against an application that a technician has in mind: from the label, the law,
// the agreement and everything that is recorded, as it stands now. It writes nothing.
//
// Fails with NotFound for the technician or the product, Refused (DELETED) for one who left or that was withdrawn, and
// Invalid (UNKNOWN_PLANT, OTHER_SITE, UNKNOWN_AREA, UNKNOWN_PEST, DUPLICATE, each with its field). What speaks against the application is no failure.
func MayApply(tx *store.Tx, w firm.Wish) (firm.WishAnswer, error) {
	if w.Begins.IsZero() {
		w.Begins = tx.Now()
	}
	if err := wishInUse(tx, w); err != nil {
		return firm.WishAnswer{}, err
	}
	p, err := readPacking(tx, w.Technician, civil.Interval{From: w.Begins, To: w.Begins})
	if err != nil {
		return firm.WishAnswer{}, err
	}
	at, err := siteOfWish(tx, w)
	if err != nil {
		return firm.WishAnswer{}, err
	}
	pack, err := p.pack(at)
	if err != nil {
		return firm.WishAnswer{}, err
	}
	if err := areasOfWish(pack.Site, w); err != nil {
		return firm.WishAnswer{}, err
	}
	answer, err := pack.Ask(w.Asked(tx.Now()))
	if invalid := (*mayapply.InvalidQuestion)(nil); errors.As(err, &invalid) {
		return firm.WishAnswer{}, fault.New(fault.Invalid, "QUESTION_NOT_UNDERSTOOD", "the question cannot be understood: %v", err)
	}
	return firm.WishAnswer{Answer: answer, Site: pack.Site.ID, Zone: pack.Site.Zone}, err
}

// wishInUse refuses a technician who left and a product that was withdrawn.
func wishInUse(tx *store.Tx, w firm.Wish) error {
	member, err := tx.KeptCrewMember(w.Technician)
	if err != nil {
		return err
	}
	product, err := tx.KeptProduct(w.Product)
	if err != nil {
		return err
	}
	return errors.Join(member.InUse("technician", string(w.Technician)), product.InUse("product", string(w.Product)))
}

// siteOfWish is where the plants of a wish stand: all at one site.
func siteOfWish(tx *store.Tx, w firm.Wish) (at site.ID, err error) {
	var fields catalogue.FieldErrors
	var first site.Plant
	for i, id := range w.Plants {
		path := fmt.Sprintf("plants[%d]", i)
		p, err := tx.Plant(id)
		switch {
		case fault.Is(err, fault.NotFound):
			fields.Add(path, "UNKNOWN_PLANT", "plant %s is not of this business", id)
			continue
		case err != nil:
			return "", err
		case slices.Contains(w.Plants[:i], id):
			fields.Add(path, catalogue.ReasonDuplicate, "plant %s is there twice", id)
		case first.ID != "" && p.Site != first.Site:
			fields.Add(path, "OTHER_SITE", "plant %s stands at another site than plant %s: ask for each site by itself", id, first.ID)
		}
		if first.ID == "" {
			first = p
		}
	}
	if w.Pest != "" {
		_, err := catalogue.Shipped().PestByID(w.Pest)
		fields.AddUnknown("pest", catalogue.ReasonUnknownPest, err)
	}
	return first.Site, fault.InvalidFields(fields)
}

// areasOfWish holds the areas that are named against the site.
func areasOfWish(at site.Site, w firm.Wish) error {
	var fields catalogue.FieldErrors
	judge := func(path string, id site.AreaID) {
		if areaOf(at, id) == nil {
			fields.Add(path, catalogue.ReasonUnknownArea, "%s is no area of %s", id, at.Name)
		}
	}
	if w.Area != "" {
		judge("area", w.Area)
	}
	for i, reading := range w.Readings {
		judge(fmt.Sprintf("readings[%d].area", i), reading.Area)
	}
	return fault.InvalidFields(fields)
}
