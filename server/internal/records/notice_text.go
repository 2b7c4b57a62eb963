package records

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// noticeText composes what a notice says from what is published now.
func noticeText(tx *store.Tx, n firm.SentNotice) (firm.NoticeText, error) {
	at, err := tx.Site(n.Notice.Site)
	if err != nil {
		return firm.NoticeText{}, err
	}
	client, err := tx.Client(string(at.Client))
	if err != nil {
		return firm.NoticeText{}, err
	}
	told := firm.NoticeText{Recipients: recipients(client, at.ID), AskedFor: askedFor(at), Unknown: catalogue.Shipped().Unknown(at.Jurisdiction)}
	visits, err := tx.PublishedWork(n.Notice.Item)
	if err != nil {
		return told, err
	}
	for _, visit := range visits {
		i := slices.IndexFunc(visit.Work, func(w scheduler.WorkItem) bool {
			return w.Item == n.Notice.Item && w.Begins == n.Notice.Begins && w.Use != nil
		})
		if i < 0 {
			continue
		}
		told.Wording = firm.OwnWording
		told.Text, err = applicationNotice(tx, at, visit, visit.Work[i])
		return told, err
	}
	return told, nil
}

// recipients are the contacts of a client to whom notices for a site go.
func recipients(client firm.Client, at site.ID) []firm.Contact {
	return slices.DeleteFunc(slices.Clone(client.Contacts), func(c firm.Contact) bool {
		return !c.TakesNotices || len(c.Sites) > 0 && !slices.Contains(c.Sites, at)
	})
}

// kindsOf are the kinds of place that a site is and holds.
func kindsOf(s site.Site) []catalogue.PlaceKind {
	kinds := []catalogue.PlaceKind{s.Kind}
	for _, area := range s.Areas {
		if area.Kind != "" && !slices.Contains(kinds, area.Kind) {
			kinds = append(kinds, area.Kind)
		}
	}
	return kinds
}

// askedFor are the rules of notice and signs of a site's jurisdiction for its kinds of place, with their standing.
func askedFor(s site.Site) []string {
	var rules []string
	for _, jurisdiction := range catalogue.Shipped().Chain(s.Jurisdiction) {
		for _, kind := range kindsOf(s) {
			for _, rule := range jurisdiction.Notices {
				if slices.Contains(rule.Places, kind) {
					rules = append(rules, fmt.Sprintf("Notice: %s (%s, %s)", rule.Text, rule.LeadHours.Standing, rule.LeadHours.Source))
				}
			}
			for _, posting := range jurisdiction.Postings {
				if !slices.Contains(posting.Places, kind) {
					continue
				}
				text := fmt.Sprintf("Sign: %s (%s, %s)", posting.Text, posting.Standing, posting.Source)
				if posting.Words != "" {
					text += fmt.Sprintf(" Words of the sign: %q", posting.Words)
				}
				rules = append(rules, text)
			}
		}
	}
	slices.Sort(rules)
	return slices.Compact(rules)
}

// applicationNotice writes a notice of one application in our words.
func applicationNotice(tx *store.Tx, at site.Site, visit scheduler.Visit, work scheduler.WorkItem) (string, error) {
	business, err := tx.Business()
	if err != nil {
		return "", err
	}
	product, err := tx.Product(work.Use.Product)
	if err != nil {
		return "", err
	}
	shut, err := tx.KeepOuts(civil.Interval{From: work.Begins, To: work.Ends.Add(time.Second)})
	if err != nil {
		return "", err
	}
	shut = slices.DeleteFunc(shut, func(k firm.KeepOutFact) bool { return k.Item != work.Item || k.Visit != visit.ID })
	clock := func(i civil.Instant) string {
		return i.Time().In(at.Zone.Location()).Format("Monday 2 January 2006, 15:04")
	}
	tolerance := business.Rules.NoticeTolerance
	material := catalogue.Shipped().Materials[product.Material]
	lines := []string{
		"Notice of a treatment of plants",
		"",
		fmt.Sprintf("%s is to treat plants at %s.", business.Name, at.Name),
		fmt.Sprintf("When: it begins %s, or up to %d minutes earlier or later, and takes about %d minutes.", clock(work.Begins), int(tolerance.Minutes()), int(work.Ends.Sub(work.Begins).Minutes())),
		"Where: " + areaNames(at, []site.AreaID{work.Area}) + ".",
		"Against: " + pestName(tx, work.Item) + ".",
		"With: " + productText(product, material) + ".",
	}
	lines = append(lines, entryLines(at, shut, clock)...)
	return strings.Join(append(lines,
		"Leave vessels, cards and signs where they stand. Do not touch treated plants before people may enter.",
		"Whoever has an allergy, asthma or another reason to keep away longer: tell us beforehand.",
		"The label of the product, local codes and the responsible applicator decide; the label is shown to whoever asks.",
		"Poison line: "+lineOr(business.PoisonLine)+". Emergency: "+lineOr(business.EmergencyLine)+".",
		"",
		"These words are ours: no wording that the law prescribes is on record for this place.",
	), "\n") + "\n", nil
}

// entryLines say who keeps out of where until when.
func entryLines(at site.Site, shut []firm.KeepOutFact, clock func(civil.Instant) string) []string {
	if len(shut) == 0 {
		return []string{"Keep out: nobody need keep out by the label, but for the place where the work is done while it is done."}
	}
	var areas []site.AreaID
	until, dry := civil.Instant(0), false
	for _, k := range shut {
		areas = append(areas, k.Area)
		until, dry = max(until, k.During.To), dry || k.UntilDry
	}
	line := "Keep out: nobody enters " + areaNames(at, areas) + " from the beginning until " + clock(until)
	if dry {
		line += " and until somebody of ours, or the person named for it, has found it dry"
	}
	return []string{line + ". It lasts as much longer as the work begins later."}
}

// areaNames names areas of a site in the site's order.
func areaNames(at site.Site, areas []site.AreaID) string {
	var names []string
	for _, area := range at.Areas {
		if slices.Contains(areas, area.ID) {
			names = append(names, area.Name)
		}
	}
	return strings.Join(names, ", ")
}

// pestName is what people call the pest of the case that an item belongs to.
func pestName(tx *store.Tx, item scheduler.ItemID) string {
	c, err := tx.Case(caseOf(item))
	if err != nil {
		return "a pest of plants"
	}
	if pest, known := catalogue.Shipped().Pests[c.Pest]; known {
		return pest.Name
	}
	return string(c.Pest)
}

// productText names a product with what the law calls it by.
func productText(p catalogue.Product, material catalogue.Material) string {
	text := p.Name
	if p.Registration != "" {
		text += ", registration number " + p.Registration
	}
	if material.ActiveIngredient != "" {
		text += ", active ingredient " + material.ActiveIngredient
	}
	return text + ", " + strings.ReplaceAll(string(material.Method), "-", " ")
}

// lineOr is a telephone, or that there is none: it is set by the business and never shipped.
func lineOr(number string) string {
	if number == "" {
		return "not set by the business"
	}
	return number
}
