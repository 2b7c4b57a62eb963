package scheduler

import "vernation/scheduler/internal/instance"

// InstanceForTest is the Problem as the kernel sees it.
func (p *Prepared) InstanceForTest() *instance.Instance { return p.compiled.in }
