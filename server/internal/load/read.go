package load

import (
	"bytes"
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/scheduler/travel"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/premises"
	"vernation/server/internal/store"
)

// File is a business file as read.
type File struct {
	Business Business `json:"business"`
	// Calendars holds anchors that other parts of the file refer to; it stores nothing itself.
	Calendars  map[string]any       `json:"calendars,omitempty"`
	Clients    []firm.Client        `json:"clients,omitempty"`
	Sites      []site.Site          `json:"sites,omitempty"`
	Plants     []site.Plant         `json:"plants,omitempty"`
	Products   []catalogue.Product  `json:"products,omitempty"`
	Crew       []firm.CrewMember    `json:"technicians,omitempty"`
	Services   []site.Service       `json:"services,omitempty"`
	Policy     course.Policy        `json:"policy"`
	PlaceRules scheduler.PlaceRules `json:"rules"`
	// Rates are amounts in minor units by the name of the rate; those not named are the defaults.
	Rates map[string]int64 `json:"rates,omitempty"`

	name string
	text []byte
}

// Business is the head of a business file.
type Business struct {
	ID            firm.BusinessID `json:"id"`
	Name          string          `json:"name"`
	Zone          string          `json:"zone"`
	Currency      string          `json:"currency"`
	DetourPercent int             `json:"detour_percent"`
	SpeedKMH      int             `json:"speed_kmh"`
	PoisonLine    string          `json:"poison_line,omitempty"`
	EmergencyLine string          `json:"emergency_line,omitempty"`
}

// Read reads a business file; name is said in its errors. Policy and rules that the file does not name are the
// catalogue's defaults.
func Read(name string, text []byte) (*File, error) {
	f := &File{name: name, text: text, Policy: course.DefaultPolicy(catalogue.Shipped()), PlaceRules: scheduler.DefaultRules(catalogue.Shipped())}
	decoder := yaml.NewDecoder(bytes.NewReader(text), yaml.Strict(), yaml.DisallowUnknownField())
	if err := decoder.Decode(f); err != nil {
		return nil, f.placed(err)
	}
	return f, nil
}

// position finds the "[line:column]" that the YAML library puts before its messages.
var position = regexp.MustCompile(`^\[(\d+):(\d+)\] (.*)`)

// quoted finds the first value that a message quotes; fieldAtEnd the field whose value begins where the text ends.
var (
	quoted     = regexp.MustCompile(`"([^"]+)"`)
	fieldAtEnd = regexp.MustCompile(`(\w+):\s*$`)
)

// placed says an error of the YAML library as "file:line: text".
func (f *File) placed(err error) error {
	text := strings.SplitN(strings.TrimSpace(yaml.FormatError(err, false, false)), "\n", 2)[0]
	if m := position.FindStringSubmatch(text); m != nil {
		return fmt.Errorf("%s:%s: %s%s", f.name, m[1], f.fieldBefore(m[1], m[2]), m[3])
	}
	// What a value's own reader refuses has no position: the value that it quotes is looked up.
	if m := quoted.FindStringSubmatch(text); m != nil {
		for i, line := range strings.Split(string(f.text), "\n") {
			if strings.Contains(line, m[1]) {
				return fmt.Errorf("%s:%d: %s", f.name, i+1, text)
			}
		}
	}
	return fmt.Errorf("%s: %s", f.name, text)
}

// fieldBefore names the field whose value stands at a line and column, as "count: ", or nothing.
func (f *File) fieldBefore(line, column string) string {
	l, errLine := strconv.Atoi(line)
	c, errColumn := strconv.Atoi(column)
	lines := strings.Split(string(f.text), "\n")
	if errLine != nil || errColumn != nil || l > len(lines) || c > len(lines[l-1]) {
		return ""
	}
	if m := fieldAtEnd.FindStringSubmatch(lines[l-1][:c-1]); m != nil {
		return m[1] + ": "
	}
	return ""
}

// located puts file and line before each wrong field that a deed found: "sites[2].access" is looked up in the file.
func (f *File) located(err error) error {
	var wrong *fault.Fault
	if !errors.As(err, &wrong) || len(wrong.Fields) == 0 {
		return fmt.Errorf("%s: %w", f.name, err)
	}
	lines := make([]string, len(wrong.Fields))
	for i, field := range wrong.Fields {
		lines[i] = fmt.Sprintf("%s:%s %s: %s", f.name, f.line(field.Path), field.Path, field.Text)
	}
	return errors.New(strings.Join(lines, "\n"))
}

