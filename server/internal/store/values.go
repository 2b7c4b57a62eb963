package store

import (
	"database/sql/driver"
	"encoding/json"
	"fmt"
	"time"

	"github.com/lib/pq"

	"vernation/scheduler/civil"
)

// instant is a civil.Instant in a timestamptz column; the unset one is NULL.
type instant civil.Instant

// Value writes the column.
func (i instant) Value() (driver.Value, error) {
	if i == 0 {
		return nil, nil
	}
	return civil.Instant(i).Time(), nil
}

// Scan reads the column.
func (i *instant) Scan(source any) error {
	switch value := source.(type) {
	case nil:
		*i = 0
	case time.Time:
		*i = instant(civil.InstantOf(value))
	default:
		return fmt.Errorf("an instant cannot be read from %T", source)
	}
	return nil
}

// date is a civil.Date in a date column; the unset one is NULL.
type date civil.Date

// Value writes the column.
func (d date) Value() (driver.Value, error) {
	if d == 0 {
		return nil, nil
	}
	return civil.Date(d).String(), nil
}

// Scan reads the column.
func (d *date) Scan(source any) error {
	switch value := source.(type) {
	case nil:
		*d = 0
	case time.Time:
		*d = date(civil.NewDate(value.Year(), value.Month(), value.Day()))
	default:
		return fmt.Errorf("a date cannot be read from %T", source)
	}
	return nil
}

// text is a column in which the empty text is NULL.
type text string

// Value writes the column.
func (t text) Value() (driver.Value, error) {
	if t == "" {
		return nil, nil
	}
	return string(t), nil
}

// Scan reads the column.
func (t *text) Scan(source any) error {
	switch value := source.(type) {
	case nil:
		*t = ""
	case string:
		*t = text(value)
	case []byte:
		*t = text(value)
	default:
		return fmt.Errorf("a text cannot be read from %T", source)
	}
	return nil
}

// document is a value in a jsonb column.
type document[T any] struct{ value T }

// jsonOf wraps a value for a jsonb column or a batch: statements spread a JSON array of values into rows, so that
// each column is named once, in SQL, and no row costs a round trip.
func jsonOf[T any](value T) document[T] { return document[T]{value} }

// Value writes the column.
func (d document[T]) Value() (driver.Value, error) {
	encoded, err := json.Marshal(d.value)
	if err != nil {
		return nil, fmt.Errorf("writing %T as JSON: %w", d.value, err)
	}
	return string(encoded), nil
}

// Scan reads the column; NULL leaves the zero value.
func (d *document[T]) Scan(source any) error {
	switch value := source.(type) {
	case nil:
		var zero T
		d.value = zero
		return nil
	case []byte:
		return d.decode(value)
	case string:
		return d.decode([]byte(value))
	}
	return fmt.Errorf("a document cannot be read from %T", source)
}

func (d *document[T]) decode(encoded []byte) error {
	if err := json.Unmarshal(encoded, &d.value); err != nil {
		return fmt.Errorf("reading %T from JSON: %w", d.value, err)
	}
	return nil
}

// ids makes an array parameter of ids; an empty list matches nothing with = ANY.
func ids[T ~string](list []T) any {
	plain := make([]string, len(list))
	for i, id := range list {
		plain[i] = string(id)
	}
	return pq.Array(plain)
}
