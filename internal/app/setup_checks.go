package app

import (
	"fmt"
	"math/big"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"tagalong/internal/core"
	"tagalong/internal/intake"
)

// TypedCheck is one characteristic that a step is checked for, as it was typed.
// It is measured where it has a number, a unit or a gauge, and ticked otherwise.
type TypedCheck struct {
	Stage      core.StageName
	Text       string
	Nominal    string
	Tolerance  string // to either side of the nominal value
	Lower      string // instead, or alone
	Upper      string
	Unit       string
	Instrument string // kind of gauge
	Source     string // where the drawing or a standard says so
}

// TypedSample says how many of a lot a step that inspects looks at.
type TypedSample struct {
	Stage  core.StageName
	UpTo   string // lots of so many at most; empty: of any size
	Size   string
	Accept string // so many bad ones in it are accepted; empty: none
}

func (c TypedCheck) measured() bool {
	return c.Nominal+c.Tolerance+c.Lower+c.Upper+c.Unit+c.Instrument != ""
}

// cutHazard is what the final check of sharp edges asks.
var cutHazard = core.Characteristic{ID: "cut-hazard-label", Text: "Cut-hazard label on the bundle", Kind: core.Tick, Source: "drawing"}

// wrongChecks are the slips that only the page can tell.
func (t TypedItem) wrongChecks() Slips {
	var out Slips
	does := func(n core.StageName) bool {
		return slices.ContainsFunc(t.work(), func(s core.Step) bool { return s.Stage == n })
	}
	for i, c := range t.Checks {
		if !does(c.Stage) {
			out = append(out, typedSlip("checks.csv", i, "step", "a check at a step that is not on the route", "a step that is ticked"))
		}
		if c.Tolerance == "" {
			continue
		}
		_, nominal := decimalOf(c.Nominal)
		_, tolerance := decimalOf(strings.TrimPrefix(c.Tolerance, "±"))
		if !nominal || !tolerance || c.Lower+c.Upper != "" {
			out = append(out, typedSlip("checks.csv", i, "tolerance", "the tolerance "+strconv.Quote(c.Tolerance),
				"a number beside a nominal value, both with a point before the decimals, and no other limits; or the limits alone"))
		}
	}
	for i, x := range t.Samples {
		if !does(x.Stage) {
			out = append(out, typedSlip("sampling.csv", i, "step", "a sample at a step that is not on the route", "a step that is ticked"))
		}
	}
	return out
}

var decimalText = regexp.MustCompile(`^-?[0-9]{1,12}(\.[0-9]{1,12})?$`)

func decimalOf(s string) (*big.Rat, bool) {
	if s = strings.TrimSpace(s); !decimalText.MatchString(s) {
		return nil, false
	}
	return new(big.Rat).SetString(s)
}

// limits are the lower and the upper one as decimals, reckoned exactly: 0.3 less
// 0.1 is 0.2.
func (c TypedCheck) limits() (lower, upper string) {
	nominal, ok := decimalOf(c.Nominal)
	tolerance, also := decimalOf(strings.TrimPrefix(c.Tolerance, "±"))
	if !ok || !also {
		return c.Lower, c.Upper
	}
	tolerance.Abs(tolerance)
	return shortest(new(big.Rat).Sub(nominal, tolerance)), shortest(new(big.Rat).Add(nominal, tolerance))
}

func shortest(r *big.Rat) string {
	s := r.FloatString(12)
	return strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
}

// checksAt are the characteristics of every step of a stage: those typed, then
// the one the rules ask.
func (t TypedItem) checksAt(stage core.StageName) []core.Characteristic {
	var out []core.Characteristic
	for _, c := range t.Checks {
		if c.Stage != stage {
			continue
		}
		x := core.Characteristic{ID: freeID(c.Text, out), Text: strings.Join(strings.Fields(c.Text), " "), Kind: core.Tick,
			Unit: c.Unit, Instrument: c.Instrument, Source: c.Source}
		if c.measured() {
			x.Kind = core.Measure
		}
		lower, upper := c.limits()
		x.Nominal, x.Lower, x.Upper = numberOf(c.Nominal), numberOf(lower), numberOf(upper)
		out = append(out, x)
	}
	for _, s := range RouteSteps {
		if s.Stage == stage && s.Check.ID != "" && !hasID(out, s.Check.ID) {
			out = append(out, s.Check)
		}
	}
	if stage == "final-check" && t.asCut() && !hasID(out, cutHazard.ID) {
		out = append(out, cutHazard)
	}
	return out
}

