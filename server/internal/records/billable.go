package records

import (
	"slices"
	"strconv"
	"strings"

	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
	"vernation/server/internal/store"
)

// BillableVisit is what was done at one stay, by the key of its page.
type BillableVisit struct {
	Key  string
	Work []firm.BillableWork
}

// Billable returns the work done at stays of a span of days, one stay after the other, by arrival: at most as many as the page
// holds, from after its key on. Reports that another one corrects do not count; the agreement is the site's present one.
//
// Fails as Measure does.
func Billable(tx *store.Tx, wish firm.MeasureWish, page store.Page) ([]BillableVisit, error) {
	if err := wishRight(wish); err != nil {
		return nil, err
	}
	f := &facts{wish: wish, zones: map[site.ID]civil.Zone{}, ours: map[site.ID]bool{}, pay: map[scheduler.TechnicianID]int64{}}
	if err := f.readFirm(tx); err != nil {
		return nil, err
	}
	reports, err := tx.ReportsWithin(f.span)
	if err != nil {
		return nil, err
	}
	key := func(r firm.Report) string { return r.Arrived.String() + "/" + r.ID }
	reports = slices.DeleteFunc(reports, func(r firm.Report) bool {
		return !f.ours[r.Site] || wish.Technician != "" && r.Technician != wish.Technician || key(r) <= page.After
	})
	slices.SortFunc(reports, func(a, b firm.Report) int { return strings.Compare(key(a), key(b)) })
	reports = reports[:min(len(reports), page.Size)]
	around, err := readAround(tx, reports)
	if err != nil {
		return nil, err
	}
	stays := make([]BillableVisit, len(reports))
	for i, r := range reports {
		stays[i] = BillableVisit{Key: key(r), Work: around.billable(r, f.zones[r.Site])}
	}
	return stays, nil
}

// around is what the work of some reports is told with.
type around struct {
	visits  map[scheduler.VisitID]scheduler.Visit
	sites   map[site.ID]site.Site
	clients map[site.ClientID]firm.Client
	crew    map[scheduler.TechnicianID]string
	names   map[string]string // of products
}

func readAround(tx *store.Tx, reports []firm.Report) (*around, error) {
	a := &around{visits: map[scheduler.VisitID]scheduler.Visit{}, sites: map[site.ID]site.Site{}, clients: map[site.ClientID]firm.Client{}, crew: map[scheduler.TechnicianID]string{}, names: map[string]string{}}
	var named []scheduler.VisitID
	for _, r := range reports {
		if r.Visit != "" {
			named = append(named, r.Visit)
		}
		for _, item := range r.Items {
			if item.Application == nil || a.names[string(item.Application.Product)] != "" {
				continue
			}
			product, err := tx.Product(item.Application.Product)
			if err != nil {
				return nil, err
			}
			a.names[string(product.ID)] = product.Name
		}
		if _, read := a.sites[r.Site]; read {
			continue
		}
		at, err := tx.Site(r.Site)
		if err != nil {
			return nil, err
		}
		if a.clients[at.Client], err = tx.Client(string(at.Client)); err != nil {
			return nil, err
		}
		a.sites[r.Site] = at
	}
	visits, err := tx.VisitsNamed(named)
	if err != nil {
		return nil, err
	}
	for _, v := range visits {
		a.visits[v.ID] = v
	}
	crew, err := tx.EverCrew()
	for _, m := range crew {
		a.crew[m.ID] = m.Name
	}
	return a, err
}

// billable lists what was done at one stay.
func (a *around) billable(r firm.Report, zone civil.Zone) []firm.BillableWork {
	at := a.sites[r.Site]
	client := a.clients[at.Client]
	var list []firm.BillableWork
	for _, w := range workOf(r, a.visits[r.Visit], zone) {
		b := firm.BillableWork{
			Report: r.ID, Visit: r.Visit, Day: w.on, Zone: zone.Name(), ClientID: client.ID, Client: client.Name, Site: at.ID, SiteName: at.Name, Technician: a.crew[r.Technician],
			Item: w.item, Kind: w.kind, Case: w.ofCase, Terms: firm.BilledWork, Took: w.took,
		}
		switch {
		case w.service:
			b.Terms = firm.RoutineService
		case at.Agreement.FollowUpsIncluded:
			b.Terms = firm.IncludedWork
		}
		if w.took > 0 {
			b.Began, b.Ended = w.at, w.at.Add(w.took)
		}
		if w.made != nil {
			b.Product, b.ProductName = w.made.Product, a.names[string(w.made.Product)]
			b.Applied, b.Mass, b.Organisms = w.made.Applied, w.made.Mass, w.made.Organisms
		}
		list = append(list, b)
	}
	return list
}

// billableColumns are those of the export of billable work. New ones come last.
var billableColumns = []column[firm.BillableWork]{
	{"day", func(b firm.BillableWork) string { return dayText(b.Day) }},
	{"client_id", func(b firm.BillableWork) string { return b.ClientID }},
	{"client", func(b firm.BillableWork) string { return b.Client }},
	{"site_id", func(b firm.BillableWork) string { return string(b.Site) }},
	{"site", func(b firm.BillableWork) string { return b.SiteName }},
	{"visit", func(b firm.BillableWork) string { return string(b.Visit) }},
	{"report", func(b firm.BillableWork) string { return b.Report }},
	{"technician", func(b firm.BillableWork) string { return b.Technician }},
	{"item", func(b firm.BillableWork) string { return string(b.Item) }},
	{"kind", func(b firm.BillableWork) string { return b.Kind }},
	{"case", func(b firm.BillableWork) string { return string(b.Case) }},
	{"terms", func(b firm.BillableWork) string { return string(b.Terms) }},
	{"began", func(b firm.BillableWork) string { return clockText(b.Began, b.Zone) }},
	{"ended", func(b firm.BillableWork) string { return clockText(b.Ended, b.Zone) }},
	{"minutes", func(b firm.BillableWork) string {
		if b.Took == 0 {
			return ""
		}
		return strconv.Itoa(int(b.Took.Minutes() + 0.5))
	}},
	{"product", func(b firm.BillableWork) string { return b.ProductName }},
	{"applied", func(b firm.BillableWork) string { return volumeText(b.Applied) }},
	{"mass", func(b firm.BillableWork) string { return massText(b.Mass) }},
	{"organisms", func(b firm.BillableWork) string { return countText(b.Organisms) }},
}

// BillableText writes billable work as comma-separated text (RFC 4180), with a heading where it is asked for.
func BillableText(stays []BillableVisit, heading bool) string {
	var rows []firm.BillableWork
	for _, stay := range stays {
		rows = append(rows, stay.Work...)
	}
	return tableText(billableColumns, rows, heading)
}
