package convert

import (
	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/catalogue"
	"vernation/server/internal/firm"
)

var settingParts = tableOf(map[vernationv1.SettingPart]firm.SettingPart{
	vernationv1.SettingPart_SETTING_PART_COURSE: firm.CourseSetting,
	vernationv1.SettingPart_SETTING_PART_PRICE:  firm.PriceSetting,
	vernationv1.SettingPart_SETTING_PART_RULE:   firm.RuleSetting,
})

var standings = tableOf(map[vernationv1.Standing]catalogue.Standing{
	vernationv1.Standing_STANDING_PUBLISHED:       catalogue.Published,
	vernationv1.Standing_STANDING_SECONDARY:       catalogue.Secondary,
	vernationv1.Standing_STANDING_OWN_RECORDS:     catalogue.OwnRecords,
	vernationv1.Standing_STANDING_COMMON_PRACTICE: catalogue.CommonPractice,
	vernationv1.Standing_STANDING_ASSUMPTION:      catalogue.Assumption,
	vernationv1.Standing_STANDING_FROM_MEMORY:     catalogue.FromMemory,
})

var extents = tableOf(map[vernationv1.Extent]catalogue.Extent{
	vernationv1.Extent_EXTENT_SPOT:       catalogue.ExtentSpot,
	vernationv1.Extent_EXTENT_WHOLE:      catalogue.ExtentWhole,
	vernationv1.Extent_EXTENT_TOUCHING:   catalogue.ExtentTouching,
	vernationv1.Extent_EXTENT_NEIGHBOURS: catalogue.ExtentNeighbours,
	vernationv1.Extent_EXTENT_REMOVAL:    catalogue.ExtentRemoval,
})

// Policy writes what a business sets itself.
func Policy(names Names, p firm.Policy) *vernationv1.Policy {
	return &vernationv1.Policy{
		Name: names.Policy(), DisplayName: p.Name, Currency: p.Currency, TimeZone: p.Zone.Name(),
		Settings: each(p.Settings, func(s firm.Setting) *vernationv1.Setting {
			value := s.Value
			return &vernationv1.Setting{
				SettingId: s.Name, Value: &value, Part: settingParts.enum(s.Part), Unit: s.Default.Unit, DefaultValue: s.Default.Value, Own: s.Own,
				Standing: standings.enum(s.Standing), DefaultStanding: standings.enum(s.Default.Standing),
				DefaultSource: s.Default.Source, DefaultNote: s.Default.Note, Least: s.Least, Greatest: s.Greatest,
			}
		}),
		ExtentBySeverity: extents.enums(p.Extents), DefaultExtentBySeverity: extents.enums(p.DefaultExtents),
		PoisonLine: p.PoisonLine, EmergencyLine: p.EmergencyLine, DetourPercent: int32(p.DetourPercent), SpeedKmh: int32(p.SpeedKMH),
		NoticesCountOnceSent: p.NoticesCountOnceSent, Etag: Etag(p.Version),
	}
}

// PolicyChangeFrom reads a policy as it shall be: all but the settings as they are told, and of the settings those that are.
func PolicyChangeFrom(m *vernationv1.Policy) firm.PolicyChange {
	detour, speed, poison, emergency := int(m.GetDetourPercent()), int(m.GetSpeedKmh()), m.GetPoisonLine(), m.GetEmergencyLine()
	onceSent := m.GetNoticesCountOnceSent()
	return firm.PolicyChange{
		Settings: each(m.GetSettings(), func(s *vernationv1.Setting) firm.SettingChange {
			return firm.SettingChange{Name: s.GetSettingId(), Value: copied(s.Value)}
		}),
		Extents: extents.wordsOf(m.GetExtentBySeverity()), PoisonLine: &poison, EmergencyLine: &emergency, DetourPercent: &detour, SpeedKMH: &speed,
		NoticesCountOnceSent: &onceSent,
	}
}
