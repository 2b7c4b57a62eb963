package convert

import (
	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
)

// PlantEvent writes an event of plants.
func PlantEvent(names Names, e firm.PlantEvent) *vernationv1.PlantEvent {
	m := &vernationv1.PlantEvent{
		Name: names.PlantEvent(e.ID), EventTime: Timestamp(e.At), ToldBy: e.By, Note: e.Note,
		Site: names.Site(e.Site), Cases: each(e.Cases, names.Case), CreateTime: Timestamp(e.ReceivedAt),
		WithdrawTime: Timestamp(e.WithdrawnAt), WithdrawReason: e.WithdrawnBecause,
	}
	if p := e.Patch; p != nil {
		m.PatchResult = &vernationv1.PatchResult{Material: string(p.Material), Plants: names.Plants(p.Plants), Harmed: p.Harmed}
	}
	if moved := e.Moved; moved != nil {
		m.Moved = &vernationv1.PlantsMoved{
			Plants: names.Plants(moved.Plants), From: names.Area(e.Site, moved.From), To: names.Area(e.Site, moved.To),
			NotBeforeOn: moved.NotBefore.String(), NotAfterOn: moved.NotAfter.String(),
		}
	}
	if s := e.Split; s != nil {
		m.Split = &vernationv1.GroupSplit{Plant: names.Plant(s.From), Parts: each(s.Parts, func(p firm.GroupPart) *vernationv1.GroupPart {
			return &vernationv1.GroupPart{PlantId: string(p.Plant), Count: int32(p.Count), DisplayName: p.Name}
		})}
	}
	if j := e.Joined; j != nil {
		m.Joined = &vernationv1.GroupsJoined{Plants: names.Plants(j.From), Into: names.Plant(j.Into)}
	}
	if g := e.Gone; g != nil {
		m.Gone = &vernationv1.PlantsGone{Plants: names.Plants(g.Plants), Way: goneWays.enum(g.Kind), Successors: names.Plants(g.Successors)}
	}
	return m
}

// PlantEventFrom reads an event of plants that shall have an id. Where it happened the store knows from its plants.
//
// Fails with Invalid (DATE_FORM for a day that does not exist, OTHER_SITE for a move between areas of two sites).
func PlantEventFrom(path, id string, m *vernationv1.PlantEvent) (firm.PlantEvent, error) {
	r := &reading{}
	e := firm.PlantEvent{ID: id, At: InstantFrom(m.GetEventTime()), By: m.GetToldBy(), Note: m.GetNote()}
	if p := m.GetPatchResult(); p != nil {
		e.Patch = &course.PatchResult{Material: catalogue.MaterialID(p.GetMaterial()), Plants: IDs[site.PlantID](p.GetPlants()), Harmed: p.GetHarmed()}
	}
	if moved := m.GetMoved(); moved != nil {
		fromSite, from := AreaID(moved.GetFrom())
		toSite, to := AreaID(moved.GetTo())
		if fromSite != toSite {
			r.wrong.Add(path+".moved.to", "OTHER_SITE", "%s is not at the site of %s: want areas of one site", moved.GetTo(), moved.GetFrom())
		}
		e.Moved = &course.Moved{
			Plants: IDs[site.PlantID](moved.GetPlants()), From: from, To: to,
			NotBefore: r.date(path+".moved.not_before_on", moved.GetNotBeforeOn()), NotAfter: r.date(path+".moved.not_after_on", moved.GetNotAfterOn()),
		}
		e.Site = fromSite
	}
	if s := m.GetSplit(); s != nil {
		e.Split = &firm.GroupSplit{From: ID[site.PlantID](s.GetPlant()), Parts: each(s.GetParts(), func(p *vernationv1.GroupPart) firm.GroupPart {
			return firm.GroupPart{Plant: site.PlantID(p.GetPlantId()), Count: int(p.GetCount()), Name: p.GetDisplayName()}
		})}
	}
	if j := m.GetJoined(); j != nil {
		e.Joined = &course.Joined{From: IDs[site.PlantID](j.GetPlants()), Into: ID[site.PlantID](j.GetInto())}
	}
	if g := m.GetGone(); g != nil {
		e.Gone = &course.Gone{Plants: IDs[site.PlantID](g.GetPlants()), Kind: goneWays.word(g.GetWay()), Successors: IDs[site.PlantID](g.GetSuccessors())}
	}
	return e, fault.InvalidFields(r.wrong)
}
