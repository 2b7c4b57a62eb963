package convert

import (
	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
)

// consentAsked is the state of a question that has no answer.
const consentAsked firm.ConsentAnswerKind = "asked"

// ClientConsent writes what a client was asked for, with the answers.
func ClientConsent(names Names, c firm.ClientConsent) *vernationv1.ClientConsent {
	m := &vernationv1.ClientConsent{
		Name: names.ClientConsent(c.ID), Site: names.Site(c.Site), Case: names.Case(c.Case), Method: methods.enum(c.Method),
		Material: string(c.Material), SumMinor: amount[int64](c.Sum), AskedOf: c.AskedOf, AskedBy: c.AskedBy, AskTime: Timestamp(c.AskedAt),
		Note: c.Note, State: consentAnswers.enum(consentAsked), CreateTime: Timestamp(c.ReceivedAt),
		Answers: each(c.Answers, func(a firm.ConsentAnswer) *vernationv1.ConsentAnswer {
			return &vernationv1.ConsentAnswer{
				State: consentAnswers.enum(a.Kind), AnswerTime: Timestamp(a.At), By: a.By, FromOn: a.From.String(), ToOn: a.To.String(),
				Note: a.Note, RecordedBy: a.RecordedBy, CreateTime: Timestamp(a.ReceivedAt),
			}
		}),
	}
	if state := c.State(); state != "" {
		m.State = consentAnswers.enum(state)
	}
	if c.Shut != nil {
		m.ShutArea = shutArea(names, *c.Shut)
	}
	return m
}

// ClientConsentFrom reads what a client is asked for under an id.
func ClientConsentFrom(id string, m *vernationv1.ClientConsent) firm.ClientConsent {
	c := firm.ClientConsent{
		ID: id, Site: ID[site.ID](m.GetSite()), Case: ID[course.CaseID](m.GetCase()), Method: methods.word(m.GetMethod()),
		Material: catalogue.MaterialID(m.GetMaterial()), Sum: amount[quantity.Money](m.SumMinor), AskedOf: m.GetAskedOf(),
		AskedBy: m.GetAskedBy(), AskedAt: InstantFrom(m.GetAskTime()), Note: m.GetNote(),
	}
	if m.GetShutArea() != nil {
		shut := shutAreaFrom(m.GetShutArea())
		shut.Asked = ""
		c.Shut = &shut
	}
	return c
}

// AnswerFrom reads what a client answered.
//
// Fails with Invalid (DATE_FORM for a day that does not exist, CONTRADICTION for days of a refusal).
func AnswerFrom(m *vernationv1.AnswerClientConsentRequest) (firm.ConsentAnswer, error) {
	r := &reading{}
	a := firm.ConsentAnswer{
		Kind: firm.ConsentRefused, At: InstantFrom(m.GetAnswerTime()), By: m.GetAnsweredBy(), Note: m.GetNote(),
		From: r.date("from_on", m.GetFromOn()), To: r.date("to_on", m.GetToOn()),
	}
	if m.GetGiven() {
		a.Kind = firm.ConsentGiven
	} else if !a.From.IsZero() || !a.To.IsZero() {
		r.wrong.Add("from_on", catalogue.ReasonContradiction, "a refusal holds for no days: want none")
	}
	return a, fault.InvalidFields(r.wrong)
}

// WithdrawalOfConsentFrom reads that a client withdrew a consent.
func WithdrawalOfConsentFrom(m *vernationv1.WithdrawClientConsentRequest) firm.ConsentAnswer {
	return firm.ConsentAnswer{Kind: firm.ConsentWithdrawn, At: InstantFrom(m.GetAnswerTime()), By: m.GetAnsweredBy(), Note: m.GetNote()}
}

// NeededConsent writes what a course waits for.
func NeededConsent(names Names, n firm.NeededConsent) *vernationv1.NeededConsent {
	return &vernationv1.NeededConsent{
		Case: names.Case(n.Case), Site: names.Site(n.Site), Method: methods.enum(n.Method), Material: string(n.Material),
		Products: each(n.Products, names.Product), SumMinor: int64(n.Sum), AskAboveMinor: int64(n.AskAbove),
		Asked: names.ClientConsent(n.Asked), SinceTime: Timestamp(n.Since),
	}
}
