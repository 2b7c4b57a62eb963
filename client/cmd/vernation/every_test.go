package main

import (
	"encoding/csv"
	"encoding/json"
	"slices"
	"strings"
	"testing"
)

// words are those of every command that is made from the contract, by group.
func words() []string {
	var all []string
	for path := range newGrammar().methods {
		all = append(all, path)
	}
	slices.Sort(all)
	return all
}

// about fills a name that a command asks for with one of the demo's business, or one that is not there.
func about(m *method) []string {
	known := map[string]string{"site": "offices-alder-row", "technician": "tech-b", "technician/day": "tech-b/2026-03-05", "plant": "fig-window", "product": "bti"}
	for _, f := range m.flags {
		if f.positional {
			if id, ok := known[argumentOf(f.form)]; ok {
				return []string{id}
			}
			return []string{strings.Repeat("x/", strings.Count(f.form, "{")-2) + "x"}
		}
	}
	return nil
}

// Each method is reached over the socket by the command of each of its roles, and either answers or is told in a
// sentence what is wrong, with an exit code that says of which kind that is.
func TestEveryCommand_ReachesItsMethod(t *testing.T) {
	told(t)
	grammar := newGrammar()
	for _, path := range words() {
		t.Run(path, func(t *testing.T) {
			t.Parallel()
			m := grammar.methods[path]
			args := append(strings.Fields(path), about(m)...)
			if m.descriptor.IsStreamingServer() {
				args = append(args, "--first", "1")
			}
			if slices.ContainsFunc(m.flags, func(f flag) bool { return f.name == "dry-run" }) {
				args = append(args, "--dry-run")
			}
			got := vernation(t, args...)
			switch got.code {
			case exitDone:
				if got.out == "" || got.err != "" && !strings.HasPrefix(got.err, "plan run") {
					t.Errorf("it prints %q and %q", got.out, got.err)
				}
			case exitFields, exitNotFound, exitRefused, exitNoRight, exitStale:
				saysWhatIsWrong(t, got)
			default:
				t.Errorf("code %d: %s%s", got.code, got.out, got.err)
			}
			if verb := path[strings.LastIndex(path, " ")+1:]; verb == "list" && got.code != exitDone {
				t.Errorf("a list of a business fails with code %d: %s", got.code, got.err)
			}
		})
	}
}

// saysWhatIsWrong holds an error to one line of sentences without the transport's words.
func saysWhatIsWrong(t *testing.T, got ended) {
	t.Helper()
	text, ok := strings.CutPrefix(got.err, "vernation: ")
	if !ok || strings.Count(text, "\n") != 1 || len(text) < 10 || strings.Contains(text, "rpc error") || strings.Contains(text, "code =") {
		t.Errorf("it says %q: want one sentence", got.err)
	}
	if got.out != "" {
		t.Errorf("it prints %q beside its failure", got.out)
	}
}

// Each command fails without a token, and says so.
func TestEveryCommand_FailsWithoutAToken(t *testing.T) {
	t.Parallel()
	grammar := newGrammar()
	for _, path := range words() {
		t.Run(path, func(t *testing.T) {
			t.Parallel()
			got := as(t, "", append(strings.Fields(path), about(grammar.methods[path])...)...)
			if got.code != exitNoRight || !strings.Contains(got.err, "no credential") {
				t.Errorf("code %d, %q: want %d and that there is no credential", got.code, got.err, exitNoRight)
			}
			saysWhatIsWrong(t, got)
		})
	}
}

// Each command refuses a flag that it does not have, and a server that is not there.
func TestEveryCommand_ExplainsItself(t *testing.T) {
	t.Parallel()
	grammar := newGrammar()
	for _, path := range words() {
		if !strings.HasPrefix(path, "office") && !strings.HasPrefix(path, "integration report") {
			continue // the same command in another group
		}
		t.Run(path, func(t *testing.T) {
			t.Parallel()
			got := vernation(t, append(strings.Fields(path), "--help")...)
			if got.code != exitDone || !strings.HasPrefix(got.out, "Usage: vernation "+path) {
				t.Fatalf("--help: code %d, %q %q", got.code, got.out, got.err)
			}
			if first := strings.Fields(flow(comments()[grammar.methods[path].descriptor.FullName()])[0])[0]; !strings.Contains(got.out, first) {
				t.Errorf("--help does not say what the contract does: %s", got.out)
			}
			for _, f := range grammar.methods[path].flags {
				if !f.silent && !strings.Contains(got.out, f.name) && !strings.Contains(got.out, "["+label(f)+"]") {
					t.Errorf("--help does not name %s", label(f))
				}
			}
			if got := vernation(t, append(strings.Fields(path), "--no-such-flag")...); got.code != exitUsage {
				t.Errorf("an unknown flag ends with code %d, want %d", got.code, exitUsage)
			}
		})
	}
}

// The contract is reachable in whole: no method is left out, and no field of a request.
func TestGrammar_HoldsEveryMethodAndEveryField(t *testing.T) {
	t.Parallel()
	grammar := newGrammar()
	reached := map[string]bool{}
	for _, m := range grammar.methods {
		reached[m.fullName()] = true
	}
	for _, service := range services() {
		for i := range service.Methods().Len() {
			m := newMethod(service.Methods().Get(i))
			if !reached[m.fullName()] {
				t.Errorf("no command calls %s", m.fullName())
			}
			for j := range m.descriptor.Input().Fields().Len() {
				field := m.descriptor.Input().Fields().Get(j)
				if !slices.ContainsFunc(m.flags, func(f flag) bool { return f.path[0] == field }) {
					t.Errorf("%s: no flag sets %s", m.fullName(), field.Name())
				}
			}
			seen := map[string]bool{}
			for _, f := range m.flags {
				if seen[f.name] || !f.positional && f.name != "dry-run" && slices.Contains(own, f.name) {
					t.Errorf("%s has two flags --%s", m.fullName(), f.name)
				}
				seen[f.name] = true
			}
		}
	}
}

// JSON is the contract's; the columns of CSV are the same whatever the rows hold.
func TestOutput_IsReadByPrograms(t *testing.T) {
	told(t)
	for _, list := range []string{"office site list", "office case list", "office plant list", "office incident list", "integration visit list"} {
		args := strings.Fields(list)
		text := done(t, append(args, "-o", "json")...)
		if !json.Valid([]byte(text)) {
			t.Errorf("%s: no JSON: %s", list, text)
		}
		if again := done(t, append(args, "-o", "json")...); again != text {
			t.Errorf("%s: JSON differs from call to call", list)
		}
		rows, err := csv.NewReader(strings.NewReader(done(t, append(args, "-o", "csv")...))).ReadAll()
		if err != nil || len(rows) == 0 {
			t.Fatalf("%s: no CSV: %v", list, err)
		}
		one := done(t, append(args, "-o", "csv", "--page-size", "1")...)
		header, _, _ := strings.Cut(one, "\n")
		if got := strings.Join(rows[0], ","); got != header {
			t.Errorf("%s: columns %s of all, %s of one", list, got, header)
		}
	}
	var sites struct{ Sites []any }
	if err := json.Unmarshal([]byte(done(t, "office", "site", "list", "-o", "json")), &sites); err != nil || len(sites.Sites) != 8 {
		t.Errorf("%d sites, %v: want the demo's 8", len(sites.Sites), err)
	}
}
