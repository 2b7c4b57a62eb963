package convert

import (
	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/dilution"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
)

// loadList writes what comes along in the morning.
func loadList(names Names, l firm.DayLoad) *vernationv1.LoadList {
	return &vernationv1.LoadList{
		Products: each(l.Products, func(p dilution.LoadedProduct) *vernationv1.LoadedProduct {
			return &vernationv1.LoadedProduct{
				Product: names.Product(p.Product), DisplayName: p.Name, Volume: volumeText(p.Volume), Mass: massText(p.Powder),
				Organisms: p.Organisms, Storage: p.Storage, EquipmentNotListed: p.NotListed,
			}
		}),
		Water:     volumeText(l.Water),
		Vessels:   l.Vessels,
		Measures:  l.Measures,
		Equipment: l.Equipment,
		KeyIds:    words[site.KeyID, string](l.Keys),
		Others:    l.Others,
		Missing:   l.Missing,
		Cautions:  l.Cautions,
		Text:      l.Text(),
	}
}
