// Package listing answers: what was asked for with a list?
//
// A noun declares once by which fields its list may be filtered and put in order, under the contract's names. From
// filter (AIP-160) and order_by (AIP-132) a Question follows: conditions and keys of plain values, which package store
// turns into SQL with parameters. Nothing here knows columns, and no text of a caller becomes part of a statement.
package listing
