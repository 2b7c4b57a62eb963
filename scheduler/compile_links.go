package scheduler

import (
	"slices"
	"strconv"
	"strings"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/internal/instance"
)

// compileLinks joins items: links of the Problem, days that count from others, and what labels ask between applications.
func (c *compiled) compileLinks() {
	for i := range c.in.Items {
		if after := c.in.Items[i].Due.After; after != instance.None {
			c.bond(instance.Bond{Kind: instance.DueAfter, From: after, To: int32(i)})
			c.wait(int32(i), after, true)
		}
	}
	c.boundByFixed()
	for _, link := range c.p.Links {
		switch link.Kind {
		case InsteadOf:
			c.insteadOf(link)
		case Not: // the work stays; assemble marks it
		default:
			c.link(link)
		}
	}
	bySite := make([][]int32, len(c.p.Sites)) // plants, and so labels and treatment places, are of one site
	for i, ref := range c.items {
		if ref.away != nil {
			c.waitForPlace(int32(i))
			continue // the application of it is done
		}
		if ref.follow != nil {
			at := c.in.Items[i].Site
			for _, earlier := range bySite[at] {
				c.labelBetween(earlier, int32(i))
			}
			bySite[at] = append(bySite[at], int32(i))
		}
		c.wateringsFor(int32(i))
		c.patchTestFirst(int32(i))
	}
}

// boundByFixed bounds items by what counts from them and does not move.
func (c *compiled) boundByFixed() {
	for i := range c.p.FollowUps {
		f := &c.p.FollowUps[i]
		after, planned := c.index[f.Due.After]
		done, fixed := c.done[f.ID]
		if !planned || !fixed {
			continue
		}
		zone, item := done.zone, &c.in.Items[after]
		day := zone.DateOf(done.began)
		item.Hi = min(item.Hi, c.second(zone.At(day.AddDays(1-f.Due.EarliestLag), 0))-1, c.second(done.began)-1)
		if f.Due.StandsUntilLag > 0 {
			item.Lo = max(item.Lo, c.second(zone.At(day.AddDays(-f.Due.StandsUntilLag), 0)))
		}
	}
	for i, ref := range c.items {
		if ref.service == nil {
			continue
		}
		for id, done := range c.done {
			k, of := occurrenceOf(id, ref.service.ID)
			if of && k > ref.occurrence {
				day := done.zone.DateOf(done.began).AddDays(1 - max(1, ref.service.Earliest)*(k-ref.occurrence))
				c.in.Items[i].Hi = min(c.in.Items[i].Hi, c.second(done.zone.At(day, 0))-1)
			}
		}
	}
}

// occurrenceOf reads the number of an occurrence of a service off its id.
func occurrenceOf(id ItemID, service string) (k int, of bool) {
	number, of := strings.CutPrefix(string(id), service+"#")
	if !of {
		return 0, false
	}
	k, err := strconv.Atoi(number)
	return k, err == nil
}

// bond notes a bond at both of its items.
func (c *compiled) bond(b instance.Bond) {
	c.in.Items[b.From].Bonds = append(c.in.Items[b.From].Bonds, b)
	if b.To != b.From {
		c.in.Items[b.To].Bonds = append(c.in.Items[b.To].Bonds, b)
	}
}

// wait lets an item be tried after another.
func (c *compiled) wait(item, before int32, hard bool) {
	c.in.Items[item].Before = append(c.in.Items[item].Before, instance.Predecessor{Item: before, Hard: hard})
}

// named returns the items still to be planned that an id of a link means, and whether it names a service as a whole.
func (c *compiled) named(id ItemID) (items []int32, whole bool) {
	if at, known := c.index[id]; known {
		return []int32{at}, false
	}
	if _, done := c.done[id]; done {
		return nil, false
	}
	for i := range c.items {
		if s := c.items[i].service; s != nil && s.ID == string(id) {
			items = append(items, int32(i))
		}
	}
	return items, true
}

