// Package anneal answers: what is the cheapest set of routes that a budget finds?
//
// A Search takes strings of neighbouring stops out of neighbouring routes and puts them back one by one at their cheapest
// places, passing some over (ruin and recreate by strings: Christiaens and Vanden Berghe 2020, Transportation Science 54:417);
// what comes of it is kept by simulated annealing. Solve breeds on top of that: a few annealed solutions exchange neighbouring
// routes, and each child is annealed for a short while from a middling temperature. That beat one long annealing of five times as
// many rounds. Fewer vehicles are found by taking a route away and counting how often each stop was left out (after Nagata
// and Bräysy 2009, Operations Research Letters 37:333).
package anneal
