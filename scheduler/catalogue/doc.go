// Package catalogue answers: what is known of pests, materials, species and jurisdictions, and who says so?
//
// The knowledge stands in data files beside the code, each figure with unit, source and
// standing; the strict reader refuses what is unknown, unsourced or impossible and names
// file and line. The catalogue knows no business, no plant, no date. Products are not in
// it: they are a business's own records, whose type stands here because courses, mixes,
// re-entry and plans all read the label.
//
// A Catalogue is immutable after Load and safe for concurrent use.
package catalogue
