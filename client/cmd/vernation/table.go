package main

import (
	"bytes"
	"io"
	"strings"
	"unicode/utf8"
)

// The colours of a terminal (ECMA-48, SGR).
const (
	bold  = "\x1b[1m"
	faint = "\x1b[2m"
	reset = "\x1b[0m"
)

// table is rows beneath titles, aligned.
type table struct {
	titles []string
	rows   [][]string
}

func (t *table) add(cells ...string) { t.rows = append(t.rows, cells) }

// write aligns the columns, each as wide as its widest cell; the last is not padded.
func (t *table) write(out io.Writer, coloured bool) error {
	widths := make([]int, len(t.titles))
	for _, row := range append([][]string{t.titles}, t.rows...) {
		for i, cell := range row {
			widths[i] = max(widths[i], utf8.RuneCountInString(cell))
		}
	}
	var text bytes.Buffer
	for n, row := range append([][]string{t.titles}, t.rows...) {
		var line strings.Builder
		for i, cell := range row {
			line.WriteString(cell)
			line.WriteString(strings.Repeat(" ", widths[i]-utf8.RuneCountInString(cell)+2))
		}
		trimmed := strings.TrimRight(line.String(), " ")
		if n == 0 && coloured {
			trimmed = bold + trimmed + reset
		}
		text.WriteString(trimmed + "\n")
	}
	_, err := out.Write(text.Bytes())
	return err
}

// wrap breaks a text into lines of at most so many runes; those after the first hang beneath the lead's end.
func wrap(lead, text string, width int) string {
	hang := strings.Repeat(" ", utf8.RuneCountInString(lead))
	var out, line strings.Builder
	line.WriteString(lead)
	empty := true
	for _, word := range strings.Fields(text) {
		if !empty && utf8.RuneCountInString(line.String())+1+utf8.RuneCountInString(word) > width {
			out.WriteString(strings.TrimRight(line.String(), " ") + "\n")
			line.Reset()
			line.WriteString(hang)
			empty = true
		}
		if !empty {
			line.WriteByte(' ')
		}
		line.WriteString(word)
		empty = false
	}
	out.WriteString(strings.TrimRight(line.String(), " ") + "\n")
	return out.String()
}

// shorten cuts a text that would make a table too wide.
func shorten(text string, width int) string {
	text = strings.Join(strings.Fields(text), " ")
	if utf8.RuneCountInString(text) <= width {
		return text
	}
	return string([]rune(text)[:width-1]) + "…"
}

// lines wraps each line of a text; those of a list hang beneath their sign.
func lines(text string) string {
	var out strings.Builder
	for _, line := range strings.Split(strings.TrimRight(text, "\n"), "\n") {
		rest := strings.TrimLeft(line, " ")
		lead := line[:len(line)-len(rest)]
		if after, ok := strings.CutPrefix(rest, "- "); ok {
			lead, rest = lead+"- ", after
		}
		out.WriteString(wrap(lead, rest, pageWidth))
	}
	return out.String()
}