// doneNamed returns what was done, or stands in fixed visits, of what an id means.
func (c *compiled) doneNamed(id ItemID) []doneItem {
	if d, known := c.done[id]; known {
		return []doneItem{d}
	}
	var ids []ItemID
	for done := range c.done {
		if name, _, occurrence := strings.Cut(string(done), "#"); occurrence && name == string(id) {
			ids = append(ids, done)
		}
	}
	slices.Sort(ids)
	items := make([]doneItem, len(ids))
	for i, done := range ids {
		items[i] = c.done[done]
	}
	return items
}

// link compiles a least lag, an order, a need or a common visit.
func (c *compiled) link(link Link) {
	from, wholeFrom := c.named(link.From)
	to, wholeTo := c.named(link.To)
	loose := (wholeFrom || wholeTo) && link.Kind == LeastLag
	for _, b := range to {
		for _, done := range c.doneNamed(link.From) {
			c.afterDone(b, done, link)
		}
		c.afterReturn(b, link)
		if link.Kind == Needs && len(from) == 0 && len(c.doneNamed(link.From)) == 0 {
			c.in.Items[b].Ways = nil
			c.refused[b] = append(c.refused[b], Reason{RuleTiming, "it needs " + string(link.From) + ", which is neither done nor asked for"})
		}
		for _, a := range from {
			if a != b {
				c.linkItems(a, b, link, loose)
			}
		}
	}
	for _, a := range from {
		for _, done := range c.doneNamed(link.To) {
			if !loose {
				c.beforeDone(a, done, link)
			}
		}
	}
}

// beforeDone bounds an item by what stands fixed after it.
func (c *compiled) beforeDone(item int32, done doneItem, link Link) {
	from := &c.in.Items[item]
	switch link.Kind {
	case LeastLag:
		last := done.zone.DateOf(done.began).AddDays(-link.Days)
		from.Hi = min(from.Hi, c.second(done.zone.At(last+1, 0))-1)
		if link.Hours > 0 {
			from.EndBy = min(from.EndBy, c.second(done.began.Add(-link.Hours)))
		}
	case Order:
		from.EndBy = min(from.EndBy, c.second(done.began))
	case Needs:
		from.Hi = min(from.Hi, c.second(done.began)-1)
	}
}

// linkItems joins two items that are both still to be planned.
func (c *compiled) linkItems(a, b int32, link Link, loose bool) {
	bond := instance.Bond{From: a, To: b, Loose: loose}
	switch link.Kind {
	case LeastLag:
		days := bond
		days.Kind, days.Days = instance.DaysApart, instance.Day(link.Days)
		c.bond(days)
		if link.Hours > 0 {
			hours := bond
			hours.Kind, hours.Seconds = instance.EndToBegin, instance.Seconds(link.Hours.Seconds())
			c.bond(hours)
		}
	case Order:
		bond.Kind = instance.EndToBegin
		c.bond(bond)
	case Needs:
		bond.Kind = instance.BeginsAfter
		c.bond(bond)
	case SameVisit:
		bond.Kind = instance.OneVisit
		c.bond(bond)
	}
	if !loose {
		c.wait(b, a, link.Kind == Needs)
	}
}

// afterDone bounds an item by what was really done before it.
func (c *compiled) afterDone(item int32, done doneItem, link Link) {
	to := &c.in.Items[item]
	switch link.Kind {
	case LeastLag:
		zone := c.p.Sites[to.Site].Zone
		to.Lo = max(to.Lo, c.second(zone.At(zone.DateOf(done.began).AddDays(link.Days), 0)))
		if link.Hours > 0 {
			to.Lo = max(to.Lo, c.second(done.ended.Add(link.Hours)))
		}
	case Order:
		to.Lo = max(to.Lo, c.second(done.ended))
	case Needs:
		to.Lo = max(to.Lo, c.second(done.began)+1)
	}
}

// afterReturn lets an item that counts from the end of another wait for the carry back that is all that is left of it.
func (c *compiled) afterReturn(item int32, link Link) {
	back := slices.IndexFunc(c.items, func(ref itemRef) bool { return ref.away != nil && ref.id == link.From })
	if back < 0 || int32(back) == item || link.Kind != Order && (link.Kind != LeastLag || link.Hours == 0) {
		return
	}
	c.bond(instance.Bond{Kind: instance.EndToBegin, From: int32(back), To: item, Seconds: instance.Seconds(link.Hours.Seconds())})
	c.wait(item, int32(back), false)
}

