package main

import (
	"fmt"
	"strings"
	"unicode"

	"google.golang.org/protobuf/reflect/protoreflect"
)

// kebab writes a name of the contract as flags and commands are written: DayRoute and day_route are day-route.
func kebab(name string) string {
	var out strings.Builder
	for i, r := range name {
		switch {
		case r == '_':
			out.WriteByte('-')
		case unicode.IsUpper(r) && i > 0:
			out.WriteByte('-')
			out.WriteRune(unicode.ToLower(r))
		default:
			out.WriteRune(unicode.ToLower(r))
		}
	}
	return out.String()
}

// enumWord writes a value of an enum without the enum's name before it: CERTAINTY_CLIENT_CALL is client-call.
func enumWord(enum protoreflect.EnumDescriptor, number protoreflect.EnumNumber) string {
	value := enum.Values().ByNumber(number)
	if value == nil {
		return ""
	}
	return kebab(strings.ToLower(strings.TrimPrefix(string(value.Name()), enumPrefix(enum))))
}

// enumWords are those of an enum that may be given: all but the unset one.
func enumWords(enum protoreflect.EnumDescriptor) []string {
	var words []string
	for i := range enum.Values().Len() {
		if number := enum.Values().Get(i).Number(); number != 0 {
			words = append(words, enumWord(enum, number))
		}
	}
	return words
}

func enumPrefix(enum protoreflect.EnumDescriptor) string {
	return strings.ToUpper(strings.ReplaceAll(kebab(string(enum.Name())), "-", "_")) + "_"
}

// id is what stands at the end of a resource name, behind the business: what people call it by.
func id(name string) string {
	parts := strings.Split(name, "/")
	if len(parts) < 4 || parts[0] != "businesses" {
		return name
	}
	var ids []string
	for i := 3; i < len(parts); i += 2 {
		ids = append(ids, parts[i])
	}
	return strings.Join(ids, "/")
}

// plain writes the word of an enum or a field for people: client-call is "client call".
func plain(word string) string { return strings.NewReplacer("-", " ", "_", " ").Replace(word) }

// count writes a number of things: 1 visit, 2 visits.
func count(n int, one string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %ss", n, one)
}

// sentence begins with a capital and ends with a stop.
func sentence(text string) string {
	if text == "" {
		return ""
	}
	text = strings.ToUpper(text[:1]) + text[1:]
	if !strings.HasSuffix(text, ".") {
		text += "."
	}
	return text
}
