package listing

import (
	"errors"
	"fmt"
	"time"

	"go.einride.tech/aip/filtering"
	expr "google.golang.org/genproto/googleapis/api/expr/v1alpha1"
	"google.golang.org/protobuf/reflect/protoreflect"

	"vernation/scheduler/civil"
)

// reading turns the parser's tree, whose types are checked, into conditions.
type reading struct {
	noun  *Noun
	count int // comparisons read
}

// condition reads a call; what is left of texts without a field is refused.
func (r *reading) condition(e *expr.Expr) (Condition, error) {
	call := e.GetCallExpr()
	switch call.GetFunction() {
	case filtering.FunctionAnd, filtering.FunctionFuzzyAnd:
		parts, err := r.conditions(call.GetArgs())
		return All(parts), err
	case filtering.FunctionOr:
		parts, err := r.conditions(call.GetArgs())
		return Any(parts), err
	case filtering.FunctionNot:
		parts, err := r.conditions(call.GetArgs())
		if err != nil {
			return nil, err
		}
		return Not{parts[0]}, nil
	case filtering.FunctionEquals, filtering.FunctionNotEquals, filtering.FunctionLessThan, filtering.FunctionLessEquals,
		filtering.FunctionGreaterThan, filtering.FunctionGreaterEquals, filtering.FunctionHas:
		return r.compare(call.GetFunction(), call.GetArgs()[0], call.GetArgs()[1])
	}
	return nil, errors.New("it holds something that compares no field with a value")
}

func (r *reading) conditions(args []*expr.Expr) ([]Condition, error) {
	parts := make([]Condition, len(args))
	for i, arg := range args {
		part, err := r.condition(arg)
		if err != nil {
			return nil, err
		}
		parts[i] = part
	}
	return parts, nil
}

// compare reads a field, an operator and a value.
func (r *reading) compare(operator string, left, right *expr.Expr) (Condition, error) {
	if r.count++; r.count > mostConditions {
		return nil, fmt.Errorf("it has more than %d conditions", mostConditions)
	}
	name := path(left)
	field, ok := r.noun.field(name)
	if !ok {
		return nil, fmt.Errorf("%q is no field, and a field stands on the left", name)
	}
	value, err := field.value(operator, right)
	if err != nil {
		return nil, fmt.Errorf("%s %s: %w", name, operator, err)
	}
	return Compare{Field: name, Kind: field.Kind, Operator: operator, Value: value}, nil
}

// path writes a field with the fields that it stands in: agreement.usual_technician.
func path(e *expr.Expr) string {
	if selected := e.GetSelectExpr(); selected != nil {
		return path(selected.GetOperand()) + "." + selected.GetField()
	}
	return e.GetIdentExpr().GetName()
}

// value reads what a field is compared with.
func (f Field) value(operator string, e *expr.Expr) (any, error) {
	if call := e.GetCallExpr(); call != nil && call.GetFunction() == filtering.FunctionTimestamp {
		e = call.GetArgs()[0]
	}
	text := e.GetConstExpr().GetStringValue()
	if operator == filtering.FunctionHas && text == "*" {
		return nil, nil
	}
	switch constant := e.GetConstExpr(); f.Kind {
	case Word:
		text = e.GetIdentExpr().GetName()
		if f.Enum.Descriptor().Values().ByName(protoreflect.Name(text)) == nil {
			return nil, fmt.Errorf("want a value of %s", f.Enum.Descriptor().Name())
		}
		return f.stored(text), nil
	case Truth:
		return truth(e)
	case Number:
		if constant == nil {
			return nil, errors.New("want a number")
		}
		return constant.GetInt64Value(), nil
	case Day:
		day, err := civil.ParseDate(text)
		if err != nil {
			return nil, errors.New(`want a day such as "2026-03-02"`)
		}
		return day, nil
	case Instant:
		at, err := time.Parse(time.RFC3339, text)
		if err != nil {
			return nil, errors.New(`want an instant such as "2026-03-02T07:00:00Z"`)
		}
		return civil.InstantOf(at), nil
	default:
		if constant == nil {
			return nil, errors.New("want a text in double quotes")
		}
		return f.stored(text), nil
	}
}

// truth reads true and false, which the grammar knows as words only.
func truth(e *expr.Expr) (any, error) {
	switch e.GetIdentExpr().GetName() {
	case "true":
		return true, nil
	case "false":
		return false, nil
	}
	return nil, errors.New("want true or false")
}

func (f Field) stored(told string) string {
	if f.Stored == nil {
		return told
	}
	return f.Stored(told)
}
