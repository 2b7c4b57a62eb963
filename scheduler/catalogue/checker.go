package catalogue

import (
	"fmt"
	"maps"
	"math"
	"net/url"
	"slices"
	"strings"

	"github.com/goccy/go-yaml/ast"
)

// checker collects the mistakes of one data file. It judges values and finds their lines by their trail.
type checker struct {
	file    string
	root    ast.Node
	sources map[string]Source
	errs    []error
}

// trail is the way to a value in a file: keys (string) and positions in lists (int).
type trail []any

func (t trail) at(steps ...any) trail { return append(slices.Clone(t), steps...) }

// String writes "pests[0].stages[1].id".
func (t trail) String() string {
	var b strings.Builder
	for _, step := range t {
		if i, ok := step.(int); ok {
			fmt.Fprintf(&b, "[%d]", i)
			continue
		}
		if b.Len() > 0 {
			b.WriteByte('.')
		}
		fmt.Fprint(&b, step)
	}
	return b.String()
}

func (c *checker) fail(t trail, format string, args ...any) {
	line, column := locate(c.root, t)
	c.errs = append(c.errs, &DataError{File: c.file, Line: line, Column: column, Path: t.String(), Text: fmt.Sprintf(format, args...)})
}

// locate returns where the value of a trail stands, or the nearest value around it that is there.
func locate(node ast.Node, t trail) (line, column int) {
	for i := 0; ; i++ {
		if token := startOf(node); token != nil {
			line, column = token.Line, token.Column
		}
		if i == len(t) {
			return line, column
		}
		next, key := child(node, t[i])
		if next == nil {
			return line, column
		}
		if key != nil {
			line, column = key.Line, key.Column
			if i == len(t)-1 {
				return line, column
			}
		}
		node = next
	}
}

// present says whether the file holds a value at a trail.
func (c *checker) present(t trail) bool {
	node := c.root
	for _, step := range t {
		if node, _ = child(node, step); node == nil {
			return false
		}
	}
	return true
}

// position is a line and a column, both from 1.
type position struct{ Line, Column int }

func startOf(node ast.Node) *position {
	if mapping, ok := node.(ast.MapNode); ok {
		if pairs := mapping.MapRange(); pairs.Next() {
			node = pairs.Key()
		}
	}
	if token := node.GetToken(); token != nil && token.Position != nil {
		return &position{token.Position.Line, token.Position.Column}
	}
	return nil
}

// child returns the value behind a step and, in a mapping, where its key stands; nil where there is none.
func child(node ast.Node, step any) (value ast.Node, key *position) {
	switch at := step.(type) {
	case int:
		if list, ok := node.(*ast.SequenceNode); ok && at < len(list.Values) {
			return list.Values[at], nil
		}
	case string:
		mapping, ok := node.(ast.MapNode)
		if !ok {
			return nil, nil
		}
		for pairs := mapping.MapRange(); pairs.Next(); {
			if token := pairs.Key().GetToken(); token.Value == at {
				return pairs.Value(), &position{token.Position.Line, token.Position.Column}
			}
		}
	}
	return nil, nil
}

// standing judges a standing with its source: read figures name a source, and a source that is named exists.
func (c *checker) standing(t trail, standing Standing, source string) {
	if !slices.Contains(standings, standing) {
		c.fail(t.at("standing"), "standing %q: want one of %s", standing, oneOf(standings))
	}
	if _, ok := c.sources[source]; source != "" && !ok {
		c.fail(t.at("source"), "unknown source %q: want a key of %s or %s", source, sourcesFile, sourcesFiles)
	}
	if source == "" && (standing == Published || standing == Secondary) {
		c.fail(t.at("source"), "no source: a %s figure names the work it was read in", standing)
	}
}

// bounds are what a field asks of its figure: one of some units, and a least and greatest value.
type bounds struct {
	units    []string
	min, max float64
}

func within(min, max float64, units ...string) bounds { return bounds{units, min, max} }

var shareBounds = within(0, 1, UnitShare)

func (c *checker) value(t trail, value float64, b bounds) {
	if math.IsNaN(value) || value < b.min || value > b.max {
		c.fail(t, "%v: want %v to %v", value, b.min, b.max)
	}
}

func (c *checker) unit(t trail, unit string, b bounds) {
	if !slices.Contains(b.units, unit) {
		c.fail(t.at("unit"), "unit %q: want %s", unit, oneOf(b.units))
	}
}

func (c *checker) figure(t trail, f Figure, b bounds) {
	if !c.present(t.at("value")) {
		c.fail(t, "no value: want a figure with value, unit, source and standing")
		return
	}
	c.value(t.at("value"), f.Value, b)
	c.unit(t, f.Unit, b)
	c.standing(t, f.Standing, f.Source)
}

func (c *checker) span(t trail, r Range, b bounds) {
	for _, end := range []string{"near", "far"} {
		if !c.present(t.at(end)) {
			c.fail(t, "no %s end: want near, far, unit, source and standing", end)
			return
		}
	}
	c.value(t.at("near"), r.Near, b)
	c.value(t.at("far"), r.Far, b)
	if r.Near > r.Far {
		c.fail(t.at("near"), "near end %v lies beyond the far end %v", r.Near, r.Far)
	}
	c.unit(t, r.Unit, b)
	c.standing(t, r.Standing, r.Source)
}

// text refuses an empty text.
func (c *checker) text(t trail, text string) {
	if strings.TrimSpace(text) == "" {
		c.fail(t, "empty: want text")
	}
}

// one refuses a word that is not among those known.
func one[T ~string](c *checker, t trail, noun string, word T, known []T) {
	if !slices.Contains(known, word) {
		c.fail(t, "unknown %s %q: want one of %s", noun, word, oneOf(known))
	}
}

// byID files a list by its ids, refusing empty ones and those there twice.
func byID[K ~string, V any](c *checker, t trail, key string, list []V, id func(V) K) map[K]V {
	all := make(map[K]V, len(list))
	for i, v := range list {
		k := id(v)
		if k == "" {
			c.fail(t.at(i), "no %s", key)
		}
		if _, twice := all[k]; twice {
			c.fail(t.at(i, key), "%s %q is there twice", key, k)
			continue
		}
		all[k] = v
	}
	return all
}

// checkSources files the sources of one file with all those of the others.
func (c *checker) checkSources(sources, all map[string]Source) {
	for _, key := range slices.Sorted(maps.Keys(sources)) {
		c.source(trail{"sources", key}, sources[key])
		if _, twice := all[key]; twice {
			c.fail(trail{"sources", key}, "source %q is in another file already", key)
		}
		all[key] = sources[key]
	}
}

// source judges one source: its address, where it has one, is that of a page, or says that only the site is known.
func (c *checker) source(t trail, source Source) {
	c.text(t.at("cite"), source.Cite)
	switch at, err := url.Parse(source.Address); {
	case source.Address == "" && source.SiteOnly:
		c.fail(t.at("site_only"), "no address: want the site's, or no site_only")
	case source.Address == "":
	case err != nil || at.Host == "" || at.Scheme != "https" && at.Scheme != "http":
		c.fail(t.at("address"), "address %q: want one that begins with https:// or http://", source.Address)
	case source.OfSite() && !source.SiteOnly:
		c.fail(t.at("address"), "address %q is a whole site's: want the page's, or site_only: true where only the site is known", source.Address)
	case !source.OfSite() && source.SiteOnly:
		c.fail(t.at("site_only"), "address %q is a page's: want no site_only", source.Address)
	}
}
