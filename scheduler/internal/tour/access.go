package tour

import "vernation/scheduler/internal/instance"

// The rule "access" beside the access runs that visit looks through: what a treatment place holds. Keys, consent
// and notices are filtered in compile.

// accessRule is the rule "access" on a walk.
type accessRule struct{ *Walker }

// allows says whether treatment places hold the plants carried to them whenever this item's or another's come.
func (r accessRule) allows(item int32) bool {
	t := r.times(item)
	way := &r.in.Items[item].Ways[t.Way]
	if way.HeldIn == instance.None {
		return true
	}
	var stays []stay
	if !way.Back {
		stays = append(stays, r.stayOf(item))
	}
	for _, bond := range r.in.Items[item].Bonds {
		if bond.Kind != instance.SharePlace {
			continue
		}
		other := bond.From + bond.To - item
		if placed := r.times(other); placed.Placed {
			if its := &r.in.Items[other].Ways[placed.Way]; its.HeldIn == way.HeldIn && !its.Back {
				stays = append(stays, r.stayOf(other))
			}
		}
	}
	planned := len(stays)
	for _, held := range r.in.Areas[way.HeldIn].Held {
		until := held.Until
		if held.Item != instance.None && r.times(held.Item).Placed {
			until = r.times(held.Item).Ends
		}
		stays = append(stays, stay{instance.Window{From: held.From, To: until}, held.Plants})
	}
	for _, at := range stays {
		plants, ours := int32(0), false
		for i, other := range stays {
			if other.From <= at.From && at.From < other.To {
				plants += other.plants
				ours = ours || i < planned
			}
		}
		if ours && plants > r.in.Areas[way.HeldIn].Capacity {
			return r.reason(PlaceFull, item, at.From)
		}
	}
	return true
}

// reason notes what the rule says against the walk and returns false.
func (r accessRule) reason(text Text, item int32, at Seconds) bool {
	return r.refuse(RuleAccess, text, item, at)
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
