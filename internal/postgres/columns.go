package postgres

import (
	"cmp"
	"encoding/json"
	"fmt"
	"reflect"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"tagalong/internal/core"
)

// Rows are written as columns: an array of each, taken apart by unnest. That
// costs PostgreSQL much less than the same rows as JSON, and less again the more
// there are.

// column is one field of a row type.
type column struct {
	name  string // the field's JSON name
	sent  string // the type its values are sent as
	is    string // the type they are stored as
	array func(rows reflect.Value, field int) (any, error)
}

var (
	dateType  = reflect.TypeFor[*core.Date]()
	timeType  = reflect.TypeFor[time.Time]()
	bytesType = reflect.TypeFor[[]byte]()
)

// columnOf is how values of a field are sent. What is none of the simple types
// is stored as JSON: as jsonb, or as the text it is, where the field's tag says
// `stored:"json"`.
func columnOf(f reflect.StructField) column {
	name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
	of := func(sent, is string, array func(reflect.Value, int) (any, error)) column {
		return column{name, sent, is, array}
	}
	switch t := f.Type; {
	case t == bytesType:
		return of("bytea", "bytea", each(reflect.Value.Bytes))
	case t == timeType, t == reflect.PointerTo(timeType):
		return of("timestamptz", "timestamptz", each(reflect.Value.Interface))
	case t == dateType:
		return of("text", "date", each(textOrNull))
	case t.Kind() == reflect.String:
		return of("text", "text", each(reflect.Value.String))
	case t.Kind() == reflect.Int:
		return of("integer", "integer", each(reflect.Value.Int))
	case t.Kind() == reflect.Bool:
		return of("boolean", "boolean", each(reflect.Value.Bool))
	case t.Kind() == reflect.Float64:
		return of("double precision", "double precision", each(reflect.Value.Float))
	case t.Kind() == reflect.Slice && t.Elem().Kind() == reflect.String:
		return of("text", "text[]", each(arrayText))
	case t.Kind() == reflect.Pointer && t.Elem().Kind() == reflect.String:
		return of("text", "text", each(textOrNull))
	case t.Kind() == reflect.Pointer && t.Elem().Kind() == reflect.Float64:
		return of("double precision", "double precision", each(func(v reflect.Value) *float64 { return v.Interface().(*float64) }))
	}
	return of("text", cmp.Or(f.Tag.Get("stored"), "jsonb"), jsonTexts)
}

// each collects a field of all rows.
func each[V any](value func(reflect.Value) V) func(reflect.Value, int) (any, error) {
	return func(rows reflect.Value, field int) (any, error) {
		out := make([]V, rows.Len())
		for i := range out {
			out[i] = value(rows.Index(i).Field(field))
		}
		return out, nil
	}
}

func jsonTexts(rows reflect.Value, field int) (any, error) {
	out := make([]string, rows.Len())
	for i := range out {
		f := rows.Index(i).Field(field)
		if f.Kind() != reflect.Pointer {
			f = f.Addr() // which is looked into where it is
		}
		value := f.Interface()
		body, err := json.Marshal(value)
		if err != nil {
			return nil, err
		}
		out[i] = string(body)
		if w, asks := value.(interface{ written(text string) }); asks {
			w.written(out[i])
		}
	}
	return out, nil
}

func textOrNull(v reflect.Value) *string {
	if v.IsNil() {
		return nil
	}
	s := v.Elem().String()
	return &s
}

var inArray = strings.NewReplacer(`\`, `\\`, `"`, `\"`)

// arrayText is a list of texts as PostgreSQL writes an array.
func arrayText(v reflect.Value) string {
	var b strings.Builder
	b.WriteByte('{')
	for i := range v.Len() {
		if i > 0 {
			b.WriteByte(',')
		}
		b.WriteByte('"')
		_, _ = inArray.WriteString(&b, v.Index(i).String()) // a Builder takes everything
		b.WriteByte('"')
	}
	b.WriteByte('}')
	return b.String()
}

// rowType is what is known of a row type before there are rows.
type rowType[T any] struct{ columns []column }

func newRowType[T any]() rowType[T] {
	t := reflect.TypeFor[T]()
	out := rowType[T]{make([]column, t.NumField())}
	for i := range out.columns {
		out.columns[i] = columnOf(t.Field(i))
	}
	return out
}

// given is the rows sent, as a table x for a FROM clause: the parameter numbered
// from is the first column. The arrays, all of one length, are taken apart side
// by side as they are read; unnest of them all, in FROM, would first write each
// down, which takes PostgreSQL three times as long.
func (t rowType[T]) given(from int) string {
	var arrays []string
	for i, c := range t.columns {
		arrays = append(arrays, fmt.Sprintf(`unnest($%d::%s[]) AS "%s"`, i+from, c.sent, c.name))
	}
	return "(SELECT " + strings.Join(arrays, ", ") + ") AS x"
}

// stored lists columns of given as they are stored, without the first so many.
func (t rowType[T]) stored(from int) string {
	var out []string
	for _, c := range t.columns[from:] {
		value := `x."` + c.name + `"`
		if c.is != c.sent {
			value += "::" + c.is
		}
		out = append(out, value)
	}
	return strings.Join(out, ", ")
}

// names lists columns without the first so many.
func (t rowType[T]) names(from int) string {
	var out []string
	for _, c := range t.columns[from:] {
		out = append(out, c.name)
	}
	return strings.Join(out, ", ")
}

// insertInto is the statement that adds rows.
func (t rowType[T]) insertInto(table string) string {
	return fmt.Sprintf("INSERT INTO %s (%s) SELECT %s FROM %s", table, t.names(0), t.stored(0), t.given(1))
}

// arrays are rows as the parameters of a statement with given.
func (t rowType[T]) arrays(rows []T) ([]any, error) {
	out := make([]any, len(t.columns))
	for i, c := range t.columns {
		var err error
		if out[i], err = c.array(reflect.ValueOf(rows), i); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// statement is one that takes rows of T.
type statement[T any] struct {
	rowType[T]
	sql string
}

// queue queues the statement for rows, after what it takes before them; no
// rows: no statement.
func (s statement[T]) queue(b *pgx.Batch, rows []T, before ...any) error {
	if len(rows) == 0 {
		return nil
	}
	arrays, err := s.arrays(rows)
	if err != nil {
		return err
	}
	b.Queue(s.sql, append(before, arrays...)...)
	return nil
}

func newInsert[T any](table string) statement[T] {
	t := newRowType[T]()
	return statement[T]{t, t.insertInto(table)}
}
