package scheduler

import (
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/scheduler/travel"
)

// Problem is all that a plan depends on. It is a value: nobody changes it once Validate has passed.
type Problem struct {
	Now      civil.Instant `json:"now"`       // of the firm's clock; nothing new begins before it
	Zone     civil.Zone    `json:"zone"`      // of the business: plan days and shift days are its
	FirstDay civil.Date    `json:"first_day"` // of the horizon
	Days     int           `json:"days"`      // 1 to MaxHorizonDays

	Sites       []site.Site         `json:"sites"`
	Plants      []PlantState        `json:"plants"`
	Products    []catalogue.Product `json:"products"`
	Materials   []MaterialFacts     `json:"materials"` // of the products and ways
	Technicians []Technician        `json:"technicians"`
	Travel      travel.Matrix       `json:"travel"` // over site ids and technicians' bases

	FollowUps []FollowUp     `json:"follow_ups"`
	Services  []site.Service `json:"services"`
	Links     []Link         `json:"links,omitempty"`

	// What runs already or lies in the past.
	KeepOuts []KeepOut      `json:"keep_outs,omitempty"` // running or still to come from fixed visits outside the horizon
	Fixed    []Visit        `json:"fixed,omitempty"`     // begun, done or pinned; they do not move
	Mixes    []Mix          `json:"mixes,omitempty"`     // begun and still open
	Before   []Visit        `json:"before,omitempty"`    // published or announced before; moving one has a price
	Progress []Progress     `json:"progress,omitempty"`  // of technicians who are under way today
	Notices  []NoticeSent   `json:"notices,omitempty"`
	Done     []DoneFollowUp `json:"done,omitempty"` // follow-ups that links and lags refer to
	Rules    PlaceRules     `json:"rules"`
}

// Bounds of a Problem, checked by Validate.
const (
	MaxHorizonDays = 56
	MaxItems       = 50_000
)

// The words of a follow-up are the course's: one word, one meaning, and no translation between them.
type (
	ItemID       = course.ItemID
	CaseID       = course.CaseID
	FollowUp     = course.FollowUp
	FollowUpKind = course.FollowUpKind
	Certainty    = course.Certainty
	Due          = course.Due
	Way          = course.Way
	WayID        = course.WayID
	WayKind      = course.WayKind
	Part         = course.Part
	PartKind     = course.PartKind
	Use          = course.Use
	Dose         = course.Dose
	Link         = course.Link
	LinkKind     = course.LinkKind
)

// The kinds of follow-up.
const (
	KindApplication       = course.KindApplication
	KindInspectInfested   = course.KindInspectInfested
	KindInspectNeighbours = course.KindInspectNeighbours
	KindIsolation         = course.KindIsolation
	KindMoveAndReturn     = course.KindMoveAndReturn
	KindTrapChange        = course.KindTrapChange
	KindReplacement       = course.KindReplacement
	KindDryConfirmation   = course.KindDryConfirmation
	KindSignUp            = course.KindSignUp
	KindSignDown          = course.KindSignDown
	KindLeafWashing       = course.KindLeafWashing
	KindPatchTest         = course.KindPatchTest
)

// The kinds of way.
const (
	InPlace          = course.InPlace
	AtTreatmentPlace = course.AtTreatmentPlace
	ShutsNothing     = course.ShutsNothing
)

// The kinds of part of a way.
const (
	WorkPart        = course.WorkPart
	ApplicationPart = course.ApplicationPart
	CarryOutPart    = course.CarryOutPart
	WaitPart        = course.WaitPart
	CarryBackPart   = course.CarryBackPart
)

// The kinds of link.
const (
	LeastLag  = course.LeastLag
	Order     = course.Order
	Needs     = course.Needs
	SameVisit = course.SameVisit
	InsteadOf = course.InsteadOf
	Not       = course.Not
)

// Health is what is known of a plant on the day of the plan; work on healthier plants comes first.
type Health string

// The states of health, cleanest first.
const (
	Clean             Health = "clean"
	Neighbour         Health = "neighbour"
	SuspectedInfested Health = "suspected"
	ConfirmedInfested Health = "confirmed"
)

// PlantState is a plant with what the rules ask of it.
type PlantState struct {
	Plant  site.Plant `json:"plant"`
	Health Health     `json:"health"`
	// Tolerance is resolved for every material of the Problem's products: own record, else species, else patch test.
	Tolerance []catalogue.Tolerance `json:"tolerance"`
	// PatchTested are materials whose patch test the plant passed.
	PatchTested []catalogue.MaterialID `json:"patch_tested,omitempty"`
	// Applied are the applications that caps, lags and rotation count, over all cases, newest last.
	Applied []Applied `json:"applied,omitempty"`
}

