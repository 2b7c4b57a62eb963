// Package search answers: which plan is good?
//
// A plan is constructed in several orders, each patiently (what comes before an item is tried first) and boldly (it may
// come later), and the cheapest is kept. Then rounds of ruin and recreate: strings of visits in day routes near one another, the
// items of a site over some days, or some single items are taken out with all that cannot stand without them, and put back in
// one of several orders, each into a cheap place, with some of those that were left out. The sieve of package schedule bounds what
// each place adds, over all technician-days and ways; only the most promising are walked, and now and then one is passed over.
// An item goes in where it adds less than being unplanned costs, with all that waits for it.
//
// A round that makes the plan dearer stays by a chance that falls as the search cools (simulated annealing; Schrimpf et al.
// 2000, Christiaens and Vanden Berghe 2020 for strings and blinks), and the best plan of all is kept. Islands are searches side
// by side with generators of their own; at fixed counts of rounds the worst goes on from the best of all.
//
// A large problem is searched in parts, each for itself: some technicians who begin near one another, and the sites around them. A
// round there costs what it does in a small problem, and the rounds of all islands add up; after each epoch all go on
// from what came of all parts, and parts are drawn anew.
//
// The same seed, number of rounds and number of islands give the same answer on any number of cores: each island draws from one
// generator, and ties go to what was found first. Under a time limit alone an answer is not repeatable.
package search
