package casework

import (
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// Course returns the course of a case as of the firm's present instant. A stored course is a cache under the
// hash of its inputs; one whose key differs is computed anew. Nothing is written.
func Course(tx *store.Tx, id course.CaseID) (firm.Case, course.Course, error) {
	c, err := tx.Case(id)
	if err != nil {
		return firm.Case{}, course.Course{}, err
	}
	in, err := input(tx, c)
	if err != nil {
		return firm.Case{}, course.Course{}, err
	}
	kept, found, err := tx.Course(id)
	if err != nil {
		return firm.Case{}, course.Course{}, err
	}
	if found && kept.Key == in.Key() {
		return c, kept, nil
	}
	computed, err := compute(in)
	return c, computed, err
}

// recompute computes and keeps the courses of cases whose rows are locked, and settles whether they have ended.
func recompute(tx *store.Tx, ids []course.CaseID) error {
	for _, id := range ids {
		c, err := tx.Case(id)
		if err != nil {
			return err
		}
		in, err := input(tx, c)
		if err != nil {
			return err
		}
		computed, err := compute(in)
		if err != nil {
			return err
		}
		if err := tx.SaveCourse(id, computed.Key, computed); err != nil {
			return err
		}
		if err := settleEnding(tx, c, computed.Ended); err != nil {
			return err
		}
	}
	return nil
}

// settleEnding ends a case whose history says so, and opens one again that had ended by inspections when a late
// report shows that it has not, or that was kept low when more is found. Any other ending that people decided stands.
func settleEnding(tx *store.Tx, c firm.Case, ended *course.Ending) error {
	watched := c.Ending != nil && c.Ending.Kind == course.KeptLow
	switch {
	case ended != nil && (c.Ending == nil || watched && ended.Kind != course.KeptLow):
		return tx.EndCase(c.ID, *ended, tx.Now())
	case ended == nil && c.Ending != nil && (watched || c.Ending.Kind == course.Clear || c.Ending.Kind == course.NotFoundPest):
		return tx.ReopenCase(c.ID)
	}
	return nil
}

// goesOn says whether a case still needs something: it has not ended, or is kept low under watch.
func goesOn(c firm.Case) bool { return c.Ending == nil || c.Ending.Kind == course.KeptLow }

func compute(in course.Input) (course.Course, error) {
	computed, err := course.Compute(in)
	if err != nil {
		return course.Course{}, fault.New(fault.Invalid, "COURSE_NOT_COMPUTABLE", "the course of case %s cannot be computed: %v", in.Case, err)
	}
	return computed, nil
}

// input gathers everything that the course of a case depends on now.
func input(tx *store.Tx, c firm.Case) (course.Input, error) {
	business, err := tx.Business()
	if err != nil {
		return course.Input{}, err
	}
	related, err := related(tx, c)
	if err != nil {
		return course.Input{}, err
	}
	histories, err := Histories(tx, related)
	if err != nil {
		return course.Input{}, err
	}
	ofPlants, err := tx.PlantHistories(site.ID(c.Site))
	if err != nil {
		return course.Input{}, err
	}
	histories = append(histories, ofPlants...)
	at, err := tx.Site(site.ID(c.Site))
	if err != nil {
		return course.Input{}, err
	}
	plants, err := tx.PlantsOf(at.ID)
	if err != nil {
		return course.Input{}, err
	}
	services, err := tx.Services(at.ID)
	if err != nil {
		return course.Input{}, err
	}
	products, err := tx.AllProducts()
	if err != nil {
		return course.Input{}, err
	}
	withdrawn, err := tx.WithdrawnProducts()
	if err != nil {
		return course.Input{}, err
	}
	crew, err := tx.Crew()
	if err != nil {
		return course.Input{}, err
	}
	known, err := Catalogue(tx)
	if err != nil {
		return course.Input{}, err
	}
	today := business.Zone.DateOf(tx.Now())
	return course.Input{
		Today: today, Now: tx.Now(), Case: c.ID, Histories: histories,
		Sites: []site.Site{at}, Plants: plants, Services: services, Products: products, Withdrawn: withdrawn,
		Held: held(crew, today), Catalogue: known, Policy: business.Policy,
	}, nil
}

// related returns the case and every case that shares plants with it, in order of id.
func related(tx *store.Tx, c firm.Case) ([]course.CaseID, error) {
	cases, err := tx.CasesOfPlants(plantIDs(c.Plants))
	if err != nil {
		return nil, err
	}
	ids := []course.CaseID{c.ID}
	for _, other := range cases {
		ids = append(ids, other.ID)
	}
	slices.Sort(ids)
	return slices.Compact(ids), nil
}

// Histories returns the histories of cases as they stand: without what was corrected since.
func Histories(tx *store.Tx, of []course.CaseID) ([]course.History, error) {
	told, err := tx.Histories(of)
	return corrected(told), err
}

// corrected returns histories without the events that a later one takes the place of, and without withdrawals.
func corrected(told []course.History) []course.History {
	replaced := map[string]bool{}
	for _, h := range told {
		for _, e := range h.Events {
			if e.Corrects != "" {
				replaced[e.Corrects] = true
			}
		}
	}
	histories := slices.Clone(told)
	for i, h := range histories {
		histories[i].Events = slices.DeleteFunc(slices.Clone(h.Events), func(e course.Event) bool { return replaced[e.ID] || withdraws(e) })
	}
	return histories
}

// withdraws says whether an event does nothing but take an earlier one back: it corrects one and tells nothing.
func withdraws(e course.Event) bool {
	return e.Corrects != "" && e == course.Event{ID: e.ID, At: e.At, Corrects: e.Corrects}
}

// courseAt computes the course of a case as it would have been read at an instant, from what happened before that
// as it is known today.
func courseAt(tx *store.Tx, id course.CaseID, at civil.Instant) (course.Course, error) {
	c, err := tx.Case(id)
	if err != nil {
		return course.Course{}, err
	}
	in, err := input(tx, c)
	if err != nil {
		return course.Course{}, err
	}
	business, err := tx.Business()
	if err != nil {
		return course.Course{}, err
	}
	in.Now, in.Today = at, business.Zone.DateOf(at)
	for i, h := range in.Histories {
		in.Histories[i].Events = slices.DeleteFunc(h.Events, func(e course.Event) bool { return e.At >= at })
	}
	return compute(in)
}

// held returns the licence categories that somebody of the crew holds on a day, by jurisdiction, sorted. Who applies
// under another's licence holds none: that other one does.
func held(crew []firm.CrewMember, on civil.Date) map[catalogue.JurisdictionCode][]string {
	categories := map[catalogue.JurisdictionCode][]string{}
	for _, member := range crew {
		for _, licence := range member.Licences {
			if licence.Under == "" && licence.From <= on && (licence.To.IsZero() || on <= licence.To) {
				categories[licence.Jurisdiction] = append(categories[licence.Jurisdiction], licence.Category)
			}
		}
	}
	for jurisdiction, list := range categories {
		slices.Sort(list)
		categories[jurisdiction] = slices.Compact(list)
	}
	return categories
}

func plantIDs(names []string) []site.PlantID {
	ids := make([]site.PlantID, len(names))
	for i, name := range names {
		ids[i] = site.PlantID(name)
	}
	return ids
}
