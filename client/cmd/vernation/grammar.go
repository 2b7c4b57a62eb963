package main

import (
	"fmt"
	"reflect"
	"slices"
	"strings"

	"github.com/alecthomas/kong"

	vernationv1 "vernation/proto/vernation/v1"
)

// grammar is the command line.
type grammar struct {
	root    reflect.Value      // pointer to the struct that kong fills
	methods map[string]*method // by the words of the command
	model   *kong.Application
	args    []string
}

// meant says whether a word of a command is among the arguments, or none of its kind is.
func (g *grammar) meant(word string, kind []string) bool {
	return slices.Contains(g.args, word) || !slices.ContainsFunc(kind, func(other string) bool { return slices.Contains(g.args, other) })
}

// group is what one role may do.
type group struct {
	name, help string
	role       vernationv1.Role
}

// groups are the three callers of the contract.
var groups = []group{
	{"office", "What the office does: sites, plants, crew, products, cases, plans, visits, records.", vernationv1.Role_ROLE_OFFICE},
	{"technician", "What a technician does: day routes, day packs, findings, stamps, reports.", vernationv1.Role_ROLE_TECHNICIAN},
	{"integration", "What a program beside the server does: reads, and posts reports.", vernationv1.Role_ROLE_INTEGRATION},
}

// newGrammar builds the command line from the contract, as far as the arguments can tell what is meant: commands whose
// words are not among them are there by name only, because each takes its time to build. None builds all.
func newGrammar(args ...string) *grammar {
	g := &grammar{methods: map[string]*method{}, args: args}
	var fields []reflect.StructField
	for _, group := range groups {
		fields = append(fields, command(group.name, group.help, g.groupType(group)))
	}
	fields = append(fields,
		command("profile", "Keep what is asked for again and again: server, token file, zone.", reflect.TypeFor[profileCommand]()),
		command("completion", "Print the script by which a shell completes commands and flags.", reflect.TypeFor[completionCommand]()),
		reflect.StructField{Name: "Complete", Type: reflect.TypeFor[completeCommand](), Tag: `cmd:"" name:"complete" hidden:"" help:"Print what may come next."`},
	)
	g.root = reflect.New(reflect.StructOf(fields))
	return g
}

// groupType is the struct of a role's commands: a field for each noun, and in it one for each verb.
func (g *grammar) groupType(of group) reflect.Type {
	var nouns []reflect.StructField
	var verbs []reflect.StructField
	methods := methodsOf(of.role)
	var groupNames, nounNames []string
	for _, group := range groups {
		groupNames = append(groupNames, group.name)
	}
	for _, m := range allMethods() {
		nounNames = append(nounNames, m.noun)
	}
	nounNames = append(nounNames, "pack")
	for i, m := range methods {
		g.methods[strings.Join([]string{of.name, m.noun, m.verb}, " ")] = m
		if g.meant(of.name, groupNames) && g.meant(m.noun, nounNames) {
			verbs = append(verbs, command(m.verb, "", m.target))
		}
		if i == len(methods)-1 || methods[i+1].noun != m.noun {
			nouns = append(nouns, command(m.noun, "", reflect.StructOf(verbs)))
			verbs = nil
		}
	}
	if of.role == vernationv1.Role_ROLE_TECHNICIAN {
		nouns = append(nouns, command("pack", "A day pack as one file: work without network, posted later.", reflect.TypeFor[packCommand]()))
	}
	return reflect.StructOf(nouns)
}

// command is the field of a command.
func command(name, help string, kind reflect.Type) reflect.StructField {
	return reflect.StructField{
		Name: "C" + strings.ReplaceAll(strings.ReplaceAll(name, "-", "_"), " ", "_"), Type: kind,
		Tag: reflect.StructTag(fmt.Sprintf(`cmd:"" name:%q help:%q`, name, help)),
	}
}

// explain writes the contract's comments into the help of commands and flags.
func (g *grammar) explain(k *kong.Kong) error {
	for _, top := range k.Model.Children {
		for _, noun := range top.Children {
			for _, verb := range noun.Children {
				m := g.methods[strings.Join([]string{top.Name, noun.Name, verb.Name}, " ")]
				if m == nil {
					continue
				}
				m.explain(verb)
			}
			for path, m := range g.methods {
				if strings.HasPrefix(path, top.Name+" "+noun.Name+" ") {
					noun.Help = first(comments()[m.descriptor.Parent().FullName()])
				}
			}
		}
	}
	return nil
}

// explain writes what the contract says of a method and of the fields of its request.
func (m *method) explain(node *kong.Node) {
	paragraphs := flow(comments()[m.descriptor.FullName()])
	node.Help = first(comments()[m.descriptor.FullName()])
	node.Detail = literal(strings.ReplaceAll(strings.Join(paragraphs[1:], "\n"), "\n- ", "\n\n  - "))
	said := map[string]string{}
	for _, f := range m.flags {
		text := strings.Join(flow(comments()[f.last().FullName()]), " ")
		if f.last().Enum() != nil {
			text += " One of " + strings.Join(enumWords(f.last().Enum()), ", ") + "."
		}
		if f.last().IsList() {
			text += " May be given several times."
		}
		name := f.name
		if f.positional {
			name = argumentOf(f.form)
		}
		said[name] = literal(text)
	}
	for _, flag := range node.Flags {
		if text, ok := said[flag.Name]; ok {
			flag.Help = text
		}
	}
	for _, argument := range node.Positional {
		if text, ok := said[argument.Name]; ok {
			argument.Help = text
		}
	}
}

// first is the first paragraph of a comment.
func first(comment string) string {
	if paragraphs := flow(comment); len(paragraphs) > 0 {
		return literal(paragraphs[0])
	}
	return ""
}

// literal keeps kong from reading a variable into a comment.
func literal(text string) string { return strings.ReplaceAll(text, "${", "$${") }
