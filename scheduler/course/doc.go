// Package course answers: what does a case still need, and why?
//
// It is one function of values: histories of all cases that share plants, premises,
// means, catalogue, policy, climate and today go in; follow-ups with windows, links, ways,
// products, amounts, the price of each day and reasons for people come out, together with
// the proof by ages that the sequence clears the plants, or the sentence that it holds down.
// It knows no schedule, no crew's day, no clock, no storage.
//
// Compute reads the history into a story, judges every material against law, agreement, label, plants and places, replays
// what was really made into sequences (one for the plants of an area that were last treated on the same day), counts by
// ages what they still need, prices the days of delay with a model of the brood, and says how the case ends.
// A treatment of which a round kills less than grows back until the next, by the model, is said to be outgrown and never to
// clear, whatever the ages say; GrowthOf gives the same model's rate, generation and net reproduction of an untreated brood.
// The proof knows durations fixed by the temperature and full coverage and nothing else; what partly reached stages survive, what
// coverage misses and what the look before an application takes off by hand is the model's alone. So the proof
// decides dates and the model decides prices and chances.
//
// Plants are followed, not names: what became of groups that split, joined, went or moved is read from all histories, so that
// caps, waiting times, rotation and patch tests are the plants' in whichever case they were told. A proof runs over
// the days as they were and will be where the plants stood and will stand: what an insect spends in a stage is the sum of the
// rates of its days, at the coldest and at the warmest of each, also where the sequence turns to another product.
//
// Groups of mode of action rotate between generations where another product that suits is lawful; the label's own caps always
// hold. Where either asks for it a sequence turns to the next lawful product of another group, and is planned, proved and
// priced with its turns: each application meets what its own material reaches, and lags, windows, ways and approval are its
// product's. Without such a product the row ends and says what escapes. A slow systemic is covered by a contact product until it
// works, or by washing the leaves, or wiping them while no water may run through the pots; the cover is no round of the row, and
// neither proof nor model counts on it. On what a treatment goes at a severity is the policy's.
//
// A mix below the label's least rate counts for waiting times and caps and not for the proof; one above it counts once.
//
// Invariants: equal inputs give equal courses; the order and repetition of what is told change nothing; a follow-up keeps
// its id while its need is the same; no window is empty; no price falls with the day.
//
// Beside every date and chance: an estimate from laboratory figures; look at the plant; the
// responsible applicator decides.
package course
