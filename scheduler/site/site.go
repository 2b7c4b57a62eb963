package site

import (
	"slices"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/scheduler/travel"
)

// ID names a site of one business, AreaID an area, ClientID a client, KeyID a key or badge.
type (
	ID       string
	AreaID   string
	ClientID string
	KeyID    string
)

// Site is an address where plants are looked after.
type Site struct {
	ID           ID                         `json:"id"`
	Client       ClientID                   `json:"client"`
	Name         string                     `json:"name"`
	Position     travel.Position            `json:"position"`
	Zone         civil.Zone                 `json:"zone"`
	Jurisdiction catalogue.JurisdictionCode `json:"jurisdiction"`
	Kind         catalogue.PlaceKind        `json:"kind"`
	Access       civil.Calendar             `json:"access"`
	AccessNotes  string                     `json:"access_notes,omitempty"`
	Keys         []KeyID                    `json:"keys,omitempty"` // a visit needs all of them
	// SignIn is lost once per visit for parking and sign-in.
	SignIn time.Duration `json:"sign_in,omitempty"`
	Water  Water         `json:"water"`
	Areas  []Area        `json:"areas"`
	// Agreement is what was agreed with the client for this site.
	Agreement Agreement `json:"agreement"`
	// Barred are products that open incidents keep from the site.
	Barred []BarredProduct `json:"barred,omitempty"`
}

// BarredProduct is a product that may not be used at a site since an incident with it there, until the responsible applicator
// allows it again.
type BarredProduct struct {
	Product  catalogue.ProductID `json:"product"`
	Incident string              `json:"incident"` // its id
	Since    civil.Instant       `json:"since"`
}

// Bars returns what bars a product from the site; ok is false where nothing does.
func (s Site) Bars(product catalogue.ProductID) (by BarredProduct, ok bool) {
	for _, b := range s.Barred {
		if b.Product == product {
			return b, true
		}
	}
	return BarredProduct{}, false
}

// Water says where water is drawn at a site.
type Water struct {
	Area AreaID `json:"area,omitempty"` // empty: no water, it must be carried
	// HardnessMgL is CaCO3; nil is unknown and counts as hard.
	HardnessMgL *float64 `json:"hardness_mg_l,omitempty"`
}

// Area is a room or zone of a site.
type Area struct {
	ID   AreaID `json:"id"`
	Name string `json:"name"`
	// Kind is the kind of place where it differs from the site's; "" is the site's.
	Kind catalogue.PlaceKind `json:"kind,omitempty"`
	// People are the hours with people in it, cleaners and guards included; Always where they never leave.
	People civil.Calendar `json:"people"`
	// OpenTo are areas that share its air; the relation holds both ways.
	OpenTo []AreaID `json:"open_to,omitempty"`
	// ReachedOnlyThrough is the area that must be crossed to come here; "" is none.
	ReachedOnlyThrough AreaID                `json:"reached_only_through,omitempty"`
	Sensitive          []catalogue.Sensitive `json:"sensitive,omitempty"`
	Climate            Climate               `json:"climate"`
	// Humidity is the relative humidity of its air over the year; nil is not known, and then the strict side counts.
	Humidity *Humidity `json:"humidity,omitempty"`
	// Ventilation are the hours in which the air is changed.
	Ventilation civil.Calendar  `json:"ventilation"`
	Treatment   *TreatmentPlace `json:"treatment,omitempty"` // set where plants may be carried to be treated
	Public      bool            `json:"public,omitempty"`    // seen by guests and visitors
}

// Climate is the temperature of an area in degrees Celsius by season; the first entry whose months contain
// the day counts, one without months counts all year.
type Climate []Season

// Season is the temperature over some months.
type Season struct {
	Months  []time.Month `json:"months,omitempty"`
	Coldest float64      `json:"coldest"`
	Usual   float64      `json:"usual"`
	Warmest float64      `json:"warmest"`
}

