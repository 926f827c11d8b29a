package padcheck_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/footing/pad"
	"heeltoe/trainer/padcheck"
	"heeltoe/trainer/view"
)

const ms = pad.Millisecond

// bench is a pad that is checked: what it is asked, and what it does wrong.
type bench struct {
	now pad.Time
	t   padcheck.Trace
}

func newBench(l *pad.Layout) *bench {
	return &bench{t: padcheck.Trace{Layout: l, Intervals: []pad.Time{ms}, Reports: make([][]pad.Time, 1)}}
}

func (b *bench) edge(after pad.Time, p pad.Panel, kind pad.EdgeKind) {
	b.now += after
	b.t.Edges = append(b.t.Edges, pad.Edge{T: b.now, Panel: p, Kind: kind})
	b.t.Reports[0] = append(b.t.Reports[0], b.now)
}

func (b *bench) press(p pad.Panel) {
	b.edge(200*ms, p, pad.Down)
	b.edge(120*ms, p, pad.Up)
}

func (b *bench) phase(kind string, asked int, do func(), panels ...pad.Panel) {
	from := b.now
	do()
	b.now += 500 * ms
	b.t.Phases = append(b.t.Phases, padcheck.Phase{Kind: kind, Panels: panels, Asked: asked, From: from, To: b.now})
}

// sound does all that is asked, on every panel.
func (b *bench) sound(but pad.Panel) {
	for i := range b.t.Layout.Panels {
		if p := pad.Panel(i); p != but {
			b.phase(padcheck.Press, 5, func() {
				for range 5 {
					b.press(p)
				}
			}, p)
		}
	}
}

func TestSoundPad(t *testing.T) {
	b := newBench(pad.Single)
	b.phase(padcheck.Rest, 0, func() { b.now += pad.Second })
	b.sound(pad.NoPanel)
	b.phase(padcheck.Taps, 10, func() {
		for range 10 {
			b.edge(50*ms, 2, pad.Down)
			b.edge(50*ms, 2, pad.Up)
		}
	}, 2)
	f := padcheck.Check(&b.t)
	for _, p := range f.Panels {
		if p.Presses != 5 || p.Dead || p.Stuck || p.Chatter != 0 || len(p.Fires) != 0 {
			t.Errorf("found %+v", p)
		}
	}
	if f.Debounce != 0 || f.Taps != 10 || f.Overlap != nil || f.Seam != nil || len(f.Verdict) != 1 || f.Finest != ms {
		t.Errorf("found %+v", f)
	}
}

// Each thing that can be wrong is found, and said.
func TestFaultyPads(t *testing.T) {
	for name, c := range map[string]struct {
		wrong func(b *bench)
		holds func(f *view.PadCheck) bool
		says  string
	}{
		"dead": {func(b *bench) { b.sound(3); b.phase(padcheck.Press, 5, func() {}, 3) },
			func(f *view.PadCheck) bool { return f.Panels[3].Dead && !f.Panels[2].Dead }, "Dead: ne."},
		"stuck": {func(b *bench) { b.phase(padcheck.Rest, 0, func() { b.edge(ms, 1, pad.Down) }) },
			func(f *view.PadCheck) bool { return f.Panels[1].Stuck && !f.Panels[0].Stuck }, "nobody on the pad: sw."},
		"chatter": {func(b *bench) {
			b.phase(padcheck.Press, 1, func() {
				b.edge(ms, 0, pad.Down)
				b.edge(3*ms, 0, pad.Up)
				b.edge(7*ms, 0, pad.Down)
				b.edge(90*ms, 0, pad.Up)
				b.edge(4*ms, 0, pad.Down)
				b.edge(ms, 0, pad.Up)
			}, 0)
		}, func(f *view.PadCheck) bool {
			p := f.Panels[0]
			return p.Presses == 1 && p.Chatter == 2 && p.Bounce == 7*ms && f.Debounce == 11*ms // 10.5, in whole ms
		}, "a debounce of 11 ms"},
		"cross-talk": {func(b *bench) {
			b.phase(padcheck.Press, 1, func() {
				b.edge(ms, 2, pad.Down)
				b.edge(ms, 4, pad.Down)
				b.edge(80*ms, 4, pad.Up)
				b.edge(ms, 2, pad.Up)
			}, 2)
		}, func(f *view.PadCheck) bool { return slices.Equal(f.Panels[2].Fires, []string{"se"}) }, "c sets off se as well"},
		"slow": {func(b *bench) { b.t.Intervals[0] = 8 * ms }, func(f *view.PadCheck) bool {
			// 8 ms / √12 is 2.3094 ms (USB 2.0 intervals, computed by hand).
			return f.Devices[0].Told && f.Devices[0].Quantisation == 2309 && f.Finest == 8*ms
		}, "every 8.0 ms"},
		"missed taps": {func(b *bench) { b.phase(padcheck.Taps, 10, func() { b.press(2) }, 2) },
			func(f *view.PadCheck) bool { return f.Taps == 1 }, "Of 10 quick taps 1 were seen"},
	} {
		b := newBench(pad.Single)
		c.wrong(b)
		f := padcheck.Check(&b.t)
		if !c.holds(f) || !strings.Contains(strings.Join(f.Verdict, "\n"), c.says) {
			t.Errorf("%s: found %+v", name, f)
		}
	}
}