// Applied is one application that was made to a plant.
type Applied struct {
	Product  catalogue.ProductID  `json:"product"`
	Material catalogue.MaterialID `json:"material"`
	Group    string               `json:"group,omitempty"` // mode of action
	Began    civil.Instant        `json:"began"`
	Ended    civil.Instant        `json:"ended"`
}

// MaterialFacts are the facts of a material that the label rule needs.
type MaterialFacts struct {
	ID   catalogue.MaterialID    `json:"id"`
	Law  catalogue.LegalStanding `json:"law"`
	Name string                  `json:"name"`
}

// KeepOut is an area shut from the beginning of an application until people may enter.
type KeepOut struct {
	Area    site.AreaID         `json:"area"`
	During  civil.Interval      `json:"during"`
	Product catalogue.ProductID `json:"product"`
	// By is the technician who may be in it while applying.
	By       TechnicianID `json:"by"`
	UntilDry bool         `json:"until_dry,omitempty"` // a confirmation is asked of the next person there
	Item     ItemID       `json:"item"`
}

// NoticeSent is a notice of an application that went out.
type NoticeSent struct {
	Item   ItemID        `json:"item"`
	Begins civil.Instant `json:"begins"` // the beginning that it names
	SentAt civil.Instant `json:"sent_at"`
	Used   bool          `json:"used,omitempty"` // a visit that did not take place used it up
}

// DoneFollowUp is a follow-up that was really done and that others count from.
type DoneFollowUp struct {
	ID    ItemID        `json:"id"`
	Site  site.ID       `json:"site"`
	Began civil.Instant `json:"began"`
	Ended civil.Instant `json:"ended"`
	// Plants are those on which it was done, as they are called today; empty is not known, and then it may be any.
	Plants []site.PlantID `json:"plants,omitempty"`
}

// Progress is a technician under way today.
type Progress struct {
	Technician TechnicianID   `json:"technician"`
	At         travel.PlaceID `json:"at"`
	FreeFrom   civil.Instant  `json:"free_from"`
	Worked     time.Duration  `json:"worked"`
}

// PlaceRules are the rules of notice, supervision and publishing, resolved for the Problem's sites,
// and the policy of breaks.
type PlaceRules struct {
	// NoticeLead by site: how long before an application its client must know; and whether that is known or practice.
	NoticeLead []SiteNotice `json:"notice_lead"`
	// PublishingDelay is added to Now before a notice's lead counts; NoticeTolerance is how far from its date a notice holds.
	PublishingDelay time.Duration `json:"publishing_delay"`
	NoticeTolerance time.Duration `json:"notice_tolerance"`
	// BreakAfter is the work time above which a break is due; MostWork the longest work time of a day.
	BreakAfter time.Duration `json:"break_after"`
	MostWork   time.Duration `json:"most_work"`
	Mixing     time.Duration `json:"mixing"` // minutes to make one mix
	Rinsing    time.Duration `json:"rinsing"`
	// Sanitation after work at a site with infested plants; paid and priced.
	Sanitation time.Duration `json:"sanitation"`
	// LeastRatePercent is how far under a label with one rate a mix may go (90 means 90 % of it).
	LeastRatePercent int `json:"least_rate_percent"`
	// Supervision lists the jurisdictions in which an unlicensed technician may apply under a named supervisor.
	Supervision []catalogue.JurisdictionCode `json:"supervision,omitempty"`
	// LeastEntry lists the sites where the law asks for a least interval before entry after any application that has an
	// interval at all, whatever the label says.
	LeastEntry []SiteEntry `json:"least_entry,omitempty"`
	// Categories lists which licence categories cover which kinds of place, by jurisdiction.
	Categories []CategoryCover `json:"categories"`
}

// SiteNotice is the notice that one site asks for.
type SiteNotice struct {
	Site  site.ID       `json:"site"`
	Lead  time.Duration `json:"lead"`
	Known bool          `json:"known"` // false: practice or policy, said as unknown
}

// SiteEntry is the least interval before entry that the law asks for at one site.
type SiteEntry struct {
	Site  site.ID       `json:"site"`
	Least time.Duration `json:"least"`
}

// CategoryCover says which kinds of place a licence category covers in a jurisdiction.
type CategoryCover struct {
	Jurisdiction catalogue.JurisdictionCode `json:"jurisdiction"`
	Category     string                     `json:"category"`
	Covers       []catalogue.PlaceKind      `json:"covers"`
}
