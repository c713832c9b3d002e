package browsertest

import (
	"fmt"
	"os"
	"sync"
	"testing"
)

var shared struct {
	sync.Mutex
	allowed bool
	browser *Browser
}

// Runner runs tests, as *testing.M does.
type Runner interface{ Run() int }

// Sharing runs a package's tests with one Chromium for all of them, which is started when a test first needs it and
// closed after the last.
func Sharing(m Runner) Runner { return sharing{m} }

type sharing struct{ Runner }

func (s sharing) Run() int {
	shared.allowed = true
	code := s.Runner.Run()
	if shared.browser != nil {
		if err := shared.browser.stop(); err != nil {
			fmt.Fprintln(os.Stderr, "browsertest: close Chromium:", err)
		}
	}
	return code
}

// Shared is the Chromium of the package's tests, or where they don't share one a new one that is closed when the test
// ends. A Chromium that broke down under one test is not given to the next.
func Shared(t testing.TB) *Browser {
	t.Helper()
	if !shared.allowed {
		return Start(t)
	}
	shared.Lock()
	defer shared.Unlock()
	if b := shared.browser; b != nil && b.ctx.Err() != nil {
		_ = b.stop() // it is gone already; this removes its folder
		shared.browser = nil
	}
	if shared.browser == nil {
		b, err := start()
		if err != nil {
			t.Fatal(err)
		}
		shared.browser = b
	}
	return shared.browser
}
