// Command openapi makes one OpenAPI document of those that protoc-gen-openapiv3 writes for each file of the contract,
// and prints it: paths whose variables are called after what they name, how a caller says who it is, the paths beside
// the contract. It fails where two documents contradict one another.
//
//	openapi FOLDER > openapi.json
package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"strings"
)

type object = map[string]any

const about = `Scheduling of treatments against pests of indoor plants, for firms that look after plants at their clients' sites.

What it plans never stands above a product's label, local law or the judgement of a licensed applicator.

JSON is the mapping of protobuf: what is unset is left out, 64-bit numbers are text, an unknown field is refused. A failure
is a google.rpc.Status whose details carry reasons, paths of fields and rules. A stream is a line of JSON for each message.`

func main() {
	if len(os.Args) != 2 {
		fail(errors.New("want the folder of the documents"))
	}
	whole := object{}
	fail(filepath.WalkDir(os.Args[1], func(path string, entry fs.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, ".openapi.json") {
			return err
		}
		text, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		part := object{}
		if err := json.Unmarshal(text, &part); err != nil {
			return fmt.Errorf("%s: %w", path, err)
		}
		if err := merge(whole, part, ""); err != nil {
			return fmt.Errorf("%s: %w", path, err)
		}
		return nil
	}))
	whole["info"] = object{"title": "Vernation", "version": "v1", "description": about}
	whole["security"] = []any{object{"bearer": []any{}}}
	components := whole["components"].(object)
	components["securitySchemes"] = object{"bearer": object{"type": "http", "scheme": "bearer", "description": "A token of a person, or an integration key."}}
	whole["paths"] = renamed(whole["paths"].(object))
	for path, what := range map[string]string{"/livez": "Says that the process answers.", "/readyz": "Says whether the server can do its work.",
		"/metrics": "Gives metrics for Prometheus.", "/openapi.json": "Gives this document."} {
		whole["paths"].(object)[path] = object{"get": object{"summary": what, "operationId": strings.Trim(path, "/"), "security": []any{}, "tags": []any{"Operation"},
			"responses": object{"200": object{"description": "As asked."}, "503": object{"description": "Not now."}}}}
	}
	encoder := json.NewEncoder(os.Stdout)
	encoder.SetIndent("", "  ")
	encoder.SetEscapeHTML(false)
	fail(encoder.Encode(whole))
}

// merge adds a document to another. Lists are joined; what stands in both must be the same, but for info.
func merge(into, from object, at string) error {
	for key, value := range from {
		old, there := into[key]
		switch value := value.(type) {
		case object:
			if !there {
				old = object{}
				into[key] = old
			}
			if err := merge(old.(object), value, at+"/"+key); err != nil {
				return err
			}
		case []any:
			if list, _ := old.([]any); at == "" {
				into[key] = append(list, value...)
				continue
			}
			if there && !reflect.DeepEqual(old, value) {
				return fmt.Errorf("%s/%s differs between two documents", at, key)
			}
			into[key] = value
		default:
			if there && old != value && !strings.HasPrefix(at, "/info") {
				return fmt.Errorf("%s/%s is %v, and %v before", at, key, value, old)
			}
			into[key] = value
		}
	}
	return nil
}

// variable is a segment of a path that the caller chooses, with the collection before it.
var variable = regexp.MustCompile(`([a-zA-Z]+)/\{([a-zA-Z0-9_.]+)\}`)

// renamed calls the variables of paths after the things in whose collections they stand.
func renamed(paths object) object {
	made := object{}
	for path, item := range paths {
		names := map[string]string{}
		for _, found := range variable.FindAllStringSubmatch(path, -1) {
			names[found[2]] = singular(found[1])
		}
		for _, operation := range item.(object) {
			parameters, _ := operation.(object)["parameters"].([]any)
			for _, one := range parameters {
				parameter := one.(object)
				if name, ok := names[parameter["name"].(string)]; ok && parameter["in"] == "path" {
					parameter["name"], parameter["description"] = name, "Id of the "+spaced(name)+"."
				}
			}
		}
		path = variable.ReplaceAllStringFunc(path, func(text string) string {
			return strings.Split(text, "{")[0] + "{" + singular(strings.Split(text, "/")[0]) + "}"
		})
		if made[path] == nil {
			made[path] = object{}
		}
		maps.Copy(made[path].(object), item.(object))
	}
	return made
}

// singular is the word for one thing of a collection.
func singular(plural string) string {
	switch {
	case strings.HasSuffix(plural, "ies"):
		return strings.TrimSuffix(plural, "ies") + "y"
	case strings.HasSuffix(plural, "sses"), strings.HasSuffix(plural, "xes"), strings.HasSuffix(plural, "ches"):
		return strings.TrimSuffix(plural, "es")
	}
	return strings.TrimSuffix(plural, "s")
}

// spaced writes planRun as plan run.
func spaced(name string) string {
	return strings.ToLower(regexp.MustCompile(`[A-Z]`).ReplaceAllString(name, " $0"))
}

func fail(err error) {
	if err != nil {
		_, _ = fmt.Fprintln(os.Stderr, "openapi:", err)
		os.Exit(1)
	}
}
