package site

import (
	"fmt"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
)

// OwnerConsent is an owner's leave to treat a plant that is not in the business's care.
type OwnerConsent struct {
	By string     `json:"by"` // who consented: the owner, or who may speak for them
	On civil.Date `json:"on"` // first day on which it holds
	// WithdrawnOn is the first day on which it holds no more; unset: until it is withdrawn.
	WithdrawnOn civil.Date `json:"withdrawn_on,omitempty"`
}

// Holds says whether the consent holds on a day.
func (c OwnerConsent) Holds(on civil.Date) bool {
	return c.On <= on && (c.WithdrawnOn.IsZero() || on < c.WithdrawnOn)
}

// MayBeTreated says whether a plant may be treated on a day at all: it is in the business's care, or its owner consents.
func (p Plant) MayBeTreated(on civil.Date) bool {
	if !p.NotInCare {
		return true
	}
	for _, consent := range p.OwnerConsents {
		if consent.Holds(on) {
			return true
		}
	}
	return false
}

// MaxOwnerConsents bounds the consents on record for one plant.
const MaxOwnerConsents = 20

func (p Plant) validateConsents(l *catalogue.FieldErrors) {
	if len(p.OwnerConsents) > MaxOwnerConsents {
		l.Add("owner_consents", catalogue.ReasonOutOfRange, "%d: want %d at most", len(p.OwnerConsents), MaxOwnerConsents)
	}
	for i, consent := range p.OwnerConsents {
		path := fmt.Sprintf("owner_consents[%d]", i)
		l.AddMissing(path+".by", consent.By)
		if consent.On.IsZero() {
			l.Add(path+".on", catalogue.ReasonMissing, "missing: want the first day on which it holds")
		}
		if !consent.WithdrawnOn.IsZero() && consent.WithdrawnOn < consent.On {
			l.Add(path+".withdrawn_on", catalogue.ReasonContradiction, "withdrawn on %v, given on %v: want the days in order", consent.WithdrawnOn, consent.On)
		}
	}
}
