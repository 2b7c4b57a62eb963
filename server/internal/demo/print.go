package demo

import (
	"fmt"
	"path"
	"strings"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"
)

// width is that of a plain terminal.
const width = 100

func (s *story) heading(title string) {
	s.said = map[string]bool{}
	fmt.Fprintf(s.stage.Out, "\n%s\n%s\n", title, strings.Repeat("=", len(title)))
}

// say prints a paragraph, wrapped.
func (s *story) say(format string, args ...any) { s.wrapped("", fmt.Sprintf(format, args...)) }

// item prints a list entry, wrapped and hanging.
func (s *story) item(format string, args ...any) { s.wrapped("  - ", fmt.Sprintf(format, args...)) }

// note prints an entry below an item.
func (s *story) note(format string, args ...any) { s.wrapped("      ", fmt.Sprintf(format, args...)) }

// cautions prints each caution once in a scene, wherever it is said again.
func (s *story) cautions(list []string) {
	for _, caution := range list {
		if !s.said[caution] {
			s.said[caution] = true
			s.item("Caution: %s", caution)
		}
	}
}

func (s *story) wrapped(lead, text string) {
	hang := strings.Repeat(" ", len(lead))
	line := lead
	for _, word := range strings.Fields(text) {
		if len([]rune(line))+1+len([]rune(word)) > width && strings.TrimSpace(line) != "" && line != lead {
			fmt.Fprintln(s.stage.Out, strings.TrimRight(line, " "))
			line = hang
		}
		if line != lead && line != hang {
			line += " "
		}
		line += word
	}
	fmt.Fprintln(s.stage.Out, strings.TrimRight(line, " "))
}

// clock writes an instant in the business's zone: "Tue 3 Mar 19:30".
func (s *story) clock(t *timestamppb.Timestamp) string {
	return t.AsTime().In(s.zone).Format("Mon 2 Jan 15:04")
}

func (s *story) hour(t *timestamppb.Timestamp) string { return t.AsTime().In(s.zone).Format("15:04") }

// day writes "2026-03-03" as "Tue 3 Mar".
func day(date string) string {
	t, err := time.Parse(time.DateOnly, date)
	if err != nil {
		return date
	}
	return t.Format("Mon 2 Jan")
}

// money writes minor units: 12345 as "123.45".
func money(minor int64) string {
	sign := ""
	if minor < 0 {
		sign, minor = "-", -minor
	}
	return fmt.Sprintf("%s%d.%02d", sign, minor/100, minor%100)
}

// words writes an enum value as words: COST_PART_PAID_TIME without its prefix is "paid time".
func words(value fmt.Stringer, prefix string) string {
	return strings.ToLower(strings.ReplaceAll(strings.TrimPrefix(value.String(), prefix), "_", " "))
}

// last is the id at the end of a resource name.
func last(resource string) string { return path.Base(resource) }

func percent(share float64) string { return fmt.Sprintf("%.1f %%", 100*share) }

func plural(n int, one string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %ss", n, one)
}
