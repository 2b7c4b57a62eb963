// Package testdata holds what tests and the demo read: data, no code. Every file of a published figure names its source;
// everything else is invented.
package testdata

import (
	"embed"
)

// Golden holds, for each hard rule, golden/<rule>/good.json (a Problem and a Plan that keeps every rule), breach.json (a
// JSON Patch, RFC 6902, with the smallest change that breaks that rule) and want.txt (what is then said).
//
//go:embed golden
var Golden embed.FS

// DemoBusiness is demo.yaml: the invented business that the demo is acted out on, as a business file.
//
//go:embed demo.yaml
var DemoBusiness []byte