func (t TypedItem) samplesAt(stage core.StageName) []core.SampleRow {
	var out []core.SampleRow
	for _, x := range t.Samples {
		if x.Stage == stage {
			up, _ := strconv.Atoi(x.UpTo)
			size, _ := strconv.Atoi(x.Size) // what is no number is told by the rows
			accept, _ := strconv.Atoi(x.Accept)
			out = append(out, core.SampleRow{UpTo: up, Size: size, Accept: accept})
		}
	}
	slices.SortStableFunc(out, func(a, b core.SampleRow) int { return endlessLast(a) - endlessLast(b) })
	return out
}

// endlessLast puts lots of any size behind those of a size.
func endlessLast(r core.SampleRow) int {
	if r.UpTo == 0 {
		return int(^uint32(0) >> 1)
	}
	return r.UpTo
}

func numberOf(s string) *float64 {
	v, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
	if err != nil {
		return nil
	}
	return &v
}

func hasID(all []core.Characteristic, id string) bool {
	return slices.ContainsFunc(all, func(c core.Characteristic) bool { return c.ID == id })
}

// freeID makes a characteristic's key of its text: "Outside flange" is
// outside-flange, a second one outside-flange-2.
func freeID(text string, taken []core.Characteristic) string {
	words := strings.FieldsFunc(strings.ToLower(text), func(c rune) bool { return !unicode.IsLetter(c) && !unicode.IsDigit(c) })
	letters := []rune(strings.Join(words, "-"))
	first := strings.TrimRight(string(letters[:min(40, len(letters))]), "-")
	if first == "" {
		first = "check"
	}
	id := first
	for n := 2; hasID(taken, id); n++ {
		id = fmt.Sprintf("%s-%d", first, n)
	}
	return id
}

// inspectionLine is a line of checks.csv or sampling.csv, and the row it was
// typed in; -1 where the rules ask it and nobody typed it.
type inspectionLine struct {
	fields map[string]string
	from   int
}

// checkLines are the lines of a route's checks. What was typed is written as it
// was typed, so that a number which is none is named.
func (t TypedItem) checkLines(r core.Route) []inspectionLine {
	var out []inspectionLine
	for _, s := range r.Steps {
		var typed []int
		for i, c := range t.Checks {
			if c.Stage == s.Stage {
				typed = append(typed, i)
			}
		}
		for i, c := range s.Checks {
			x := inspectionLine{lineAt(r, s, "check", c.ID, "text", c.Text, "kind", string(c.Kind), "unit", c.Unit,
				"instrument", c.Instrument, "source", c.Source), -1}
			if i < len(typed) {
				x.from = typed[i]
				x.fields["nominal"] = t.Checks[x.from].Nominal
				x.fields["lower"], x.fields["upper"] = t.Checks[x.from].limits()
			}
			out = append(out, x)
		}
	}
	return out
}

func (t TypedItem) sampleLines(r core.Route) []inspectionLine {
	var out []inspectionLine
	for _, s := range r.Steps {
		for i, x := range t.Samples {
			if x.Stage == s.Stage {
				out = append(out, inspectionLine{lineAt(r, s, "up_to", x.UpTo, "size", x.Size, "accept", x.Accept), i})
			}
		}
	}
	return out
}

func lineAt(r core.Route, s core.Step, pairs ...string) map[string]string {
	out := map[string]string{"route": r.Name, "version": strconv.Itoa(r.Version), "step": strconv.Itoa(s.No)}
	for i := 0; i+1 < len(pairs); i += 2 {
		out[pairs[i]] = pairs[i+1]
	}
	return out
}

// inspectionRows adds the lines of a route's checks and samples.
func (t TypedItem) inspectionRows(r core.Route, rows intake.Typed) {
	for _, x := range t.checkLines(r) {
		rows["checks.csv"] = append(rows["checks.csv"], x.fields)
	}
	for _, x := range t.sampleLines(r) {
		rows["sampling.csv"] = append(rows["sampling.csv"], x.fields)
	}
}

// asTyped brings slips in the lines of checks and samples back to the rows they
// were typed in: a check of a stage that comes twice has a line at each.
func (t TypedItem) asTyped(slips Slips, r core.Route) Slips {
	lines := map[string][]inspectionLine{"checks.csv": t.checkLines(r), "sampling.csv": t.sampleLines(r)}
	var out Slips
	for _, s := range slips {
		if of := lines[s.File]; s.Row >= 0 && s.Row < len(of) {
			s.Row = of[s.Row].from
		}
		if !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	return out
}
