package convert

import (
	"fmt"
	"maps"
	"slices"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/quantity"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
)

// Rate writes a rate; nil where there is none.
func Rate(rate *quantity.Rate) *vernationv1.Rate {
	if rate == nil {
		return nil
	}
	return &vernationv1.Rate{
		Concentrate: rate.Concentrate.Exact(), Per: rate.Per.Exact(), Convention: conventions.enum(rate.Convention),
	}
}

// RateFrom reads a rate; nil where there is none. Path is where the message stands in its request.
func RateFrom(path string, m *vernationv1.Rate) (*quantity.Rate, error) {
	r := &reading{}
	rate := r.rate(path, m)
	return rate, fault.InvalidFields(r.wrong)
}

func (r *reading) rate(path string, m *vernationv1.Rate) *quantity.Rate {
	if m == nil {
		return nil
	}
	return &quantity.Rate{
		Concentrate: r.volume(path+".concentrate", m.GetConcentrate()),
		Per:         r.volume(path+".per", m.GetPer()),
		Convention:  conventions.word(m.GetConvention()),
	}
}

// portion writes a rate of what is weighed or counted; nil where there is none.
func portion(rate *quantity.PortionRate) *vernationv1.PortionRate {
	if rate == nil {
		return nil
	}
	return &vernationv1.PortionRate{
		Mass: massText(rate.Mass), Organisms: rate.Organisms,
		PerMix: volumeText(rate.PerMix), PerPot: volumeText(rate.PerPot), PerSurface: surfaceText(rate.PerSurface),
	}
}

func (r *reading) portion(path string, m *vernationv1.PortionRate) *quantity.PortionRate {
	if m == nil {
		return nil
	}
	return &quantity.PortionRate{
		Mass:       r.mass(path+".mass", m.GetMass()),
		Organisms:  m.GetOrganisms(),
		PerMix:     r.volume(path+".per_mix", m.GetPerMix()),
		PerPot:     r.volume(path+".per_pot", m.GetPerPot()),
		PerSurface: r.surface(path+".per_surface", m.GetPerSurface()),
	}
}

// Product writes a product with its label, as it is kept.
func Product(names Names, kept firm.Kept[catalogue.Product]) *vernationv1.Product {
	m := product(names, kept.Value)
	m.ExternalId, m.Etag, m.DeleteTime = kept.ExternalID, Etag(kept.Revision), Timestamp(kept.DeletedAt)
	return m
}

// ProductLabel writes a label that was once read of a product.
func ProductLabel(names Names, l firm.ProductLabel) *vernationv1.ProductLabel {
	return &vernationv1.ProductLabel{LabelVersion: l.Product.LabelVersion, RecordTime: Timestamp(l.ReadAt), Product: product(names, l.Product)}
}

// ProductList declares by what products may be filtered and put in order.
var ProductList = listing.Declare(
	named(listing.NameField), text("display_name"), text("material"), word("form", forms), text("registration"), text("label_version"),
	text("external_id"), listing.Field{Name: "delete_time", Kind: listing.Instant, Unordered: true},
)

func product(names Names, p catalogue.Product) *vernationv1.Product {
	m := &vernationv1.Product{
		Name:          names.Product(p.ID),
		DisplayName:   p.Name,
		Material:      string(p.Material),
		Registration:  p.Registration,
		Form:          forms.enum(p.Form),
		Jurisdictions: words[catalogue.JurisdictionCode, string](p.Jurisdictions),
		Label:         label(p.Label),
		LabelVersion:  p.LabelVersion,
		Placeholders:  slices.Clone(p.Placeholders),
		DeliveryDays:  weekdays.enums(p.DeliveryDays),
		Packs: each(p.Packs, func(k catalogue.Pack) *vernationv1.Pack {
			return &vernationv1.Pack{DisplayName: k.Name, Organisms: k.Organisms, Parts: int32(k.Parts)}
		}),
	}
	for _, code := range slices.Sorted(maps.Keys(p.LawfulBecause)) {
		m.LawfulBecause = append(m.LawfulBecause, &vernationv1.LawfulBecause{Jurisdiction: string(code), Reason: p.LawfulBecause[code]})
	}
	return m
}

// ProductFrom reads a product that shall have an id; path is where the message stands in its request.
func ProductFrom(path string, id catalogue.ProductID, m *vernationv1.Product) (firm.Kept[catalogue.Product], error) {
	r := &reading{}
	p := catalogue.Product{
		ID:            id,
		Name:          m.GetDisplayName(),
		Material:      catalogue.MaterialID(m.GetMaterial()),
		Registration:  m.GetRegistration(),
		Form:          forms.word(m.GetForm()),
		Jurisdictions: words[string, catalogue.JurisdictionCode](m.GetJurisdictions()),
		LawfulBecause: r.lawfulBecause(path+".lawful_because", m.GetLawfulBecause()),
		Label:         r.label(path+".label", m.GetLabel()),
		LabelVersion:  m.GetLabelVersion(),
		Placeholders:  slices.Clone(m.GetPlaceholders()),
		DeliveryDays:  weekdays.wordsOf(m.GetDeliveryDays()),
		Packs: each(m.GetPacks(), func(k *vernationv1.Pack) catalogue.Pack {
			return catalogue.Pack{Name: k.GetDisplayName(), Organisms: k.GetOrganisms(), Parts: int64(k.GetParts())}
		}),
	}
	return firm.Kept[catalogue.Product]{Value: p, ExternalID: m.GetExternalId()}, fault.InvalidFields(r.wrong)
}

