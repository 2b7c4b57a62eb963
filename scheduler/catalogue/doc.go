// Package catalogue answers: what is known of pests, materials, species and jurisdictions, and who says so?
//
// The knowledge stands in data files beside the code, each figure with unit, source and
// standing; the strict reader refuses what is unknown, unsourced or impossible and names
// file and line. The catalogue knows no business, no plant, no date. Products are not in
// it: they are a business's own records, whose type stands here because courses, mixes,
// re-entry and plans all read the label.
//
// Of law it knows what was read and says what it does not know: within a jurisdiction and those around it the strictest
// known rule for a kind of place holds, and no rule known is never taken for none asked. Of plants, what is not known
// is tried on a patch first.
//
// A Catalogue is immutable after Load and safe for concurrent use.
package catalogue
