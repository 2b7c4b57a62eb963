package exchange

import (
	"bytes"
	_ "embed"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"reflect"
	"strings"
	"unicode/utf8"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
)

// Version is the version of the format that is written and read.
const Version = 1

// The names of the two kinds of file.
const (
	ProblemFormat = "vernation-problem"
	PlanFormat    = "vernation-plan"
)

// Document is FORMAT.md: the format for a stranger.
//
//go:embed FORMAT.md
var Document string

// MaxBytes bounds a file: a horizon with the most items and places that a Problem may hold is smaller.
const MaxBytes = 1 << 30

// InvalidFile says everything that is wrong with a file, all at once. Paths begin at its top: "problem.sites[2].access".
type InvalidFile struct {
	Format string // ProblemFormat or PlanFormat
	Fields []catalogue.FieldError
}

// maxTold bounds how many fields an error's text lists.
const maxTold = 20

// Error lists the fields, one a line where there are several.
func (e *InvalidFile) Error() string {
	texts := make([]string, 0, maxTold+1)
	for i, field := range e.Fields {
		if i == maxTold {
			texts = append(texts, fmt.Sprintf("and %d more", len(e.Fields)-maxTold))
			break
		}
		texts = append(texts, field.Error())
	}
	if len(texts) == 1 {
		return "not a " + e.Format + " file: " + texts[0]
	}
	return "not a " + e.Format + " file:\n  " + strings.Join(texts, "\n  ")
}

// The reasons of an InvalidFile beside those of scheduler.Validate.
const (
	ReasonSyntax    = "SYNTAX"    // no JSON text
	ReasonFormat    = "FORMAT"    // another kind of file, or another version
	ReasonField     = "UNKNOWN"   // a field that the object does not have
	ReasonDuplicate = "DUPLICATE" // a field that stands there twice
	ReasonMissing   = "MISSING"   // a required field that is not there
	ReasonType      = "TYPE"      // a value of another type, or an amount without its unit
	ReasonWord      = "NOT_A_WORD"
	ReasonRange     = "OUT_OF_RANGE"
	ReasonSize      = "WRONG_SIZE" // a row of a matrix of another length
)

type problemFile struct {
	Format  string            `json:"format"`
	Version int               `json:"version"`
	Options scheduler.Options `json:"options"`
	Problem scheduler.Problem `json:"problem"`
}

type planFile struct {
	Format  string         `json:"format"`
	Version int            `json:"version"`
	Plan    scheduler.Plan `json:"plan"`
}

// WriteProblem writes a Problem with the options of its search; Options.Report is nobody's to keep. Errors: those of
// Problem.Validate, text that is not UTF-8, and those of the writer.
func WriteProblem(to io.Writer, p scheduler.Problem, o scheduler.Options) error {
	if err := p.Validate(); err != nil {
		return err
	}
	return write(to, problemFile{Format: ProblemFormat, Version: Version, Options: o, Problem: p})
}

// ReadProblem reads what WriteProblem writes, or anybody else by the document. Errors: *InvalidFile, and those of the reader.
func ReadProblem(from io.Reader) (scheduler.Problem, scheduler.Options, error) {
	var file problemFile
	if err := read(from, ProblemFormat, &file); err != nil {
		return scheduler.Problem{}, scheduler.Options{}, err
	}
	wrong := wrongOptions(file.Options)
	var invalid *scheduler.InvalidProblem
	if errors.As(file.Problem.Validate(), &invalid) {
		for _, field := range invalid.Fields {
			field.Path = "problem." + field.Path
			wrong = append(wrong, field)
		}
	}
	if len(wrong) > 0 {
		return scheduler.Problem{}, scheduler.Options{}, &InvalidFile{ProblemFormat, wrong}
	}
	return file.Problem, file.Options, nil
}

// WritePlan writes a plan. Errors: text that is not UTF-8, and those of the writer.
func WritePlan(to io.Writer, plan scheduler.Plan) error {
	return write(to, planFile{Format: PlanFormat, Version: Version, Plan: plan})
}

