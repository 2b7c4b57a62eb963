package casework

import (
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/store"
)

// Lineage follows the plants of a site through everything that is told of them: by themselves, and in the histories of
// its cases, which the caller has read. Plants are all of the site's records.
func Lineage(tx *store.Tx, at site.Site, plants []site.Plant, histories []course.History) (course.Lineage, error) {
	known, err := Catalogue(tx)
	if err != nil {
		return course.Lineage{}, err
	}
	told, err := tx.PlantHistories(at.ID)
	return course.NewLineage(known, at, plants, slices.Concat(histories, told)), err
}

// WithLearned returns plants with what patch tests showed of them among what they stand: the business's own record.
func WithLearned(tx *store.Tx, plants ...site.Plant) ([]site.Plant, error) {
	sites := make([]site.ID, len(plants))
	for i, p := range plants {
		sites[i] = p.Site
	}
	slices.Sort(sites)
	ofPlants, err := tx.PlantHistories(slices.Compact(sites)...)
	if err != nil {
		return nil, err
	}
	plants = slices.Clone(plants)
	for _, h := range ofPlants { // without one nothing was learned at a site
		lineage, err := readLineage(tx, h.Site)
		if err != nil {
			return nil, err
		}
		for i, p := range plants {
			if p.Site == h.Site {
				plants[i].Tolerance = withLearned(p.Tolerance, lineage.Learned([]site.Plant{p}))
			}
		}
	}
	return plants, nil
}

func withLearned(recorded []catalogue.Tolerance, learned []course.Learned) []catalogue.Tolerance {
	all := slices.Clone(recorded)
	for _, l := range learned {
		all = slices.DeleteFunc(all, func(t catalogue.Tolerance) bool { return t.Material == l.Tolerance.Material })
		all = append(all, l.Tolerance)
	}
	return all
}

// readLineage follows the plants of a site, with the histories of all its cases.
func readLineage(tx *store.Tx, at site.ID) (course.Lineage, error) {
	cases, err := tx.CasesOfSite(at)
	if err != nil {
		return course.Lineage{}, err
	}
	histories, err := Histories(tx, cases)
	if err != nil {
		return course.Lineage{}, err
	}
	return lineageOf(tx, at, histories)
}

// followPlants adds to cases the groups that their plants have become: a group that splits keeps its case, whenever that
// is told. The site of the cases must be locked.
func followPlants(tx *store.Tx, ids []course.CaseID) error {
	histories, err := Histories(tx, ids)
	if err != nil {
		return err
	}
	sites := map[site.ID]course.Lineage{}
	for _, h := range histories {
		lineage, read := sites[h.Site]
		if !read {
			if lineage, err = lineageOf(tx, h.Site, histories); err != nil {
				return err
			}
			sites[h.Site] = lineage
		}
		if err := tx.AddCasePlants(h.Case, plantsOfCase(lineage, h)); err != nil {
			return err
		}
	}
	return nil
}

func lineageOf(tx *store.Tx, id site.ID, histories []course.History) (course.Lineage, error) {
	at, err := tx.Site(id)
	if err != nil {
		return course.Lineage{}, err
	}
	plants, err := tx.PlantsOf(id)
	if err != nil {
		return course.Lineage{}, err
	}
	return Lineage(tx, at, plants, histories)
}

// plantsOfCase are the plants of a case as they are called today: those with which it was opened, and those on which
// something was found since.
func plantsOfCase(lineage course.Lineage, h course.History) []site.PlantID {
	var all []site.PlantID
	if len(h.Events) > 0 {
		all = lineage.Became(h.Plants, h.Events[0].At)
	}
	for _, e := range h.Events {
		if e.Finding != nil {
			all = append(all, lineage.Became(e.Finding.Plants, e.At)...)
		}
		if e.Inspection != nil {
			all = append(all, lineage.Became(e.Inspection.Found, e.At)...)
		}
	}
	slices.Sort(all)
	return slices.Compact(all)
}