// insteadOf takes plants of a follow-up out of a service on its day.
func (c *compiled) insteadOf(link Link) {
	to, _ := c.named(link.To)
	from, _ := c.named(link.From)
	for _, b := range to {
		for _, a := range from {
			if c.items[a].follow == nil || c.items[b].service == nil {
				continue
			}
			shared := false
			for _, block := range c.blocksOf(b) {
				piece := &block.Pieces[0]
				for g := range piece.Groups {
					if slices.Contains(c.items[a].follow.Plants, c.p.Plants[piece.Groups[g].Plant].Plant.ID) {
						piece.Groups[g].ReplacedBy = append(piece.Groups[g].ReplacedBy, a)
						shared = true
					}
				}
			}
			if shared {
				c.bond(instance.Bond{Kind: instance.Replaces, From: a, To: b})
			}
		}
		c.insteadOfDone(link, b)
	}
}

// insteadOfDone takes the plants of a follow-up that is fixed out of the service: its occurrences keep to other days,
// for what they would hold then depends on the day.
func (c *compiled) insteadOfDone(link Link, item int32) {
	for _, done := range c.doneNamed(link.From) {
		day := done.zone.DateOf(done.began)
		if done.began >= c.p.Now.Add(0) || day == c.zoneOf(c.p.Sites[c.in.Items[item].Site].ID).DateOf(c.p.Now) {
			next := c.second(done.zone.At(day+1, 0))
			way := c.in.Items[item].Ways
			if len(way) == 0 {
				continue
			}
			for _, block := range way[0].Legs[0].Blocks {
				piece := &block.Pieces[0]
				piece.Windows = c.windowsWithout(piece.Windows, instance.Window{From: c.second(done.zone.At(day, 0)), To: next})
			}
		}
	}
}

// windowsWithout cuts a stretch out of windows of beginnings; nil is all of the span.
func (c *compiled) windowsWithout(windows []instance.Window, cut instance.Window) []instance.Window {
	if windows == nil {
		windows = []instance.Window{c.window(c.span)}
	}
	var rest []instance.Window
	for _, w := range windows {
		for _, piece := range [...]instance.Window{{From: w.From, To: min(w.To, cut.From)}, {From: max(w.From, cut.To), To: w.To}} {
			if piece.From < piece.To {
				rest = append(rest, piece)
			}
		}
	}
	return rest
}

func (c *compiled) blocksOf(item int32) []instance.Block {
	if len(c.in.Items[item].Ways) == 0 {
		return nil
	}
	return c.in.Items[item].Ways[0].Legs[0].Blocks
}

// labelBetween joins two applications that share plants: least days between them, and caps that count both.
func (c *compiled) labelBetween(a, b int32) {
	x, y := c.items[a].follow, c.items[b].follow
	c.sharePlace(a, b)
	if !slices.ContainsFunc(x.Plants, func(id PlantID) bool { return slices.Contains(y.Plants, id) }) {
		return
	}
	counts := false
	for wa, way := range c.in.Items[a].Ways {
		for wb, other := range c.in.Items[b].Ways {
			counts = counts || len(way.Caps) > 0 && len(other.Caps) > 0
			apart := instance.Day(0)
			for _, p := range c.productsOf(x, &way) {
				for _, q := range c.productsOf(y, &other) {
					apart = max(apart, c.daysApart(p, q, q.Material))
				}
			}
			if apart > 0 {
				c.bond(instance.Bond{Kind: instance.NeverClose, From: a, To: b, Days: apart, WayFrom: int32(wa), WayTo: int32(wb)})
			}
		}
	}
	if counts {
		c.bond(instance.Bond{Kind: instance.Together, From: a, To: b})
	}
}

// productsOf lists the products of a compiled way.
func (c *compiled) productsOf(f *FollowUp, way *instance.Way) []*catalogue.Product {
	var products []*catalogue.Product
	for _, part := range f.Ways[way.Index].Parts {
		if part.Use != nil && c.products[part.Use.Product] != nil {
			products = append(products, c.products[part.Use.Product])
		}
	}
	return products
}

