package casework

import (
	"fmt"
	"slices"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
)

// namedPlant is a plant that an event names and that must be on record, and the field that names it.
type namedPlant struct {
	path string
	id   site.PlantID
}

// namedIn lists the plants that an event names and that must be on record, in the order of its fields.
func namedIn(e firm.PlantEvent) []namedPlant {
	var all []namedPlant
	each := func(path string, ids ...site.PlantID) {
		for i, id := range ids {
			all = append(all, namedPlant{fmt.Sprintf("%s[%d]", path, i), id})
		}
	}
	switch {
	case e.Patch != nil:
		each("patch_result.plants", e.Patch.Plants...)
	case e.Moved != nil:
		each("moved.plants", e.Moved.Plants...)
	case e.Split != nil:
		all = append(all, namedPlant{"split.plant", e.Split.From})
	case e.Joined != nil:
		each("joined.plants", e.Joined.From...)
		all = append(all, namedPlant{"joined.into", e.Joined.Into})
	case e.Gone != nil:
		each("gone.plants", e.Gone.Plants...)
		each("gone.successors", e.Gone.Successors...)
	}
	return all
}

// judge says everything that cannot be understood, all at once.
func (t *plantTelling) judge() error {
	var fields catalogue.FieldErrors
	if t.event.At > t.tx.Now().Add(clockTolerance) {
		fields.Add("event_time", "IN_THE_FUTURE", "%v lies more than 5 minutes after the firm's clock, %v: want when it happened", t.event.At, t.tx.Now())
	}
	known, err := t.judgePlants(&fields)
	if err != nil {
		return err
	}
	if known { // what follows reads the records
		switch e := t.event; {
		case e.Patch != nil:
			_, err := catalogue.Shipped().MaterialByID(e.Patch.Material)
			fields.AddUnknown("patch_result.material", catalogue.ReasonUnknownMaterial, err)
		case e.Moved != nil:
			t.judgeMove(&fields)
		case e.Split != nil:
			t.judgeSplit(&fields)
		case e.Joined != nil:
			t.judgeJoin(&fields)
		}
	}
	for i := range fields {
		fields[i].Path = "plant_event." + fields[i].Path
	}
	return fault.InvalidFields(fields)
}

// judgePlants wants each plant named once, on record, and all at one site.
func (t *plantTelling) judgePlants(fields *catalogue.FieldErrors) (known bool, err error) {
	all := namedIn(t.event)
	known = true
	for i, n := range all {
		if slices.ContainsFunc(all[:i], func(other namedPlant) bool { return other.id == n.id }) {
			reason := catalogue.ReasonDuplicate
			if n.path == "joined.into" || t.event.Gone != nil && slices.Contains(t.event.Gone.Plants, n.id) && slices.Contains(t.event.Gone.Successors, n.id) {
				reason = catalogue.ReasonContradiction
			}
			fields.Add(n.path, reason, "plant %s is named twice: want each plant once", n.id)
			continue
		}
		if t.plant(n.id) != nil {
			continue
		}
		known = false
		switch _, err := t.tx.Plant(n.id); {
		case fault.Is(err, fault.NotFound):
			fields.Add(n.path, "UNKNOWN_PLANT", "plant %s is not of this business", n.id)
		case err != nil:
			return false, err
		default:
			fields.Add(n.path, "OTHER_SITE", "plant %s does not stand at %s: want plants of one site", n.id, t.site.Name)
		}
	}
	return known, nil
}

func (t *plantTelling) judgeMove(fields *catalogue.FieldErrors) {
	m := t.event.Moved
	for _, end := range []struct {
		path string
		id   site.AreaID
	}{{"moved.from", m.From}, {"moved.to", m.To}} {
		if !slices.ContainsFunc(t.site.Areas, func(a site.Area) bool { return a.ID == end.id }) {
			fields.Add(end.path, catalogue.ReasonUnknownArea, "%s is no area of %s: want one of the site at which the plants stand", end.id, t.site.Name)
		}
	}
	if m.From == m.To {
		fields.Add("moved.to", catalogue.ReasonContradiction, "the plants go from %s to %s: want another area", m.From, m.To)
	}
	if !m.NotBefore.IsZero() && !m.NotAfter.IsZero() && m.NotAfter < m.NotBefore {
		fields.Add("moved.not_after_on", catalogue.ReasonOutOfRange, "not before %v and not after %v: want the days in rising sequence", m.NotBefore, m.NotAfter)
	}
	if today := t.site.Zone.DateOf(t.tx.Now()); m.NotAfter > today || m.NotBefore > today {
		fields.Add("moved.not_after_on", "IN_THE_FUTURE", "it is %v at the site: want days that have come", today)
	}
}

func (t *plantTelling) judgeSplit(fields *catalogue.FieldErrors) {
	s := t.event.Split
	apart := 0
	for i, part := range s.Parts {
		apart += part.Count
		if part.Plant == s.From || slices.ContainsFunc(s.Parts[:i], func(other firm.GroupPart) bool { return other.Plant == part.Plant }) {
			fields.Add(fmt.Sprintf("split.parts[%d].plant_id", i), catalogue.ReasonDuplicate, "%s is there twice: want a new id for each part", part.Plant)
		}
	}
	if group := t.plant(s.From); apart >= group.Count {
		fields.Add("split.parts", catalogue.ReasonOutOfRange, "the parts are %d plants and %s holds %d: want at least one to stay under its name", apart, group.Name, group.Count)
	}
}

func (t *plantTelling) judgeJoin(fields *catalogue.FieldErrors) {
	into := t.plant(t.event.Joined.Into)
	count := into.Count
	for i, id := range t.event.Joined.From {
		group := t.plant(id)
		count += group.Count
		if group.Species != into.Species {
			fields.Add(fmt.Sprintf("joined.plants[%d]", i), catalogue.ReasonContradiction, "%s is %s and %s is %s: want groups of one species", group.Name, group.Species, into.Name, into.Species)
		}
	}
	if count > site.MaxPlantCount {
		fields.Add("joined.plants", catalogue.ReasonOutOfRange, "together they are %d plants: want at most %d", count, site.MaxPlantCount)
	}
}

// mayChange: a group that is there no longer neither splits nor joins; what it became does.
func (t *plantTelling) mayChange() error {
	if t.event.Split == nil && t.event.Joined == nil {
		return nil
	}
	for _, n := range namedIn(t.event) {
		if p := t.plant(n.id); !p.GoneOn.IsZero() {
			f := fault.New(fault.Refused, "PLANT_GONE", "%s is there no longer since %v: tell it of the group that it joined, or not at all", p.Name, p.GoneOn)
			f.Subject = string(n.id)
			return f
		}
	}
	return nil
}
