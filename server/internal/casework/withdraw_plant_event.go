package casework

import (
	"slices"

	"vernation/scheduler/civil"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// WithdrawPlantEvent takes an event of plants back that was told wrongly: records, cases and courses are as if it had never
// been told, but for a minute of routine work, since shares are rounded up. What is right is told anew. The parts of a
// split are deleted with it.
//
// Fails with NotFound and Refused: WITHDRAWN_ALREADY, BUILT_UPON when what was told since needs it.
func WithdrawPlantEvent(tx *store.Tx, id, reason string) (firm.PlantEvent, error) {
	e, err := tx.PlantEvent(id)
	if err != nil {
		return firm.PlantEvent{}, err
	}
	if err := tx.LockSite(e.Site); err != nil {
		return firm.PlantEvent{}, err
	}
	if e, err = tx.PlantEvent(id); err != nil { // as whoever held the site left it
		return firm.PlantEvent{}, err
	}
	if e.WithdrawnAt != 0 {
		f := fault.New(fault.Refused, "WITHDRAWN_ALREADY", "the event %s was withdrawn at %v", id, e.WithdrawnAt)
		f.Subject = id
		return firm.PlantEvent{}, f
	}
	t := plantTelling{tx: tx, event: e}
	if err := inOrder(t.readSite, t.mayWithdraw, t.lockCases); err != nil {
		return firm.PlantEvent{}, err
	}
	if err := tx.WithdrawPlantEvent(e, reason); err != nil {
		return firm.PlantEvent{}, err
	}
	if err := inOrder(t.undo, func() error { return tx.TouchCases(t.cases) }, t.settle); err != nil {
		return firm.PlantEvent{}, err
	}
	return tx.PlantEvent(id)
}

// mayWithdraw refuses to take back what later events or work stand on: the parts of a split of which anything is told, and
// groups that joined and split or joined again since.
func (t *plantTelling) mayWithdraw() error {
	var needed []site.PlantID
	switch e := t.event; {
	case e.Split != nil:
		var parts []site.PlantID
		for _, part := range e.Split.Parts {
			parts = append(parts, part.Plant)
		}
		told, err := store.ToldOf(t.tx, t.site.ID, parts, e.ID)
		if err != nil {
			return err
		}
		needed = told
	case e.Joined != nil:
		events, err := t.tx.PlantEventsOf(t.site.ID)
		if err != nil {
			return err
		}
		groups := append(slices.Clone(e.Joined.From), e.Joined.Into)
		for _, later := range events {
			if later.ID == e.ID || later.At < e.At || later.Split == nil && later.Joined == nil {
				continue
			}
			needed = append(needed, slices.DeleteFunc(later.Plants(), func(id site.PlantID) bool { return !slices.Contains(groups, id) })...)
		}
	}
	if len(needed) == 0 {
		return nil
	}
	f := fault.New(fault.Refused, "BUILT_UPON", "more is told of %s since, which needs the event %s: withdraw that first", needed[0], t.event.ID)
	f.Subject = t.event.ID
	return f
}

// undo lets the records of plants be as if the event, which is withdrawn, had never been told.
func (t *plantTelling) undo() error {
	switch e := t.event; {
	case e.Moved != nil:
		return t.comeBack()
	case e.Split != nil:
		return t.takeIn()
	case e.Joined != nil:
		return t.part()
	case e.Gone != nil:
		return t.returned(e.Gone.Plants)
	}
	return nil // what a patch test showed is laid over the record and never written into it
}

// returned unmarks plants that went with the event, unless another event still says that they are gone.
func (t *plantTelling) returned(plants []site.PlantID) error {
	events, err := t.tx.PlantEventsOf(t.site.ID)
	if err != nil {
		return err
	}
	var back []site.Plant
	for _, id := range plants {
		p := t.plant(id)
		if p.GoneOn != t.on() { // an earlier event says so
			continue
		}
		kept, err := t.tx.KeptPlant(id)
		if err != nil {
			return err
		}
		if kept.DeletedAt != 0 { // it stays gone
			continue
		}
		p.GoneOn = t.firstGone(id, events)
		back = append(back, *p)
	}
	return t.tx.UpdatePlants(back)
}

// firstGone is the first day on which an event says that a plant is gone or joined another; unset when none does.
func (t *plantTelling) firstGone(id site.PlantID, events []firm.PlantEvent) civil.Date {
	for _, e := range events { // in order of time
		if e.Gone != nil && slices.Contains(e.Gone.Plants, id) || e.Joined != nil && slices.Contains(e.Joined.From, id) {
			return t.site.Zone.DateOf(e.At)
		}
	}
	return 0
}

// comeBack lets plants stand where they stood before a move that did not happen; where another move is told, settlePlaces
// follows it.
func (t *plantTelling) comeBack() error {
	lineage, err := Lineage(t.tx, t.site, t.plants, t.histories)
	if err != nil {
		return err
	}
	var back []site.Plant
	for _, id := range t.event.Moved.Plants {
		if _, told := lineage.MovedTo(id); told {
			continue
		}
		if p := t.plant(id); p.Area == t.event.Moved.To {
			p.Area = t.event.Moved.From
			back = append(back, *p)
		}
	}
	return t.tx.UpdatePlants(back)
}

// takeIn puts the parts of a split back into their group, with their share of the routine work, and deletes them.
func (t *plantTelling) takeIn() error {
	group := t.plant(t.event.Split.From)
	var changed []site.Plant
	var parts []site.PlantID
	for _, told := range t.event.Split.Parts {
		part := t.plant(told.Plant)
		group.Count += part.Count
		part.GoneOn = t.on()
		changed, parts = append(changed, *part), append(parts, part.ID)
	}
	if err := t.tx.UpdatePlants(append(changed, *group)); err != nil {
		return err
	}
	for _, id := range parts {
		if err := t.tx.DeletePlant(id); err != nil {
			return err
		}
	}
	return t.changeServices(func(groups []site.Group) []site.Group {
		minutes := 0
		rest := slices.DeleteFunc(groups, func(g site.Group) bool {
			of := slices.Contains(parts, g.Plant)
			if of {
				minutes += g.Minutes
			}
			return of
		})
		at := slices.IndexFunc(rest, func(g site.Group) bool { return g.Plant == group.ID })
		switch {
		case at >= 0:
			rest[at].Minutes = min(rest[at].Minutes+minutes, site.MaxGroupMinutes)
		case minutes > 0:
			rest = append(rest, site.Group{Plant: group.ID, Minutes: minutes})
		}
		return rest
	})
}

// part lets groups that did not join stand by themselves again, each with a share of the work by its number of plants.
func (t *plantTelling) part() error {
	into := t.plant(t.event.Joined.Into)
	whole := into.Count
	for _, id := range t.event.Joined.From {
		into.Count -= t.plant(id).Count
	}
	if into.Count < 1 {
		return fault.New(fault.Refused, "BUILT_UPON", "%s has %d plants, fewer than joined it: set its number right first", into.ID, whole)
	}
	if err := t.tx.UpdatePlants([]site.Plant{*into}); err != nil {
		return err
	}
	if err := t.returned(t.event.Joined.From); err != nil {
		return err
	}
	return t.changeServices(func(groups []site.Group) []site.Group {
		at := slices.IndexFunc(groups, func(g site.Group) bool { return g.Plant == into.ID })
		if at < 0 {
			return groups
		}
		minutes := groups[at].Minutes
		groups[at].Minutes = shareOf(minutes, into.Count, whole)
		for _, id := range t.event.Joined.From {
			groups = append(groups, site.Group{Plant: id, Minutes: shareOf(minutes, t.plant(id).Count, whole)})
		}
		return groups
	})
}