// The interval, its jitter and the quantisation of a device that repeats are
// those that it was made with; its standard deviation is measured against
// uniformly drawn moments.
func TestIntervalIsFound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		interval := pad.Time(rapid.IntRange(1000, 16_000).Draw(t, "interval"))
		var at []pad.Time
		for n := range 1000 {
			at = append(at, pad.Time(n)*interval+pad.Time(rapid.IntRange(-100, 100).Draw(t, "jitter")))
		}
		tr := padcheck.Trace{Layout: pad.Single, Intervals: []pad.Time{0}, Reports: [][]pad.Time{at}}
		d := padcheck.Check(&tr).Devices[0]
		if d.Told || (d.Interval-interval).Abs() > 40 || d.Jitter > 200 || d.Worst > interval+200 {
			t.Fatalf("an interval of %d is found as %+v", interval, d)
		}
		// Moments on a fine grid, told at the next report: the spread of what is told too late.
		sum, square := 0.0, 0.0
		const n = 1000
		for k := range n {
			late := float64(interval) * (float64(k) + 0.5) / n
			sum, square = sum+late, square+late*late
		}
		if sd := math.Sqrt(square/n - sum*sum/n/n); math.Abs(sd-float64(d.Quantisation)) > float64(interval)/50+20 {
			t.Fatalf("quantisation %d, measured %.0f", d.Quantisation, sd)
		}
	})
}

// Thresholds lie between the noise and the lightest press, whichever way the
// value goes; where the two meet there are none.
func TestThresholds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := padcheck.Level{}
		up, down := rapid.IntRange(0, 255).Draw(t, "up"), rapid.IntRange(0, 255).Draw(t, "down")
		noise := rapid.IntRange(0, 20).Draw(t, "noise")
		for _, d := range []int{-noise, noise} {
			l.Take(int32(up+d), false)
			l.Take(int32(down+d), true)
		}
		tr := padcheck.Trace{Layout: pad.Single, Levels: map[pad.Panel]padcheck.Level{1: l}}
		p := padcheck.Check(&tr).Panels[1]
		apart := up-down > 2*noise || down-up > 2*noise
		if (p.Press != nil) != apart {
			t.Fatalf("up %d, down %d, noise %d: thresholds %v", up, down, noise, p.Press)
		}
		if !apart {
			return
		}
		inside := func(v int32) bool { return v >= int32(min(up, down)+noise) && v <= int32(max(up, down)-noise) }
		if !inside(*p.Press) || !inside(*p.Release) {
			t.Fatalf("up %d, down %d, noise %d: press %d, release %d", up, down, noise, *p.Press, *p.Release)
		}
	})
}

// Struck at once, the two pads are as far apart as one comes later.
func TestSeamDelay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := newBench(pad.Double)
		a, _ := pad.Double.Lookup("1ne")
		c, _ := pad.Double.Lookup("2nw")
		delay := pad.Time(rapid.IntRange(-30_000, 30_000).Draw(t, "delay"))
		b.phase(padcheck.Seam, 10, func() {
			for range 10 {
				b.now += 300 * ms
				uneven := pad.Time(rapid.IntRange(-2000, 2000).Draw(t, "uneven"))
				edges := []pad.Edge{{T: b.now, Panel: a, Kind: pad.Down}, {T: b.now + delay + uneven, Panel: c, Kind: pad.Down},
					{T: b.now + 100*ms, Panel: a}, {T: b.now + 100*ms, Panel: c}}
				slices.SortStableFunc(edges, func(x, y pad.Edge) int { return int(x.T - y.T) })
				b.t.Edges = append(b.t.Edges, edges...)
				b.now += 100 * ms
			}
		}, a, c)
		s := padcheck.Check(&b.t).Seam
		if s == nil || s.Strikes != 10 || (s.Delay-delay).Abs() > 2000 || s.Spread > 4000 || s.Panels != [2]string{"1ne", "2nw"} {
			t.Fatalf("a delay of %d is found as %+v", delay, s)
		}
	})
}

// Brackets are counted as they were made: how many, which panel led, how far apart.
func TestReach(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := newBench(pad.Single)
		pair := padcheck.Pairs(pad.Single)[rapid.IntRange(0, 5).Draw(t, "pair")]
		both, first := 0, 0
		var spreads []pad.Time
		for range 5 {
			lead := rapid.IntRange(0, 1).Draw(t, "leads")
			if rapid.IntRange(0, 3).Draw(t, "half") == 0 {
				b.press(pair[lead])
				continue
			}
			spread := pad.Time(rapid.IntRange(0, 30_000).Draw(t, "spread"))
			b.edge(300*ms, pair[lead], pad.Down)
			b.edge(spread, pair[1-lead], pad.Down)
			b.edge(100*ms, pair[0], pad.Up)
			b.edge(ms, pair[1], pad.Up)
			spreads = append(spreads, spread)
			if both++; lead == 0 {
				first++
			}
		}
		r := padcheck.OfReach(b.t.Edges, pair, 5, 0, b.now+1)
		if r.Tried != 5 || r.Both != both || r.First != first {
			t.Fatalf("%d both, %d by the first: found %+v", both, first, r)
		}
		if slices.Sort(spreads); both > 0 && r.Spread != spreads[both/2] {
			t.Fatalf("spreads %v: found %d", spreads, r.Spread)
		}
	})
}

// One foot is asked for neighbours and for both corners of a side, not across a pad.
func TestPairs(t *testing.T) {
	var got []string
	for _, p := range padcheck.Pairs(pad.Single) {
		got = append(got, pad.Single.ID(p[0])+"&"+pad.Single.ID(p[1]))
	}
	if want := []string{"nw&sw", "nw&c", "nw&ne", "sw&c", "sw&se", "c&ne", "c&se", "ne&se"}; !slices.Equal(got, want) {
		t.Errorf("pairs %v", got)
	}
}
