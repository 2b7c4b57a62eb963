package convert

import (
	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/scheduler/dilution"
)

// Mix writes one filling without its sheet.
func Mix(names Names, m scheduler.Mix) *vernationv1.Mix {
	return &vernationv1.Mix{
		Product:     names.Product(m.Product),
		VesselId:    string(m.Vessel),
		Measure:     m.Measure,
		Site:        names.Site(m.Site),
		Area:        names.Area(m.Site, m.Area),
		Need:        volumeText(m.Need),
		Volume:      volumeText(m.Volume),
		Concentrate: volumeText(m.Concentrate),
		Mass:        massText(m.Mass),
		Organisms:   m.Organisms,
		Begins:      Timestamp(m.Begins),
		Ready:       Timestamp(m.Ready),
		LastUse:     Timestamp(m.LastUse),
		UseBy:       Timestamp(m.UseBy),
		RinseBegins: Timestamp(m.Rinse.From),
		RinseEnds:   Timestamp(m.Rinse.To),
		RinseAtBase: m.RinseAtBase,
		Note:        m.Note,
	}
}

// mixSheet writes how to make a mix. What the label says stands first among the cautions.
func mixSheet(s dilution.Sheet) *vernationv1.MixSheet {
	water, dose, volume := s.Amounts()
	return &vernationv1.MixSheet{
		Where:         s.Where,
		Water:         water,
		Concentrate:   dose,
		Volume:        volume,
		RateText:      s.Strength,
		Steps:         s.Steps,
		Equipment:     s.Equipment,
		ContainerText: s.Write,
		LeftoverText:  s.Leftover,
		WaterNote:     s.Water,
		Cautions:      sheetCautions(s),
	}
}

// sheetCautions are all sentences of a sheet that hold whatever the step: label first, placeholders, signal word,
// what is shut, until when it may be used, cautions.
func sheetCautions(s dilution.Sheet) []string {
	cautions := []string{s.LabelFirst}
	for _, field := range s.Placeholders {
		cautions = append(cautions, "Not read from a container: "+field+". Read it off the label in hand before mixing.")
	}
	if s.SignalWord != "" {
		cautions = append(cautions, "Signal word of the label: "+s.SignalWord+".")
	}
	if s.Registration != "" {
		cautions = append(cautions, "Registration number on the container: "+s.Registration+".")
	}
	cautions = append(cautions, s.KeepOut...)
	cautions = append(cautions, "Use by "+s.UseBy)
	return append(cautions, s.Cautions...)
}
