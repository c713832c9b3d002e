package crowd

import (
	"encoding/json"
	"maps"
	"reflect"
	"slices"

	"tagalong/internal/core"
)

// mangled is a command as a faulty tablet, or somebody with a keyboard, might
// send it: one thing in it twice, left out, or of another value.
func (w *Walk) mangled(body core.Body) core.Body {
	var v any
	out := reflect.New(reflect.TypeOf(body))
	text, err := json.Marshal(body)
	if err == nil {
		err = json.Unmarshal(text, &v)
	}
	if err == nil {
		text, err = json.Marshal(w.mangle(v))
	}
	if err != nil {
		panic(err) // a body that is no JSON
	}
	if err := json.Unmarshal(text, out.Interface()); err != nil {
		return body // a value that no command can carry
	}
	return out.Elem().Interface().(core.Body)
}

// mangle changes one thing in a value, at any depth.
func (w *Walk) mangle(v any) any {
	switch x := v.(type) {
	case map[string]any:
		if len(x) == 0 {
			return x
		}
		key := one(w, slices.Sorted(maps.Keys(x)), "what")
		if w.UpTo(9, "left out") == 9 {
			delete(x, key)
			return x
		}
		x[key] = w.mangle(x[key])
		return x
	case []any:
		if len(x) == 0 {
			return x
		}
		i := w.UpTo(len(x)-1, "which")
		switch w.UpTo(3, "element") {
		case 0:
			return append(x, x[i])
		case 1:
			return slices.Delete(x, i, i+1)
		}
		x[i] = w.mangle(x[i])
		return x
	case float64:
		return one(w, []float64{-x, 0, x + 1, x - 1, 2 * x, 1 << 40, -1 << 40}, "number")
	case bool:
		return !x
	case string:
		others := []string{"", "no such thing", x + x}
		for _, l := range w.onPallets() {
			others = append(others, string(l.ID), l.Place.Ref)
		}
		return one(w, others, "text")
	}
	return v
}
