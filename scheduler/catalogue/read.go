package catalogue

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"sync"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
)

// The names of the data files, in the order in which they are read. The sources may go on in further files, which
// sourcesFiles matches: "sources_places.yaml".
const (
	sourcesFile       = "sources.yaml"
	sourcesFiles      = "sources_*.yaml"
	pestsFile         = "pests.yaml"
	materialsFile     = "materials.yaml"
	speciesFile       = "species.yaml"
	jurisdictionsFile = "jurisdictions.yaml"
	policyFile        = "policy.yaml"
)

var fileNames = [...]string{sourcesFile, pestsFile, materialsFile, speciesFile, jurisdictionsFile, policyFile}

//go:embed data/*.yaml
var shipped embed.FS

// DataError is one mistake in a data file.
type DataError struct {
	File   string
	Line   int // from 1; 0 where the file as a whole is meant
	Column int // from 1
	Path   string
	Text   string // what is wrong and what would be right
}

// Error writes "pests.yaml:12:7: pests[0].stages[1].id: unknown …".
func (e *DataError) Error() string {
	text := e.File
	if e.Line > 0 {
		text += fmt.Sprintf(":%d:%d", e.Line, e.Column)
	}
	if e.Path != "" {
		text += ": " + e.Path
	}
	return text + ": " + e.Text
}

// Load reads the data that is shipped with the program.
func Load() (*Catalogue, error) {
	data, err := fs.Sub(shipped, "data")
	if err != nil {
		return nil, fmt.Errorf("open the shipped data: %w", err)
	}
	return Read(data)
}

// Shipped returns the catalogue of the shipped data, read once. It panics when that data is broken:
// a test reads it, so it cannot be in a program that was tested.
func Shipped() *Catalogue { return loadOnce() }

var loadOnce = sync.OnceValue(func() *Catalogue {
	c, err := Load()
	if err != nil {
		panic("catalogue: shipped data is sound: " + err.Error())
	}
	return c
})

// The data files as they are written.
type (
	sourcesData   struct{ Sources map[string]Source }
	pestsData     struct{ Pests []Pest }
	materialsData struct{ Materials []Material }
	speciesData   struct {
		ReplacementBase []ReplacementBySize `yaml:"replacement_base"`
		Species         []Species
	}
	jurisdictionsData struct {
		EntryDefaults []EntryDefault `yaml:"entry_defaults"`
		Jurisdictions []Jurisdiction
	}
	policyData struct {
		Extents ExtentDefaults `yaml:"extent_by_severity"`
		Policy  map[string]Figure
		Rates   map[string]Figure
		Rules   map[string]Figure
		Bounds  map[string]Bound
	}
)

// Read reads the data files at the top of a file system and refuses what is unknown, unsourced or
// impossible. The error joins every mistake found, each a *DataError with file, line and column; mistakes of
// syntax and unknown fields come first and alone, since without them nothing else can be judged.
func Read(fsys fs.FS) (*Catalogue, error) {
	var (
		pests         pestsData
		materials     materialsData
		species       speciesData
		jurisdictions jurisdictionsData
		policy        policyData
	)
	further, err := fs.Glob(fsys, sourcesFiles)
	if err != nil {
		return nil, fmt.Errorf("list the data files: %w", err)
	}
	books := make([]sourcesData, 1+len(further))
	names := slices.Concat(fileNames[:], further)
	into := []any{&books[0], &pests, &materials, &species, &jurisdictions, &policy}
	for i := range further {
		into = append(into, &books[1+i])
	}
	checkers, version, err := decodeAll(fsys, names, into)
	if err != nil {
		return nil, err
	}
	c := &Catalogue{
		Sources: map[string]Source{}, PolicyDefaults: policy.Policy, RateDefaults: policy.Rates, RuleDefaults: policy.Rules,
		SettingBounds: policy.Bounds, ExtentDefaults: policy.Extents, EntryDefaults: jurisdictions.EntryDefaults, Version: version,
	}
	for i, check := range slices.Concat(checkers[:1], checkers[len(fileNames):]) {
		check.checkSources(books[i].Sources, c.Sources)
	}
	for _, check := range checkers {
		check.sources = c.Sources
	}
	c.Pests = checkers[1].checkPests(pests.Pests)
	c.Materials = checkers[2].checkMaterials(materials.Materials, c)
	c.Species = checkers[3].checkSpecies(species, c)
	checkers[4].checkEntryDefaults(jurisdictions.EntryDefaults)
	c.Jurisdictions = checkers[4].checkJurisdictions(jurisdictions.Jurisdictions)
	checkers[5].checkSettings(policy)
	checkers[5].checkBounds(policy.Bounds, c)
	var errs []error
	for _, check := range checkers {
		errs = append(errs, check.errs...)
	}
	if len(errs) > 0 {
		return nil, errors.Join(errs...)
	}
	return c, nil
}

// decodeAll reads files into values of the same order. It returns a checker for each and the hash of them all.
func decodeAll(fsys fs.FS, names []string, into []any) (checkers []*checker, version string, err error) {
	checkers = make([]*checker, len(names))
	hash := sha256.New()
	var errs []error
	for i, name := range names {
		text, err := fs.ReadFile(fsys, name)
		if err != nil {
			errs = append(errs, &DataError{File: name, Text: "cannot be read: " + err.Error()})
			continue
		}
		fmt.Fprintf(hash, "%s %d\n", name, len(text))
		hash.Write(text)
		root, err := decode(name, text, into[i])
		if err != nil {
			errs = append(errs, err)
		}
		checkers[i] = &checker{file: name, root: root}
	}
	return checkers, hex.EncodeToString(hash.Sum(nil))[:versionDigits], errors.Join(errs...)
}

// versionDigits is how much of the hash a version shows; 64 bits tell the few catalogues of a firm apart.
const versionDigits = 16

// decode reads one file strictly: unknown fields and keys there twice are errors.
func decode(name string, text []byte, into any) (ast.Node, error) {
	file, err := parser.ParseBytes(text, 0)
	if err != nil {
		return nil, located(name, err)
	}
	if len(file.Docs) != 1 || file.Docs[0].Body == nil {
		return nil, &DataError{File: name, Text: fmt.Sprintf("holds %d documents: want one", len(file.Docs))}
	}
	root := file.Docs[0].Body
	if err := yaml.NodeToValue(root, into, yaml.Strict()); err != nil {
		return nil, located(name, err)
	}
	return root, nil
}

// located takes file, line and column out of an error of the YAML library.
func located(name string, err error) error {
	found := &DataError{File: name, Text: err.Error()}
	var positioned yaml.Error
	if !errors.As(err, &positioned) {
		return found
	}
	found.Text = positioned.GetMessage()
	if token := positioned.GetToken(); token != nil && token.Position != nil {
		found.Line, found.Column = token.Position.Line, token.Position.Column
	}
	return found
}
