package proto_test

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"google.golang.org/genproto/googleapis/api/annotations"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// Comments do not travel in compiled code, so that they are read from the .proto files, whose form `buf format` keeps:
// one declaration begins a line, its comment stands on the lines above.
var (
	blockBegins = regexp.MustCompile(`^(message|enum|service|extend) ([\w.]+) \{`)
	methodLine  = regexp.MustCompile(`^  rpc (\w+)\(`)
	fieldLine   = regexp.MustCompile(`^  (?:repeated |optional )?[\w.]+ (\w+) = \d+`)
	valueLine   = regexp.MustCompile(`^  ([A-Z][A-Z0-9_]+) = \d+;`)
	reasonLine  = regexp.MustCompile(`^- ([A-Z_]+) ([A-Z][A-Z0-9_]*): \S`)
)

// commentsOf returns the comment of each declaration of a .proto text by its name: "Site", "Site.name",
// "SiteService.GetSite", "Rule.RULE_SHIFT". A declaration without one has the empty comment.
func commentsOf(text string) map[string][]string {
	comments := map[string][]string{}
	var block string
	var above []string
	for line := range strings.Lines(text) {
		line = strings.TrimRight(line, "\n")
		if comment, ok := strings.CutPrefix(strings.TrimSpace(line), "//"); ok {
			above = append(above, strings.TrimPrefix(comment, " "))
			continue
		}
		if match := blockBegins.FindStringSubmatch(line); match != nil {
			block = match[2]
			if match[1] != "extend" {
				comments[block] = above
			}
		}
		for _, member := range []*regexp.Regexp{methodLine, fieldLine, valueLine} {
			if match := member.FindStringSubmatch(line); match != nil {
				comments[block+"."+match[1]] = above
			}
		}
		above = nil
	}
	return comments
}

// silent says which declarations have no comment that ends a sentence.
func silent(comments map[string][]string) []string {
	var breaches []string
	for name, lines := range comments {
		text := strings.Join(lines, " ")
		if len(text) < len("Any.") || !strings.HasSuffix(text, ".") {
			breaches = append(breaches, fmt.Sprintf("%s: want a comment of at least one sentence", name))
		}
	}
	return breaches
}

// reasonBreaches says which methods do not list the reasons of their failures in the form that clients rely on.
func reasonBreaches(comments map[string][]string) []string {
	var breaches []string
	for name, lines := range comments {
		service, _, member := strings.Cut(name, ".")
		// The message Service is routine work and no service of gRPC.
		if !member || service == "Service" || !strings.HasSuffix(service, "Service") {
			continue
		}
		start := slices.Index(lines, "Reasons:")
		if start < 0 || start == len(lines)-1 {
			breaches = append(breaches, fmt.Sprintf("%s: want `Reasons:` and at least one", name))
			continue
		}
		for _, line := range lines[start+1:] {
			match := reasonLine.FindStringSubmatch(line)
			if match == nil && !strings.HasPrefix(line, "  ") {
				breaches = append(breaches, fmt.Sprintf("%s: %q is not `- CODE REASON: when`", name, line))
			}
			var code codes.Code
			if match != nil && code.UnmarshalJSON([]byte(`"`+match[1]+`"`)) != nil {
				breaches = append(breaches, fmt.Sprintf("%s: %s is no status code of gRPC", name, match[1]))
			}
		}
	}
	return breaches
}

// presenceWords are what a comment says of each field behaviour.
var presenceWords = map[annotations.FieldBehavior]*regexp.Regexp{
	annotations.FieldBehavior_REQUIRED:    regexp.MustCompile(`\bRequired[.:]`),
	annotations.FieldBehavior_OPTIONAL:    regexp.MustCompile(`\bOptional\b.*\bunset means \w+`),
	annotations.FieldBehavior_OUTPUT_ONLY: regexp.MustCompile(`\bOutput only[.:]`),
	annotations.FieldBehavior_IDENTIFIER:  regexp.MustCompile(`\bIdentifier[.:]`),
}

