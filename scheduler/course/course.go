package course

import (
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
)

// Input is everything that a course depends on; equal inputs give equal courses, and Key is their hash.
type Input struct {
	Today civil.Date    // of the business
	Now   civil.Instant // of the firm's clock
	Case  CaseID        // whose course is asked for
	// Histories are of the case and of every other case that shares plants with it.
	Histories []History
	Sites     []site.Site    // with areas and agreements; at least the case's
	Plants    []site.Plant   // of those sites
	Services  []site.Service // of those sites
	Products  []catalogue.Product
	// Withdrawn are products that are used no more: what was applied names them, and no course chooses them.
	Withdrawn []catalogue.ProductID
	// Held are the licence categories that somebody of the crew holds, by jurisdiction.
	Held      map[catalogue.JurisdictionCode][]string
	Catalogue *catalogue.Catalogue
	Policy    Policy
	// Prefer is the product that is chosen where it is lawful, whatever goes before it else; "" is none. It is asked for to compare.
	Prefer catalogue.ProductID
}

// Course is what a case still needs.
type Course struct {
	Case  CaseID  `json:"case"`
	Key   string  `json:"key"` // hash of the Input; a stored course is a cache under it
	Ended *Ending `json:"ended,omitempty"`
	// Run is the number of the sequence; it rises only when stands-until has passed or the pest changed.
	Run int `json:"run"`
	// Chosen is the product of the sequence, "" where none is lawful; Others are lawful too; Refused says why not.
	// Material is the chosen product's, or physical work that needs no product.
	Material catalogue.MaterialID  `json:"material,omitempty"`
	Chosen   catalogue.ProductID   `json:"chosen,omitempty"`
	Others   []catalogue.ProductID `json:"others,omitempty"`
	Refused  []Refusal             `json:"refused,omitempty"`
	// Turns are the planned applications at which the sequence changes to another product, in order of time; Cover is the
	// contact product that holds the pest until a slow systemic works, "" where leaves are washed or wiped or none is needed.
	Turns     []Turn              `json:"turns,omitempty"`
	Cover     catalogue.ProductID `json:"cover,omitempty"`
	Proof     Proof               `json:"proof"`
	FollowUps []FollowUp          `json:"follow_ups"`
	// Links join follow-ups with each other and with services of the site. Not links may come from a follow-up that was
	// really done: its rule holds on.
	Links []Link `json:"links,omitempty"`
	// Replacement stands beside the course with both costs; people decide.
	Replacement Comparison `json:"replacement"`
	// ExpectedLeft is the model's expected number of living insects after the last application as a share of the
	// number on the first day; ChanceFree its chance that none is left (at most policy's greatest).
	// ChanceMissed is the chance that coverage misses a hidden colony, which then lives on; LeftHidden is the share of ExpectedLeft
	// that lives in such ones.
	ExpectedLeft float64 `json:"expected_left"`
	LeftHidden   float64 `json:"left_hidden"`
	ChanceFree   float64 `json:"chance_free"`
	ChanceMissed float64 `json:"chance_missed"`
	// Looks is how the ending by inspections is to be reached.
	Looks Looks `json:"looks"`
	// Advice is for people: what favours the pest, look-alikes, what the course cannot do.
	Advice []string `json:"advice,omitempty"`
	// Assumptions are the figures used whose standing is an assumption, from memory or a placeholder.
	Assumptions []string `json:"assumptions,omitempty"`
	Cautions    []string `json:"cautions"`
	// Learned is what patch tests showed of the plants of the case: the business's own record from now on.
	Learned []Learned `json:"learned,omitempty"`
}

// Turn is a change of product within a sequence: with the application planned on a day another product goes on.
type Turn struct {
	On       civil.Date           `json:"on"`
	Product  catalogue.ProductID  `json:"product,omitempty"`
	Material catalogue.MaterialID `json:"material"`
	Plants   []site.PlantID       `json:"plants"`
	Reason   string               `json:"reason"` // for people: which cap or rotation asks for it
	// What the material meets of the pest.
	Reached       []catalogue.StageID `json:"reached"`
	PartlyReached []catalogue.StageID `json:"partly_reached,omitempty"`
	Spared        []catalogue.StageID `json:"spared"`
}