// Humidity is the relative humidity of an area in percent, in rising order from 0 to 100.
type Humidity struct {
	Least    float64 `json:"least"`
	Usual    float64 `json:"usual"`
	Greatest float64 `json:"greatest"`
}

// On returns the temperatures of a day. A climate without a matching season returns ok false: nothing is assumed.
func (c Climate) On(d civil.Date) (season Season, ok bool) {
	_, month, _ := d.YearMonthDay()
	for _, s := range c {
		if len(s.Months) == 0 {
			return s, true
		}
		for _, m := range s.Months {
			if m == month {
				return s, true
			}
		}
	}
	return Season{}, false
}

// TreatmentPlace is what makes an area fit to treat plants that are carried there.
type TreatmentPlace struct {
	Hours    civil.Calendar `json:"hours"`
	Water    bool           `json:"water,omitempty"`
	Drain    bool           `json:"drain,omitempty"`
	Capacity int            `json:"capacity"` // plants at one time
}

// Agreement is what was agreed for a site.
type Agreement struct {
	// FollowUpsIncluded says that follow-ups are not billed; AskAbove is the sum above which the client is asked first, nil never.
	FollowUpsIncluded bool            `json:"follow_ups_included,omitempty"`
	AskAbove          *quantity.Money `json:"ask_above,omitempty"`
	// RefusedMaterials and RefusedMethods are never used there.
	RefusedMaterials []catalogue.MaterialID `json:"refused_materials,omitempty"`
	RefusedMethods   []catalogue.Method     `json:"refused_methods,omitempty"`
	// ConsentNeeded lists the methods for which the client is asked each time; Consents what was given.
	ConsentNeeded []catalogue.Method `json:"consent_needed,omitempty"`
	Consents      []Consent          `json:"consents,omitempty"`
	// ShutAreas are areas that the client agreed to shut, from-to.
	ShutAreas []ShutArea `json:"shut_areas,omitempty"`
	// NoticeLead is the notice of an application; nil leaves it to jurisdiction and policy.
	NoticeLead   *time.Duration `json:"notice_lead,omitempty"`
	ResponseDays int            `json:"response_days,omitempty"` // for calls and findings; 0 is policy's
	PlantsCared  bool           `json:"plants_guaranteed,omitempty"`
	// UsualTechnician and UsualDay: fixed is a hard rule, else a preference with a price; "" and nil are free.
	UsualTechnician string         `json:"usual_technician,omitempty"`
	TechnicianFixed bool           `json:"technician_fixed,omitempty"`
	UsualDay        *civil.Weekday `json:"usual_day,omitempty"`
	DayFixed        bool           `json:"day_fixed,omitempty"`
	// IsolationArea is where suspected and new plants are kept apart; "" is none.
	IsolationArea AreaID `json:"isolation_area,omitempty"`
}

// Consent is a client's yes to a method.
type Consent struct {
	Method catalogue.Method `json:"method"`
	// Material is the only one to which it was said; "" is whatever is applied by the method.
	Material catalogue.MaterialID `json:"material,omitempty"`
	From     civil.Date           `json:"from"`
	To       civil.Date           `json:"to"` // last day; unset is until withdrawn
	// Asked is the id of the question that it answers; "" where it stands in the agreement itself.
	Asked string `json:"asked,omitempty"`
}

// Consented says whether the client's consent to a method and a material holds on a day, or is not asked for.
func (a Agreement) Consented(method catalogue.Method, material catalogue.MaterialID, on civil.Date) bool {
	if !slices.Contains(a.ConsentNeeded, method) {
		return true
	}
	return slices.ContainsFunc(a.Consents, func(c Consent) bool {
		return c.Method == method && (c.Material == "" || c.Material == material) && c.From <= on && (c.To.IsZero() || on <= c.To)
	})
}

// ShutArea is a client's agreement to keep people out of an area.
type ShutArea struct {
	Area AreaID        `json:"area"`
	From civil.Instant `json:"from"`
	To   civil.Instant `json:"to"`
	// Asked is the id of the question that it answers; "" where it stands in the agreement itself.
	Asked string `json:"asked,omitempty"`
}
