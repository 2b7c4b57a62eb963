// Package scheduler answers: who does which follow-up and service, when and by which way?
//
// A Problem goes in: sites, crew, follow-ups with their windows, links and ways, services,
// what runs already. A Plan comes out: day routes of visits with work items, mixes and
// keep-outs, what was left out or deferred and why, and the cost by part. Solve makes a
// plan, Check judges one by the eight hard rules and shares no arithmetic with Solve.
//
// The package is pure: values in, values out; no clock, log, network or SQL. Biology stays
// in package course; here a day has a price and a way has parts.
package scheduler
