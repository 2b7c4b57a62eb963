package scheduler

import (
	"fmt"

	"vernation/scheduler/catalogue"
)

// running notes what is wrong with what runs already or lies in the past: keep-outs, fixed and earlier visits, mixes,
// progress, notices, and what was done.
func (v *validator) running() {
	for i, k := range v.p.KeepOuts {
		path := fmt.Sprintf("keep_outs[%d]", i)
		known(v, v.areaSite, k.Area, path+".area", "area")
		v.span(k.During, MaxStretch, path+".during")
	}
	visits := map[VisitID]bool{}
	for i := range v.p.Fixed {
		v.visitOnce(visits, v.p.Fixed[i].ID, fmt.Sprintf("fixed[%d].id", i))
		v.visit(&v.p.Fixed[i], fmt.Sprintf("fixed[%d]", i), Begun, Done, Pinned)
	}
	for i := range v.p.Before {
		v.visitOnce(visits, v.p.Before[i].ID, fmt.Sprintf("before[%d].id", i))
		v.visit(&v.p.Before[i], fmt.Sprintf("before[%d]", i), Published, Announced)
	}
	for i, m := range v.p.Mixes {
		path := fmt.Sprintf("mixes[%d]", i)
		known(v, v.product, m.Product, path+".product", "product")
		v.unless(!m.Begins.IsZero() && m.Begins <= m.Ready, path+".ready", ReasonOrder, "begins %v, ready %v: want both, ready not before", m.Begins, m.Ready)
		v.unless(m.Volume.Sign() > 0, path+".volume", ReasonRange, "%v: want more than nothing", m.Volume)
		if known(v, v.crew, m.Technician, path+".technician", "technician") {
			held := false
			for _, vessel := range v.crew[m.Technician].Vessels {
				held = held || vessel.ID == m.Vessel
			}
			v.unless(held, path+".vessel", ReasonUnknown, "vessel %q is not one of %q", m.Vessel, m.Technician)
		}
	}
	under := unique[TechnicianID]{}
	for i, p := range v.p.Progress {
		path := fmt.Sprintf("progress[%d]", i)
		under.add(v, p.Technician, path+".technician")
		known(v, v.crew, p.Technician, path+".technician", "technician")
		known(v, v.place, p.At, path+".at", "the matrix's place")
		v.unless(!p.FreeFrom.IsZero(), path+".free_from", ReasonMissing, "unset: want the instant from which on they are free")
		v.duration(p.Worked, MaxShift, path+".worked")
	}
	for i, n := range v.p.Notices {
		v.unless(n.Item != "" && !n.Begins.IsZero(), fmt.Sprintf("notices[%d]", i), ReasonMissing, "no item or no beginning: want both")
	}
	done := unique[ItemID]{}
	for i, d := range v.p.Done {
		path := fmt.Sprintf("done[%d]", i)
		done.add(v, d.ID, path+".id")
		known(v, v.siteIDs, d.Site, path+".site", "site")
		v.unless(!d.Began.IsZero() && d.Began <= d.Ended, path+".ended", ReasonOrder, "began %v, ended %v: want both, the end not before", d.Began, d.Ended)
	}
}

// visitOnce notes an id that another visit bears; a visit without one is told by its time.
func (v *validator) visitOnce(seen map[VisitID]bool, id VisitID, path string) {
	v.unless(id == "" || !seen[id], path, ReasonDuplicate, "%q stands there twice: want a name of its own", id)
	seen[id] = true
}

func (v *validator) visit(visit *Visit, path string, states ...VisitState) {
	word(v, visit.State, path+".state", states...)
	known(v, v.crew, visit.Technician, path+".technician", "technician")
	known(v, v.siteIDs, visit.Site, path+".site", "site")
	v.unless(!visit.Arrives.IsZero() && visit.Arrives <= visit.Leaves, path+".leaves", ReasonOrder, "arrives %v, leaves %v: want both, the leaving not before", visit.Arrives, visit.Leaves)
	v.duration(visit.SignIn, MaxShift, path+".sign_in")
	for i, w := range visit.Work {
		at := fmt.Sprintf("%s.work[%d]", path, i)
		v.unless(w.Item != "", at+".item", ReasonMissing, "no item: want what is done")
		v.unless(visit.Arrives <= w.Begins && w.Begins <= w.Ends && w.Ends <= visit.Leaves, at, ReasonOrder, "%v to %v: want it inside its visit", w.Begins, w.Ends)
	}
}

func (v *validator) rules() {
	r := v.p.Rules
	notices := unique[SiteID]{}
	for i, n := range r.NoticeLead {
		path := fmt.Sprintf("rules.notice_lead[%d]", i)
		notices.add(v, n.Site, path+".site")
		known(v, v.siteIDs, n.Site, path+".site", "site")
		v.duration(n.Lead, MaxStretch, path+".lead")
	}
	entries := unique[SiteID]{}
	for i, e := range r.LeastEntry {
		path := fmt.Sprintf("rules.least_entry[%d]", i)
		entries.add(v, e.Site, path+".site")
		known(v, v.siteIDs, e.Site, path+".site", "site")
		v.duration(e.Least, MaxStretch, path+".least")
	}
	v.duration(r.PublishingDelay, MaxStretch, "rules.publishing_delay")
	v.duration(r.NoticeTolerance, MaxStretch, "rules.notice_tolerance")
	v.duration(r.BreakAfter, MaxShift, "rules.break_after")
	v.duration(r.MostWork, MaxShift, "rules.most_work")
	v.duration(r.Mixing, MaxShift, "rules.mixing")
	v.duration(r.Rinsing, MaxShift, "rules.rinsing")
	v.duration(r.Sanitation, MaxShift, "rules.sanitation")
	v.within(r.LeastRatePercent, 0, 100, "rules.least_rate_percent")
	for i, c := range r.Categories {
		path := fmt.Sprintf("rules.categories[%d]", i)
		v.unless(c.Jurisdiction != "" && c.Category != "", path, ReasonMissing, "no jurisdiction or no category: want both")
		for k, kind := range c.Covers {
			word(v, kind, fmt.Sprintf("%s.covers[%d]", path, k), catalogue.PlaceKinds[:]...)
		}
	}
}
