package bench_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"heeltoe/footing/pad"
	"heeltoe/input/usb"
	"heeltoe/input/usb/bench"
)

// trial puts one pad through everything.
type trial struct {
	t      *testing.T
	row    string // of the table
	name   string // that it is taught by
	layout *pad.Layout
	units  []unit
	counts bool // its reports are counted
	// timed tells that the time of what the devices send is known, and that they
	// press when they are to.
	timed bool

	folder string // of the logs; "": the player's own
	again  string // that logs are named by in a check that is done again

	missing uint64          // reports of the last run that the pad's count says are missing
	edges   []edge          // of the log of a drill played over HID
	delays  []time.Duration // of their stamps against the device's own
}

func newTrial(t *testing.T, g *guestPad, port *int) *trial {
	tr := &trial{t: t, row: g.name, name: strings.ReplaceAll(strings.ToLower(g.name), " ", "-"), layout: pad.Single}
	if g.pad == nil {
		tr.units = []unit{&keys{codes: modifiers}}
		return tr
	}
	tr.layout, tr.counts, tr.timed = g.pad.Layout, g.pad.Counts, true
	for i := range g.pad.Models {
		d, err := bench.NewDevice(&g.pad.Models[i])
		if err != nil {
			t.Fatal(err)
		}
		tr.units = append(tr.units, &made{d, port})
	}
	return tr
}

// check does one check and tells the other side what came of it: figures, or why it failed. A busy
// host can hold up the device's thread; so where a stamp was off, and nothing else, the check is done a second time.
func (tr *trial) check(name string, do func() (figures string, err error)) bool {
	figures, err := do()
	if first := err; errors.As(err, new(stampOff)) {
		tr.again = "-2"
		if figures, err = do(); err != nil {
			err = fmt.Errorf("%w; and again: %w", first, err)
		}
		figures += ", 2nd"
		tr.again = ""
	}
	if err != nil {
		figures = "FAILED: " + strings.ReplaceAll(err.Error(), "\n", " / ")
		tr.t.Errorf("%s: %v", name, err)
	}
	fmt.Printf("\n%s%s\t%s\t%s\n", markCheck, tr.row, name, figures)
	return err == nil
}

// all does the checks that apply, in order, until one fails.
func (tr *trial) all(g *guestPad) {
	defer func() {
		for _, u := range tr.units {
			if err := u.unplug(); err != nil {
				tr.t.Error(err)
			}
		}
	}()
	for _, u := range tr.units {
		if err := tr.plug(u); err != nil {
			tr.t.Fatal(err)
		}
	}
	for _, c := range checks {
		if c.applies(g) && !tr.check(c.name, func() (string, error) { return c.do(tr) }) {
			return
		}
	}
}

// plug plugs a device in and waits until the system has a driver for it.
func (tr *trial) plug(u unit) error {
	if err := u.plug(); err != nil {
		return err
	}
	return wait(5*time.Second, u.name()+" to be there", isThere(u))
}

// wait waits until is holds.
func wait(most time.Duration, what string, is func() bool) error {
	for end := bench.Monotonic() + most; !is(); {
		now := bench.Monotonic()
		if now > end {
			return fmt.Errorf("waited %v in vain for %s", most, what)
		}
		bench.SleepUntil(now + 10*time.Millisecond)
	}
	return nil
}

// listed gives what heeltoe pads list says of a device.
func listed(u unit) (name, closed string, err error) {
	code, out, errs := heeltoe("pads", "list", "--json")
	var list struct {
		Devices []struct{ Device, Name, Closed string }
	}
	if code != 0 || json.Unmarshal([]byte(out), &list) != nil {
		return "", "", fmt.Errorf("pads list: exit %d, %s%s", code, out, errs)
	}
	for _, e := range list.Devices {
		if e.Device == u.identity().String() {
			return e.Name, e.Closed, nil
		}
	}
	return "", "", fmt.Errorf("pads list does not have it: %s", out)
}

// found: it is listed, though it may not be opened.
func (tr *trial) found() (string, error) {
	for _, u := range tr.units {
		name, _, err := listed(u)
		if err != nil {
			return "", err
		}
		if name != u.name() {
			return "", fmt.Errorf("it is listed as %q", name)
		}
	}
	return "ok", nil
}

