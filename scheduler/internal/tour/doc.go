// Package tour answers: how does one technician-day run, and what does it cost?
//
// A list of stops in order goes in; times, mixes, keep-outs and cost by part come out, or the first rule that speaks against it.
// The day is simulated forward, every stretch as early as it may be, then pulled together from the end, so that waiting moves
// in front of the departure, and settled: every rule is asked once more at the final times. Where that fails the early times
// count. It is walked without a break first; where one is due, with the break in the places that it may have, and the cheapest
// counts; where visits were published, both with the arrivals held and free of them.
//
// Each rule inside a day stands in a file of its own: what it adds to the walk (extend), whether it lets a step be (allows), what
// it costs (cost) and how it says no (reason), as far as it has each. What other tours do comes in as Around, read only.
package tour
