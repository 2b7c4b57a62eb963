// Package site answers: where are the plants, whose are they, and what was agreed?
//
// It holds the premises of a business as plain values: sites with their areas, agreements
// and plants, and the services due there. It computes nothing beyond saying what is wrong with a value.
package site
