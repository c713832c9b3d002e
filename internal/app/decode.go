package app

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"io"
	"reflect"
	"strconv"
	"strings"
	"time"

	"tagalong/internal/core"
)

// DecodeRequest reads a command's request. It refuses one above [MaxRequest]
// bytes, one that is not JSON, and one with a field it doesn't know: a field
// that is ignored is a reading somebody believes was recorded. Errors are
// *[Refused].
func DecodeRequest(r io.Reader) (Request, error) {
	raw, err := io.ReadAll(io.LimitReader(r, MaxRequest+1))
	if err != nil {
		return Request{}, err
	}
	if len(raw) > MaxRequest {
		return Request{}, Refuse("too-large", "most", strconv.Itoa(MaxRequest/1024)+" KiB")
	}
	var req Request
	if err := decodeStrictly(raw, &req); err != nil {
		return Request{}, err
	}
	return req, nil
}

// decodeStrictly reads exactly one JSON value into v. Errors are *Refused.
func decodeStrictly(raw []byte, v any) error {
	if bytes.Contains(raw, []byte(`\u0000`)) {
		return Refuse("malformed", "detail", "a text holds the character NUL")
	}
	dec := json.NewDecoder(bytes.NewReader(raw))
	dec.DisallowUnknownFields()
	if err := dec.Decode(v); err != nil {
		return decodeRefusal(err)
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return Refuse("malformed", "detail", "something follows the end of the request")
	}
	return nil
}

// checkDates refuses a body with a date, at whatever depth, that is no day of the
// calendar: the core compares dates as texts, and the store keeps days.
func checkDates(body core.Body) error { return checkDate("body", reflect.ValueOf(body)) }

func checkDate(field string, v reflect.Value) error {
	switch {
	case v.Type() == reflect.TypeFor[core.Date]():
		day, err := time.Parse(time.DateOnly, v.String())
		if v.String() != "" && (err != nil || day.Year() < 1) {
			return Refuse("bad-value", "field", field, "problem", "it is no day of the calendar, written as 2026-12-03")
		}
	case v.Kind() == reflect.Slice:
		for i := range v.Len() {
			if err := checkDate(field, v.Index(i)); err != nil {
				return err
			}
		}
	case v.Kind() == reflect.Struct:
		for i := range v.NumField() {
			f := v.Type().Field(i)
			if name, _, _ := strings.Cut(f.Tag.Get("json"), ","); f.IsExported() {
				if err := checkDate(cmp.Or(name, field), v.Field(i)); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

func decodeRefusal(err error) error {
	if wrong, ok := errors.AsType[*json.UnmarshalTypeError](err); ok {
		field := wrong.Field
		if field == "" {
			field = "body"
		}
		return Refuse("bad-value", "field", Shorten(field, 60), "problem", "it holds a "+Shorten(wrong.Value, 40))
	}
	// The package tells of an unknown field in words only.
	if _, field, ok := strings.Cut(err.Error(), "unknown field "); ok {
		return Refuse("unknown-field", "field", Shorten(strings.Trim(field, `"`), 60))
	}
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return Refuse("malformed", "detail", "it ends too early")
	}
	return Refuse("malformed", "detail", Shorten(err.Error(), 120))
}

// Shorten keeps a text from flooding a page or a log.
func Shorten(s string, most int) string {
	s = strings.ToValidUTF8(s, "")
	if r := []rune(s); len(r) > most {
		return string(r[:most]) + "…"
	}
	return s
}
