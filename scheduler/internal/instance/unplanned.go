package instance

// NotPlanned returns what leaving an item out costs by its days, and whether it is left out (its window ends inside the
// horizon) or deferred (it may still be done on DeferredDay). A service is never impossible by being late: once its latest
// day lies in the horizon it is a promise not kept.
func (i *Item) NotPlanned(earliest, latest, stands, lastDay Day) (cost Cost, leftOut bool) {
	switch {
	case i.Service && latest <= lastDay:
		return i.LeftOut + i.LatePerDay*Cost(lastDay+1-latest), true
	case i.Service:
		return i.Deferred + i.LatePerDay*Cost(max(0, i.DeferredDay-latest)), false
	case stands <= lastDay:
		return i.LeftOut, true
	}
	late := i.LatePerDay * Cost(max(0, i.DeferredDay-latest))
	return i.Deferred + i.PriceOf(max(i.DeferredDay, earliest)-earliest) + late, false
}

// NotPlannedBehind is NotPlanned of an item whose days count from one that is not planned either: it shares its fate.
func (i *Item) NotPlannedBehind(leftOut bool) Cost {
	if leftOut {
		return i.LeftOut
	}
	return i.Deferred + i.PriceOf(0)
}