// Learned is what a patch test showed that a plant stands or does not.
type Learned struct {
	Plant     site.PlantID        `json:"plant"`
	Tolerance catalogue.Tolerance `json:"tolerance"`
}

// Refusal is a material or product that the course may not use, with every reason.
type Refusal struct {
	Product  catalogue.ProductID  `json:"product,omitempty"`
	Material catalogue.MaterialID `json:"material"`
	Reasons  []string             `json:"reasons"`
	// Computed is the dilution all the same, for people to see: "1:1 of 70 %: 35 %".
	Computed string `json:"computed,omitempty"`
	// OnlyConsent says that the client's consent is all that is missing.
	OnlyConsent bool `json:"only_consent,omitempty"`
}

// Proof is what the propagation of ages says about the sequence.
type Proof struct {
	// Clears: nothing is left at the coldest and at the warmest temperature of each day, as the plants stood and will stand on
	// it, with full coverage and stages that last as stated at those temperatures.
	Clears bool `json:"clears"`
	// HoldsDown: no lag of practice clears it; the sequence keeps it down.
	HoldsDown bool `json:"holds_down"`
	// RoundGrowth is the model's factor by which what applications can meet grows from one round to the next in the long
	// run; Outgrown says that it is 1 or more, and then the sequence does not clear whatever the ages say. 0 where nothing develops.
	RoundGrowth float64 `json:"round_growth"`
	Outgrown    bool    `json:"outgrown"`
	// Applications and LastDay of the whole sequence, day 0 being its first application.
	Applications int `json:"applications"`
	LastDay      int `json:"last_day"`
	// LagDays is the usual lag after the first application; later ones may differ where the plants stand warmer or cooler.
	// GreatestLag in days before crawlers are out of reach, at the warmest of each day: the least of the course.
	// CeilingNear and CeilingFar are practice's.
	LagDays       int                 `json:"lag_days"`
	GreatestLag   float64             `json:"greatest_lag"`
	CeilingNear   int                 `json:"ceiling_near"`
	CeilingFar    int                 `json:"ceiling_far"`
	Reached       []catalogue.StageID `json:"reached"`
	PartlyReached []catalogue.StageID `json:"partly_reached,omitempty"`
	Spared        []catalogue.StageID `json:"spared"`
	// Sources are the figures that decided, with their standing, for people.
	Sources []string `json:"sources"`
	Text    string   `json:"text"`
}

// Comparison is what the course still costs beside what replacing the infested plants costs.
type Comparison struct {
	Course           quantity.Money `json:"course"` // from today to its end: the sum of its parts
	CourseParts      []CostPart     `json:"course_parts,omitempty"`
	Replacement      quantity.Money `json:"replacement"`
	ReplacementParts []CostPart     `json:"replacement_parts,omitempty"`
	// Cheaper is unset where neither is said to be: nothing is applied, or the course cannot end the case and costs less.
	Cheaper Cheaper `json:"cheaper,omitempty"`
	Text    string  `json:"text"`
	// Proposed is the follow-up that would replace the plants; it joins FollowUps when people decide for it.
	Proposed *FollowUp `json:"proposed,omitempty"`
}

// Cheaper names the cheaper of the two, as a sentence does.
type Cheaper string

// What may be the cheaper.
const (
	CheaperCourse      Cheaper = "the course"
	CheaperReplacement Cheaper = "replacement"
)

// CostPart is one part of a cost in minor units: what it is for, and how it is made up.
type CostPart struct {
	What   string         `json:"what"`
	Amount quantity.Money `json:"amount"`
	Text   string         `json:"text"`
}

// Looks is how a case is to end clear.
type Looks struct {
	// Needed are inspections in a row without a find, of which Made are made; the first counts from FirstOn. Plants is
	// how many plants of the case each of those to come must look at for that.
	Needed  int        `json:"needed"`
	Made    int        `json:"made"`
	Plants  int        `json:"plants"`
	FirstOn civil.Date `json:"first_on"`
	// Chance is the present chance of being free; Bound what is asked; Reachable says whether Needed is within policy.
	Chance    float64 `json:"chance"`
	Bound     float64 `json:"bound"`
	Reachable bool    `json:"reachable"`
	Text      string  `json:"text"`
}
