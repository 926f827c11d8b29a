package main

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"heeltoe/footing/pad"
	"heeltoe/input"
	"heeltoe/trainer/padcheck"
	"heeltoe/trainer/profile"
	"heeltoe/trainer/view"
)

// subject does what a check asks for, on two pads of five bits in a byte each, of
// which the second is 6 ms late and panel 1sw chatters.
type subject struct {
	clock *handClock

	mu      sync.Mutex
	presses []padPress
}

type padPress struct {
	panel    pad.Panel
	from, to pad.Time
}

var asked = regexp.MustCompile(`(?:Press|Tap|Step from|Strike|foot: press) (\S+)(?: (?:and|to) (\S+))?.*?(\d+) (?:times|steps)`)

// Write takes what the guide says and plans the presses.
func (s *subject) Write(b []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	m := asked.FindStringSubmatch(string(b))
	if m == nil {
		return len(b), nil
	}
	n, _ := strconv.Atoi(m[3]) // it is digits
	first, _ := pad.Double.Lookup(m[1])
	second, two := pad.Double.Lookup(m[2])
	at := s.clock.Now() + 200*pad.Millisecond
	add := func(p pad.Panel, from, to pad.Time) { s.presses = append(s.presses, padPress{p, from, to}) }
	for k := range n {
		switch {
		case strings.HasPrefix(m[0], "Tap"):
			add(first, at, at+40*pad.Millisecond)
			at += 100 * pad.Millisecond
		case strings.HasPrefix(m[0], "Step"):
			p := []pad.Panel{first, second}[k%2]
			add(p, at, at+220*pad.Millisecond) // 20 ms into the next
			at += 200 * pad.Millisecond
		case two:
			add(first, at, at+100*pad.Millisecond)
			add(second, at+2*pad.Millisecond, at+100*pad.Millisecond)
			at += 300 * pad.Millisecond
		default:
			add(first, at, at+100*pad.Millisecond)
			if first == 1 {
				add(first, at+108*pad.Millisecond, at+130*pad.Millisecond) // chatter: up for 8 ms
			}
			at += 300 * pad.Millisecond
		}
	}
	return len(b), nil
}

// read gives a report of each device, when it changes, at every 2 ms.
func (s *subject) read(ctx context.Context, _ input.Clock, each func(pad.Time, int, []byte) error) error {
	s.clock.drive(true)
	defer s.clock.drive(false)
	var was [2]byte
	for ctx.Err() == nil {
		if !s.clock.awaited() { // the guide is busy: time waits for it
			time.Sleep(10 * time.Microsecond)
			continue
		}
		t := s.clock.add(2 * pad.Millisecond)
		var now [2]byte
		s.mu.Lock()
		for _, p := range s.presses {
			device := int(p.panel / 5)
			if at := t - pad.Time(device)*6*pad.Millisecond; at >= p.from && at < p.to {
				now[device] |= 1 << (p.panel % 5)
			}
		}
		s.mu.Unlock()
		for d, b := range now {
			if b == was[d] {
				continue
			}
			was[d] = b
			if err := each(t, d, []byte{b}); err != nil {
				return err
			}
		}
		time.Sleep(10 * time.Microsecond)
	}
	return nil
}

func guided(t *testing.T) (*guide, *subject) {
	m := &input.Map{Layout: pad.Double, Devices: make([]input.Device, 2)}
	for p := range 10 {
		m.Sensors = append(m.Sensors, input.Sensor{Panel: pad.Panel(p), Device: uint8(p / 5), Mask: 1 << (p % 5)})
	}
	if err := m.Check(); err != nil {
		t.Fatal(err)
	}
	s := &subject{clock: &handClock{}}
	return &guide{out: s, m: m, clock: s.clock, wait: checkWait, read: s.read}, s
}

