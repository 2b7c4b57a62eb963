package tour

import "vernation/scheduler/internal/instance"

// Rule is a hard rule by its place in scheduler.Rules.
type Rule int8

// The hard rules in the order of scheduler.Rules.
const (
	RuleShift Rule = iota
	RuleAccess
	RuleLicence
	RuleTiming
	RuleLabel
	RuleReentry
	RuleMix
	RulePinned
)

// rules are the hard rules on a walk, each in a file of its own; the rule "licence" is a filter in compile.
type rules struct {
	shift   shiftRule
	access  accessRule
	timing  timingRule
	label   labelRule
	reentry reentryRule
	mix     mixRule
	pinned  pinnedRule
}

// Cause says which rule spoke against a walk, about which item or area, and at what time.
type Cause struct {
	Rule Rule
	Item int32 // None when it is about no single item
	Area int32 // None when it is about no area
	At   Seconds
	Text Text
}

// Text says what was wrong; assemble puts it into words.
type Text int8

// The texts.
const (
	ShiftTooShort Text = iota
	TooMuchWork
	NoBreak
	AccessShut
	WaitsForItem
	PastItsDays
	LinkBroken
	TooCloseTogether
	CapReached
	PlantDry
	AreaShutByOther
	PeopleThere
	WorkAfterApplication
	NoBeginning
	NoVesselFree
	MixTooOld
	NowhereToMix
	PlaceFull
	FixedVisitInTheWay
	NotOnThatDay
)

// refuse notes the cause and returns false.
func (w *Walker) refuse(rule Rule, text Text, item int32, at Seconds) bool {
	w.cause = Cause{Rule: rule, Text: text, Item: item, Area: instance.None, At: at}
	return false
}
