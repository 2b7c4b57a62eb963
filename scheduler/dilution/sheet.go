package dilution

import (
	"fmt"
	"strings"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
)

// Making is all that a mix sheet is written from. What is made is Filling within Limits, or one of Powder, Organisms, Ready
// and InTwo where that is set.
type Making struct {
	Product  catalogue.Product
	Cautions []string // of its material
	Limits   Limits
	Filling  Filling
	Powder   *Powder
	// Organisms is a mix of living ones.
	Organisms *Organisms
	Ready     *Ready
	// InTwo is a dilution through a stock, within Limits.
	InTwo  *InTwo
	Vessel Vessel
	// Place is the name of the area where it is mixed; "" says that the site has no water and it is carried.
	Place string
	// HardnessMgL is the hardness of the water there as CaCO3; nil is unknown and counts as hard.
	HardnessMgL *float64
	Zone        civil.Zone // of the site: all clock times of the sheet are its
	Begins      civil.Instant
	UseBy       civil.Instant
	Technician  string
	Shut        []Shut
	// LeftoverOn names plants of this visit on which the label lets the rest go; empty is none.
	LeftoverOn []string
}

// Shut is an area that the applications of the mix shut, by name.
type Shut struct {
	Area     string
	During   civil.Interval
	UntilDry bool // and until somebody has confirmed that it is dry
}

// Sheet is a mix sheet: exact numbers, and sentences for the person who mixes. Sentences hold no markup.
type Sheet struct {
	Product      string   `json:"product"`
	Registration string   `json:"registration,omitempty"`
	SignalWord   string   `json:"signal_word,omitempty"`
	Placeholders []string `json:"placeholders,omitempty"` // fields of the product that were not read from a container
	Filling      Filling  `json:"filling"`                // zero where the product is weighed, counted or drawn ready to use
	// Powder, Organisms, Ready and InTwo are what was made where it was no simple filling.
	Powder     *PowderFilling   `json:"powder,omitempty"`
	Organisms  *OrganismFilling `json:"organisms,omitempty"`
	Ready      []Draw           `json:"ready,omitempty"`
	InTwo      *TwoStep         `json:"in_two,omitempty"`
	Make       string           `json:"make"`     // what comes together, in one sentence
	Strength   string           `json:"strength"` // of the mix, beside the label's limits
	Where      string           `json:"where"`
	Water      string           `json:"water"`
	Equipment  []string         `json:"equipment"` // protective equipment; never empty
	Steps      []string         `json:"steps"`     // in order
	KeepOut    []string         `json:"keep_out"`  // never empty: says why where nothing is shut
	UseBy      string           `json:"use_by"`
	Write      string           `json:"write"` // on the vessel
	Leftover   string           `json:"leftover"`
	Cautions   []string         `json:"cautions"`
	LabelFirst string           `json:"label_first"`
}

// MakeSheet writes the mix sheet.
func MakeSheet(m Making) Sheet {
	c := m.content()
	sheet := Sheet{
		Product: m.Product.Name, Registration: m.Product.Registration, SignalWord: m.Product.Label.SignalWord,
		Placeholders: m.Product.Placeholders,
		Make:         c.make(m),
		Strength:     c.strength(m),
		Where:        m.where(),
		Water:        m.water(),
		Equipment:    m.equipment(),
		Steps:        c.steps(m),
		KeepOut:      m.keepOut(),
		UseBy:        m.Zone.Format(m.UseBy) + "; what is left then is not used.",
		Write:        m.write(c),
		Leftover:     c.leftover(m),
		Cautions:     append(mixingCautions(), m.Cautions...),
		LabelFirst: "The label on the container, local codes and the responsible applicator outrank this sheet. " +
			"Where they differ, stop and ask.",
	}
	c.record(&sheet)
	return sheet
}

