package dilution

import (
	"fmt"
	"strings"
	"unicode/utf8"
)

// textColumns is the width to which a sheet's text is wrapped, for a terminal or a page.
const textColumns = 96

// Text writes the sheet for people, in lines of a terminal's width.
func (s Sheet) Text() string {
	var b strings.Builder
	fmt.Fprintf(&b, "MIX SHEET  %s", s.Product)
	if s.Registration != "" {
		fmt.Fprintf(&b, "  (registration %s)", s.Registration)
	}
	b.WriteString("\n")
	if s.SignalWord != "" {
		section(&b, "Signal word", s.SignalWord)
	}
	if len(s.Placeholders) > 0 {
		section(&b, "Placeholders", "not read from a container, check before use: "+strings.Join(s.Placeholders, ", "))
	}
	section(&b, "Make", s.Make)
	section(&b, "Strength", s.Strength)
	if note := s.note(); note != "" {
		section(&b, "Note", note)
	}
	section(&b, "Where", s.Where)
	section(&b, "Water", s.Water)
	section(&b, "Wear", strings.Join(s.Equipment, ", "))
	section(&b, "Steps", marked(s.Steps, func(i int) string { return fmt.Sprintf("%d.", i+1) })...)
	section(&b, "Write on it", s.Write)
	section(&b, "Use by", s.UseBy)
	section(&b, "Keep out", s.KeepOut...)
	section(&b, "What is left", s.Leftover)
	section(&b, "Cautions", marked(s.Cautions, func(int) string { return "-" })...)
	section(&b, "Label first", s.LabelFirst)
	return b.String()
}

// note is the filling's, whichever kind it is.
func (s Sheet) note() string {
	switch {
	case s.Powder != nil:
		return s.Powder.Note
	case s.Organisms != nil:
		return s.Organisms.Note
	case s.InTwo != nil:
		return s.InTwo.Filling.Note
	}
	return s.Filling.Note
}

// marked returns the lines, each with its mark before it.
func marked(lines []string, mark func(i int) string) []string {
	texts := make([]string, len(lines))
	for i, line := range lines {
		texts[i] = mark(i) + " " + line
	}
	return texts
}

// section writes a heading and its paragraphs, each beginning on a line of its own beside the heading's column.
func section(b *strings.Builder, heading string, paragraphs ...string) {
	const column = 14
	for i, paragraph := range paragraphs {
		if i > 0 {
			heading = ""
		}
		fmt.Fprintf(b, "%-*s", column, heading)
		width := column
		for j, word := range strings.Fields(paragraph) {
			length := utf8.RuneCountInString(word)
			switch {
			case j > 0 && width+1+length > textColumns:
				fmt.Fprintf(b, "\n%*s", column, "")
				width = column
			case j > 0:
				b.WriteByte(' ')
				width++
			}
			b.WriteString(word)
			width += length
		}
		b.WriteByte('\n')
	}
}
