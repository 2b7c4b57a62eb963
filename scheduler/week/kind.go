package week

import (
	"fmt"
	"hash/fnv"
	"math/rand/v2"
	"slices"
	"strings"

	"vernation/scheduler"
)

// Kind is a kind of week.
type Kind string

// The kinds by size, and one with more work than its crew can do.
const (
	Small    Kind = "small"     // 60 follow-ups, 200 services, 4 technicians
	Middle   Kind = "middle"    // 500, 1,500, 12
	Large    Kind = "large"     // 5,000, 15,000, 120
	TooShort Kind = "too-short" // waterings, inspections and applications compete
)

// tight begins the name of a week that is tight on one rule.
const tight = "tight-"

// Tight is the kind of week that is tight on a rule.
func Tight(rule scheduler.Rule) Kind { return Kind(tight + string(rule)) }

// Kinds lists every kind.
func Kinds() []Kind {
	kinds := []Kind{Small, Middle, Large, TooShort}
	for _, rule := range scheduler.Rules {
		kinds = append(kinds, Tight(rule))
	}
	return kinds
}

// New draws a Problem. The only error names the kinds, when the one asked for is none of them. It panics when what it drew does
// not pass Validate, which its tests exclude.
func New(kind Kind, seed uint64) (scheduler.Problem, error) {
	if !slices.Contains(Kinds(), kind) {
		names := make([]string, len(Kinds()))
		for i, k := range Kinds() {
			names[i] = string(k)
		}
		return scheduler.Problem{}, fmt.Errorf("no week of kind %q: want one of %s", kind, strings.Join(names, ", "))
	}
	g := draw(kind, seed)
	if rule, ok := strings.CutPrefix(string(kind), tight); ok {
		g.tighten(scheduler.Rule(rule))
	}
	if err := g.problem.Validate(); err != nil {
		panic(fmt.Sprintf("week: %s of seed %d: %v", kind, seed, err))
	}
	return g.problem, nil
}

// draw draws a week before it is made tight on a rule.
func draw(kind Kind, seed uint64) *generator {
	of := fnv.New64a()
	of.Write([]byte(kind))
	g := newGenerator(rand.New(rand.NewPCG(seed, of.Sum64())), sizeOf(kind))
	g.sites()
	g.crew()
	g.assign()
	g.services()
	g.cases()
	g.finish()
	return g
}

// sizeOf is the size of a kind: each tight one is of the same.
func sizeOf(kind Kind) size {
	if strings.HasPrefix(string(kind), tight) {
		kind = "tight"
	}
	return data().crew.Weeks[kind]
}
