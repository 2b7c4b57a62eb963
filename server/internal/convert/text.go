package convert

import (
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
)

// The reasons for which a text that has the right form still cannot be read.
const (
	reasonDate   = "DATE_FORM"
	reasonClock  = "CLOCK_FORM"
	reasonVolume = "VOLUME_FORM"
	reasonMass   = "MASS_FORM"
	reasonSoil   = "SURFACE_FORM"
	reasonZone   = "UNKNOWN_TIME_ZONE"
)

// reading reads the texts of one message and notes those that cannot be read. Its methods give the zero value for a
// text that cannot be read and for an unset one.
type reading struct{ wrong catalogue.FieldErrors }

// read reads one text by a parser.
func read[T any](r *reading, path, reason, text string, parse func(string) (T, error)) T {
	var none T
	if text == "" {
		return none
	}
	value, err := parse(text)
	if err != nil {
		r.wrong.Add(path, reason, "%v", err)
		return none
	}
	return value
}

func (r *reading) date(path, text string) civil.Date {
	return read(r, path, reasonDate, text, civil.ParseDate)
}

func (r *reading) clock(path, text string) civil.Clock {
	return read(r, path, reasonClock, text, civil.ParseClock)
}

func (r *reading) volume(path, text string) quantity.Volume {
	return read(r, path, reasonVolume, text, quantity.ParseVolume)
}

func (r *reading) mass(path, text string) quantity.Mass {
	return read(r, path, reasonMass, text, quantity.ParseMass)
}

func (r *reading) surface(path, text string) quantity.Surface {
	return read(r, path, reasonSoil, text, quantity.ParseSurface)
}

func (r *reading) zone(path, text string) civil.Zone {
	return read(r, path, reasonZone, text, civil.LoadZone)
}

// volumeText writes a volume exactly; "" where it is nothing.
func volumeText(v quantity.Volume) string {
	if v.IsZero() {
		return ""
	}
	return v.Exact()
}

// massText writes a mass exactly; "" where it is nothing.
func massText(m quantity.Mass) string {
	if m.IsZero() {
		return ""
	}
	return m.Exact()
}

// surfaceText writes a surface exactly; "" where it is nothing.
func surfaceText(s quantity.Surface) string {
	if s.IsZero() {
		return ""
	}
	return s.Exact()
}