// unsaidPresence says which fields have a behaviour that their comment does not state.
func unsaidPresence(file protoreflect.FileDescriptor, comments map[string][]string) []string {
	var breaches []string
	for _, message := range messages(file) {
		for i := range message.Fields().Len() {
			field := message.Fields().Get(i)
			text := strings.Join(comments[string(message.Name())+"."+string(field.Name())], " ")
			for behaviour, said := range presenceWords {
				if behaves(field, behaviour) && !said.MatchString(text) {
					breaches = append(breaches, fmt.Sprintf("%s: want its presence in the comment: %s", field.FullName(), said))
				}
			}
		}
	}
	return breaches
}

// claims are words that no text of ours may use of a product, and American spellings.
var claims = regexp.MustCompile(`(?i)\b(harmless|non-?toxic|safe for|kid-safe|pet-safe|color|license[sd]?|center|behavior|mold|gray|canceled)\b`) //nolint:misspell // what is looked for

// claimBreaches says which lines of a text hold one of those words.
func claimBreaches(text string) []string {
	var breaches []string
	for line := range strings.Lines(text) {
		if found := claims.FindString(line); found != "" {
			breaches = append(breaches, fmt.Sprintf("%q in %s", found, strings.TrimSpace(line)))
		}
	}
	return breaches
}

// texts returns the .proto files of the contract by their import path.
func texts(t *testing.T) map[string]string {
	t.Helper()
	paths, err := filepath.Glob("vernation/v1/*.proto")
	if err != nil || len(paths) == 0 {
		t.Fatalf("no .proto files found: %v", err)
	}
	files := map[string]string{}
	for _, path := range paths {
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		files[filepath.ToSlash(path)] = string(text)
	}
	return files
}

func TestComments_StandOnEveryDeclaration(t *testing.T) {
	t.Parallel()
	files := texts(t)
	for _, file := range contractFiles() {
		text, ok := files[file.Path()]
		if !ok {
			t.Errorf("%s is compiled and not among the files", file.Path())
		}
		comments := commentsOf(text)
		if got, want := len(comments), declarations(file); got != want {
			t.Errorf("%s: the reader sees %d declarations, the compiler %d", file.Path(), got, want)
		}
		for _, breach := range slices.Concat(silent(comments), reasonBreaches(comments), unsaidPresence(file, comments), claimBreaches(text)) {
			t.Errorf("%s: %s", file.Path(), breach)
		}
		delete(files, file.Path())
	}
	for path := range files {
		t.Errorf("%s is not compiled: run .ci/generate", path)
	}
}

// declarations counts what must have a comment.
func declarations(file protoreflect.FileDescriptor) int {
	count := file.Messages().Len() + file.Enums().Len() + file.Services().Len() + file.Extensions().Len() + len(methods(file))
	for _, message := range messages(file) {
		count += message.Fields().Len()
	}
	for i := range file.Enums().Len() {
		count += file.Enums().Get(i).Values().Len()
	}
	return count
}

func TestComments_CatchTheirSmallestBreach(t *testing.T) {
	t.Parallel()
	const path = "vernation/v1/site_service.proto"
	text := texts(t)[path]
	var file protoreflect.FileDescriptor
	for _, f := range contractFiles() {
		if f.Path() == path {
			file = f
		}
	}
	for _, c := range []struct {
		name, old, new string
		breaches       func(text string) []string
	}{
		{"a field without a comment", "  // The business.\n  // Required: `businesses/{business}`.\n", "", func(s string) []string { return silent(commentsOf(s)) }},
		{"a method without reasons", "  // Reasons:\n", "", func(s string) []string { return reasonBreaches(commentsOf(s)) }},
		{"a code that gRPC does not have", "ALREADY_EXISTS EXISTS", "MISSING EXISTS", func(s string) []string { return reasonBreaches(commentsOf(s)) }},
		{"a reason in lower case", "UNKNOWN_AREA", "unknown_area", func(s string) []string { return reasonBreaches(commentsOf(s)) }},
		{"a presence that is not said", "  // Required: `", "  // It is: `", func(s string) []string { return unsaidPresence(file, commentsOf(s)) }},
		{"a claim", "// Gives one site.", "// Gives one harmless site.", claimBreaches},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			broken := strings.Replace(text, c.old, c.new, 1)
			if broken == text {
				t.Fatalf("%q is not in the file any more", c.old)
			}
			if len(c.breaches(broken)) == 0 {
				t.Error("the planted breach is not caught")
			}
		})
	}
}
