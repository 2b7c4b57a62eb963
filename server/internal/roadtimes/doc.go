// Package roadtimes answers: how long, and how far, is it by road, as a matrix service over HTTP tells it?
//
// It speaks the two open table formats: the one with GET /table/v1/{profile}/{coordinates}, and the one with
// POST /sources_to_targets. It keeps nothing and knows no business; what is missing in an answer stays missing.
package roadtimes
