package page_test

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// chromium gives the browser, or ends the test.
func chromium(t testing.TB) string {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		if os.Getenv("CI") != "" || os.Getenv("HEELTOE_STRICT") != "" {
			t.Fatal("chromium is missing; make test installs it")
		}
		t.Skip("not run: chromium is missing; make test installs it")
	}
	return path
}

// looks is what a page is looked at for, by a script in the browser.
const looks = `(() => {
  const small = [], wide = [], faint = [];
  const lum = c => { const v = c.match(/[\d.]+/g).slice(0, 3).map(x => x / 255).map(x => x <= 0.04045 ? x / 12.92 : ((x + 0.055) / 1.055) ** 2.4);
    return 0.2126 * v[0] + 0.7152 * v[1] + 0.0722 * v[2]; };
  const ground = lum(getComputedStyle(document.body).backgroundColor);
  for (const e of document.querySelectorAll('h1,h2,p,dt,dd,li,summary,figcaption,svg text')) {
    const r = e.getBoundingClientRect();
    if (r.width === 0) continue;
    let px = parseFloat(getComputedStyle(e).fontSize);
    const svg = e.closest('svg');
    if (svg) px *= svg.getBoundingClientRect().width / svg.viewBox.baseVal.width;
    if (px < 11) small.push(e.textContent.slice(0, 30) + ' ' + px.toFixed(1));
    const c = getComputedStyle(e)[e.matches('text') ? 'fill' : 'color'];
    const a = lum(c), ratio = (Math.max(a, ground) + 0.05) / (Math.min(a, ground) + 0.05);
    if (ratio < 7) faint.push(e.textContent.slice(0, 30) + ' ' + ratio.toFixed(2));
    if (!e.closest('.scroll') && (r.right > innerWidth + 0.5 || r.left < -0.5) && !e.matches('.skip')) wide.push(e.textContent.slice(0, 30));
  }
  const cut = [...document.querySelectorAll('svg[role=img]')].flatMap(s => [...s.querySelectorAll('text')].filter(e => {
    const b = e.getBBox(), v = s.viewBox.baseVal;
    return b.x < -0.5 || b.x + b.width > v.width + 0.5 || b.y < -0.5 || b.y + b.height > v.height + 1;
  }).map(e => e.textContent + ' of ' + s.querySelector('title').textContent));
  const over = [...document.querySelectorAll('svg[role=img]')].flatMap(s => {
    const t = [...s.querySelectorAll('text')].map(e => [e.textContent, e.getBBox()]);
    return t.flatMap(([a, p], i) => t.slice(i + 1).filter(([b, q]) => p.x + 0.5 < q.x + q.width && q.x + 0.5 < p.x + p.width && p.y + 4 < q.y + q.height && q.y + 4 < p.y + p.height)
      .map(([b]) => a + ' / ' + b + ' of ' + s.querySelector('title').textContent));
  });
  return { small, wide, faint, cut, over, scrolls: document.documentElement.scrollWidth > innerWidth,
    ground: getComputedStyle(document.body).backgroundColor };
})()`

type looked struct {
	Small, Wide, Faint, Cut, Over []string
	Scrolls                       bool
	Ground                        string
}

