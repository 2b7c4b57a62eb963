package listing

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"go.einride.tech/aip/filtering"
	"go.einride.tech/aip/ordering"

	"vernation/scheduler/catalogue"
	"vernation/server/internal/fault"
)

// Reasons of a question that cannot be right.
const (
	ReasonFilter = "FILTER_INVALID"
	ReasonOrder  = "ORDER_INVALID"
)

const (
	mostConditions = 50 // comparisons of one filter
	mostKeys       = 5
)

// Question is what is asked for with a page of a list.
type Question struct {
	Where   Condition // nil is everything
	Order   []Key     // ends with the name, so that no two rows are equal
	Deleted bool      // whether deleted ones are listed too
	Size    int       // rows at most
	After   []string  // of the last row of the page before, a value of each key; nil is the first page
}

// Only returns the same question of those rows alone whose field is a text as it is stored; "" asks for all.
func (q Question) Only(field, stored string) Question {
	if stored == "" {
		return q
	}
	return q.And(Compare{Field: field, Kind: Text, Operator: "=", Value: stored})
}

// And returns the same question of those rows alone for which a condition holds too.
func (q Question) And(condition Condition) Question {
	if q.Where != nil {
		condition = All{condition, q.Where}
	}
	q.Where = condition
	return q
}

// Key is one field of an order.
type Key struct {
	Field      string
	Descending bool
}

// Condition is All, Any, Not or Compare.
type Condition interface{ condition() }

// All holds where each of its conditions does.
type All []Condition

// Any holds where one of its conditions does.
type Any []Condition

// Not holds where its condition does not.
type Not struct{ Of Condition }

// Compare holds where a field compares so with a value.
type Compare struct {
	Field    string
	Kind     Kind
	Operator string // = != < <= > >= :
	// Value is a string (Text, Texts, Word, as it is stored), int64, bool, civil.Date or civil.Instant; nil with ":"
	// asks whether there is any.
	Value any
}

func (All) condition()     {}
func (Any) condition()     {}
func (Not) condition()     {}
func (Compare) condition() {}

// Question reads filter and order of a list; empty ones are everything, in the noun's usual order.
//
// Fails with Invalid: FILTER_INVALID at filter, ORDER_INVALID at order_by, both at once where both are wrong.
func (n *Noun) Question(filter, orderBy string) (Question, error) {
	var fields catalogue.FieldErrors
	where, err := n.where(filter)
	if err != nil {
		fields.Add("filter", ReasonFilter, "%v: want conditions on %s", err, n.names(func(Field) bool { return true }))
	}
	if orderBy == "" {
		orderBy = n.usual
	}
	order, err := n.order(orderBy)
	if err != nil {
		fields.Add("order_by", ReasonOrder, "%v: want %s, each with or without desc, at most %d", err, n.names(Field.ordered), mostKeys)
	}
	return Question{Where: where, Order: order}, fault.InvalidFields(fields)
}

func (f Field) ordered() bool { return !f.Unordered }

// names lists the fields that may stand somewhere.
func (n *Noun) names(may func(Field) bool) string {
	var names []string
	for _, f := range n.fields {
		if may(f) {
			names = append(names, f.Name)
		}
	}
	return strings.Join(names, ", ")
}

// order reads order_by and ends it with the name.
func (n *Noun) order(text string) ([]Key, error) {
	var told ordering.OrderBy
	if err := told.UnmarshalString(text); err != nil {
		return nil, errors.New("it cannot be read")
	}
	if len(told.Fields) > mostKeys {
		return nil, fmt.Errorf("it names %d fields", len(told.Fields))
	}
	var keys []Key
	for _, by := range told.Fields {
		if f, ok := n.field(by.Path); !ok || f.Unordered {
			return nil, fmt.Errorf("%q is no field to put in order by", by.Path)
		}
		if slices.ContainsFunc(keys, func(k Key) bool { return k.Field == by.Path }) {
			return nil, fmt.Errorf("%q stands there twice", by.Path)
		}
		keys = append(keys, Key{Field: by.Path, Descending: by.Desc})
		if by.Path == NameField { // what comes behind decides nothing
			return keys, nil
		}
	}
	return append(keys, Key{Field: NameField}), nil
}

// where reads a filter; nil is everything.
func (n *Noun) where(filter string) (Condition, error) {
	if strings.TrimSpace(filter) == "" {
		return nil, nil
	}
	parsed, err := filtering.ParseFilterString(filter, n.declarations)
	if err != nil {
		return nil, errors.New(plain(err.Error()))
	}
	reading := reading{noun: n}
	return reading.condition(parsed.CheckedExpr.GetExpr())
}

// Words of the library's errors about types.
var (
	undeclared = regexp.MustCompile(`undeclared (?:identifier|function) '([^']*)'`)
	overload   = regexp.MustCompile(`no matching overload found for calling '([^']*)'`)
)

// plain says the library's message for people: its last line, for the filter is drawn before it, and without how it came
// to its judgement.
func plain(text string) string {
	if found := undeclared.FindStringSubmatch(text); found != nil {
		return fmt.Sprintf("%q is neither a field nor a value of an enum; texts stand in double quotes", found[1])
	}
	if found := overload.FindStringSubmatch(text); found != nil {
		return fmt.Sprintf("%q joins values that do not go together: texts stand in double quotes, numbers and values of enums bare", found[1])
	}
	lines := strings.Split(strings.TrimSpace(text), "\n")
	return strings.TrimLeft(lines[len(lines)-1], " ^")
}
