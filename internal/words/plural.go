package words

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// irregularPlurals are the nouns of this trade whose plural no rule makes.
var irregularPlurals = map[string]string{
	"leaf": "leaves", "shelf": "shelves", "half": "halves", "knife": "knives",
	"chassis": "chassis", "series": "series", "foot": "feet", "man": "men",
	"hardware": "hardware", "steelwork": "steelwork", "gear": "gear", "box": "boxes",
}

// Plural makes the plural of an item's name. Only the head noun changes: the
// words after a comma or a preposition stay, as in "wall panel, louvre side".
func Plural(name string) string {
	head, rest := name, ""
	for _, end := range []string{",", " for ", " with ", " of ", " in ", " on ", " (", " to "} {
		if i := strings.Index(head, end); i > 0 {
			head, rest = head[:i], head[i:]+rest
		}
	}
	before, last := "", head
	if i := strings.LastIndexByte(head, ' '); i >= 0 {
		before, last = head[:i+1], head[i+1:]
	}
	switch {
	case last == "":
		return name
	case before != "" && unicode.IsDigit(rune(last[0])): // a size: "wall panels 2400"
		return Plural(strings.TrimSuffix(before, " ")) + " " + last + rest
	}
	return before + pluralWord(last) + rest
}

func pluralWord(w string) string {
	low := strings.ToLower(w)
	if p, ok := irregularPlurals[low]; ok {
		return w[:1] + p[1:]
	}
	switch r, _ := utf8.DecodeLastRuneInString(w); {
	case unicode.IsDigit(r):
		return w + "s"
	case strings.HasSuffix(low, "y") && len(low) > 1 && !strings.ContainsAny(low[len(low)-2:len(low)-1], "aeiou"):
		return w[:len(w)-1] + "ies"
	case strings.HasSuffix(low, "s"), strings.HasSuffix(low, "x"), strings.HasSuffix(low, "z"),
		strings.HasSuffix(low, "ch"), strings.HasSuffix(low, "sh"):
		return w + "es"
	}
	return w + "s"
}

// Said is an item's name as it is said: "door leaf, left" is "left door leaf",
// and what else a drawing adds after a comma is left to the drawing.
func Said(name string) string {
	head, rest, ok := strings.Cut(name, ", ")
	if !ok {
		return name
	}
	if rest == "left" || rest == "right" {
		return rest + " " + head
	}
	return head
}

// agreeing are the words of the message files that follow a count of parts: as
// they are written there, for several, and for one.
var agreeing = map[string]string{
	"are": "is", "have": "has", "belong": "belongs", "carry": "carries", "wait": "waits",
	"they": "it", "them": "it", "their": "its",
}
