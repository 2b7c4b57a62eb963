// Package mayapply answers: may this be applied to these plants here now, how much, and shut until when?
//
// MayApply takes a product, plants, a place, a time and a person, and returns every rule that speaks: what refuses, what is
// asked as a step of the visit, what is to be known. Plants that a rule refuses are named and the others stay; the answer
// gives their amounts, the mix if a vessel is there, and what is shut until when. Nothing is assumed: what is not
// known and matters refuses.
//
// It reads label, law, agreement and records as they are given; it knows no course and no plan, and so not whether the
// treatment is wise, only whether something speaks against it. The label in hand, local codes and the responsible
// applicator outrank every answer.
package mayapply
