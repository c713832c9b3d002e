package app

import (
	"strings"

	"tagalong/internal/core"
)

// stageNouns are the default stages as one waits for them: "the door leaves
// wait for weld inspection".
var stageNouns = map[core.StageName]string{
	"goods-in": "goods-in", "cut": "cutting", "separate": "part separation",
	"edge-round": "edge rounding", "hand-round": "edge rounding by hand", "fold": "folding",
	"assemble": "assembly", "weld": "welding", "grind-out": "grinding-out", "join-late": "joining the late component",
	"weld-dress": "weld dressing", "weld-inspect": "weld inspection",
	"drill": "drilling", "tap": "tapping", "rivet-nut": "rivet nuts", "rivet": "riveting",
	"mask": "masking", "unmask": "unmasking", "pretreat": "pretreatment", "key-and-clean": "keying and cleaning",
	"coat": "coating", "cure": "curing", "coat-inspect": "coat inspection", "sort": "sorting", "strip": "stripping",
	"final-check": "the final check", "kit-check": "the kit check", "pack": "packing", "ship": "the truck",
	"receive": "receipt at the site", "unpack": "unpacking", "fit-out": "fit-out", "accept": "acceptance", "return": "return",
}

// StageNoun is a stage as one waits for it: "weld inspection". A stage that the
// shop added has its own title in quotes.
func StageNoun(s core.Stage) string { return stageNoun(s) }

func stageNoun(s core.Stage) string {
	if n, ok := stageNouns[s.Name]; ok {
		return n
	}
	if s.Title != "" && s.Title != string(s.Name) {
		return "“" + lowerFirst(s.Title) + "”"
	}
	return strings.ReplaceAll(string(s.Name), "-", " ")
}

// irregularPasts are verbs of the trade whose past tense no rule makes.
var irregularPasts = map[string]string{
	"break": "broke", "cut": "cut", "grind": "ground", "set": "set", "take": "took", "put": "put", "bend": "bent",
	"weld": "welded", "fit": "fitted", "tap": "tapped", "strip": "stripped", "ship": "shipped", "drill": "drilled",
	"make": "made", "do": "did", "send": "sent", "hang": "hung", "spin": "spun", "stick": "stuck", "wind": "wound",
	"deburr": "deburred", "clip": "clipped", "trim": "trimmed", "wrap": "wrapped", "stamp": "stamped", "saw": "sawed",
	"read": "read", "lay": "laid", "blow": "blew", "draw": "drew", "feed": "fed", "hold": "held", "key": "keyed",
}

func past(verb string) string {
	low := strings.ToLower(verb)
	if p, ok := irregularPasts[low]; ok {
		return p
	}
	switch {
	case strings.HasSuffix(low, "e"):
		return low + "d"
	case strings.HasSuffix(low, "y") && len(low) > 1 && !strings.ContainsAny(low[len(low)-2:len(low)-1], "aeiou"):
		return low[:len(low)-1] + "ied"
	}
	return low + "ed"
}

// done turns a stage's title, an imperative, into what was done to something:
// "Round the edges" and "4 wall panels" make "Rounded the edges of 4 wall
// panels"; "Fold" makes "Folded 4 wall panels".
func done(title, what string) string {
	words := strings.Fields(title)
	if len(words) == 0 {
		return "Worked on " + what
	}
	words[0] = upperFirst(past(words[0]))
	object := false // whether the title names its own object
	for i := 1; i < len(words); i++ {
		switch {
		case words[i-1] == "and" && !object:
			words[i] = past(words[i])
		case words[i] == "the" && words[i-1] != "at" && words[i-1] != "by":
			object = true
		}
	}
	text := strings.Join(words, " ")
	switch {
	case !object:
		return insertObject(text, what)
	case strings.Contains(text, " the finished parts"), strings.Contains(text, " the goods"),
		strings.Contains(text, " the good from the bad"), strings.Contains(text, " the kit"), strings.Contains(text, " the sheet"):
		return text + ": " + what
	case strings.HasPrefix(text, "Set "), strings.HasPrefix(text, "Fitted "), strings.HasPrefix(text, "Joined "):
		return text + " in " + what
	case strings.HasSuffix(text, " off"):
		return text + " " + what
	}
	if before, after, ok := strings.Cut(text, " by "); ok {
		return before + " of " + what + " by " + after
	}
	return text + " of " + what
}

// insertObject puts the object before the place or means a title may end with:
// "Received 4 pallets at the site".
func insertObject(text, what string) string {
	for _, word := range []string{" at ", " by "} {
		if before, after, ok := strings.Cut(text, word); ok {
			return before + " " + what + word + after
		}
	}
	return text + " " + what
}
