package mayapply

import (
	"slices"

	"vernation/scheduler/civil"
	"vernation/scheduler/dilution"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
)

// Rule is a rule that speaks of an application.
type Rule string

// The rules, in the order in which they are asked.
const (
	RuleLaw          Rule = "law"           // registered product, household remedy
	RuleAgreement    Rule = "agreement"     // what the client refused, consented to, or owns
	RuleAccess       Rule = "access"        // the site's hours
	RuleLicence      Rule = "licence"       // category, day, supervision
	RuleApproval     Rule = "approval"      // of the responsible applicator
	RuleNotice       Rule = "notice"        // notice before, signs
	RulePlace        Rule = "place"         // kinds of place on the label
	RulePest         Rule = "pest"          // pests on the label
	RuleSensitive    Rule = "sensitive"     // things that the label keeps away from
	RuleTemperature  Rule = "temperature"   // limits of label or practice
	RuleHumidity     Rule = "humidity"      // limits of label or practice
	RuleHours        Rule = "time-of-day"   // the label's hours
	RuleWater        Rule = "water"         // hardness
	RuleTolerance    Rule = "tolerance"     // what the plants stand
	RuleFlowers      Rule = "open-flowers"  // where the label does not allow them
	RuleEdible       Rule = "edible-plants" // where the label does not list them
	RuleDryness      Rule = "dry-plants"    // not on a dry plant
	RulePlanter      Rule = "planter"       // what would flood it
	RuleRetreatment  Rule = "retreatment"   // least days between two applications
	RuleCaps         Rule = "caps"          // most in a row, most a year
	RuleIncompatible Rule = "incompatible"  // with another material
	RuleEntry        Rule = "entry"         // interval before entry
	RulePeople       Rule = "people"        // people's hours against the keep-out
	RuleShut         Rule = "shut"          // another keep-out
	RuleMix          Rule = "mix"           // vessel, measure, container
	RuleRecord       Rule = "record"        // what of the product was not read from a container
	RuleIncident     Rule = "incident"      // an open one with the product at the site
)

// Verdict is what a rule says.
type Verdict string

// The verdicts.
const (
	Refuses Verdict = "refuses"
	Asks    Verdict = "asks"  // allowed if this is done: a step of the visit
	Notes   Verdict = "notes" // to be known
)

// Word is what one rule says.
type Word struct {
	Rule    Rule    `json:"rule"`
	Verdict Verdict `json:"verdict"`
	// Plants are those of which it speaks; empty is the whole application.
	Plants []site.PlantID `json:"plants,omitempty"`
	Text   string         `json:"text"`
}

// Amount is how much goes on one plant (group): finished mix or ready to use, or living organisms.
type Amount struct {
	Plant    site.PlantID    `json:"plant"`
	Least    quantity.Volume `json:"least"` // of what is usual
	Greatest quantity.Volume `json:"greatest"`
	// LeastOrganisms and GreatestOrganisms are set where the product is alive.
	LeastOrganisms    int64 `json:"least_organisms,omitempty"`
	GreatestOrganisms int64 `json:"greatest_organisms,omitempty"`
}

// Shut is an area that the application shuts.
type Shut struct {
	Area     site.AreaID    `json:"area"`
	Name     string         `json:"name"`
	During   civil.Interval `json:"during"`
	UntilDry bool           `json:"until_dry,omitempty"` // and until somebody has confirmed that it is dry
	// Because is the name of the treated area where it is another one: people would pass it, or the air is shared.
	Because string `json:"because,omitempty"`
}

// Answer is every rule that speaks, and what follows.
type Answer struct {
	// Allowed says that nothing refuses any of the plants; On lists the plants on which it may go, in the question's order.
	Allowed bool           `json:"allowed"`
	On      []site.PlantID `json:"on"`
	Words   []Word         `json:"words"`
	// Amounts are those of On; Need is their sum with the reserve, taken at the middle of what is usual.
	Amounts []Amount        `json:"amounts,omitempty"`
	Need    quantity.Volume `json:"need"`
	// Limits are the label's of a diluted product; Filling the mix where a vessel and a measure fit, and from which vessel.
	Limits  *dilution.Limits  `json:"limits,omitempty"`
	Filling *dilution.Filling `json:"filling,omitempty"`
	Vessel  string            `json:"vessel,omitempty"`
	// Dosing and Batch are the same of a product that is weighed or counted into its mix.
	Dosing *dilution.Dosing `json:"dosing,omitempty"`
	Batch  *dilution.Batch  `json:"batch,omitempty"`
	Draws  []dilution.Draw  `json:"draws,omitempty"` // of what is ready to use
	Shut   []Shut           `json:"shut,omitempty"`  // by the application on the plants of On
	// Next is the first later beginning at which people, keep-outs, access and the label's times of day allow it everywhere,
	// within two weeks; unset when none is found or none is needed. Other rules are not asked again for it.
	Next     civil.Instant `json:"next,omitempty"`
	Cautions []string      `json:"cautions"`
}

// Refusals are the words that refuse.
func (a Answer) Refusals() []Word { return a.with(Refuses) }

// Steps are the words that ask for something: steps of the visit.
func (a Answer) Steps() []Word { return a.with(Asks) }

func (a Answer) with(v Verdict) []Word {
	return slices.DeleteFunc(slices.Clone(a.Words), func(w Word) bool { return w.Verdict != v })
}
