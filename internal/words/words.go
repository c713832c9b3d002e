// Package words holds what the shop's people read when something is refused:
// one plain sentence, why the rule is there, what to do next, and who can do it.
// The texts stand in the message files under en/, by refusal code.
//
// The package imports the standard library only.
package words

import (
	"embed"
	"encoding/json"
	"fmt"
	"io/fs"
	"maps"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

//go:embed en/*.json
var files embed.FS

// Message is one entry of a message file. Texts may hold {parameters}.
type Message struct {
	Sentence string `json:"sentence"` // what happened, in one sentence
	Why      string `json:"why,omitempty"`
	Remedy   string `json:"remedy"`        // what would make it acceptable
	Who      string `json:"who,omitempty"` // who can do that
}

// Text is a message with its parameters put in.
type Text struct {
	Title  string
	Why    string
	Remedy string
	Who    string
}

// english is every message by code, and cautions every caution by key.
var (
	english  = mustLoad()
	cautions = mustLoadCautions()
)

// Refusal is the text of a refusal code with the parameters put in. A code
// without an entry still gets a true text, naming the code; the tests of every
// package that makes codes see to it that none lacks one.
func Refusal(code string, params map[string]string) Text {
	m, ok := english[code]
	if !ok {
		return Text{
			Title:  fmt.Sprintf("Refused by the rule “%s”.", code),
			Remedy: "Nothing was recorded. Tell the office the rule's name.",
		}
	}
	params = withParts(params)
	return Text{
		Title:  upperFirst(fill(m.Sentence, params)),
		Why:    fill(m.Why, params),
		Remedy: upperFirst(fill(m.Remedy, params)),
		Who:    fill(m.Who, params),
	}
}

// Caution is the caution of a key, such as "edges"; "" for a key without one.
func Caution(key string) string { return cautions[key] }

// Has reports whether a code has an entry.
func Has(code string) bool { _, ok := english[code]; return ok }

// Codes lists every code with an entry, in order.
func Codes() []string { return slices.Sorted(maps.Keys(english)) }

// Entry is the entry of a code, parameters still in braces.
func Entry(code string) (Message, bool) { m, ok := english[code]; return m, ok }

// Params lists the parameters a code's texts name, in order.
func Params(code string) []string {
	m := english[code]
	var out []string
	for _, hit := range parameter.FindAllStringSubmatch(m.Sentence+m.Why+m.Remedy+m.Who, -1) {
		out = append(out, hit[1])
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// withParts adds what every language builds its own way from a count and an
// item's name: {parts}, "18 hinge brackets", {names}, "hinge brackets", and
// words that agree with them. A fact is named, and a day written, as it is said.
func withParts(params map[string]string) map[string]string {
	out := maps.Clone(params)
	if out == nil {
		out = map[string]string{}
	}
	for many, one := range agreeing {
		if _, taken := out[many]; taken {
			continue // a parameter of that name, such as how long to wait
		}
		if out[many] = many; out["count"] == "1" {
			out[many] = one
		}
	}
	if day, err := time.Parse(time.DateOnly, out["on"]); err == nil {
		out["on"] = day.Format("2 January 2006")
	}
	if fact, ok := out["fact"]; ok {
		out["fact"] = strings.ReplaceAll(fact, "-", " ")
	}
	count, name := out["count"], out["name"]
	if count == "" || name == "" {
		return out
	}
	name = Said(name)
	if count != "1" {
		name = Plural(name)
	}
	out["names"], out["parts"] = name, count+" "+name
	return out
}

var gaps = strings.NewReplacer("  ", " ", " .", ".", " ,", ",")

// codeParams are the parameters that hold codes of ours, to be shown as they
// are printed, in two groups of four. What a person typed is shown as typed.
var codeParams = []string{"pallet", "build", "sheet", "consignment", "gone"}

var printedCode = regexp.MustCompile(`\b([PSUCT][2-9A-HJKMNP-Z]{3})([2-9A-HJKMNP-Z]{4})\b`)

func upperFirst(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return s
	}
	return string(unicode.ToUpper(r)) + s[n:]
}

var parameter = regexp.MustCompile(`\{([a-zA-Z]+)\}`)

// fill puts parameters in and closes the gap an empty one leaves. One that is
// missing shows as "(not known)".
func fill(text string, params map[string]string) string {
	out := parameter.ReplaceAllStringFunc(text, func(hit string) string {
		name := strings.Trim(hit, "{}")
		v, ok := params[name]
		if ok && slices.Contains(codeParams, name) {
			return printedCode.ReplaceAllString(v, "$1 $2")
		}
		if ok {
			return v
		}
		return "(not known)"
	})
	return gaps.Replace(out)
}

// mustLoad reads every message file. A code in two files is a fault of ours,
// found at start and by the tests, never by a person in the shop.
func mustLoad() map[string]Message {
	out := map[string]Message{}
	names, err := fs.Glob(files, "en/*.json")
	if err != nil {
		panic(err)
	}
	for _, name := range names {
		if name == "en/cautions.json" {
			continue
		}
		var one map[string]Message
		mustRead(name, &one)
		for code, m := range one {
			if _, twice := out[code]; twice {
				panic(fmt.Sprintf("words: %s has a second entry for %q", name, code))
			}
			out[code] = m
		}
	}
	return out
}

func mustLoadCautions() map[string]string {
	var out map[string]string
	mustRead("en/cautions.json", &out)
	return out
}

func mustRead[T any](name string, into *T) {
	text, err := files.ReadFile(name)
	if err != nil {
		panic(err)
	}
	dec := json.NewDecoder(strings.NewReader(string(text)))
	dec.DisallowUnknownFields()
	if err := dec.Decode(into); err != nil {
		panic(fmt.Sprintf("words: %s: %v", name, err))
	}
}
