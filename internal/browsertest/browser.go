// Package browsertest lets a test use the screens in a real Chromium, as a person does.
//
//	ctx := browsertest.New(t, browsertest.Tablet)
//	browsertest.Do(t, ctx, chromedp.Navigate(url), chromedp.WaitVisible("h1"))
//	title := browsertest.Run(t, ctx, chromedp.Title())
//	browsertest.Axe(t, ctx)
//	browsertest.Screenshot(t, ctx, "take-in")
//
// The tests of a package that has
//
//	func TestMain(m *testing.M) { os.Exit(browsertest.Sharing(m).Run()) }
//
// share one Chromium, each with pages, cookies and storage of its own; elsewhere each test starts one.
//
// Whatever goes wrong inside a page fails the test when it ends: a script error, a message on the console, a breach
// of the content security policy, a style sheet, script or picture that doesn't load, an answer of 500 or more.
package browsertest

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/audits"
	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// Size is the size of a window in CSS pixels.
type Size struct{ Width, Height int64 }

// The screens the pages are made for.
var (
	Tablet = Size{1280, 800}
	Desk   = Size{1440, 900}
	Wall   = Size{1920, 1080}
	Phone  = Size{390, 844}
)

// Patience is how long a test waits for what must come. It finds what never comes and says nothing about speed, so it is
// long: many tests may share two cores.
const Patience = 2 * time.Minute

// disabledFeatures are those chromedp's own list names, then what Chromium would draw and nobody sees: the lists below
// its address bar are pages, for which each window of ours would start a process and load them.
const disabledFeatures = "Translate,BlinkGenPropertyTrees,WebUIOmniboxPopup,WebUIOmniboxAimPopup,WebUIOmniboxFullPopup"

// Browser is a Chromium that began with a new, empty profile.
type Browser struct {
	ctx  context.Context
	stop func() error
}

// New opens one page in the package's Chromium, or in one of its own; the page is the returned context.
func New(t testing.TB, size Size) context.Context {
	t.Helper()
	return Shared(t).Open(t, size)
}

// Start starts a Chromium without a page, with flags beside the usual ones. It is closed when the test ends.
// Where none is installed the test fails.
func Start(t testing.TB, flags ...chromedp.ExecAllocatorOption) *Browser {
	t.Helper()
	b, err := start(flags...)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.Close(t) })
	return b
}

// StartIn is Start with a profile in a folder of the caller's: what pages keep is there still when the Chromium is closed
// and another started in it, like a tablet that was switched off.
func StartIn(t testing.TB, home string) *Browser {
	t.Helper()
	b, err := startIn(home)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.Close(t) })
	return b
}

// Close closes the Chromium with all its pages; again it does nothing.
func (b *Browser) Close(t testing.TB) {
	t.Helper()
	if err := b.stop(); err != nil {
		t.Logf("browsertest: close Chromium: %v", err)
	}
}

func start(flags ...chromedp.ExecAllocatorOption) (*Browser, error) {
	home, err := os.MkdirTemp("", "browsertest-")
	if err != nil {
		return nil, err
	}
	b, err := startIn(home, flags...)
	if err != nil {
		return nil, errors.Join(err, os.RemoveAll(home))
	}
	stop := b.stop
	b.stop = sync.OnceValue(func() error {
		err := stop()
		// The last of Chromium's processes may still be writing; what stays is in the temporary folder.
		_ = os.RemoveAll(home)
		return err
	})
	return b, nil
}

func startIn(home string, flags ...chromedp.ExecAllocatorOption) (*Browser, error) {
	path, err := find()
	if err != nil {
		return nil, err
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(path),
		chromedp.NoSandbox, // it can't have one as root, nor in most containers; it sees only our own pages
		chromedp.DisableGPU,
		chromedp.Flag("disable-quic", true),
		chromedp.Flag("disable-component-update", true),
		chromedp.Flag("disable-features", disabledFeatures),
		chromedp.Flag("hide-scrollbars", true),
		chromedp.Flag("lang", "en-GB"),
		chromedp.UserDataDir(filepath.Join(home, "profile")),
		// An account such as nobody has no home to write to.
		chromedp.Env("HOME="+home, "XDG_CONFIG_HOME="+home, "XDG_CACHE_HOME="+home, "LANGUAGE=en_GB"),
	)
	options = append(options, flags...)
	allocator, cancelAllocator := chromedp.NewExecAllocator(context.Background(), options...)
	ctx, cancel := chromedp.NewContext(allocator, chromedp.WithErrorf(func(string, ...any) {
		// Events newer than the protocol package are reported here; they say nothing about the page.
	}))
	stop := sync.OnceValue(func() error {
		err := chromedp.Cancel(ctx)
		cancel()
		cancelAllocator()
		if errors.Is(err, context.Canceled) {
			return nil
		}
		return err
	})
	if err := chromedp.Do(ctx); err != nil {
		return nil, errors.Join(fmt.Errorf("browsertest: start %s: %w", path, err), stop())
	}
	return &Browser{ctx, stop}, nil
}

