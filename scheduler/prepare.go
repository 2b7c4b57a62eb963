package scheduler

import (
	"vernation/scheduler/internal/bound"
	"vernation/scheduler/quantity"
)

// Prepared is a valid Problem made ready to be asked: Solve, Openings and Explain share what it holds (indices, windows,
// travel by technician, what licences, labels and agreements refuse, the prices). It is immutable and safe for
// concurrent use, so that a desk may ask many questions of one day's Problem.
type Prepared struct {
	problem  Problem
	rates    Rates
	compiled *compiled
	bound    quantity.Money
}

// Prepare validates a Problem and makes it ready, priced by rates. The Problem's slices are shared and must not be
// changed afterwards.
//
// The only error is *InvalidProblem, with every field that is wrong.
func Prepare(p Problem, rates Rates) (*Prepared, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	prepared := &Prepared{problem: p, rates: rates}
	prepared.compiled = compile(&prepared.problem, &prepared.rates)
	prepared.bound = quantity.Money(bound.Of(prepared.compiled.in))
	return prepared, nil
}

// Problem returns what was prepared. It must not be changed.
func (p *Prepared) Problem() Problem { return p.problem }