// ReadPlan reads what WritePlan writes, or anybody else by the document. Whether it keeps the rules is scheduler.Check's to
// say. Errors: *InvalidFile, and those of the reader.
func ReadPlan(from io.Reader) (scheduler.Plan, error) {
	var file planFile
	if err := read(from, PlanFormat, &file); err != nil {
		return scheduler.Plan{}, err
	}
	return file.Plan, nil
}

// wrongOptions says what Validate, which judges Problems, does not.
func wrongOptions(o scheduler.Options) []catalogue.FieldError {
	var wrong catalogue.FieldErrors
	if o.Iterations < 0 {
		wrong.Add("options.iterations", ReasonRange, "%d: want 0 or more", o.Iterations)
	}
	if o.Limit < 0 {
		wrong.Add("options.limit", ReasonRange, "%v: want no less than nothing", o.Limit)
	}
	for name, rate := range o.Rates.ByName() {
		if rate.Amount < 0 {
			wrong.Add("options.rates."+name+".amount", ReasonRange, "%d: want 0 or more", rate.Amount)
		}
	}
	return wrong
}

func write(to io.Writer, file any) error {
	w := writer{}
	text := w.value(reflect.ValueOf(file), 0, nil)
	if w.err != nil {
		return w.err
	}
	_, err := to.Write(append(text, '\n'))
	return err
}

// read fills a file, a pointer to problemFile or planFile.
func read(from io.Reader, format string, file any) error {
	text, err := io.ReadAll(io.LimitReader(from, MaxBytes+1))
	if err != nil {
		return err
	}
	if fault := unreadable(text); fault != nil {
		return &InvalidFile{format, []catalogue.FieldError{*fault}}
	}
	// Before all else, since in another format every field would be wrong.
	if fault := otherFormat(text, format); fault != nil {
		return &InvalidFile{format, []catalogue.FieldError{*fault}}
	}
	r := reader{in: json.NewDecoder(bytes.NewReader(text))}
	r.in.UseNumber()
	r.value(r.token(), reflect.ValueOf(file).Elem(), nil)
	if len(r.wrong) > 0 {
		return &InvalidFile{format, r.wrong}
	}
	return nil
}

// unreadable says why a text is no JSON, or nil.
func unreadable(text []byte) *catalogue.FieldError {
	fault := func(offset int, what string) *catalogue.FieldError {
		line := 1 + bytes.Count(text[:offset], []byte("\n"))
		column := offset - bytes.LastIndexByte(text[:offset], '\n')
		return &catalogue.FieldError{Path: fmt.Sprintf("line %d, column %d", line, column), Reason: ReasonSyntax, Text: what}
	}
	if len(text) > MaxBytes {
		return fault(0, fmt.Sprintf("longer than %d bytes", MaxBytes))
	}
	for at := 0; at < len(text); {
		letter, size := utf8.DecodeRune(text[at:])
		if letter == utf8.RuneError && size == 1 {
			return fault(at, "no UTF-8: want JSON text (RFC 8259)")
		}
		at += size
	}
	var whole json.RawMessage
	var syntax *json.SyntaxError
	switch err := json.Unmarshal(text, &whole); {
	case errors.As(err, &syntax):
		return fault(max(0, min(int(syntax.Offset), len(text))-1), syntax.Error()+": want JSON text (RFC 8259)")
	case err != nil:
		return fault(0, err.Error())
	}
	return nil
}

// otherFormat says that a text is another kind of file or of another version, or nil; what is missing is told later.
func otherFormat(text []byte, format string) *catalogue.FieldError {
	var head struct{ Format, Version any }
	if json.Unmarshal(text, &head) != nil {
		return nil
	}
	if name, ok := head.Format.(string); ok && name != format {
		return &catalogue.FieldError{Path: "format", Reason: ReasonFormat, Text: fmt.Sprintf("%q: want %q", name, format)}
	}
	if version, ok := head.Version.(float64); ok && version != Version {
		return &catalogue.FieldError{Path: "version", Reason: ReasonFormat, Text: fmt.Sprintf("%v: want %d, the only one that is known here", version, Version)}
	}
	return nil
}
