// Package course answers: what does a case still need, and why?
//
// It is one function of values: histories of all cases that share plants, premises,
// means, catalogue, policy, climate and today go in; follow-ups with windows, links, ways,
// products, amounts, the price of each day and reasons for people come out, together with
// the proof by ages that the sequence clears the plants, or the sentence that it holds down.
// It knows no schedule, no crew's day, no clock, no storage.
//
// Beside every date and chance: an estimate from laboratory figures; look at the plant; the
// responsible applicator decides.
package course
