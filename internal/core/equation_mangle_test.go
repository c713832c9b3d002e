package core_test

import (
	"encoding/json"
	"maps"
	"reflect"
	"slices"

	"pgregory.net/rapid"

	"tagalong/internal/core"
)

// mangled is a command as a faulty tablet, or somebody with a keyboard, might
// send it: one thing in it twice, left out, or of another value.
func (w *walk) mangled(body core.Body) core.Body {
	text, err := json.Marshal(body)
	if err != nil {
		w.rt.Fatalf("%T: %v", body, err)
	}
	var v any
	if err := json.Unmarshal(text, &v); err != nil {
		w.rt.Fatalf("%s: %v", text, err)
	}
	v = w.mangle(v)
	if text, err = json.Marshal(v); err != nil {
		w.rt.Fatalf("%v: %v", v, err)
	}
	out := reflect.New(reflect.TypeOf(body))
	if err := json.Unmarshal(text, out.Interface()); err != nil {
		return body // a value that no command can carry
	}
	return out.Elem().Interface().(core.Body)
}

// mangle changes one thing in a value, at any depth.
func (w *walk) mangle(v any) any {
	switch x := v.(type) {
	case map[string]any:
		if len(x) == 0 {
			return x
		}
		key := rapid.SampledFrom(slices.Sorted(maps.Keys(x))).Draw(w.rt, "what")
		if w.upTo(9, "left out") == 9 {
			delete(x, key)
			return x
		}
		x[key] = w.mangle(x[key])
		return x
	case []any:
		if len(x) == 0 {
			return x
		}
		i := w.upTo(len(x)-1, "which")
		switch w.upTo(3, "element") {
		case 0:
			return append(x, x[i])
		case 1:
			return slices.Delete(x, i, i+1)
		}
		x[i] = w.mangle(x[i])
		return x
	case float64:
		return rapid.SampledFrom([]float64{-x, 0, x + 1, x - 1, 2 * x, 1 << 40, -1 << 40}).Draw(w.rt, "number")
	case bool:
		return !x
	case string:
		others := []string{"", "no such thing", x + x}
		for _, l := range w.live() {
			others = append(others, string(l.ID), l.Place.Ref)
		}
		return rapid.SampledFrom(others).Draw(w.rt, "text")
	}
	return v
}