// refused: who may not open the device is told which rule to install where.
func (tr *trial) refused() (string, error) {
	code, out, errs := heeltoe(tr.teach()...)
	rule := usb.Rule(tr.units[0].identity())
	if code != 3 || out != "" || !strings.Contains(errs, usb.RulesFile) || !strings.Contains(errs, rule) {
		return "", fmt.Errorf("exit %d, %s%s", code, out, errs)
	}
	if _, closed, err := listed(tr.units[0]); err != nil || !strings.Contains(closed, rule) {
		return "", fmt.Errorf("listed as %q, %v", closed, err)
	}
	return "ok", nil
}

// opened: with the right to it, nothing is said against it.
func (tr *trial) opened() (string, error) {
	for _, u := range tr.units {
		if err := permit(u); err != nil {
			return "", err
		}
		if _, closed, err := listed(u); err != nil || closed != "" {
			return "", fmt.Errorf("it may be opened, and is listed as %q, %v", closed, err)
		}
	}
	return "ok", nil
}

// teach gives the command that teaches the pad.
func (tr *trial) teach() []string {
	args := []string{"pads", "teach", "--name", tr.name, "--layout", tr.layout.Name}
	for _, u := range tr.units {
		args = append(args, "--device", u.identity().String())
	}
	return args
}

// prompts is how heeltoe asks for a panel.
var prompts = regexp.MustCompile(`(?:P|p)ress (\S+) (once|\d+ times)`)

// taught: heeltoe asks, the device presses, as a person does.
func (tr *trial) taught() (string, error) {
	if err := tr.lesson(); err != nil {
		return "", err
	}
	return "ok", tr.givenBack()
}

// lesson teaches the pad.
func (tr *trial) lesson(flags ...string) error {
	p, err := start(append(tr.teach(), flags...)...)
	if err != nil {
		return err
	}
	for line := range p.lines {
		if _, err := tr.obey(line); err != nil {
			return err
		}
	}
	code, out, errs := p.end()
	if code != 0 || !strings.Contains(out, "kept in") {
		return fmt.Errorf("exit %d: %s%s", code, out, errs)
	}
	return nil
}

// obey presses what a line of a teaching asks for, if it asks for anything.
func (tr *trial) obey(line string) (asked bool, err error) {
	m := prompts.FindStringSubmatch(line)
	if m == nil {
		return false, nil
	}
	panel, ok := tr.layout.Lookup(m[1])
	n := 1
	if _, err := fmt.Sscanf(m[2], "%d times", &n); !ok || err != nil {
		return false, fmt.Errorf("it asks %q", line)
	}
	var strokes []stroke
	for k := range n {
		strokes = append(strokes, stroke{time.Duration(200+300*k) * time.Millisecond, panel, 120 * time.Millisecond})
	}
	return true, tr.play(bench.Monotonic(), strokes)
}

// givenBack tells whether the kernel's driver has the devices again.
func (tr *trial) givenBack() error {
	for _, u := range tr.units {
		if err := wait(time.Second, "the driver to be given back", isThere(u)); err != nil {
			return err
		}
	}
	return nil
}

// stroke is one press: when it begins and how long it lasts.
type stroke struct {
	at    time.Duration
	panel pad.Panel
	hold  time.Duration
}

// play has the devices press from a moment on, each its own panels.
func (tr *trial) play(from time.Duration, strokes []stroke) error {
	for _, u := range tr.units {
		own := slices.DeleteFunc(slices.Clone(strokes), func(s stroke) bool { return !u.panels().Has(s.panel) })
		if err := u.play(script(from, own)); err != nil {
			return err
		}
	}
	return nil
}

// script gives what is down when for strokes that begin at a moment.
func script(from time.Duration, strokes []stroke) []bench.Change {
	type turn struct {
		at    time.Duration
		panel pad.Panel
		down  bool
	}
	var turns []turn
	for _, s := range strokes {
		turns = append(turns, turn{from + s.at, s.panel, true}, turn{from + s.at + s.hold, s.panel, false})
	}
	slices.SortStableFunc(turns, func(a, b turn) int { return int(a.at - b.at) })
	var out []bench.Change
	down := pad.PanelSet(0)
	for _, t := range turns {
		if down = down.Without(t.panel); t.down {
			down = down.With(t.panel)
		}
		out = append(out, bench.Change{At: t.at, Down: down})
	}
	return out
}
