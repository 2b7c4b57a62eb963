// Package migrations holds the schema as SQL, one thought a file, up and down.
//
// Every table leads its keys with business_id and forces row security by it; only schema queue does not, because
// workers look across businesses there and it holds ids only. Two roles are asked for beforehand: the owner, who
// runs the migrations and owns what they make, and vernation_serve, who serves and owns nothing. The queue
// library's own tables come as a further migration, written in Go in package store.
package migrations

import "embed"

// FS holds the migrations by file name, in order.
//
//go:embed *.sql
var FS embed.FS
