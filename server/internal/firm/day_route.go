package firm

import (
	"vernation/scheduler"
	"vernation/scheduler/civil"
	"vernation/scheduler/dilution"
	"vernation/scheduler/site"
)

// DayRoute is what a technician pulls: the day's visits in order with all that the work needs.
type DayRoute struct {
	Route    Route
	Visits   []DayVisit
	Sheets   []DaySheet // one for each mix of Route.Mixes, in order
	KeepOuts []DayKeepOut
	Load     DayLoad
	Cautions []string
	Cost     scheduler.Cost
}

// DayLoad is what comes along in the morning.
type DayLoad struct {
	dilution.LoadList
	Keys   []site.KeyID // of the day's sites, each once
	Others []string     // cards, signs and plants, each in a sentence
}

// DayVisit is one visit with its site and its work explained.
type DayVisit struct {
	Visit scheduler.Visit
	Site  site.Site
	Work  []DayWork // one for each of Visit.Work, in order
	// DryAsked are areas of the site where a confirmation that they are dry is open; it is the visit's first step.
	DryAsked  []KeepOutFact
	WaterText string
	Worked    Worked // really, as stamps tell it
	// Secrets are set for the technician of the day alone, on that day.
	Secrets *AccessSecrets
}

// DayWork explains one work item.
type DayWork struct {
	Text       string   // what to do, on which plants, why
	Conditions []string // steps that make it lawful and that the report must tick
	Readings   []string // to be measured before and told with the application
	Equipment  []string // protective
	Worked     Worked   // really, as stamps tell it
}

// DaySheet is a mix with its sheet.
type DaySheet struct {
	Mix   scheduler.Mix
	Sheet dilution.Sheet
}

// DayKeepOut is a keep-out with its clock times said in the site's zone.
type DayKeepOut struct {
	KeepOut scheduler.KeepOut
	Site    site.ID
	Zone    civil.Zone
	Text    string
}
