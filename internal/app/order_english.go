package app

import (
	"strconv"
	"strings"

	"unicode"
	"unicode/utf8"

	"tagalong/internal/words"
)

// What is here makes plain English of counts, names and lists, so that every
// sentence of the screens is built the same way.

var smallNumbers = [...]string{"no", "one", "two", "three", "four", "five", "six",
	"seven", "eight", "nine", "ten", "eleven", "twelve"}

// inWords writes a count in words up to twelve, in figures beyond.
func inWords(n int) string {
	if n >= 0 && n < len(smallNumbers) {
		return smallNumbers[n]
	}
	return strconv.Itoa(n)
}

// counted is a count in words with its noun: "one pallet", "13 pallets".
func counted(n int, noun string) string { return inWords(n) + " " + numbered(n, noun) }

// tally is a count in figures with its noun, for records: "4 wall panels".
func tally(n int, noun string) string { return strconv.Itoa(n) + " " + numbered(n, noun) }

func numbered(n int, noun string) string {
	if n == 1 {
		return noun
	}
	return plural(noun)
}

// verb chooses between the forms for one and for many: verb(n, "is", "are").
func verb(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// plural is the plural of an item's name.
func plural(name string) string { return words.Plural(name) }

// saidName is an item's name as it is said.
func saidName(name string) string { return words.Said(name) }

// list joins items as speech does: "a", "a and b", "a, b and c".
func list(items []string) string {
	switch len(items) {
	case 0:
		return ""
	case 1:
		return items[0]
	}
	glue := ", "
	for _, it := range items {
		if strings.Contains(it, ",") { // "wall panels, louvre side" keeps its own comma
			glue = "; "
		}
	}
	if glue == "; " && len(items) == 2 {
		return items[0] + ", and " + items[1]
	}
	return strings.Join(items[:len(items)-1], glue) + " and " + items[len(items)-1]
}

// listAtMost names the first few items and counts the rest: "a, b and four
// other kinds of part". One more than the limit is named rather than counted.
func listAtMost(items []string, limit int, rest string) string {
	if len(items) <= limit+1 {
		return list(items)
	}
	more := len(items) - limit
	return list(append(append([]string{}, items[:limit]...), inWords(more)+" other "+plural(rest)))
}

// upperFirst begins a sentence.
func upperFirst(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return s
	}
	return string(unicode.ToUpper(r)) + s[n:]
}

// lowerFirst takes a title into the middle of a sentence; an abbreviation or a
// code ("QA desk", "B2") keeps its capitals.
func lowerFirst(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	second, _ := utf8.DecodeRuneInString(s[n:])
	if n == 0 || !unicode.IsLower(second) {
		return s
	}
	return string(unicode.ToLower(r)) + s[n:]
}

// placeName is a station's name after a preposition: "weld bench 2" has a
// number and so no article, "the dock" has one.
func placeName(name string) string {
	name = lowerFirst(name)
	head, _, _ := strings.Cut(name, ",") // "separation bench 2, sheets and tubes"
	last, _ := utf8.DecodeLastRuneInString(head)
	first, _ := utf8.DecodeRuneInString(name)
	if unicode.IsDigit(last) || unicode.IsUpper(first) || strings.HasPrefix(name, "the ") {
		return name
	}
	return "the " + name
}

// sentence closes a text with a full stop unless it ends one already.
func sentence(s string) string {
	s = strings.TrimSpace(s)
	if s == "" || strings.ContainsAny(s[len(s)-1:], ".!?") {
		return s
	}
	return s + "."
}

// spaced is an eight-symbol code as people read it: "P4K7 M2QX".
func spaced(code string) string {
	if len(code) == 8 {
		return code[:4] + " " + code[4:]
	}
	return code
}

// Named is a count with an item's name, as lists on the screens show it: "2
// door leaves, left".
func Named(n int, item string) string { return tally(n, item) }
