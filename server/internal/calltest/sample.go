package calltest

import (
	"math/rand/v2"
	"regexp"
	"regexp/syntax"
	"strings"
)

// mostRepeated bounds what a form lets be repeated without a bound.
const mostRepeated = 6

// sample is a text of a form.
func sample(random *rand.Rand, form *regexp.Regexp) string {
	parsed, err := syntax.Parse(form.String(), syntax.Perl)
	if err != nil {
		panic(err) // it was compiled
	}
	var text strings.Builder
	write(&text, random, parsed)
	return text.String()
}

func write(text *strings.Builder, random *rand.Rand, form *syntax.Regexp) {
	repeat := func(least, most int) {
		if most < 0 || most > least+mostRepeated {
			most = least + mostRepeated
		}
		for range least + random.IntN(most-least+1) {
			write(text, random, form.Sub[0])
		}
	}
	switch form.Op {
	case syntax.OpLiteral:
		text.WriteString(string(form.Rune))
	case syntax.OpCharClass:
		at := 2 * random.IntN(len(form.Rune)/2)
		low, high := form.Rune[at], form.Rune[at+1]
		text.WriteRune(low + rune(random.IntN(int(min(high-low, 90))+1)))
	case syntax.OpAnyChar, syntax.OpAnyCharNotNL:
		text.WriteRune(rune('a' + random.IntN(26)))
	case syntax.OpStar:
		repeat(0, -1)
	case syntax.OpPlus:
		repeat(1, -1)
	case syntax.OpQuest:
		repeat(0, 1)
	case syntax.OpRepeat:
		repeat(form.Min, form.Max)
	case syntax.OpAlternate:
		write(text, random, form.Sub[random.IntN(len(form.Sub))])
	case syntax.OpConcat, syntax.OpCapture:
		for _, part := range form.Sub {
			write(text, random, part)
		}
	default: // what matches an empty text, as the beginning and the end
	}
}
