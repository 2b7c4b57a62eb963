// Package week answers: what does a week of a real round look like, at every size, so that the scheduler can be measured?
//
// New draws a Problem from a kind and a seed: invented towns with clustered sites, kinds of place with their people's hours and
// doors, services on their rhythms, a crew with bases, shifts, licences and vessels, and cases whose follow-ups are those of
// package course: findings of some weeks, reports of what was done since, and the course of today. No follow-up is made up.
// The same kind and seed give the same Problem on every machine.
//
// OwnTrips and FirstFit are what a plan is held against: each follow-up as a trip of its own, and an office that pushes
// follow-ups into visits by hand rules. Both are judged by scheduler.Check like any plan; Measure says what a plan comes to.
//
// All figures stand in data/*.yaml. They are invented, for measuring alone: no real site, firm, product or person is meant.
package week
