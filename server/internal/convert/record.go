package convert

import (
	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/firm"
)

// Records writes application records.
func Records(names Names, list []firm.Record) []*vernationv1.ApplicationRecord {
	return each(list, func(r firm.Record) *vernationv1.ApplicationRecord { return record(names, r) })
}

func record(names Names, r firm.Record) *vernationv1.ApplicationRecord {
	return &vernationv1.ApplicationRecord{
		Name:               names.Record(r.ID),
		Report:             names.Report(r.Report),
		Corrects:           names.Record(r.Corrects),
		Case:               names.Case(r.Case),
		ClientDisplayName:  r.Client,
		Site:               names.Site(r.Site),
		SiteDisplayName:    r.SiteName,
		Area:               names.Area(r.Site, r.Area),
		Plants:             each(r.Plants, func(p firm.RecordedPlant) *vernationv1.RecordedPlant { return recordedPlant(names, p) }),
		Pest:               r.Pest,
		Product:            names.Product(r.Product),
		ProductDisplayName: r.ProductName,
		Registration:       r.Registration,
		LabelVersion:       r.LabelVersion,
		CatalogueVersion:   r.CatalogueVersion,
		Concentrate:        r.Concentrate.String(),
		Applied:            r.Applied.String(),
		Mass:               massText(r.Mass),
		Organisms:          r.Organisms,
		RatePercent:        r.RatePercent,
		Began:              Timestamp(r.Began),
		Ended:              Timestamp(r.Ended),
		EntryTime:          Timestamp(r.EntryFrom),
		Technician:         names.Technician(r.Technician),
		LicenceNumber:      r.Licence,
		Supervisor:         names.Technician(r.Supervisor),
		KeepUntilOn:        r.KeepUntil.String(),
		Elements:           r.Elements,
		Deviations:         r.Deviations,
		Jurisdiction:       string(r.Jurisdiction),
		NotMade:            r.NotMade,
		Item:               string(r.Item),
	}
}

func recordedPlant(names Names, p firm.RecordedPlant) *vernationv1.RecordedPlant {
	return &vernationv1.RecordedPlant{Plant: names.Plant(p.Plant), Species: string(p.Species), Count: int32(p.Count)}
}
