package course

import "slices"

// Party is whom an outcome asks to call.
type Party string

// The parties.
const (
	CallNobody     Party = ""
	CallClient     Party = "client"
	CallSite       Party = "site"                   // the person of the building who opens doors and keeps areas shut
	CallOffice     Party = "office"                 // of the business
	CallApplicator Party = "responsible-applicator" // of the business
)

// Consequence is what follows from an outcome of a work item.
type Consequence struct {
	// DueAgain says that the item is still needed; AfterDays is how many days after the outcome it is due again at the
	// earliest: 0 is the same day.
	DueAgain  bool `json:"due_again"`
	AfterDays int  `json:"after_days"`
	// NoticeAgain: the notice of an application was used up by the visit that did not take place.
	NoticeAgain bool  `json:"notice_again"`
	Call        Party `json:"call,omitempty"`
	// CountsAsApplication: for lag and caps, of the plants that were done.
	CountsAsApplication bool   `json:"counts_as_application"`
	Text                string `json:"text"` // for people
}

// outcomes is the table of what follows from an outcome, whatever the item. Whether a notice is asked for again and
// whether it counts is narrowed to applications by Consequences.
var outcomes = []struct {
	outcome Outcome
	follows Consequence
}{
	{OutcomeDone, Consequence{false, 0, false, CallNobody, true, "done; the course goes on from this day"}},
	{OutcomeInPart, Consequence{true, 0, false, CallOffice, true, "done in part; the plants left out are due again as soon as the label allows"}},
	{LockedOut, Consequence{true, 1, true, CallClient, false, "locked out; due again from the next day, after a call to the client about access"}},
	{NoKeyOrAlarm, Consequence{true, 1, true, CallOffice, false, "no key or an alarm; due again from the next day, with the key"}},
	{EntryRefused, Consequence{true, 1, true, CallClient, false, "entry refused; due again from the next day, after a call to the client"}},
	{PeoplePresent, Consequence{true, 1, true, CallSite, false, "people present; due again from the next day, after a call about the hours without people"}},
	{AreaNotShut, Consequence{true, 1, true, CallSite, false, "the area was not shut; due again from the next day, after a call about who shuts it"}},
	{PlantNotFound, Consequence{true, 1, false, CallClient, false, "plant not found; due again from the next day, after a call about where it stands"}},
	{MaterialMissing, Consequence{true, 1, true, CallOffice, false, "material or water was missing; due again from the next day"}},
	{GearFailed, Consequence{true, 1, true, CallOffice, false, "the gear failed; due again from the next day"}},
	{TooHotOrCold, Consequence{true, 1, true, CallSite, false, "too hot or too cold; due again from the next day, at another hour"}},
	{PlantDryOrFlower, Consequence{true, 1, true, CallApplicator, false, "the plant was dry or in flower; due again from the next day, watered first; the responsible applicator decides about flowers"}},
	{LicenceMissing, Consequence{true, 1, true, CallApplicator, false, "no licence for it; due again from the next day, by somebody who holds it"}},
	{RanOutOfTime, Consequence{true, 1, true, CallOffice, false, "out of time; due again from the next day"}},
	{FoundWithoutPest, Consequence{true, 1, true, CallApplicator, false, "found without the pest; nothing was applied, and the responsible applicator decides whether the course goes on"}},
	{CancelledByClient, Consequence{true, 1, true, CallClient, false, "cancelled by the client; due again from the next day, after a call about when or whether"}},
}

// Outcomes lists every outcome in the order in which they are shown.
func Outcomes() []Outcome {
	all := make([]Outcome, len(outcomes))
	for i, row := range outcomes {
		all[i] = row.outcome
	}
	return all
}

// Consequences says what follows from an outcome of a follow-up of a kind; an outcome given for a visit holds for each
// of its items. A look that finds no pest is done. ok is false for an outcome that is none of ours.
func Consequences(outcome Outcome, kind FollowUpKind) (follows Consequence, ok bool) {
	at := slices.IndexFunc(outcomes, func(row struct {
		outcome Outcome
		follows Consequence
	}) bool {
		return row.outcome == outcome
	})
	if at < 0 {
		return Consequence{}, false
	}
	follows = outcomes[at].follows
	if looking := kind == KindInspectInfested || kind == KindInspectNeighbours; looking && outcome == FoundWithoutPest {
		return Consequence{Text: "looked, and found without the pest"}, true
	}
	if kind != KindApplication {
		follows.NoticeAgain, follows.CountsAsApplication = false, false
	}
	return follows, true
}
