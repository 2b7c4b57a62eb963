package convert

import (
	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
)

// Visit writes a visit as placed.
func Visit(names Names, v scheduler.Visit) *vernationv1.Visit {
	return &vernationv1.Visit{
		Name:       names.Visit(v.ID),
		State:      visitStates.enum(v.State),
		Technician: names.Technician(v.Technician),
		Site:       names.Site(v.Site),
		Arrives:    Timestamp(v.Arrives),
		Leaves:     Timestamp(v.Leaves),
		SignIn:     Duration(v.SignIn),
		WorkItems:  each(v.Work, func(w scheduler.WorkItem) *vernationv1.WorkItem { return workItem(names, v.Site, w) }),
		Cost:       costUnlessFree(v.Cost),
	}
}

// PublishedVisit writes a visit that was made real, with what reports say of it. What it costs is the office's alone to see.
func PublishedVisit(names Names, v firm.PublishedVisit, costs bool) *vernationv1.Visit {
	written := Visit(names, v.Visit)
	written.OffPlan = v.OffPlan
	if !costs {
		written.Cost = nil
	}
	return written
}

// VisitList declares by what visits may be filtered and put in order.
var VisitList = listing.Declare(named(listing.NameField), named("technician"), named("site"), word("state", visitStates),
	listing.Field{Name: "arrives", Kind: listing.Instant}, listing.Field{Name: "leaves", Kind: listing.Instant}, truth("off_plan"))

func workItem(names Names, at site.ID, w scheduler.WorkItem) *vernationv1.WorkItem {
	written := &vernationv1.WorkItem{
		Item:         string(w.Item),
		ServiceKind:  serviceKinds.enum(w.Service),
		FollowUpKind: followUpKinds.enum(w.Kind),
		WayId:        string(w.Way),
		PartIndex:    int32(w.Part),
		Area:         names.Area(at, w.Area),
		Plants:       names.Plants(w.Plants),
		Begins:       Timestamp(w.Begins),
		Ends:         Timestamp(w.Ends),
		Use:          use(names, w.Use),
		NoLeaching:   w.Marked,
	}
	if w.MixIndex >= 0 {
		index := int32(w.MixIndex)
		written.MixIndex = &index
	}
	return written
}

// costUnlessFree writes a cost; nil where there is none to tell.
func costUnlessFree(c scheduler.Cost) *vernationv1.Cost {
	if len(c.Parts) == 0 {
		return nil
	}
	return Cost(c)
}

// dayVisit writes a visit with all that the work needs.
func dayVisit(names Names, v firm.DayVisit) *vernationv1.Visit {
	written := Visit(names, v.Visit)
	for i, work := range v.Work {
		item := written.WorkItems[i]
		item.Text, item.Conditions, item.Equipment = work.Text, work.Conditions, work.Equipment
		item.Readings = work.Readings
		item.BegunTime, item.EndedTime = Timestamp(work.Worked.Begun), Timestamp(work.Worked.Ended)
	}
	written.BegunTime, written.EndedTime = Timestamp(v.Worked.Begun), Timestamp(v.Worked.Ended)
	written.Brief = &vernationv1.SiteBrief{
		DisplayName: v.Site.Name,
		TimeZone:    v.Site.Zone.Name(),
		Position:    position(v.Site.Position),
		AccessNotes: v.Site.AccessNotes,
		KeyIds:      words[site.KeyID, string](v.Site.Keys),
		WaterText:   v.WaterText,
		OpenConfirmations: each(v.DryAsked, func(k firm.KeepOutFact) *vernationv1.OpenConfirmation {
			return &vernationv1.OpenConfirmation{
				Area: names.Area(v.Site.ID, k.Area), Item: string(k.Item), DueTime: Timestamp(k.During.To),
			}
		}),
	}
	if v.Secrets != nil {
		written.Brief.AccessSecrets = AccessSecrets(names, *v.Secrets)
	}
	return written
}
