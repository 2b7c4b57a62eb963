package dilution

import (
	"fmt"
	"slices"
	"strings"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
)

// Load is one mix or one ready-to-use draw of a day, from which the list of what to load is made. Of the amounts those
// that do not apply are nothing.
type Load struct {
	Product     catalogue.Product
	Concentrate quantity.Volume // or what is drawn ready to use
	Powder      quantity.Mass
	Organisms   int64
	Water       quantity.Volume
	// Carried says that the site has no water, or none that the label allows, so that the water is loaded too.
	Carried bool
	Vessel  string
	Measure string // or scale; "" is none
}

// LoadList says what a technician loads for a day.
type LoadList struct {
	On       civil.Date      `json:"on"`
	Products []LoadedProduct `json:"products"` // in the order of first use
	Water    quantity.Volume `json:"water"`    // to carry
	Vessels  []string        `json:"vessels"`
	Measures []string        `json:"measures"`
	// Equipment is the protective equipment that the labels ask for, each once.
	Equipment []string `json:"equipment"`
	// Missing says what the containers do not hold, each in a sentence; empty when all is there.
	Missing  []string `json:"missing,omitempty"`
	Cautions []string `json:"cautions"`
}

// LoadedProduct is what of one product is loaded and from which containers it will be drawn.
type LoadedProduct struct {
	Product   catalogue.ProductID `json:"product"`
	Name      string              `json:"name"`
	Volume    quantity.Volume     `json:"volume"` // of concentrate or ready to use
	Powder    quantity.Mass       `json:"powder"`
	Organisms int64               `json:"organisms,omitempty"`
	Draws     []Draw              `json:"draws,omitempty"`
	Storage   string              `json:"storage,omitempty"` // the label's note
	// NotListed is set where the label lists no protective equipment.
	NotListed bool `json:"not_listed,omitempty"`
}

// BringsWater says whether a mix is made with water that is brought: because the site has none, or because the hardness of its
// water, of which nil is unknown and counts as hard, is more than the label allows. Where the label states no limit only
// unknown water is brought, and none to living organisms, which want it neither softened nor warm: the words of the mix sheet.
func BringsWater(product catalogue.Product, there bool, hardnessMgL *float64) bool {
	limit := product.Label.MaxHardness
	switch {
	case !there:
		return true
	case limit == nil:
		return hardnessMgL == nil && product.Form != catalogue.Living
	}
	return hardnessMgL == nil || *hardnessMgL > *limit
}

// MakeLoadList adds up the loads of a day by product and says from which containers the liquids come, what is missing, how
// much water is carried, and what to wear. Of a product of which nobody told any container nothing is said to be missing.
func MakeLoadList(on civil.Date, loads []Load, containers []Container) LoadList {
	list := LoadList{On: on, Cautions: loadingCautions()}
	for _, load := range loads {
		p := list.product(load.Product)
		p.Volume, p.Powder, p.Organisms = p.Volume.Add(load.Concentrate), p.Powder.Add(load.Powder), p.Organisms+load.Organisms
		if load.Carried {
			list.Water = list.Water.Add(load.Water)
		}
		list.Vessels, list.Measures = once(list.Vessels, load.Vessel), once(list.Measures, load.Measure)
		for _, item := range load.Product.Label.Equipment {
			list.Equipment = once(list.Equipment, item)
		}
	}
	for i := range list.Products {
		p := &list.Products[i]
		told := slices.ContainsFunc(containers, func(c Container) bool { return c.Product == p.Product })
		if p.Volume.IsZero() || !told {
			continue
		}
		draws, _, err := DrawFrom([]quantity.Volume{p.Volume}, p.Product, on, containers)
		if err != nil {
			list.Missing = append(list.Missing, fmt.Sprintf("%s: %v", p.Name, err))
			continue
		}
		p.Draws = draws[0]
	}
	return list
}

// product returns the list's entry of a product, made when there is none.
func (l *LoadList) product(p catalogue.Product) *LoadedProduct {
	i := slices.IndexFunc(l.Products, func(x LoadedProduct) bool { return x.Product == p.ID })
	if i < 0 {
		l.Products = append(l.Products, LoadedProduct{Product: p.ID, Name: p.Name, Storage: p.Label.StorageNote, NotListed: len(p.Label.Equipment) == 0})
		i = len(l.Products) - 1
	}
	return &l.Products[i]
}

func once(list []string, item string) []string {
	if item == "" || slices.Contains(list, item) {
		return list
	}
	return append(list, item)
}

func loadingCautions() []string {
	return []string{
		"Every product in its own container with its label on it, upright, in a closed box away from food, drink and the driver's seat; never in a bottle or cup that somebody could drink from.",
		"Label and safety data sheet of each product, absorbent for a spill, clean water to rinse eyes, and a change of clothes come along.",
		"Not in a hot or freezing car: the label says how it is stored.",
		"The label on the container, local codes and the responsible applicator outrank this list.",
	}
}

// Text writes the list for people, in lines of a terminal's width.
func (l LoadList) Text() string {
	var b strings.Builder
	fmt.Fprintf(&b, "TO LOAD  %s\n", l.On.Short())
	for _, p := range l.Products {
		lines := []string{p.Name}
		if amount := p.amount(); amount != "" {
			lines[0] += ": " + amount
		}
		for _, d := range p.Draws {
			lines = append(lines, fmt.Sprintf("from container %s: %v", d.Container, d.Amount))
		}
		if p.Storage != "" {
			lines = append(lines, "Storage: "+p.Storage)
		}
		if p.NotListed {
			lines = append(lines, "No protective equipment is recorded: read the label before opening the container.")
		}
		section(&b, "Product", lines...)
	}
	if len(l.Products) == 0 {
		section(&b, "Product", "none: nothing is applied on this day")
	}
	if l.Water.Sign() > 0 {
		section(&b, "Water", fmt.Sprintf("carry %v (%s L)", l.Water, quantity.Decimal(l.Water.In(quantity.Litre), 1)))
	}
	for _, part := range []struct {
		heading string
		items   []string
	}{{"Vessels", l.Vessels}, {"Measures", l.Measures}, {"Wear", l.Equipment}} {
		if len(part.items) > 0 {
			section(&b, part.heading, strings.Join(part.items, ", "))
		}
	}
	if len(l.Missing) > 0 {
		section(&b, "MISSING", l.Missing...)
	}
	section(&b, "Cautions", marked(l.Cautions, func(int) string { return "-" })...)
	return b.String()
}

func (p LoadedProduct) amount() string {
	var parts []string
	if p.Volume.Sign() > 0 {
		parts = append(parts, p.Volume.String())
	}
	if p.Powder.Sign() > 0 {
		parts = append(parts, Weight(p.Powder))
	}
	if p.Organisms > 0 {
		parts = append(parts, quantity.Thousands(p.Organisms)+" organisms")
	}
	return strings.Join(parts, " and ")
}