func (m Making) where() string {
	const never = "Never in a kitchen, a toilet, a food area or at a hand basin. Never a hose in the vessel."
	if m.Place == "" {
		return "No water is recorded at this site: bring it with you. Mix where a spill can be wiped up. " + never
	}
	return fmt.Sprintf("Mix in: %s. %s", m.Place, never)
}

func (m Making) water() string {
	limit := m.Product.Label.MaxHardness
	switch {
	case m.Organisms != nil && limit == nil:
		return "The label states no greatest hardness. Cool water, neither softened nor from a warm tap."
	case m.HardnessMgL == nil && limit != nil:
		return fmt.Sprintf("The label allows water up to %v mg/L CaCO3. The hardness here is not known and counts as hard: use carried water of known hardness.", *limit)
	case m.HardnessMgL == nil:
		return "The hardness of the water here is not known and counts as hard: use soft or carried water."
	case limit != nil && *m.HardnessMgL > *limit:
		return fmt.Sprintf("The water here has %v mg/L CaCO3 and the label allows up to %v: do not use it. Use carried water within the limit.", *m.HardnessMgL, *limit)
	case limit != nil:
		return fmt.Sprintf("The water here has %v mg/L CaCO3; the label allows up to %v.", *m.HardnessMgL, *limit)
	}
	return fmt.Sprintf("The water here has %v mg/L CaCO3 and the label states no limit. Where it leaves scale or curd, use soft or carried water.", *m.HardnessMgL)
}

func (m Making) equipment() []string {
	if len(m.Product.Label.Equipment) == 0 {
		return []string{"the record lists none: read the label before opening the container"}
	}
	return m.Product.Label.Equipment
}

func (m Making) keepOut() []string {
	var lines []string
	for _, shut := range m.Shut {
		until := m.Zone.FormatClock(shut.During.To)
		if m.Zone.DateOf(shut.During.To) != m.Zone.DateOf(shut.During.From) {
			until = m.Zone.Format(shut.During.To)
		}
		line := fmt.Sprintf("%s: nobody enters from %s until %s", shut.Area, m.Zone.Format(shut.During.From), until)
		if shut.UntilDry {
			line += ", and until somebody has looked and confirmed that it is dry"
		}
		lines = append(lines, line+".")
	}
	if len(lines) == 0 {
		lines = append(lines, "No area is shut: "+strings.TrimSuffix(m.Product.Label.Entry.Reason, ".")+".")
	}
	return lines
}

// mixingCautions hold for every mix, whatever the product; a material's own stand in the catalogue.
func mixingCautions() []string {
	return []string{
		"Keep the label and the safety data sheet to hand while mixing; first aid is what the label says. In the eye: rinse at once with water and call for help.",
		"Put the protective equipment on before the container is opened. Wash hands afterwards, and change or brush clothes before the next site.",
		"Never into a bottle or cup that somebody could drink from. Never mix with another product unless both labels say so; never with bleach.",
		"No food, dishes, toys or bedding in the open where it is mixed or applied; not in a food area unless the label names it.",
		"Fish, birds, cats: cover and stop the pump, or move the plant. Fountains and floor drains count as water.",
		"Not on a dry, wilted, sunlit or just fertilised plant.",
		"Wards, child care, pregnancy, asthma: ask the site's responsible person first; this sheet does not know.",
	}
}

// Amounts writes what is read off vessel and measure, for people: the water, the dose and the finished volume. The water of what
// is weighed or counted is what the mark asks for; of a stock the dose is of the stock.
func (s Sheet) Amounts() (water, dose, volume string) {
	switch {
	case s.Powder != nil:
		return "to the mark", Weight(s.Powder.Powder), s.Powder.Volume.String()
	case s.Organisms != nil:
		return "to the mark", fmt.Sprintf("%s of %s, %s organisms", s.Organisms.Packs(), s.Organisms.Pack, quantity.Thousands(s.Organisms.Organisms)), s.Organisms.Volume.String()
	}
	return s.Filling.Water.String(), s.Filling.Concentrate.String(), s.Filling.Volume.String()
}
