package convert

import (
	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
)

// Violations writes breaches of rules.
func Violations(names Names, list []scheduler.Violation) []*vernationv1.Violation {
	return each(list, func(v scheduler.Violation) *vernationv1.Violation {
		return &vernationv1.Violation{
			Rule:       rules.enum(v.Rule),
			Technician: names.Technician(v.Technician),
			Site:       names.Site(v.Site),
			Area:       names.Area(v.Site, v.Area),
			Item:       string(v.Item),
			Begins:     Timestamp(v.During.From),
			Ends:       Timestamp(v.During.To),
			Text:       v.Text,
			Standing:   v.Standing,
		}
	})
}

// Reasons writes why something is not planned.
func Reasons(list []scheduler.Reason) []*vernationv1.Reason {
	return each(list, func(r scheduler.Reason) *vernationv1.Reason {
		return &vernationv1.Reason{Rule: rules.enum(r.Rule), Text: r.Text}
	})
}
