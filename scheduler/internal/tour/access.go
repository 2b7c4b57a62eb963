package tour

import "vernation/scheduler/internal/instance"

// The rule "access" beside the access runs that visit looks through: what a treatment place holds. Keys, consent
// and notices are filtered in compile.

// placeAllows says whether treatment places hold the plants carried to them whenever this item's or another's come.
func (w *Walker) placeAllows(item int32) bool {
	t := w.times(item)
	way := &w.in.Items[item].Ways[t.Way]
	if way.HeldIn == instance.None {
		return true
	}
	stays := []stay{w.stayOf(item)}
	for _, bond := range w.in.Items[item].Bonds {
		if bond.Kind != instance.SharePlace {
			continue
		}
		other := bond.From + bond.To - item
		if placed := w.times(other); placed.Placed && w.in.Items[other].Ways[placed.Way].HeldIn == way.HeldIn {
			stays = append(stays, w.stayOf(other))
		}
	}
	for _, at := range stays {
		plants := int32(0)
		for _, other := range stays {
			if other.From <= at.From && at.From < other.To {
				plants += other.plants
			}
		}
		if plants > w.in.Areas[way.HeldIn].Capacity {
			return w.refuse(RuleAccess, PlaceFull, item, at.From)
		}
	}
	return true
}

// stay is how long plants are in a treatment place.
type stay struct {
	instance.Window
	plants int32
}

// stayOf returns the stay of a placed item: until its carry back has ended, for good where it has none. While the carry
// back is still to be placed it is taken to come at the last moment.
func (w *Walker) stayOf(item int32) stay {
	t := w.times(item)
	way := &w.in.Items[item].Ways[t.Way]
	until := instance.Far
	switch {
	case t.Returned:
		until = t.BackEnd
	case len(way.Legs) > 1:
		until = t.Begins + way.MostAway
	}
	return stay{instance.Window{From: t.Begins, To: until}, way.Carried}
}
