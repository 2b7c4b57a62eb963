package casework

import (
	"fmt"
	"slices"

	"vernation/scheduler/site"
)

// changePlants lets the records of plants follow the event: their number, and what is there no longer.
func (t *plantTelling) changePlants() error {
	switch e := t.event; {
	case e.Split != nil:
		return t.split()
	case e.Joined != nil:
		return t.join()
	case e.Gone != nil:
		var gone []site.Plant
		for _, id := range e.Gone.Plants {
			gone = append(gone, t.leave(id))
		}
		return t.tx.UpdatePlants(gone)
	}
	return nil
}

// leave marks a plant as gone, and returns its record; of several days the first stands.
func (t *plantTelling) leave(id site.PlantID) site.Plant {
	p := t.plant(id)
	if p.GoneOn.IsZero() || t.on() < p.GoneOn {
		p.GoneOn = t.on()
	}
	return *p
}

// split takes the parts out of their group. Each stands where the group stood then, with its rhythm and what is known of it,
// and with its share of the routine work.
func (t *plantTelling) split() error {
	lineage, err := Lineage(t.tx, t.site, t.plants, t.histories)
	if err != nil {
		return err
	}
	group := t.plant(t.event.Split.From)
	whole := group.Count
	var parts []site.Plant
	for _, told := range t.event.Split.Parts {
		part := *group
		part.ID, part.Name, part.Count = told.Plant, told.Name, told.Count
		if part.Name == "" {
			part.Name = fmt.Sprintf("%s, %s", group.Name, told.Plant)
		}
		part.Area = lineage.StoodIn(*group, t.on())
		parts = append(parts, part)
		group.Count -= told.Count
	}
	if err := t.tx.InsertPlants(parts); err != nil {
		return err
	}
	if err := t.tx.UpdatePlants([]site.Plant{*group}); err != nil {
		return err
	}
	return t.changeServices(func(groups []site.Group) []site.Group {
		at := slices.IndexFunc(groups, func(g site.Group) bool { return g.Plant == group.ID })
		if at < 0 {
			return groups
		}
		minutes := groups[at].Minutes
		groups[at].Minutes = shareOf(minutes, group.Count, whole)
		for _, part := range parts {
			groups = append(groups, site.Group{Plant: part.ID, Minutes: shareOf(minutes, part.Count, whole)})
		}
		return groups
	})
}

// shareOf is the part of a whole group's minutes that some of its plants take, rounded up: no work takes none. Of several
// splits the rounding depends on which is told first, by a minute.
func shareOf(minutes, count, whole int) int { return (minutes*count + whole - 1) / whole }

// join adds groups to another one, with their routine work, and marks them as gone.
func (t *plantTelling) join() error {
	into := t.plant(t.event.Joined.Into)
	var changed []site.Plant
	for _, id := range t.event.Joined.From {
		into.Count += t.plant(id).Count
		changed = append(changed, t.leave(id))
	}
	if err := t.tx.UpdatePlants(append(changed, *into)); err != nil {
		return err
	}
	return t.changeServices(func(groups []site.Group) []site.Group {
		minutes := 0
		rest := slices.DeleteFunc(groups, func(g site.Group) bool {
			absorbed := g.Plant == into.ID || slices.Contains(t.event.Joined.From, g.Plant)
			if absorbed {
				minutes += g.Minutes
			}
			return absorbed
		})
		if minutes == 0 {
			return rest
		}
		return append(rest, site.Group{Plant: into.ID, Minutes: min(minutes, site.MaxGroupMinutes)})
	})
}

// changeServices changes the groups of the site's services where that changes anything.
func (t *plantTelling) changeServices(change func([]site.Group) []site.Group) error {
	services, err := t.tx.Services(t.site.ID)
	if err != nil {
		return err
	}
	for _, s := range services {
		changed := change(slices.Clone(s.Groups))
		if slices.Equal(changed, s.Groups) {
			continue
		}
		if err := t.tx.SetServiceGroups(s.ID, changed); err != nil {
			return err
		}
	}
	return nil
}

// settlePlaces lets each plant stand where the last move that is told of it, under whatever name, took it: a move that
// is told late changes nothing where a later one is known.
func (t *plantTelling) settlePlaces() error {
	plants, err := t.tx.PlantsOf(t.site.ID)
	if err != nil {
		return err
	}
	lineage, err := Lineage(t.tx, t.site, plants, t.histories)
	if err != nil {
		return err
	}
	var moved []site.Plant
	for _, p := range plants {
		if to, told := lineage.MovedTo(p.ID); told && to != p.Area && p.GoneOn.IsZero() {
			p.Area = to
			moved = append(moved, p)
		}
	}
	return t.tx.UpdatePlants(moved)
}
