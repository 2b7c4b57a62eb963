// Package search answers: which plan is good?
//
// Items go in by regret: the one that would lose most by missing its best technician-day goes first, those before it in
// its chain before that. Then rounds of ruin and recreate take out a chain, a day or a site and put it back; a round that
// is not worse stays, and the best of all is kept. The same seed and number of rounds give the same
// answer: randomness comes from one generator, ties go to the lower index.
package search
