package catalogue

// JurisdictionCode is an ISO 3166 country or subdivision code: "US-PA", "GB".
type JurisdictionCode string

// Jurisdiction is what a body of law asks for, as far as it is known. What is not known stands in Unknown,
// in words; an empty list elsewhere is never a finding that nothing is asked.
type Jurisdiction struct {
	Code JurisdictionCode `yaml:"code"`
	Name string           `yaml:"name"`
	// Within is the jurisdiction whose rules hold as well ("US" for "US-PA").
	Within     JurisdictionCode  `yaml:"within,omitempty"`
	Categories []LicenceCategory `yaml:"categories"`
	// Supervision says under whom an unlicensed technician may apply; "" is unknown, and then nobody may.
	Supervision         string   `yaml:"supervision,omitempty"`
	SupervisionSource   string   `yaml:"supervision_source,omitempty"`
	SupervisionStanding Standing `yaml:"supervision_standing,omitempty"`
	// SupervisionRules say who may apply how near to the licence holder. Where none of them lets anybody
	// apply in ordinary work under somebody else, Supervision is empty.
	SupervisionRules []SupervisionRule `yaml:"supervision_rules,omitempty"`
	Records          RecordRule        `yaml:"records"`
	Notices          []NoticeRule      `yaml:"notices"`
	Postings         []Posting         `yaml:"postings,omitempty"`
	Entries          []EntryRule       `yaml:"entries,omitempty"`
	// Duties are what the law asks for beside all that: told to people, planned by nobody.
	Duties  []Duty   `yaml:"duties,omitempty"`
	Unknown []string `yaml:"unknown"` // what is not known, said
}

// LicenceCategory is a category of licence and the kinds of place whose plants it covers.
type LicenceCategory struct {
	ID       string      `yaml:"id"`
	Name     string      `yaml:"name"`
	Covers   []PlaceKind `yaml:"covers"`
	Source   string      `yaml:"source"`
	Standing Standing    `yaml:"standing"`
	Note     string      `yaml:"note,omitempty"`
}

// SupervisionKind says how near a licence holder must be to somebody who applies under that licence.
type SupervisionKind string

// The kinds of supervision.
const (
	// OwnLicence lets nobody of that kind apply without a licence of one's own.
	OwnLicence SupervisionKind = "own-licence"
	// OnlyTraining lets a person apply under somebody's eyes to be trained, and not in ordinary work.
	OnlyTraining SupervisionKind = "only-training"
	// OnSite wants the licence holder physically present where the application is made.
	OnSite SupervisionKind = "on-site"
	// WithinReach wants a licence holder who can instruct, control and come when needed.
	WithinReach SupervisionKind = "within-reach"
	// Supervised wants supervision whose nearness is not known; the safe reading is OnSite.
	Supervised SupervisionKind = "supervised"
)

// SupervisionKinds lists every kind of supervision.
var SupervisionKinds = [...]SupervisionKind{OwnLicence, OnlyTraining, OnSite, WithinReach, Supervised}

// AllowsWork says whether somebody without a full licence may apply in ordinary work under this kind.
func (k SupervisionKind) AllowsWork() bool { return k == OnSite || k == WithinReach || k == Supervised }

// AsksPresence says whether the licence holder has to be at the place, which what is not known counts as.
func (k SupervisionKind) AsksPresence() bool { return k != OwnLicence && k != WithinReach }

// SupervisionRule says how near a licence holder must be to one kind of applicator.
type SupervisionRule struct {
	Who      string          `yaml:"who"`
	Kind     SupervisionKind `yaml:"kind"`
	Text     string          `yaml:"text"`
	Source   string          `yaml:"source,omitempty"`
	Standing Standing        `yaml:"standing"`
}

// RecordRule is what an application record must hold and for how many years it is kept.
type RecordRule struct {
	Elements []string `yaml:"elements"`
	// ElementsSource and ElementsStanding say where the elements of one jurisdiction were read; both are
	// empty in a rule joined of several.
	ElementsSource   string   `yaml:"elements_source,omitempty"`
	ElementsStanding Standing `yaml:"elements_standing,omitempty"`
	KeepYears        Figure   `yaml:"keep_years"`
}

// NoticeRule is the lead time of a notice at some kinds of place.
type NoticeRule struct {
	Places    []PlaceKind `yaml:"places"`
	LeadHours Figure      `yaml:"lead_hours"`
	Text      string      `yaml:"text"`
	Unless    string      `yaml:"unless,omitempty"` // where the law asks for none; never taken for granted by a plan
}

// Posting is a sign that an application asks for at some kinds of place.
type Posting struct {
	Places []PlaceKind `yaml:"places"`
	// Words are the sign's own; empty where the law prescribes none, or none that were read.
	Words string `yaml:"words,omitempty"`
	// Text is the rule for people: where the sign stands, from when, until when, who puts it up.
	Text string `yaml:"text"`
	// LetterHeight is the least height of its letters, SheetWidth and SheetHeight the least size of the sign,
	// in millimetres; nil where none is known.
	LetterHeight *Figure `yaml:"letter_height,omitempty"`
	SheetWidth   *Figure `yaml:"sheet_width,omitempty"`
	SheetHeight  *Figure `yaml:"sheet_height,omitempty"`
	// BeforeHours is how long before the application the sign is up at the latest; nil is at the application.
	BeforeHours *Figure `yaml:"before_hours,omitempty"`
	// StaysHours is how long after it the sign stays; nil is not known.
	StaysHours *Figure  `yaml:"stays_hours,omitempty"`
	Unless     string   `yaml:"unless,omitempty"` // where the law asks for none; never taken for granted by a plan
	Source     string   `yaml:"source,omitempty"`
	Standing   Standing `yaml:"standing"`
}

// EntryRule is the least time after an application before people come back at some kinds of place,
// whatever the label's interval.
type EntryRule struct {
	Places     []PlaceKind `yaml:"places"`
	LeastHours Figure      `yaml:"least_hours"`
	Text       string      `yaml:"text"`
	Unless     string      `yaml:"unless,omitempty"` // where the law asks for less; never taken for granted by a plan
}

// Duty is something else that the law asks for, in words.
type Duty struct {
	Text     string   `yaml:"text"`
	Source   string   `yaml:"source,omitempty"`
	Standing Standing `yaml:"standing"`
}

// ToxicityCategory is the category of acute toxicity of an active ingredient, "I" (worst) to "IV".
type ToxicityCategory string

// ToxicityCategories lists every category, the worst first.
var ToxicityCategories = [...]ToxicityCategory{"I", "II", "III", "IV"}

// EntryDefault is the interval before entry that the agricultural rule gives a product whose label has none.
// It governs only where that rule governs: plants grown for sale on an agricultural establishment, never plants
// kept for their looks at clients' sites, whose label or whose business's record decides.
type EntryDefault struct {
	Category ToxicityCategory `yaml:"category"`
	Interval Figure           `yaml:"interval"` // hours
}
