package scheduler

import (
	"fmt"
	"strings"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/site"
)

// Rule is one of the eight hard rules of a plan. Its name finds all its parts: kernel file, checker file
// check_<rule>.go, golden folder, explanation, enum value of the contract, database constraint where there is one.
type Rule string

// The eight rules.
const (
	RuleShift   Rule = "shift"
	RuleAccess  Rule = "access"
	RuleLicence Rule = "licence"
	RuleTiming  Rule = "timing"
	RuleLabel   Rule = "label"
	RuleReentry Rule = "reentry"
	RuleMix     Rule = "mix"
	RulePinned  Rule = "pinned"
)

// Rules lists the eight rules in the order in which they are shown.
var Rules = [...]Rule{RuleShift, RuleAccess, RuleLicence, RuleTiming, RuleLabel, RuleReentry, RuleMix, RulePinned}

// Violation is one breach of one rule by a plan.
type Violation struct {
	Rule       Rule           `json:"rule"`
	Technician TechnicianID   `json:"technician,omitempty"`
	Day        civil.Date     `json:"day,omitempty"`
	Site       site.ID        `json:"site,omitempty"`
	Area       site.AreaID    `json:"area,omitempty"`
	Item       ItemID         `json:"item,omitempty"`
	During     civil.Interval `json:"during"`
	// Text says what is wrong, where, and what would be right.
	Text string `json:"text"`
	// Standing: the breach lies wholly in facts (past or fixed visits), not in a decision of the plan.
	Standing bool `json:"standing,omitempty"`
}

// String writes "rule: text".
func (v Violation) String() string { return fmt.Sprintf("%s: %s", v.Rule, v.Text) }

// FieldError is one wrong field of a value.
type FieldError = catalogue.FieldError

// InvalidProblem says everything that is wrong with a Problem, all at once.
type InvalidProblem struct{ Fields []FieldError }

// Error lists the fields.
func (e *InvalidProblem) Error() string {
	texts := make([]string, len(e.Fields))
	for i, f := range e.Fields {
		texts[i] = f.Path + ": " + f.Text
	}
	return "invalid problem: " + strings.Join(texts, "; ")
}