func (r *reading) lawfulBecause(path string, list []*vernationv1.LawfulBecause) map[catalogue.JurisdictionCode]string {
	if list == nil {
		return nil
	}
	reasons := map[catalogue.JurisdictionCode]string{}
	for i, because := range list {
		code := catalogue.JurisdictionCode(because.GetJurisdiction())
		if _, twice := reasons[code]; twice {
			r.wrong.Add(fmt.Sprintf("%s[%d].jurisdiction", path, i), catalogue.ReasonDuplicate, "%s is there twice: want one reason for each jurisdiction", code)
		}
		reasons[code] = because.GetReason()
	}
	return reasons
}

func label(l catalogue.Label) *vernationv1.Label {
	return &vernationv1.Label{
		Places:       placeKinds.enums(l.Places),
		Pests:        words[catalogue.PestID, string](l.Pests),
		MinRate:      Rate(l.MinRate),
		MaxRate:      Rate(l.MaxRate),
		MinPortion:   portion(l.MinPortion),
		MaxPortion:   portion(l.MaxPortion),
		Entry:        &vernationv1.Entry{Kind: entryKinds.enum(l.Entry.Kind), Interval: Duration(l.Entry.Hours), Reason: l.Entry.Reason},
		LeastDays:    int32(l.LeastDays),
		MostInRow:    int32(l.MostInRow),
		MostAYear:    int32(l.MostAYear),
		ModeOfAction: l.ModeOfAction,
		MixLife:      Duration(l.MixLife),
		MinCelsius:   copied(l.MinCelsius),
		MaxCelsius:   copied(l.MaxCelsius),
		Hours:        Windows(l.Hours),
		OpenFlowers:  l.OpenFlowers,
		EdiblePlants: l.EdiblePlants,
		DryPlants:    l.DryPlants,
		MustNot:      words[catalogue.SpeciesID, string](l.MustNot),
		KeepAway: each(l.KeepAway, func(k catalogue.KeepAway) *vernationv1.KeepAway {
			return &vernationv1.KeepAway{Thing: sensitives.enum(k.Thing), Condition: k.Condition}
		}),
		Incompatible: each(l.Incompatible, func(i catalogue.Incompatible) *vernationv1.Incompatible {
			return &vernationv1.Incompatible{Material: string(i.Material), Days: int32(i.Days)}
		}),
		MaxHumidityPercent: copied(l.MaxHumidity),
		MaxHardnessMgL:     copied(l.MaxHardness),
		Categories:         slices.Clone(l.Categories),
		Equipment:          slices.Clone(l.Equipment),
		LeftoverOn:         words[catalogue.SpeciesID, string](l.LeftoverOn),
		StorageNote:        l.StorageNote,
		SignalWord:         l.SignalWord,
	}
}

func (r *reading) label(path string, m *vernationv1.Label) catalogue.Label {
	if m == nil {
		return catalogue.Label{}
	}
	return catalogue.Label{
		Places:     placeKinds.wordsOf(m.GetPlaces()),
		Pests:      words[string, catalogue.PestID](m.GetPests()),
		MinRate:    r.rate(path+".min_rate", m.GetMinRate()),
		MaxRate:    r.rate(path+".max_rate", m.GetMaxRate()),
		MinPortion: r.portion(path+".min_portion", m.GetMinPortion()),
		MaxPortion: r.portion(path+".max_portion", m.GetMaxPortion()),
		Entry: catalogue.Entry{
			Kind: entryKinds.word(m.GetEntry().GetKind()), Hours: DurationFrom(m.GetEntry().GetInterval()), Reason: m.GetEntry().GetReason(),
		},
		LeastDays:    int(m.GetLeastDays()),
		MostInRow:    int(m.GetMostInRow()),
		MostAYear:    int(m.GetMostAYear()),
		ModeOfAction: m.GetModeOfAction(),
		MixLife:      DurationFrom(m.GetMixLife()),
		MinCelsius:   copied(m.MinCelsius),
		MaxCelsius:   copied(m.MaxCelsius),
		MaxHumidity:  copied(m.MaxHumidityPercent),
		Hours:        r.windows(path+".hours", m.GetHours()),
		OpenFlowers:  m.GetOpenFlowers(),
		EdiblePlants: m.GetEdiblePlants(),
		DryPlants:    m.GetDryPlants(),
		MustNot:      words[string, catalogue.SpeciesID](m.GetMustNot()),
		KeepAway: each(m.GetKeepAway(), func(k *vernationv1.KeepAway) catalogue.KeepAway {
			return catalogue.KeepAway{Thing: sensitives.word(k.GetThing()), Condition: k.GetCondition()}
		}),
		Incompatible: each(m.GetIncompatible(), func(i *vernationv1.Incompatible) catalogue.Incompatible {
			return catalogue.Incompatible{Material: catalogue.MaterialID(i.GetMaterial()), Days: int(i.GetDays())}
		}),
		MaxHardness: copied(m.MaxHardnessMgL),
		Categories:  slices.Clone(m.GetCategories()),
		Equipment:   slices.Clone(m.GetEquipment()),
		LeftoverOn:  words[string, catalogue.SpeciesID](m.GetLeftoverOn()),
		StorageNote: m.GetStorageNote(),
		SignalWord:  m.GetSignalWord(),
	}
}