// sharePlace joins two items that may carry plants to one treatment place.
func (c *compiled) sharePlace(a, b int32) {
	for _, way := range c.in.Items[a].Ways {
		for _, other := range c.in.Items[b].Ways {
			if way.HeldIn != instance.None && way.HeldIn == other.HeldIn {
				c.bond(instance.Bond{Kind: instance.SharePlace, From: a, To: b})
				return
			}
		}
	}
}

// waitForPlace lets whoever may carry plants to a treatment place be tried after the item that brings others back from it.
func (c *compiled) waitForPlace(back int32) {
	for i, ref := range c.items {
		if ref.follow == nil || ref.away != nil {
			continue
		}
		bonds := len(c.in.Items[i].Bonds)
		if c.sharePlace(back, int32(i)); len(c.in.Items[i].Bonds) > bonds {
			c.wait(int32(i), back, false)
		}
	}
}

// wateringsFor joins a spray with the waterings that keep its plants from being dry.
func (c *compiled) wateringsFor(item int32) {
	var wet []int32
	for _, way := range c.in.Items[item].Ways {
		for _, plant := range way.Wet {
			if !slices.Contains(wet, plant) {
				wet = append(wet, plant)
			}
		}
	}
	for _, plant := range wet {
		for other := range c.in.Items {
			if !c.in.Items[other].Waters {
				continue
			}
			for _, block := range c.blocksOf(int32(other)) {
				if slices.ContainsFunc(block.Pieces[0].Groups, func(g instance.Group) bool { return g.Plant == plant }) {
					c.bond(instance.Bond{Kind: instance.WetsFor, From: int32(other), To: item, Plant: plant})
				}
			}
		}
	}
}

// patchTestFirst lets an application wait for the patch tests of its plants that are still to be made.
func (c *compiled) patchTestFirst(item int32) {
	f := c.items[item].follow
	if f == nil || f.Kind == KindPatchTest {
		return
	}
	for _, way := range c.in.Items[item].Ways {
		for _, product := range c.productsOf(f, &way) {
			for _, id := range f.Plants {
				at, known := c.plantIndex[id]
				if !known || !wets(product) || verdictOf(&c.p.Plants[at], product.Material) != catalogue.PatchTest ||
					slices.Contains(c.p.Plants[at].PatchTested, product.Material) {
					continue
				}
				for _, test := range c.patchTests(product.Material, id) {
					if from, planned := c.index[test]; planned {
						c.bond(instance.Bond{Kind: instance.EndToBegin, From: from, To: item})
						c.wait(item, from, true)
					}
				}
			}
		}
	}
}

// marked says whether a Not link holds for a service's work on plants at an instant: for Days from the day of From and
// Hours from its end, whichever is longer; with neither for good.
func (c *compiled) marked(service string, plants []PlantID, begins civil.Instant, zone civil.Zone, where func(ItemID) (doneItem, bool)) bool {
	for _, link := range c.p.Links {
		if link.Kind != Not || string(link.To) != service {
			continue
		}
		from, placed := where(link.From)
		if !placed || begins < from.began {
			continue
		}
		holds := link.Days == 0 && link.Hours == 0 ||
			link.Days > 0 && zone.DateOf(begins) < zone.DateOf(from.began).AddDays(link.Days) ||
			link.Hours > 0 && begins < from.ended.Add(link.Hours)
		if holds && c.touches(link.From, plants) {
			return true
		}
	}
	return false
}

// touches says whether a follow-up is of any of the plants; one that the Problem does not hold any more is taken to be.
func (c *compiled) touches(id ItemID, plants []PlantID) bool {
	for i := range c.p.FollowUps {
		if f := &c.p.FollowUps[i]; f.ID == id {
			return slices.ContainsFunc(plants, func(plant PlantID) bool { return slices.Contains(f.Plants, plant) })
		}
	}
	for _, d := range c.p.Done {
		if d.ID == id && len(d.Plants) > 0 {
			return slices.ContainsFunc(plants, func(plant PlantID) bool { return slices.Contains(d.Plants, plant) })
		}
	}
	return true
}