// A check led from beginning to end finds what is wrong with the pad, and only that.
func TestLongPadsCheck(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	g, _ := guided(t)
	tr := &padcheck.Trace{Layout: pad.Double, Intervals: make([]pad.Time, 2)}
	if err := g.run(t.Context(), func(ctx context.Context) error { return g.check(ctx, tr) }); err != nil {
		t.Fatal(err)
	}
	tr.Reports, tr.Edges, tr.Levels = g.reports, g.edges, g.levels
	f := padcheck.Check(tr)
	for i, p := range f.Panels {
		if p.Presses != checkPresses || p.Dead || p.Stuck || len(p.Fires) > 0 || (p.Chatter > 0) != (i == 1) {
			t.Errorf("found %+v", p)
		}
	}
	if f.Panels[1].Bounce != 8*pad.Millisecond || f.Debounce != 12*pad.Millisecond || f.Taps != checkTaps ||
		f.Overlap == nil || (*f.Overlap-20*pad.Millisecond).Abs() > 2*pad.Millisecond {
		t.Errorf("found %+v", f)
	}
	if s := f.Seam; s == nil || s.Strikes != checkTaps || (s.Delay-8*pad.Millisecond).Abs() > 2*pad.Millisecond {
		t.Errorf("of the seam: %+v", s)
	}
	var text strings.Builder
	printFindings(&text, f)
	for _, want := range []string{"a debounce of 12 ms", "2nw comes 8.0 ms after 1ne", "taps       10 of 10 seen", "What that means for the figures of a run:", "With the debounce of 12 ms"} {
		if !strings.Contains(text.String(), want) {
			t.Errorf("%q is not in\n%s", want, &text)
		}
	}
	// The command tells all of that, as text, as JSON and as a page.
	var said, words strings.Builder
	c := padsCheckCmd{Page: filepath.Join(t.TempDir(), "check.html")}
	p := &profile.Pad{Name: "x", Map: *g.m}
	if err := c.tell(&app{stdout: &said}, &words, p, tr); err != nil {
		t.Fatal(err)
	}
	html, err := os.ReadFile(c.Page)
	if err != nil || !strings.Contains(string(html), "<title>Check of the pad x</title>") || !strings.Contains(string(html), "a debounce of 12 ms") ||
		!strings.Contains(said.String(), "a debounce of 12 ms") || !strings.Contains(words.String(), "The page is "+c.Page) {
		t.Errorf("%v, %.200s\n%s%s", err, html, &said, &words)
	}
	said.Reset()
	if err := (&padsCheckCmd{JSON: true}).tell(&app{stdout: &said}, &words, p, tr); err != nil {
		t.Fatal(err)
	}
	var j struct {
		Pad      string
		Debounce int `json:"debounce_us"`
		Means    []string
	}
	if err := json.Unmarshal([]byte(said.String()), &j); err != nil || j.Pad != "x" || j.Debounce != 12_000 || len(j.Means) == 0 {
		t.Errorf("%v, %+v", err, j)
	}
	p = &profile.Pad{Name: "x", Map: *g.m}
	keepFindings(p, f)
	if p.Debounce != f.Debounce || p.Map.Devices[1].Delay != f.Seam.Delay || p.Map.Devices[0].Delay != 0 || p.Interval != f.Finest {
		t.Errorf("kept %+v", p)
	}
}

// A pair that is struck is counted, with which panel led.
func TestReachPhase(t *testing.T) {
	g, _ := guided(t)
	pair := [2]pad.Panel{0, 2}
	var r padcheck.Reach
	if err := g.run(t.Context(), func(ctx context.Context) error {
		if _, _, err := g.phase(ctx, "Stand off the pad.", 0, 0, input.RestTime); err != nil {
			return err
		}
		from, to, err := g.phase(ctx, fmt.Sprintf("Left foot: press 1nw and 1c together %d times.", reachPresses), pad.SetOf(pair[:]...), 2*reachPresses, 0)
		r = padcheck.OfReach(g.edges, pair, reachPresses, from, to)
		return err
	}); err != nil {
		t.Fatal(err)
	}
	if r.Both != reachPresses || r.First != reachPresses || r.Spread != 2*pad.Millisecond {
		t.Errorf("found %+v", r)
	}
}

