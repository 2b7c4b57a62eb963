package scheduler

// ResumedForTest takes a plan into the kernel and back.
func (p *Prepared) ResumedForTest(plan Plan) (Plan, error) {
	state, err := p.compiled.resume(&plan)
	if err != nil {
		return Plan{}, err
	}
	again := p.compiled.planOf(state)
	again.Cost = p.compiled.cost(state)
	p.compiled.keepIDs(&again, p.problem.Before)
	return again, nil
}

// WithForTest prepares the Problem anew with a change made, at the same rates.
func (p *Prepared) WithForTest(change Change) (*Prepared, error) {
	return Prepare(change.Apply(p.problem), p.rates)
}
