package browsertest

import (
	"context"
	_ "embed"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

//go:embed axe/axe.min.js
var axeScript string

// axeRun asks for every rule of WCAG 2.0, 2.1 and 2.2 at levels A and AA. axe-core leaves the one on target size
// (success criterion 2.5.8, Target Size (Minimum), new in WCAG 2.2) out unless it is named.
const axeRun = `axe.run(document, {
	runOnly: {type: "tag", values: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22a", "wcag22aa"]},
	rules: {"target-size": {enabled: true}},
	resultTypes: ["violations"],
}).then(r => ({
	version: r.testEngine.version,
	passed: r.passes.length,
	violations: r.violations.map(v => ({
		rule: v.id, impact: v.impact, help: v.help, url: v.helpUrl,
		nodes: v.nodes.map(n => ({target: n.target.join(" "), html: n.html.slice(0, 300), summary: n.failureSummary})),
	})),
}))`

type axeResult struct {
	Version    string         `json:"version"`
	Passed     int            `json:"passed"` // rules that were applied and found nothing
	Violations []axeViolation `json:"violations"`
}

type axeViolation struct {
	Rule   string `json:"rule"`
	Impact string `json:"impact"`
	Help   string `json:"help"`
	URL    string `json:"url"`
	Nodes  []struct {
		Target  string `json:"target"`
		HTML    string `json:"html"`
		Summary string `json:"summary"`
	} `json:"nodes"`
}

func (v axeViolation) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s (%s): %s, see %s", v.Rule, v.Impact, v.Help, v.URL)
	for _, n := range v.Nodes {
		fmt.Fprintf(&b, "\n    %s\n      %s\n      %s", n.Target, n.HTML, strings.ReplaceAll(n.Summary, "\n", "\n      "))
	}
	return b.String()
}

// Axe checks the page as it stands with axe-core against WCAG 2.2 levels A and AA, and fails the test with each violation.
func Axe(t testing.TB, ctx context.Context) {
	t.Helper()
	result, err := runAxe(ctx)
	if err != nil {
		t.Fatalf("browsertest: axe-core can't run: %v\n%s", err, whatIsSeen(ctx))
	}
	if result.Passed == 0 && len(result.Violations) == 0 {
		t.Errorf("browsertest: axe-core found nothing to check on the page\n%s", whatIsSeen(ctx))
	}
	for _, v := range result.Violations {
		t.Errorf("browsertest: accessibility: %s", v)
	}
}

func runAxe(ctx context.Context) (axeResult, error) {
	ctx, cancel := context.WithTimeout(ctx, 2*time.Minute)
	defer cancel()
	// A script given to the debugger isn't bound by the page's content security policy, which stays in force.
	there, err := chromedp.Run(ctx, chromedp.Evaluate[bool](`typeof axe === "object"`))
	if err == nil && !there {
		_, err = chromedp.Run(ctx, chromedp.Evaluate[chromedp.Void](axeScript+"\n;undefined"))
	}
	if err != nil {
		return axeResult{}, err
	}
	return chromedp.Run(ctx, chromedp.Evaluate[axeResult](axeRun, chromedp.EvalAwaitPromise))
}
