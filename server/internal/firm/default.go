package firm

import (
	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
)

// WithDefaults returns a business whose policy, rates and rules are the catalogue's defaults; the rest stays.
func (b Business) WithDefaults(c *catalogue.Catalogue) Business {
	b.Policy, b.Rates, b.Rules = course.DefaultPolicy(c), scheduler.DefaultRates(c), scheduler.DefaultRules(c)
	return b
}
