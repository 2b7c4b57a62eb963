package week

import "vernation/scheduler"

// Loose is a week of a tight kind before it is made tight.
func Loose(kind Kind, seed uint64) scheduler.Problem { return draw(kind, seed).problem }

// Asked is how many follow-ups, services and technicians a kind asks for.
func Asked(kind Kind) (followUps, services, technicians int) {
	s := sizeOf(kind)
	return s.FollowUps, s.Services, s.Technicians
}
