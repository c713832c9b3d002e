package postgres

import (
	"bytes"
	"encoding/json"
	"fmt"
	"reflect"
	"strings"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/core"
)

// decodeEvent reads a stored event. Anything in it that this version does not
// know is an error: a rebuild stops there rather than guess.
func decodeEvent(kind core.EventKind, v int, payload []byte) (core.Event, error) {
	var e core.Event
	d := json.NewDecoder(bytes.NewReader(payload))
	d.DisallowUnknownFields()
	if err := d.Decode(&e); err != nil {
		return e, fmt.Errorf("read a stored event of kind %s, version %d: %w", kind, v, err)
	}
	if e.Kind != kind || e.V != v {
		return e, fmt.Errorf("event %s says it is %s, version %d, and its row says %s, version %d", e.ID, e.Kind, e.V, kind, v)
	}
	return e, nil
}

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
