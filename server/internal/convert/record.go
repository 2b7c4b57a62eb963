package convert

import (
	vernationv1 "vernation/proto/vernation/v1"
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
)

// RecordList declares by what application records may be filtered and put in order.
var RecordList = listing.Declare(
	named(listing.NameField), named("site"), named("case"), named("technician"), named("product"), text("pest"), named("area"), text("jurisdiction"),
	named("report"), text("item"), listing.Field{Name: "began", Kind: listing.Instant}, listing.Field{Name: "ended", Kind: listing.Instant},
	listing.Field{Name: "keep_until_on", Kind: listing.Day}, text("registration"), named("corrects"), named("corrected_by"), text("not_made"),
)

// Record writes an application record.
func Record(names Names, r firm.Record) *vernationv1.ApplicationRecord {
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
		CorrectedBy:        names.Record(r.CorrectedBy),
		MissingElements:    r.Missing,

		ClientPostalAddress: r.ClientAddress, AreaDisplayName: r.AreaName, PlaceKind: placeKinds.enum(r.PlaceKind),
		TechnicianDisplayName: r.TechnicianName, SupervisorDisplayName: r.SupervisorName, Material: string(r.Material),
		ActiveIngredient: r.ActiveIngredient, Method: methods.enum(r.Method), Form: forms.enum(r.Form), Vessel: string(r.Vessel), TimeZone: r.Zone,
	}
}

func recordedPlant(names Names, p firm.RecordedPlant) *vernationv1.RecordedPlant {
	return &vernationv1.RecordedPlant{Plant: names.Plant(p.Plant), Species: string(p.Species), Count: int32(p.Count)}
}
