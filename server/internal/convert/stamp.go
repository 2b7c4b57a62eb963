package convert

import (
	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/server/internal/firm"
)

// StampFrom reads a stamp; id is the one that the caller gave it.
func StampFrom(id string, m *vernationv1.Stamp) firm.Stamp {
	return firm.Stamp{
		ID: id, Visit: ID[scheduler.VisitID](m.GetVisit()), Technician: ID[scheduler.TechnicianID](m.GetTechnician()),
		Item: scheduler.ItemID(m.GetItem()), Event: stampEvents.word(m.GetEvent()), At: InstantFrom(m.GetEventTime()),
	}
}

// Stamp writes a stamp.
func Stamp(names Names, s firm.Stamp) *vernationv1.Stamp {
	return &vernationv1.Stamp{
		Name: names.Stamp(s.ID), Visit: names.Visit(s.Visit), Technician: names.Technician(s.Technician), Item: string(s.Item),
		Event: stampEvents.enum(s.Event), EventTime: Timestamp(s.At), OffPlan: s.OffPlan, CreateTime: Timestamp(s.ReceivedAt),
	}
}
