package store

import (
	"encoding/json"
	"fmt"
	"strings"

	"vernation/scheduler/civil"
	"vernation/server/internal/listing"
)

// Listed is a row of a list with its place in the order asked for.
type Listed[T any] struct {
	Value T
	After []string // the value of each key of the order: Question.After of the page behind it
}

// source is where the rows of a noun's list come from.
type source struct {
	// document is the expression of a row as JSON; from begins with FROM and holds the row to the business, $1.
	document, from string
	// deleted is the column that says when a row was deleted; "" where rows are never deleted.
	deleted string
	// columns gives the expression of each field of the noun's declaration. One that may stand in an order is never NULL.
	columns map[string]string
}

// selecting begins a statement that is put together from what to read and a constant that begins with FROM.
const selecting = "SELECT /* of */ "

// listed reads a page of a list, at most a thousand rows.
func listed[T any](tx *Tx, from source, asked listing.Question) ([]Listed[T], error) {
	s := &statement{columns: from.columns, args: []any{string(tx.caller.Business)}}
	keys := make([]string, len(asked.Order))
	order := make([]string, len(asked.Order))
	for i, key := range asked.Order {
		keys[i] = "(" + s.column(key.Field) + ")::text"
		order[i] = s.column(key.Field)
		if key.Descending {
			order[i] += " DESC"
		}
	}
	text := fmt.Sprintf(selecting+"%s AS document, array_to_json(ARRAY[%s]) AS after %s", from.document, strings.Join(keys, ", "), from.from)
	if from.deleted != "" && !asked.Deleted {
		text += " AND " + from.deleted + " IS NULL"
	}
	if asked.Where != nil {
		text += " AND " + s.condition(asked.Where)
	}
	if asked.After != nil {
		text += " AND " + s.behind(asked.Order, asked.After)
	}
	text += " ORDER BY " + strings.Join(order, ", ") + " LIMIT " + s.parameter(Page{Size: asked.Size}.limit())
	var rows []struct {
		Document document[T]
		After    []byte
	}
	if err := tx.sql.SelectContext(tx.ctx, &rows, text, s.args...); err != nil {
		return nil, failure(tx.ctx, err)
	}
	found := make([]Listed[T], len(rows))
	for i, row := range rows {
		found[i].Value = row.Document.value
		if err := json.Unmarshal(row.After, &found[i].After); err != nil {
			return nil, fmt.Errorf("reading the place of a row: %w", err)
		}
	}
	return found, nil
}

// statement is a statement in the making. Only columns and operators of ours become part of its text; every value of
// a caller is a parameter.
type statement struct {
	columns map[string]string
	args    []any
}

func (s *statement) parameter(value any) string {
	s.args = append(s.args, value)
	return fmt.Sprintf("$%d", len(s.args))
}

// column panics on a field without a column: the declaration promises what the store does not keep.
func (s *statement) column(field string) string {
	column, ok := s.columns[field]
	if !ok {
		panic(fmt.Sprintf("a list is declared with the field %q, of which the store has no column", field))
	}
	return column
}

func (s *statement) condition(c listing.Condition) string {
	switch c := c.(type) {
	case listing.All:
		return s.joined(c, " AND ")
	case listing.Any:
		return s.joined(c, " OR ")
	case listing.Not:
		// What is unset is unequal to everything, so that NOT of it holds.
		return "(" + s.condition(c.Of) + ") IS NOT TRUE"
	case listing.Compare:
		return s.compare(c)
	}
	panic(fmt.Sprintf("no SQL for the condition %T", c))
}

func (s *statement) joined(parts []listing.Condition, word string) string {
	written := make([]string, len(parts))
	for i, part := range parts {
		written[i] = s.condition(part)
	}
	return "(" + strings.Join(written, word) + ")"
}

func (s *statement) compare(c listing.Compare) string {
	column := s.column(c.Field)
	if c.Operator == ":" {
		return s.has(c, column)
	}
	switch operator := c.Operator; operator {
	case "!=":
		return fmt.Sprintf("(%s IS DISTINCT FROM %s)", column, s.parameter(valued(c.Value)))
	case "=", "<", "<=", ">", ">=":
		return fmt.Sprintf("(%s %s %s)", column, operator, s.parameter(valued(c.Value)))
	default:
		panic("no SQL for the operator " + operator)
	}
}

// has writes the operator ":": whether a text holds another, a list an element, or, with no value, whether there is any.
func (s *statement) has(c listing.Compare, column string) string {
	switch {
	case c.Kind == listing.Texts && c.Value == nil:
		return fmt.Sprintf("(cardinality(%s) > 0)", column)
	case c.Kind == listing.Texts:
		return fmt.Sprintf("(%s = ANY (%s))", s.parameter(c.Value), column)
	case c.Value == nil && (c.Kind == listing.Text || c.Kind == listing.Day):
		return fmt.Sprintf("(coalesce((%s)::text, '') <> '')", column)
	case c.Value == nil:
		return fmt.Sprintf("(%s IS NOT NULL)", column)
	}
	return fmt.Sprintf("(position(lower(%s) IN lower((%s)::text)) > 0)", s.parameter(fmt.Sprint(c.Value)), column)
}

// valued is a value as its column takes it.
func valued(value any) any {
	switch v := value.(type) {
	case civil.Date:
		return date(v)
	case civil.Instant:
		return instant(v)
	}
	return value
}

// behind writes which rows come after one in an order: greater in the first key, or equal there and greater in the
// next, and so on. Rows of PostgreSQL compare so too, but in one direction only.
func (s *statement) behind(order []listing.Key, after []string) string {
	values := make([]string, len(order))
	for i := range order {
		values[i] = s.parameter(after[i])
	}
	ways := make([]string, len(order))
	for i, key := range order {
		var parts []string
		for j := range i {
			parts = append(parts, fmt.Sprintf("%s = %s", s.column(order[j].Field), values[j]))
		}
		operator := ">"
		if key.Descending {
			operator = "<"
		}
		ways[i] = "(" + strings.Join(append(parts, fmt.Sprintf("%s %s %s", s.column(key.Field), operator, values[i])), " AND ") + ")"
	}
	return "(" + strings.Join(ways, " OR ") + ")"
}
