// Package load reads business files, testdata's and anybody's, and writes them through the same deeds that the
// contract's methods use.
//
// A business file is YAML: one business with its policy, clients, sites, plants, products, technicians and services.
// The reader is strict: a field that it does not know, a value of another kind, or a value that a deed refuses is an
// error that names file, line and field; then nothing is stored.
package load
