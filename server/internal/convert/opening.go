package convert

import (
	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/server/internal/firm"
)

var changeKinds = tableOf(map[vernationv1.ChangeKind]scheduler.ChangeKind{
	vernationv1.ChangeKind_CHANGE_KIND_OTHER_WAY:       scheduler.OtherWay,
	vernationv1.ChangeKind_CHANGE_KIND_LATER_DAY:       scheduler.LaterDay,
	vernationv1.ChangeKind_CHANGE_KIND_EVENING:         scheduler.Evening,
	vernationv1.ChangeKind_CHANGE_KIND_CONSENT_TO_SHUT: scheduler.ConsentToShut,
	vernationv1.ChangeKind_CHANGE_KIND_LICENCE:         scheduler.LicenceFor,
	vernationv1.ChangeKind_CHANGE_KIND_LARGER_VESSEL:   scheduler.LargerVessel,
})

// OpeningWishFrom reads what the office asks of the openings of a follow-up.
func OpeningWishFrom(request *vernationv1.FindOpeningsRequest) firm.OpeningWish {
	return firm.OpeningWish{
		Item: scheduler.ItemID(request.GetItem()), Days: int(request.GetDays()),
		Asked: scheduler.Asked{
			Most: int(request.GetMaxOpenings()), Still: request.GetNothingMoves(),
			Slots: each(request.GetSlots(), func(s *vernationv1.Slot) scheduler.Slot {
				return scheduler.Slot{Technician: ID[scheduler.TechnicianID](s.GetTechnician()), Begins: InstantFrom(s.GetBegins())}
			}),
		},
	}
}

// Openings writes the openings of a follow-up.
func Openings(names Names, found firm.FoundOpenings) *vernationv1.FindOpeningsResponse {
	tell := opener(names, found.Zone, found.Names)
	write := func(o scheduler.Opening) *vernationv1.Opening {
		written := tell(o)
		written.Token = firm.MarkOf(found.Wish, o).Token()
		return written
	}
	return &vernationv1.FindOpeningsResponse{
		Openings: each(found.Openings, write),
		Slots: each(found.Asked, func(a scheduler.SlotAnswer) *vernationv1.SlotAnswer {
			written := &vernationv1.SlotAnswer{
				Technician: names.Technician(a.Slot.Technician), Begins: Timestamp(a.Slot.Begins), Forbids: Reasons(a.Forbids),
			}
			if a.Opening != nil {
				written.Opening = write(*a.Opening)
			}
			return written
		}),
		None: Reasons(found.None),
	}
}

// Explanation writes what keeps a follow-up out.
func Explanation(names Names, explained firm.Explained) *vernationv1.ExplainFollowUpResponse {
	write := opener(names, explained.Zone, explained.Names)
	return &vernationv1.ExplainFollowUpResponse{
		Obstacles: each(explained.Obstacles, func(o scheduler.Obstacle) *vernationv1.Obstacle {
			return &vernationv1.Obstacle{Reason: &vernationv1.Reason{Rule: rules.enum(o.Rule), Text: o.Text}, WayId: string(o.Way), WhereText: o.Where}
		}),
		Changes: each(explained.Changes, func(c scheduler.Change) *vernationv1.Change {
			return &vernationv1.Change{Kind: changeKinds.enum(c.Kind), Text: c.Text, Opening: write(c.Opening)}
		}),
	}
}

// opener writes openings with the clock of a site and the names of a crew.
func opener(names Names, zone civil.Zone, crew map[scheduler.TechnicianID]string) func(scheduler.Opening) *vernationv1.Opening {
	return func(o scheduler.Opening) *vernationv1.Opening {
		written := &vernationv1.Opening{
			Technician: names.Technician(o.Technician), Begins: Timestamp(o.Begins), Ends: Timestamp(o.Ends),
			WayKind: wayKinds.enum(o.WayKind), WayId: string(o.Way), Joins: o.Joins,
			Moves: moves(names, o.Moves),
			Added: Cost(o.Added), DelayMinor: int64(o.Delay), Text: firm.OpeningText(o, zone, crew),
			Bookable: o.Bookable(),
		}
		if o.Back != nil {
			written.CarryBack = &vernationv1.CarryBack{Technician: names.Technician(o.Back.Technician), Begins: Timestamp(o.Back.Begins), Ends: Timestamp(o.Back.Ends)}
		}
		return written
	}
}

func moves(names Names, moves []scheduler.Move) []*vernationv1.VisitMove {
	return each(moves, func(m scheduler.Move) *vernationv1.VisitMove {
		return &vernationv1.VisitMove{
			Visit: names.Visit(m.Visit), Technician: names.Technician(m.Technician), Site: names.Site(m.Site),
			Arrives: Timestamp(m.From), WouldArrive: Timestamp(m.To),
		}
	})
}

// BookedOpening writes what a booked opening has made.
func BookedOpening(names Names, booked firm.BookedOpening) *vernationv1.BookOpeningResponse {
	written := &vernationv1.BookOpeningResponse{Visit: Visit(names, booked.Visit), Moves: moves(names, booked.Moves)}
	if booked.Back != nil {
		written.CarryBackVisit = Visit(names, *booked.Back)
	}
	return written
}
