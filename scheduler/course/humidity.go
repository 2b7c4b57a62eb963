package course

import (
	"fmt"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/site"
)

// tooHumid holds the label's greatest relative humidity, or where it states none the material's usual one, against an area. As
// with temperatures only the label's own limit refuses, and only where the air is never drier. Of an area whose humidity is
// not known the strict side counts: it is to be measured before.
func tooHumid(p *candidate, area site.Area) (limit limitText) {
	high, by := limitOf(p.product.Label.MaxHumidity, p.material.MaxHumidity)
	switch h := area.Humidity; {
	case high == nil:
	case h == nil:
		limit.condition = fmt.Sprintf("%s: not above %s relative humidity (%s); its humidity is not known, measure it before", area.Name, humidityText(*high), by)
	case p.product.Label.MaxHumidity != nil && h.Least > *high:
		limit.reason = fmt.Sprintf("%s ends at %s relative humidity and %s is never below %s", by, humidityText(*high), area.Name, humidityText(h.Least))
	case h.Greatest > *high:
		limit.condition = fmt.Sprintf("%s: not above %s relative humidity (%s), which it may pass (greatest %s)", area.Name, humidityText(*high), by, humidityText(h.Greatest))
	}
	return limit
}

// tooDry says where the air is or may be drier than living goods do well in.
func tooDry(p *candidate, area site.Area) (limit limitText) {
	switch low, h := p.material.MinHumidity, area.Humidity; {
	case low == nil:
	case h == nil:
		limit.condition = fmt.Sprintf("%s: they do well from %s relative humidity on (%s); its humidity is not known, measure it before",
			area.Name, humidityText(low.Value), standingText(low.Source, low.Standing))
	case h.Least < low.Value:
		limit.condition = fmt.Sprintf("%s: they do well from %s relative humidity on (%s), below which it may fall (least %s): expect less of them there",
			area.Name, humidityText(low.Value), standingText(low.Source, low.Standing), humidityText(h.Least))
	}
	return limit
}

// adviseHumidity says what the air of the plants' areas means for the pest and for what works while it is wet.
func (s *story) adviseHumidity(c *Course, material catalogue.Material) {
	say := func(format string, args ...any) { addOnce(&c.Advice, fmt.Sprintf(format, args...)) }
	for _, area := range s.areas(s.plants) {
		if dry := s.pest.DryAir; dry != nil && (area.Humidity == nil || area.Humidity.Least < dry.Value) {
			say("dry air favours the %s, below %s relative humidity (%s), and that of %s %s; by how much is not known, so no date moves with it",
				s.pest.Name, humidityText(dry.Value), standingText(dry.Source, dry.Standing), area.Name, leastHumidity(area.Humidity))
		}
		switch h := area.Humidity; {
		case !material.DriesSlowly:
		case h == nil:
			say("the humidity of %s is not known: how long %s works is taken as in dry air, when people may enter as in damp air", area.Name, material.Name)
		default:
			say("the air of %s is usually at %s relative humidity (%s to %s): the drier, the sooner it has dried and stops working; the damper, the longer nobody may enter",
				area.Name, humidityText(h.Usual), humidityText(h.Least), humidityText(h.Greatest))
		}
	}
}

func leastHumidity(h *site.Humidity) string {
	if h == nil {
		return "is not known"
	}
	return "may fall to " + humidityText(h.Least)
}

func humidityText(percent float64) string { return number(percent, 1) + " %" }
