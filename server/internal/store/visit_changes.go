package store

import (
	"encoding/json"
	"fmt"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
)

// kindOfState is what happens to a visit that comes to a state.
func kindOfState(state scheduler.VisitState) firm.ChangeKind {
	switch state {
	case scheduler.Begun:
		return firm.VisitBegun
	case scheduler.Done:
		return firm.VisitDone
	default:
		return firm.Changed
	}
}

// visitsBefore returns the visits that are to be removed or written anew, as they stand.
func (tx *Tx) visitsBefore(remove []scheduler.VisitID, upsert []scheduler.Visit) (map[scheduler.VisitID]scheduler.Visit, error) {
	all := append([]scheduler.VisitID{}, remove...)
	for _, visit := range upsert {
		all = append(all, visit.ID)
	}
	found, err := visits(tx, `AND visit_id = ANY ($2) ORDER BY visit_id`, ids(all))
	before := make(map[scheduler.VisitID]scheduler.Visit, len(found))
	for _, visit := range found {
		before[visit.ID] = visit
	}
	return before, err
}

// tellVisits tells what a swap of visits changes for whom. One that passes from a technician to another is withdrawn from
// the first and planned for the second. A change is for safety where it moves an application that was published before,
// or changes what is applied.
func (tx *Tx) tellVisits(before map[scheduler.VisitID]scheduler.Visit, remove []scheduler.VisitID, upsert []scheduler.Visit) {
	was, is := applications{}, applications{}
	for _, visit := range before {
		was.add(visit)
	}
	for _, visit := range upsert {
		is.add(visit)
	}
	tell := func(visit scheduler.Visit, kind firm.ChangeKind, moved bool) {
		tx.Tell(firm.Change{
			Noun: firm.NounVisit, ID: string(visit.ID), Kind: kind, Site: visit.Site,
			Technician: visit.Technician, Begins: visit.Arrives, Safety: moved,
		})
	}
	for _, id := range remove {
		if old, known := before[id]; known {
			tell(old, firm.VisitWithdrawn, moved(was, is, old))
		}
	}
	for _, visit := range upsert {
		old, known := before[visit.ID]
		switch {
		case !known:
			tell(visit, firm.VisitPlanned, moved(was, is, visit))
		case old.Technician != visit.Technician:
			tell(old, firm.VisitWithdrawn, moved(was, is, old))
			tell(visit, firm.VisitPlanned, moved(was, is, visit))
		case old.Arrives != visit.Arrives || old.Site != visit.Site:
			tell(visit, firm.VisitMoved, moved(was, is, old, visit))
		case old.Leaves != visit.Leaves || old.State != visit.State || !sameWork(old.Work, visit.Work):
			tell(visit, firm.Changed, moved(was, is, old, visit))
		}
	}
}

// application is where, when and by whom something is applied, and what.
type application struct {
	technician scheduler.TechnicianID
	begins     civil.Instant
	area       site.AreaID
	product    catalogue.ProductID
}

// applications are the applications of visits by their work item.
type applications map[scheduler.ItemID]application

func (a applications) add(visit scheduler.Visit) {
	for _, work := range visit.Work {
		if work.Use != nil {
			a[work.Item] = application{visit.Technician, work.Begins, work.Area, work.Use.Product}
		}
	}
}

// moved says whether one of the visits holds an application that was published and is not what it was.
func moved(was, is applications, of ...scheduler.Visit) bool {
	for _, visit := range of {
		for _, work := range visit.Work {
			old, known := was[work.Item]
			if now, stays := is[work.Item]; known && (!stays || now != old) {
				return true
			}
		}
	}
	return false
}

// sameWork compares work whatever the place of its mix in the day's list, which may move without anything else.
func sameWork(a, b []scheduler.WorkItem) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if wordsOf(a[i]) != wordsOf(b[i]) {
			return false
		}
	}
	return true
}

func wordsOf(work scheduler.WorkItem) string {
	work.MixIndex = 0
	text, err := json.Marshal(work)
	if err != nil {
		panic(fmt.Sprintf("store: a work item cannot be written: %v", err))
	}
	return string(text)
}