// Open opens a page with cookies and storage of its own, like one more tablet. What goes wrong in it fails the test
// at its end, except what Expect named.
func (b *Browser) Open(t testing.TB, size Size) context.Context {
	t.Helper()
	return b.open(t, size, chromedp.WithNewBrowserContext())
}

// OpenOwn opens a page with the cookies and the storage of the Chromium's own profile.
func (b *Browser) OpenOwn(t testing.TB, size Size) context.Context {
	t.Helper()
	return b.open(t, size)
}

func (b *Browser) open(t testing.TB, size Size, options ...chromedp.ContextOption) context.Context {
	t.Helper()
	ctx, cancel := chromedp.NewContext(b.ctx, options...)
	t.Cleanup(cancel)
	trouble := new(troubles)
	ctx = context.WithValue(ctx, troublesKey{}, trouble)
	err := chromedp.Listen(ctx, trouble.listen)
	if err == nil {
		err = chromedp.Do(ctx, chromedp.Func(watch), chromedp.EmulateViewport(size.Width, size.Height))
	}
	if err != nil {
		t.Fatalf("browsertest: open a page: %v", err)
	}
	t.Cleanup(func() {
		for _, problem := range trouble.unexpected() {
			t.Errorf("browsertest: in the page: %s", problem)
		}
	})
	return ctx
}

// watch has the browser report what troubles listens to.
func watch(ctx context.Context, page *chromedp.Target) error {
	_, err := cdp.Call(ctx, page, runtime.Enable, cdp.Empty{})
	if err == nil {
		_, err = cdp.Call(ctx, page, log.Enable, cdp.Empty{})
	}
	if err == nil {
		_, err = cdp.Call(ctx, page, network.Enable, network.EnableParams{})
	}
	if err == nil {
		_, err = cdp.Call(ctx, page, audits.Enable, cdp.Empty{})
	}
	return err
}

// Do does the steps on the page in order, and fails the test with a picture and the page's text if one can't be done.
func Do(t testing.TB, ctx context.Context, steps ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	for _, step := range steps {
		Run(t, ctx, step)
	}
}

// Run is Do for one action that gives something back.
func Run[T any](t testing.TB, ctx context.Context, action chromedp.Action[T]) T {
	t.Helper()
	limited, cancel := context.WithTimeout(ctx, Patience)
	defer cancel()
	value, err := chromedp.Run(limited, action)
	for err != nil && leftBehind(err) && limited.Err() == nil {
		value, err = chromedp.Run(limited, action)
	}
	if err != nil {
		t.Fatalf("browsertest: %v\n%s", err, whatIsSeen(ctx))
	}
	return value
}

// leftBehind reports whether an element was found on a page that another then took the place of: nothing was done with it
// yet, and it is looked for on the page that came.
func leftBehind(err error) bool {
	return strings.Contains(err.Error(), "No node with given id found") || strings.Contains(err.Error(), "Could not find node with given id")
}

// Text returns the text seen in the first element that fits the CSS selector.
func Text(t testing.TB, ctx context.Context, selector string) string {
	t.Helper()
	return Run(t, ctx, chromedp.Text(chromedp.CSS(selector), chromedp.NodeVisible))
}

// whatIsSeen describes the page for the log of a failed test.
func whatIsSeen(ctx context.Context) string {
	ctx, cancel := context.WithTimeout(ctx, 5*time.Second)
	defer cancel()
	address, err := chromedp.Run(ctx, chromedp.Location())
	if err != nil {
		return fmt.Sprintf("(the page can't be looked at: %v)", err)
	}
	text, err := chromedp.Run(ctx, chromedp.Evaluate[string](`document.body ? document.body.innerText.slice(0, 3000) : ""`))
	if err != nil {
		text = err.Error()
	}
	picture, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
	if err != nil {
		return fmt.Sprintf("page %s, no picture (%v), text:\n%s", address, err, text)
	}
	file := "(no picture)"
	if f, err := os.CreateTemp(os.Getenv(screenshotsVariable), "failed-*.png"); err == nil {
		if _, err := f.Write(picture); err == nil {
			file = f.Name()
		}
		f.Close()
	}
	return fmt.Sprintf("page %s, picture %s, text:\n%s", address, file, text)
}

// find returns the path of Chromium, or of a browser built from it.
func find() (string, error) {
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome-stable", "google-chrome",
		"/Applications/Chromium.app/Contents/MacOS/Chromium", "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path, nil
		}
	}
	return "", errors.New("browsertest: Chromium isn't installed; deploy/tools/ensure.sh installs it or names the command to type")
}
