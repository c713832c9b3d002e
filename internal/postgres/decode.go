package postgres

import (
	"encoding/json"
	"reflect"
	"strings"

	"github.com/jackc/pgx/v5"
)

// jsonOf is a value written as JSON inside a row.
type jsonOf[T any] struct{ Value T }

func (j jsonOf[T]) MarshalJSON() ([]byte, error) { return json.Marshal(j.Value) }

func (j *jsonOf[T]) UnmarshalJSON(b []byte) error { return json.Unmarshal(b, &j.Value) }

// columnsOf lists the columns of a row type: its fields' JSON names, in order.
func columnsOf[T any]() []string {
	t := reflect.TypeFor[T]()
	out := make([]string, t.NumField())
	for i := range out {
		out[i], _, _ = strings.Cut(t.Field(i).Tag.Get("json"), ",")
	}
	return out
}

// queueRows queues a statement that takes rows as one JSON array; none: none.
func queueRows[T any](b *pgx.Batch, sql string, rows []T) error {
	if len(rows) == 0 {
		return nil
	}
	body, err := json.Marshal(rows)
	if err != nil {
		return err
	}
	b.Queue(sql, body)
	return nil
}

func firstError(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}
