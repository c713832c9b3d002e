package browsertest

import (
	"context"
	"fmt"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/cdproto/audits"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
)

type troublesKey struct{}

// troubles collects what goes wrong inside a page.
type troubles struct {
	mu       sync.Mutex
	found    []string
	expected []string
	requests map[network.RequestID]string // addresses, for requests that fail
}

// Expect says that something is meant to go wrong in the page: problems that hold this text don't fail the test.
func Expect(t testing.TB, ctx context.Context, text string) {
	t.Helper()
	trouble := troublesOf(t, ctx)
	trouble.mu.Lock()
	defer trouble.mu.Unlock()
	trouble.expected = append(trouble.expected, text)
}

// Problems returns what has gone wrong in the page so far, expected or not.
func Problems(t testing.TB, ctx context.Context) []string {
	t.Helper()
	trouble := troublesOf(t, ctx)
	trouble.mu.Lock()
	defer trouble.mu.Unlock()
	return append([]string(nil), trouble.found...)
}

func troublesOf(t testing.TB, ctx context.Context) *troubles {
	t.Helper()
	trouble, ok := ctx.Value(troublesKey{}).(*troubles)
	if !ok {
		t.Fatal("browsertest: the context isn't one of browsertest.New or Open")
	}
	return trouble
}

func (tr *troubles) add(format string, args ...any) {
	tr.found = append(tr.found, fmt.Sprintf(format, args...))
}

func (tr *troubles) unexpected() []string {
	tr.mu.Lock()
	defer tr.mu.Unlock()
	var problems []string
next:
	for _, problem := range tr.found {
		for _, text := range tr.expected {
			if strings.Contains(problem, text) {
				continue next
			}
		}
		problems = append(problems, problem)
	}
	return problems
}

func (tr *troubles) listen(event any) {
	tr.mu.Lock()
	defer tr.mu.Unlock()
	switch e := event.(type) {
	case *runtime.EventExceptionThrown:
		what := e.ExceptionDetails.Text
		if e.ExceptionDetails.Exception != nil {
			what += " " + e.ExceptionDetails.Exception.Description
		}
		tr.add("script error: %s (%s, line %d)", what, e.ExceptionDetails.URL, e.ExceptionDetails.LineNumber+1)
	case *runtime.EventConsoleAPICalled:
		if e.Type == runtime.ConsoleAPICalledTypeError || e.Type == runtime.ConsoleAPICalledTypeWarning || e.Type == runtime.ConsoleAPICalledTypeAssert {
			tr.add("console %s: %s", e.Type, arguments(e.Args))
		}
	case *log.EventEntryAdded:
		// Requests that fail are judged below by what they were for: a refusal rightly answers 4xx.
		if e.Entry.Level == log.EntryLevelError && e.Entry.Source != log.EntrySourceNetwork {
			tr.add("%s: %s (%s)", e.Entry.Source, e.Entry.Text, e.Entry.URL)
		}
	case *audits.EventIssueAdded:
		if d := e.Issue.Details.ContentSecurityPolicyIssueDetails; d != nil {
			tr.add("content security policy: %s, %s %s", d.ViolatedDirective, d.ContentSecurityPolicyViolationType, d.BlockedURL)
		}
	case *network.EventRequestWillBeSent:
		if tr.requests == nil {
			tr.requests = make(map[network.RequestID]string)
		}
		tr.requests[e.RequestID] = e.Request.URL
	case *network.EventResponseReceived:
		if e.Response.Status >= 500 || e.Response.Status >= 400 && isPartOfPage(e.Type) {
			tr.add("%s %s: answered %d", e.Type, e.Response.URL, e.Response.Status)
		}
	case *network.EventLoadingFailed:
		if !e.Canceled && isPartOfPage(e.Type) {
			tr.add("%s %s: %s", e.Type, tr.requests[e.RequestID], e.ErrorText)
		}
	}
}

// isPartOfPage tells whether a page is incomplete without what was asked for.
func isPartOfPage(kind network.ResourceType) bool {
	switch kind {
	case network.ResourceTypeStylesheet, network.ResourceTypeScript, network.ResourceTypeImage, network.ResourceTypeFont,
		network.ResourceTypeManifest, network.ResourceTypeOther: // other: the icon
		return true
	}
	return false
}

func arguments(args []*runtime.RemoteObject) string {
	var parts []string
	for _, a := range args {
		switch {
		case a.Description != "":
			parts = append(parts, a.Description)
		default:
			parts = append(parts, strings.Trim(string(a.Value), `"`))
		}
	}
	return strings.Join(parts, " ")
}