// Opened in headless Chromium at 360 and 1600 pixels, light and dark: nothing on
// the console, no request but for the file itself, nothing reaches out of the page,
// no text below 11 pixels, none cut or on top of another, all of 7:1 contrast (WCAG
// 2.2, 1.4.6), and what can be opened or scrolled can be reached and opened by keys.
func TestLongPagesInChromium(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	browser := chromium(t)
	alloc, cancel := chromedp.NewExecAllocator(t.Context(), chromedp.ExecPath(browser), chromedp.Headless, chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.NoFirstRun, chromedp.WSURLReadTimeout(time.Minute))
	defer cancel()
	first, cancelFirst := chromedp.NewContext(alloc)
	defer cancelFirst()
	if err := chromedp.Do(first); err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	for name, text := range pages(t) {
		file := filepath.Join(dir, strings.ReplaceAll(name, " ", "-")+".html")
		if err := os.WriteFile(file, text, 0o644); err != nil {
			t.Fatal(err)
		}
		address := (&url.URL{Scheme: "file", Path: file}).String()
		ctx, cancel := chromedp.NewContext(first)
		var mu sync.Mutex
		var said, asked []string
		err := chromedp.Listen(ctx, func(e any) {
			mu.Lock()
			defer mu.Unlock()
			switch e := e.(type) {
			case *runtime.EventConsoleAPICalled:
				said = append(said, string(e.Type))
			case *runtime.EventExceptionThrown:
				said = append(said, e.ExceptionDetails.Text)
			case *log.EventEntryAdded:
				said = append(said, e.Entry.Text)
			case *network.EventRequestWillBeSent:
				if e.Request.URL != address && !strings.HasPrefix(e.Request.URL, "data:") {
					asked = append(asked, e.Request.URL)
				}
			}
		})
		if err != nil {
			t.Fatal(err)
		}
		_, err1 := chromedp.Call(ctx, network.Enable, network.EnableParams{})
		_, err2 := chromedp.Call(ctx, log.Enable, cdp.Empty{})
		_, err3 := chromedp.Call(ctx, runtime.Enable, cdp.Empty{})
		if err := errors.Join(err1, err2, err3); err != nil {
			t.Fatal(err)
		}
		grounds := map[string]bool{}
		for _, width := range []int64{360, 1600} {
			for _, scheme := range []string{"light", "dark"} {
				_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
					Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
				if err == nil {
					err = chromedp.Do(ctx, chromedp.EmulateViewport(width, 900), chromedp.Navigate(address))
				}
				if err != nil {
					t.Fatal(err)
				}
				l, err1 := chromedp.Run(ctx, chromedp.Evaluate[looked](looks))
				picture, err2 := chromedp.Run(ctx, chromedp.FullScreenshot(100))
				if err := errors.Join(err1, err2); err != nil {
					t.Fatal(err)
				}
				at := fmt.Sprintf("%s, %d pixels, %s", name, width, scheme)
				for what, list := range map[string][]string{"too small": l.Small, "outside": l.Wide, "faint": l.Faint, "cut": l.Cut, "on top of another": l.Over} {
					if len(list) > 0 {
						t.Errorf("%s: %s: %q", at, what, list[:min(len(list), 6)])
					}
				}
				if l.Scrolls {
					t.Errorf("%s: the page scrolls sideways", at)
				}
				grounds[scheme+l.Ground] = true
				if keep := os.Getenv("HEELTOE_TEST_PICTURES"); keep != "" {
					if err := os.WriteFile(filepath.Join(keep, fmt.Sprintf("page-%s-%d-%s.png", filepath.Base(file), width, scheme)), picture, 0o644); err != nil {
						t.Fatal(err)
					}
				}
			}
		}
		if len(grounds) != 2 {
			t.Errorf("%s: light and dark have the grounds %v", name, grounds)
		}
		keys(ctx, t, name)
		mu.Lock()
		if len(said) > 0 || len(asked) > 0 {
			t.Errorf("%s: the console has %q, asked for were %q", name, said, asked)
		}
		mu.Unlock()
		cancel()
	}
}

// keys goes through a page with the Tab key: every link, scrolled part and summary
// is reached in turn, and Enter opens what is closed.
func keys(ctx context.Context, t *testing.T, name string) {
	t.Helper()
	want, err := chromedp.Run(ctx, chromedp.Evaluate[int](`document.querySelectorAll('a[href], summary, header .scroll, .wide .scroll').length`))
	if err != nil {
		t.Fatal(err)
	}
	reached := map[string]bool{}
	for range 3*want + 10 {
		if err := chromedp.Do(ctx, chromedp.KeyEvent(kb.Tab)); err != nil {
			t.Fatal(err)
		}
		at, err := chromedp.Run(ctx, chromedp.Evaluate[string](`(() => { const e = document.activeElement; return e === document.body ? '' :
			e.tagName + [...document.querySelectorAll(e.tagName)].indexOf(e); })()`))
		if err != nil {
			t.Fatal(err)
		}
		if at == "" {
			break
		}
		reached[at] = true
	}
	if len(reached) < want {
		t.Errorf("%s: by keys %d of %d parts are reached: %v", name, len(reached), want, reached)
	}
	if err := chromedp.Do(ctx, chromedp.Focus(chromedp.CSS("summary")), chromedp.KeyEvent(kb.Enter)); err != nil {
		t.Fatal(err)
	}
	open, err := chromedp.Run(ctx, chromedp.Evaluate[bool](`document.querySelector('details').open`))
	if err != nil || !open {
		t.Errorf("%s: Enter does not open a table: %v", name, err)
	}
}
