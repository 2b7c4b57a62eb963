package convert

import (
	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/firm"
)

// KeepOuts writes keep-outs with the site that they are at and their clock times for people.
func KeepOuts(names Names, list []firm.DayKeepOut) []*vernationv1.KeepOut {
	return each(list, func(k firm.DayKeepOut) *vernationv1.KeepOut {
		return &vernationv1.KeepOut{
			Area:       names.Area(k.Site, k.KeepOut.Area),
			Begins:     Timestamp(k.KeepOut.During.From),
			Ends:       Timestamp(k.KeepOut.During.To),
			Product:    names.Product(k.KeepOut.Product),
			Technician: names.Technician(k.KeepOut.By),
			UntilDry:   k.KeepOut.UntilDry,
			Item:       string(k.KeepOut.Item),
			TimeZone:   k.Zone.Name(),
			Text:       k.Text,
		}
	})
}
