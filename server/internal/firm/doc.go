// Package firm holds the server's nouns: what a business has, plans, publishes and hears of.
//
// They are plain values without behaviour beyond saying what is wrong with one. Words that the scheduler
// owns (site, plant, product, follow-up, plan) are the scheduler's types; here stand those that need
// a store: caller, case, visit as published, report, record, notice, plan run.
package firm
