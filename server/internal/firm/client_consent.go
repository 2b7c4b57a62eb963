package firm

import (
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
)

// ClientConsent is what a client was asked for and, in order, what came of it. It asks for at least one of a method, an area to be
// shut and a sum. The question is stored as asked and never changed; answers are appended.
type ClientConsent struct {
	ID   string        `json:"id"`
	Site site.ID       `json:"site"`
	Case course.CaseID `json:"case,omitempty"` // for which; "" is for none alone
	// Method is what may be done, and Material the only one that may be applied by it; "" is any.
	Method   catalogue.Method     `json:"method,omitempty"`
	Material catalogue.MaterialID `json:"material,omitempty"`
	// Shut is an area that people would be kept out of, and when.
	Shut *site.ShutArea `json:"shut,omitempty"`
	// Sum is what the course of Case may cost, in minor units.
	Sum     *quantity.Money `json:"sum,omitempty"`
	AskedAt civil.Instant   `json:"asked_at"`
	AskedBy string          `json:"asked_by"`
	AskedOf string          `json:"asked_of"` // who may consent for the client
	Note    string          `json:"note,omitempty"`

	ReceivedAt civil.Instant   `json:"received_at"`
	Answers    []ConsentAnswer `json:"answers,omitempty"` // oldest first; the last one counts
}

// ConsentAnswerKind is what a client answered.
type ConsentAnswerKind string

// The answers.
const (
	ConsentGiven     ConsentAnswerKind = "given"
	ConsentRefused   ConsentAnswerKind = "refused"
	ConsentWithdrawn ConsentAnswerKind = "withdrawn"
)

// ConsentAnswer is one answer of a client.
type ConsentAnswer struct {
	Kind ConsentAnswerKind `json:"kind"`
	At   civil.Instant     `json:"at"`
	By   string            `json:"by"` // who answered for the client
	// From and To are the first and the last day on which a given one holds; unset To is until withdrawn.
	From       civil.Date    `json:"from,omitempty"`
	To         civil.Date    `json:"to,omitempty"`
	Note       string        `json:"note,omitempty"`
	RecordedBy string        `json:"recorded_by"`
	ReceivedAt civil.Instant `json:"received_at"`
}

// State is the last answer; "" while none has come.
func (c ClientConsent) State() ConsentAnswerKind {
	if len(c.Answers) == 0 {
		return ""
	}
	return c.Answers[len(c.Answers)-1].Kind
}

// HeldAt says whether the consent had been given by an instant, for its day, and not been withdrawn before it.
func (c ClientConsent) HeldAt(at civil.Instant, day civil.Date) bool {
	holds := false
	for _, a := range c.Answers {
		if a.At > at {
			break
		}
		holds = a.Kind == ConsentGiven && a.From <= day && (a.To.IsZero() || day <= a.To)
	}
	return holds
}
