package catalogue

import (
	"net/url"
	"strings"
	"time"
)

// Standing says how well a figure is founded. It is shown wherever the figure is used.
type Standing string

// The standings, best founded first.
const (
	Published      Standing = "published"       // read in the named source
	Secondary      Standing = "secondary"       // read in a weaker page that repeats a better source
	OwnRecords     Standing = "own-records"     // the business's own minutes and results
	CommonPractice Standing = "common-practice" // the trade repeats it; no source
	Assumption     Standing = "assumption"      // ours, until something better is known
	FromMemory     Standing = "from-memory"     // not verified
)

var standings = []Standing{Published, Secondary, OwnRecords, CommonPractice, Assumption, FromMemory}

// Figure is one number with its unit, its source (a key of Catalogue.Sources) and its standing.
type Figure struct {
	Value    float64  `yaml:"value" json:"value"`
	Unit     string   `yaml:"unit" json:"unit"`
	Source   string   `yaml:"source,omitempty" json:"source,omitempty"` // empty only for common practice and assumptions
	Standing Standing `yaml:"standing" json:"standing"`
	Note     string   `yaml:"note,omitempty" json:"note,omitempty"`
}

// Duration returns a figure of seconds, minutes, hours or days; ok is false for any other unit.
func (f Figure) Duration() (d time.Duration, ok bool) {
	unit, ok := durationUnits[f.Unit]
	return time.Duration(f.Value * float64(unit)), ok
}

var durationUnits = map[string]time.Duration{
	UnitSeconds: time.Second, UnitMinutes: time.Minute, UnitHours: time.Hour, UnitDays: 24 * time.Hour,
}

// Middle returns the mean of the two ends.
func (r Range) Middle() float64 { return (r.Near + r.Far) / 2 }

// Range is a near and a far end with one unit, source and standing.
type Range struct {
	Near     float64  `yaml:"near" json:"near"`
	Far      float64  `yaml:"far" json:"far"`
	Unit     string   `yaml:"unit" json:"unit"`
	Source   string   `yaml:"source,omitempty" json:"source,omitempty"`
	Standing Standing `yaml:"standing" json:"standing"`
	Note     string   `yaml:"note,omitempty" json:"note,omitempty"`
}

// Source is a published work that figures name.
type Source struct {
	Cite string `yaml:"cite" json:"cite"`
	// Address is that of the page; of the site alone only with SiteOnly.
	Address string `yaml:"address,omitempty" json:"address,omitempty"`
	// SiteOnly says that only the site is known on which the work was read, not its page.
	SiteOnly bool `yaml:"site_only,omitempty" json:"site_only,omitempty"`
}

// OfSite says whether the address is that of a whole site: it names no page on it.
func (s Source) OfSite() bool {
	at, err := url.Parse(s.Address)
	return err == nil && strings.Trim(at.Path, "/") == "" && at.RawQuery == ""
}
