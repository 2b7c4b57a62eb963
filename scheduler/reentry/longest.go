package reentry

import (
	"errors"
	"time"

	"vernation/scheduler/catalogue"
)

// Longest returns the interval that holds where a label and another rule both speak: the longer one for each state of the
// air. keepOut and unventilated are what Resolve gives; least is the least interval that law or authority publishes for the
// kind of place, such as catalogue.LeastEntry's, or 0 where none is known. It counts from the END of the application as the
// label's does, whatever the ventilation, and is never shortened by it.
//
// A label that needs no interval is lengthened too: whether the rule speaks of the application at all (of a pesticide,
// as a rule, and not of work by hand) is the caller's to know.
func Longest(keepOut, unventilated, least time.Duration) (longestKeepOut, longestUnventilated time.Duration) {
	least = wholeSeconds(least)
	return max(keepOut, least), max(unventilated, keepOut, least)
}

// ErrNotGoverned says that no default interval may be taken: the agricultural rule does not govern the place.
var ErrNotGoverned = errors.New("the agricultural rule does not govern here: no default is taken for the interval, read it from the label")

// ByToxicity returns the default interval of the agricultural rule: that of the worst among the categories of acute toxicity given,
// those by skin, of eye irritation and of skin irritation of every active ingredient (40 CFR 156.208). The figures are the
// catalogue's. A missing category, "", counts as the worst; none at all too.
//
// It governs plants of a nursery, greenhouse or farm, and not plants that stand in habitations or offices for their looks (40
// CFR 170): without governs it is ErrNotGoverned, and an interval that the label does not give stays unknown.
func ByToxicity(c *catalogue.Catalogue, governs bool, categories ...catalogue.ToxicityCategory) (time.Duration, error) {
	if !governs {
		return 0, ErrNotGoverned
	}
	if len(categories) == 0 {
		categories = []catalogue.ToxicityCategory{""}
	}
	var longest time.Duration
	for _, category := range categories {
		longest = max(longest, c.AgriculturalEntry(string(category)))
	}
	return wholeSeconds(longest), nil
}
