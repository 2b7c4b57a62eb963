package reentry

import (
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/site"
)

// Policy is what the business settled about how long things take to dry.
type Policy struct {
	// UntilDry is the least keep-out by method where a label says until dry.
	UntilDry map[catalogue.Method]time.Duration
	// UnventilatedFactorPercent scales it where ventilation is off; 100 or more.
	UnventilatedFactorPercent int
}

// Term is how long an application shuts an area after its END: KeepOut where all of that time lies in ventilation
// hours, Unventilated where any of it does not. Both 0: it shuts nothing.
type Term struct {
	KeepOut      time.Duration
	Unventilated time.Duration
	// Least and Law are the time and the words of a rule of law that lengthens what the label says; 0 and "" where the
	// label decides.
	Least time.Duration
	Law   string
}

// Needed returns how long an application of a product in an area of a site shuts it: the keep-out rule in whole, that
// everybody but the independent checker asks. It is the label's interval; what works only while it is wet dries as where
// there is no ventilation; and the longest time that the law asks for at the kind of area or of site holds where that is longer, also
// where the label needs none (a plant room in a school is in a school). Of physical work, devices and organisms the law on
// applications does not speak, and work without a supply shuts nothing.
//
// Errors: ErrUnknown where the label's interval is not known, since no number is assumed for it; every other says which
// field is wrong. In an area that the site does not know the site's own kind decides.
func Needed(c *catalogue.Catalogue, policy Policy, s site.Site, area site.AreaID, product catalogue.Product) (Term, error) {
	if product.Form == catalogue.NoSupply {
		return Term{}, nil
	}
	material := c.Materials[product.Material]
	entry := product.Label.Entry
	aired, unaired, err := Resolve(entry, material.Method, policy.UntilDry, policy.UnventilatedFactorPercent)
	if err != nil {
		return Term{}, err
	}
	if material.DriesSlowly && entry.Kind == catalogue.EntryUntilDry {
		aired = unaired
	}
	term := Term{KeepOut: aired, Unventilated: unaired}
	if material.Law == catalogue.PhysicalWork || material.Law == catalogue.DeviceOrOrganism {
		return term, nil
	}
	least, law := LeastByLaw(c, s, area)
	term.KeepOut, term.Unventilated = Longest(aired, unaired, least)
	if term.KeepOut != aired || term.Unventilated != unaired {
		term.Least, term.Law = least, law
	}
	return term, nil
}

// LeastByLaw returns the least time that the law keeps people out of an area after an application of a pesticide, and
// the rule's own words: of the kinds of the area and of its site the longer. 0 and "" where no such rule is known.
func LeastByLaw(c *catalogue.Catalogue, s site.Site, area site.AreaID) (least time.Duration, text string) {
	kinds := []catalogue.PlaceKind{s.Kind}
	for _, a := range s.Areas {
		if a.ID == area && a.Kind != "" {
			kinds = append(kinds, a.Kind)
		}
	}
	least, _, text = c.LeastEntry(s.Jurisdiction, kinds...)
	return least, text
}

// LeastAtSite is LeastByLaw over all areas of a site: what holds wherever on it something is applied.
func LeastAtSite(c *catalogue.Catalogue, s site.Site) (least time.Duration) {
	least, _, _ = c.LeastEntry(s.Jurisdiction, s.Kind)
	for _, area := range s.Areas {
		longer, _ := LeastByLaw(c, s, area.ID)
		least = max(least, longer)
	}
	return least
}
