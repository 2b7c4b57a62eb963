package mayapply

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/scheduler/reentry"
	"vernation/scheduler/site"
)

// MayApply answers a question with every rule that speaks. Errors: *InvalidQuestion, never because a rule refuses.
func MayApply(q Question) (Answer, error) {
	if err := q.validate(); err != nil {
		return Answer{}, err
	}
	a := &asking{Question: q, material: q.Catalogue.Materials[q.Product.Material], day: q.Site.Zone.DateOf(q.Begins)}
	a.askLaw()
	a.askIncident()
	a.askAgreement()
	a.askLicence()
	a.askApproval()
	a.askNotice()
	a.askRecord()
	for _, area := range a.areas() {
		a.askPlace(area)
	}
	a.askPest()
	a.askHours()
	a.askWater()
	for _, plant := range q.Plants {
		a.askPlant(plant)
		a.askOverTime(plant)
	}
	a.askEntry()
	a.askAmounts()
	return a.close(), nil
}

// asking is a question with the answer in the making.
type asking struct {
	Question
	material catalogue.Material
	day      civil.Date // of the beginning, in the site's zone
	// treatments are what is made of it, area by area.
	treatments []reentry.Treatment
	answer     Answer
}

func (a *asking) say(rule Rule, verdict Verdict, plants []site.PlantID, format string, args ...any) {
	text := fmt.Sprintf(format, args...)
	// One sentence that holds for several plants is told once.
	for i, w := range a.answer.Words {
		if w.Rule == rule && w.Verdict == verdict && w.Text == text && len(w.Plants) > 0 && len(plants) > 0 {
			for _, id := range plants {
				if !slices.Contains(w.Plants, id) {
					a.answer.Words[i].Plants = append(a.answer.Words[i].Plants, id)
				}
			}
			return
		}
	}
	a.answer.Words = append(a.answer.Words, Word{Rule: rule, Verdict: verdict, Plants: plants, Text: text})
}

func (a *asking) refuse(rule Rule, format string, args ...any) {
	a.say(rule, Refuses, nil, format, args...)
}

func (a *asking) during() civil.Interval {
	return civil.Interval{From: a.Begins, To: a.Begins.Add(a.Takes)}
}

// onPlants says whether the product is put on plants or into their soil: a device, a living thing and physical work are not,
// so that flowers, edible plants and patch tests are no matter to them.
func (a *asking) onPlants() bool {
	return slices.Contains([]catalogue.Form{catalogue.Concentrate, catalogue.ReadyToUse, catalogue.Solid}, a.Product.Form)
}

// areas are those in which the plants stand, in the site's order.
func (a *asking) areas() []site.Area {
	return slices.DeleteFunc(slices.Clone(a.Site.Areas), func(area site.Area) bool { return len(a.plantsIn(area.ID)) == 0 })
}

func (a *asking) plantsIn(area site.AreaID) []site.PlantID {
	var ids []site.PlantID
	for _, p := range a.Plants {
		if p.Area == area {
			ids = append(ids, p.ID)
		}
	}
	return ids
}

// kindOf is the kind of place of an area: its own, else the site's.
func (a *asking) kindOf(area site.Area) catalogue.PlaceKind {
	if area.Kind != "" {
		return area.Kind
	}
	return a.Site.Kind
}

// remaining are the plants that nothing refuses so far.
func (a *asking) remaining() []Plant {
	refused := map[site.PlantID]bool{}
	for _, w := range a.answer.Words {
		if w.Verdict != Refuses {
			continue
		}
		if len(w.Plants) == 0 {
			return nil
		}
		for _, id := range w.Plants {
			refused[id] = true
		}
	}
	return slices.DeleteFunc(slices.Clone(a.Plants), func(p Plant) bool { return refused[p.ID] })
}

func (a *asking) close() Answer {
	for _, p := range a.remaining() {
		a.answer.On = append(a.answer.On, p.ID)
	}
	a.answer.Allowed = len(a.answer.On) == len(a.Plants)
	on := func(id site.PlantID) bool { return slices.Contains(a.answer.On, id) }
	if len(a.answer.On) == 0 {
		a.answer.Amounts, a.answer.Need, a.answer.Filling, a.answer.Vessel, a.answer.Draws = nil, quantity.Volume{}, nil, "", nil
	}
	for _, t := range a.treatments {
		if slices.ContainsFunc(a.plantsIn(t.Area), on) {
			a.shut(t)
		}
	}
	a.answer.Cautions = append(slices.Clone(a.material.Cautions),
		"The label on the container, local codes and the responsible applicator outrank this answer. Where they differ, stop and ask.",
		"Protective equipment as the label says before the container is opened. What is left goes onto plants that the label allows or home in the labelled vessel, never into a drain.")
	return a.answer
}

// list writes words for people: "a, b and c"; "nothing" for none.
func list[T ~string](words []T) string {
	texts := make([]string, len(words))
	for i, w := range words {
		texts[i] = strings.ReplaceAll(string(w), "-", " ")
	}
	switch len(texts) {
	case 0:
		return "nothing"
	case 1:
		return texts[0]
	}
	return strings.Join(texts[:len(texts)-1], ", ") + " and " + texts[len(texts)-1]
}

// span writes a time for people: "7 h", "23 h 59 min", "45 s".
func span(d time.Duration) string {
	var parts []string
	for _, unit := range []struct {
		length time.Duration
		name   string
	}{{time.Hour, "h"}, {time.Minute, "min"}, {time.Second, "s"}} {
		if n := d / unit.length; n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n, unit.name))
			d -= n * unit.length
		}
	}
	return cmp.Or(strings.Join(parts, " "), "0 s")
}

func spaced[T ~string](word T) string { return strings.ReplaceAll(string(word), "-", " ") }
