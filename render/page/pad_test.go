package page_test

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"heeltoe/footing/pad"
	"heeltoe/render/page"
	"heeltoe/trainer/padcheck"
	"heeltoe/trainer/view"
)

// checked gives what a check finds of a pad that reports every so often and that has one of
// each fault: 1sw chatters, 1c sets off 1ne, 2se is dead; its second half comes 6 ms late.
func checked(l *pad.Layout, interval pad.Time) *view.PadCheck {
	tr := &padcheck.Trace{Layout: l, Intervals: []pad.Time{interval}}
	var at []pad.Time
	for n := range pad.Time(3000) {
		late := pad.Time(0)
		if n%5 == 0 {
			late = 60 // µs: a little uneven
		}
		at = append(at, n*interval+late)
	}
	tr.Reports = [][]pad.Time{at}
	now := pad.Second
	edge := func(after pad.Time, p pad.Panel, kind pad.EdgeKind) {
		now += after
		tr.Edges = append(tr.Edges, pad.Edge{T: now, Panel: p, Kind: kind})
	}
	phase := func(kind string, asked int, do func(), panels ...pad.Panel) {
		from := now
		do()
		now += pad.Second / 2
		tr.Phases = append(tr.Phases, padcheck.Phase{Kind: kind, Panels: panels, Asked: asked, From: from, To: now})
	}
	const step = 200 * pad.Millisecond
	last := pad.Panel(len(l.Panels) - 1)
	for i := range l.Panels {
		p := pad.Panel(i)
		phase(padcheck.Press, 5, func() {
			for range 5 {
				if p == last {
					continue
				}
				edge(step, p, pad.Down)
				if p == 1 {
					edge(step/4, p, pad.Up)
					edge(7*pad.Millisecond, p, pad.Down)
				}
				if p == 2 {
					edge(0, 3, pad.Down)
					edge(step/4, 3, pad.Up)
				}
				edge(step/2, p, pad.Up)
			}
		}, p)
	}
	phase(padcheck.Taps, 10, func() {
		for range 8 {
			edge(step/4, 2, pad.Down)
			edge(step/4, 2, pad.Up)
		}
	}, 2)
	phase(padcheck.Overlaps, 4, func() {
		for k := range pad.Time(4) {
			edge(step, 1, pad.Down)
			edge(step, 2, pad.Down)
			edge((10+5*k)*pad.Millisecond, 1, pad.Up)
			edge(step, 2, pad.Up)
		}
	}, 1, 2)
	if l == pad.Double {
		tr.Intervals, tr.Reports = append(tr.Intervals, 8*pad.Millisecond), append(tr.Reports, nil)
		phase(padcheck.Seam, 10, func() {
			for k := range pad.Time(10) {
				edge(step, 3, pad.Down)
				edge((4+k%5)*pad.Millisecond, 5, pad.Down)
				edge(step, 3, pad.Up)
				edge(0, 5, pad.Up)
			}
		}, 3, 5)
	}
	c := padcheck.Check(tr)
	c.Pad, c.Made = "home <b>", time.Date(2026, 4, 1, 18, 0, 0, 0, time.UTC)
	return c
}

// The page of a check says all that the check found, in words, figures and plots.
func TestPadPage(t *testing.T) {
	for l, want := range map[*pad.Layout][]string{
		pad.Single: {"Dead: se.", "<strong>1.00 ms</strong>", "It alone spreads a press by 0.29 ms", "<strong>11 ms</strong>", "<strong>8 of 10</strong>", "<strong>10.0 ms</strong>",
			"chatters 7 ms", "fires ne", "With the debounce of 11 ms", "home &lt;b&gt;", "Time from report to report"},
		pad.Double: {"Dead: 2se.", "<strong>&#43;6.0 ms</strong>", "2nw after 1ne", "(as the system says)", "It alone spreads a press by 2.31 ms", "cannot tell apart", "seam (10)"},
	} {
		var b bytes.Buffer
		if err := page.Pad(&b, checked(l, pad.Millisecond)); err != nil {
			t.Fatal(err)
		}
		for _, w := range want {
			if !strings.Contains(b.String(), w) {
				t.Errorf("%s: %q is not on the page", l.Name, w)
			}
		}
	}
}