// line finds the line of a path or of the nearest part of it that the file writes, as "12:".
func (f *File) line(path string) string {
	for at := path; at != ""; {
		parsed, err := yaml.PathString("$." + at)
		if err == nil {
			if node, err := parsed.ReadNode(bytes.NewReader(f.text)); err == nil && node.GetToken() != nil {
				return strconv.Itoa(node.GetToken().Position.Line) + ":"
			}
		}
		cut := strings.LastIndexAny(at, ".[")
		if cut < 0 {
			break
		}
		at = at[:cut]
	}
	return ""
}

// Firm turns the head of the file into a business with its policy, rules and rates.
func (f *File) Firm() (firm.Business, error) {
	var fields []catalogue.FieldError
	wrong := func(path, reason, text string, args ...any) {
		fields = append(fields, catalogue.FieldError{Path: path, Reason: reason, Text: fmt.Sprintf(text, args...)})
	}
	b := f.Business
	zone, err := civil.LoadZone(b.Zone)
	if err != nil {
		wrong("business.zone", "UNKNOWN_ZONE", "%v", err)
	}
	if b.ID == "" || b.Name == "" {
		wrong("business.id", "REQUIRED", "id and name are needed")
	}
	if len(b.Currency) != 3 {
		wrong("business.currency", "UNKNOWN_CURRENCY", "%q: want a code of ISO 4217 such as USD", b.Currency)
	}
	if err := (travel.GreatCircle{DetourPercent: b.DetourPercent, SpeedKMH: b.SpeedKMH}).Validate(); err != nil {
		wrong("business.speed_kmh", "OUT_OF_RANGE", "%v", err)
	}
	for _, field := range f.Policy.Validate() {
		wrong("policy."+field.Path, field.Reason, "%s", field.Text)
	}
	rates := scheduler.DefaultRates(catalogue.Shipped())
	for name, amount := range f.Rates {
		rate, ok := rates.ByName()[name]
		if !ok || amount < 0 {
			wrong("rates."+name, "UNKNOWN_RATE", "%d for %q: want 0 or more for a rate that the catalogue names", amount, name)
			continue
		}
		rate.Amount, rate.Standing = quantity.Money(amount), catalogue.OwnRecords
	}
	if err := fault.InvalidFields(fields); err != nil {
		return firm.Business{}, f.located(err)
	}
	return firm.Business{
		ID: b.ID, Name: b.Name, Zone: zone, Currency: b.Currency, Policy: f.Policy, Rates: rates, Rules: f.PlaceRules,
		DetourPercent: b.DetourPercent, SpeedKMH: b.SpeedKMH, PoisonLine: b.PoisonLine, EmergencyLine: b.EmergencyLine,
	}, nil
}

// Check says everything that is wrong with the values of the file by themselves, each with file and line, before
// anything is stored.
func (f *File) Check() error {
	known := catalogue.Shipped()
	var fields []catalogue.FieldError
	add := func(list string, i int, wrong []catalogue.FieldError) {
		for _, field := range wrong {
			field.Path = fmt.Sprintf("%s[%d].%s", list, i, field.Path)
			fields = append(fields, field)
		}
	}
	for i, s := range f.Sites {
		add("sites", i, s.Validate(known))
	}
	for i, p := range f.Plants {
		add("plants", i, p.Validate(known))
	}
	for i, p := range f.Products {
		add("products", i, p.Validate(known))
	}
	for i, s := range f.Services {
		add("services", i, s.Validate())
	}
	if err := fault.InvalidFields(fields); err != nil {
		return f.located(err)
	}
	return nil
}

// Store writes everything but the business itself, which its owner makes, in the caller's transaction.
func (f *File) Store(tx *store.Tx) error {
	for _, client := range f.Clients {
		if client.ID == "" || client.Name == "" {
			return fmt.Errorf("%s: a client without id or name: want both", f.name)
		}
	}
	steps := []struct {
		list string
		do   func() error
	}{
		{"clients", func() error { return tx.InsertClients(f.Clients) }},
		{"technicians", func() error { return premises.AddCrew(tx, f.Crew) }},
		{"sites", f.eachSite(tx)},
		{"plants", func() error { return premises.AddPlants(tx, f.Plants) }},
		{"products", func() error { return premises.AddProducts(tx, f.Products) }},
		{"services", func() error { return premises.AddServices(tx, f.Services) }},
	}
	for _, step := range steps {
		if err := step.do(); err != nil {
			return f.located(err)
		}
	}
	return nil
}

func (f *File) eachSite(tx *store.Tx) func() error {
	return func() error {
		for i, s := range f.Sites {
			_, err := premises.AddSite(tx, firm.Kept[site.Site]{Value: s})
			var wrong *fault.Fault
			if errors.As(err, &wrong) {
				for j := range wrong.Fields {
					wrong.Fields[j].Path = fmt.Sprintf("sites[%d].%s", i, strings.TrimPrefix(wrong.Fields[j].Path, "site."))
				}
			}
			if err != nil {
				return err
			}
		}
		return nil
	}
}