// What a check is stopped in keeps nothing; a pad that is gone says so.
func TestCheckIsStopped(t *testing.T) {
	g, _ := guided(t)
	ctx, cancel := context.WithCancel(t.Context())
	time.AfterFunc(20*time.Millisecond, cancel)
	err := g.run(ctx, func(ctx context.Context) error { return g.check(ctx, &padcheck.Trace{Layout: pad.Double}) })
	if err == nil || !strings.Contains(err.Error(), "nothing is kept") {
		t.Errorf("got %v", err)
	}
}

// What a check proposes is shown, and kept only if that is wanted; a second time there is nothing new.
func TestPadsCheckKeeps(t *testing.T) {
	home(t)
	g, _ := guided(t)
	for i := range g.m.Devices {
		g.m.Devices[i].Product = uint16(i)
	}
	p := &profile.Pad{Name: "home", Map: *g.m}
	p.Map.Devices[0].Delay = 5 * pad.Millisecond
	if _, err := profile.SavePad(p); err != nil {
		t.Fatal(err)
	}
	f := &view.PadCheck{Layout: pad.Double, Debounce: 12 * pad.Millisecond, Finest: 8 * pad.Millisecond, Panels: make([]view.PadPanel, 10),
		Seam: &view.SeamDelay{Panels: [2]string{"1ne", "2nw"}, Strikes: checkTaps, Delay: 2 * pad.Millisecond}}
	var out strings.Builder
	a := &app{stdin: strings.NewReader("y\n"), stdout: &out} // no terminal: nobody is asked
	try := func(c padsCheckCmd) (string, *profile.Pad) {
		t.Helper()
		out.Reset()
		q, err := profile.LoadPad("home")
		if err != nil {
			t.Fatal(err)
		}
		if err := c.keep(a, &out, q, f); err != nil {
			t.Fatal(err)
		}
		if q, err = profile.LoadPad("home"); err != nil {
			t.Fatal(err)
		}
		return out.String(), q
	}
	text, q := try(padsCheckCmd{})
	for _, want := range []string{"debounce 12 ms instead of 0", "a report every 8.00 ms", "device 0 comes 3.0 ms late", "Nothing is kept; heeltoe pads check home --store keeps it."} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is missing in\n%s", want, text)
		}
	}
	if q.Debounce != 0 || q.Interval != 0 {
		t.Errorf("kept without being asked: %+v", q)
	}
	// 2 ms later than before, of which 5 ms had been taken off the other: 3 ms are left to take off.
	if text, q = try(padsCheckCmd{Store: true}); q.Debounce != 12*pad.Millisecond || q.Interval != 8*pad.Millisecond ||
		q.Map.Devices[0].Delay != 3*pad.Millisecond || q.Map.Devices[1].Delay != 0 || !strings.Contains(text, "kept in ") {
		t.Errorf("kept %+v\n%s", q, text)
	}
	f.Seam = nil // it is measured with the delay taken off: nothing is left of it
	if text, _ = try(padsCheckCmd{Store: true}); !strings.Contains(text, "has all of that already") {
		t.Errorf("%s", text)
	}
	if text := must(t, "pads", "show", "home"); !strings.Contains(text, "a report every 8 ms, as checked") || !strings.Contains(text, "debounce 12 ms") {
		t.Errorf("%s", text)
	}
}

// What cannot be done is refused before anybody is asked to press.
func TestPadsCheckRefuses(t *testing.T) {
	home(t)
	file := filepath.Join(t.TempDir(), "page.html")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		code int
		says string
		args []string
	}{
		{exitInput, "is there already; --force replaces it", []string{"check", "--page", file}},
		{exitLacking, "no pad has been taught", []string{"check"}},
		{exitInput, "there is no pad \"nowhere\"", []string{"check", "nowhere", "--json"}},
		{exitInput, "--shoe: 50 mm", []string{"reach", "--shoe", "50"}},
		{exitLacking, "no pad has been taught", []string{"reach"}},
	} {
		if code, out, errs := heeltoe("", append([]string{"pads"}, c.args...)...); code != c.code || out != "" || !strings.Contains(errs, c.says) {
			t.Errorf("%v: exit %d, %q, %q", c.args, code, out, errs)
		}
	}
}
