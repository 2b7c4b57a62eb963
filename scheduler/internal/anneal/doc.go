// Package anneal answers: what is the cheapest set of routes that a budget finds?
//
// A search takes strings of neighbouring stops out of neighbouring routes and puts them back one by one at their cheapest
// places, passing some over (ruin and recreate by strings: Christiaens and Vanden Berghe 2020, Transportation Science 54:417);
// what comes of it is kept by simulated annealing. Solve breeds on top of that: a few annealed solutions exchange neighbouring
// routes, and each child is annealed for a short while from a middling temperature. Large instances are annealed in parts that are
// drawn anew again and again. Fewer vehicles are found by taking a route away and ejecting, for a stop without a place, those
// that seldom were without (Nagata and Bräysy 2009, Operations Research Letters 37:333).
//
// The stops have windows, loads and seconds of work; the vehicles are of one kind. Travel times keep the triangle inequality, or miss
// it by less than a stop takes. For a seed, a number of islands and of iterations the answer is always the same.
package anneal
