package main

import (
	"fmt"
	"strings"

	"github.com/alecthomas/kong"
)

// completionCommand prints a script for a shell.
type completionCommand struct {
	Shell string `arg:"" help:"The shell: ${enum}." enum:"bash,zsh,fish"`
}

// scripts ask the command itself what may come next.
var scripts = map[string]string{
	"bash": `_vernation() { mapfile -t COMPREPLY < <(vernation complete -- "${COMP_WORDS[@]:1:COMP_CWORD}" 2>/dev/null); }
complete -o default -F _vernation vernation
`,
	"zsh": `#compdef vernation
_vernation() { local -a found; found=("${(@f)$(vernation complete -- "${(@)words[2,CURRENT]}" 2>/dev/null)}"); compadd -a found; }
compdef _vernation vernation
`,
	"fish": `complete -c vernation -f -a '(vernation complete -- (commandline -opc)[2..-1] (commandline -ct) 2>/dev/null)'
`,
}

// Run prints it.
func (c completionCommand) Run(s *surroundings) error {
	_, err := fmt.Fprint(s.out, scripts[c.Shell])
	return err
}

// completeCommand prints what may come next, for the scripts.
type completeCommand struct {
	Words []string `arg:"" optional:"" help:"The words so far; the last is what is being typed."`
}

// Run walks the commands along the words and prints those, and the flags, that begin as the last word does.
func (c completeCommand) Run(s *surroundings, g *grammar) error {
	node, typed := g.model.Node, ""
	if n := len(c.Words); n > 0 {
		typed = c.Words[n-1]
		for _, word := range c.Words[:n-1] {
			for _, child := range node.Children {
				if child.Name == word {
					node = child
				}
			}
		}
	}
	for _, candidate := range candidates(node, strings.HasPrefix(typed, "-")) {
		if strings.HasPrefix(candidate, typed) {
			if _, err := fmt.Fprintln(s.out, candidate); err != nil {
				return err
			}
		}
	}
	return nil
}

// candidates are what may follow a command: the commands beneath it, or flags.
func candidates(node *kong.Node, flags bool) []string {
	var all []string
	if !flags {
		for _, child := range node.Children {
			if !child.Hidden {
				all = append(all, child.Name)
			}
		}
		return all
	}
	for _, group := range node.AllFlags(true) {
		for _, flag := range group {
			all = append(all, "--"+flag.Name)
		}
	}
	return all
}
