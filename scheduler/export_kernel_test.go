package scheduler

import (
	"vernation/scheduler/internal/instance"
	"vernation/scheduler/internal/search"
)

// InstanceForTest is the Problem as the kernel sees it.
func (p *Prepared) InstanceForTest() *instance.Instance { return p.compiled.in }

// SolveInPartsForTest is Solve where parts of so many items are searched for themselves, as they are of a large Problem.
func (p *Prepared) SolveInPartsForTest(o Options, items int) Plan {
	return p.compiled.assemble(search.Run(p.compiled.in, search.Limits{Seed: o.Seed, Iterations: o.Iterations, Islands: o.Islands, Part: items}))
}
