package live_test

import (
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/footing/pad"
	"heeltoe/judge"
	"heeltoe/judge/drill"
	"heeltoe/trainer/live"
	"heeltoe/trainer/view"
)

func followed(t interface{ Fatal(...any) }, s drill.Spec) (*live.Config, *live.Follower, *view.Live) {
	d, err := drill.New(s, nil)
	if err != nil {
		t.Fatal(err)
	}
	c := &live.Config{Drill: d, Options: judge.Options{Lead: pad.Second}}
	f := live.NewFollower(c, 0)
	c.Fed, c.Events = f.Fed, f.Events
	v := &view.Live{}
	live.Still(v, d, nil)
	return c, f, v
}

// Whatever is pressed, and however far apart the frames are: the strip has, of
// the newest reps, each press where it was, in the rep by whose first slot it
// comes; Down is what is down. The reference keeps the edges and looks at them afresh.
func TestStripOfAny(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c, f, v := followed(t, drill.Spec{Name: "any", Layout: "single", BPM: 600, PerBeat: 1, Reps: 30, Steps: "sw c ne ."}) // reps of 400 ms
		var down pad.PanelSet
		var edges []pad.Edge
		now := pad.Time(0)
		for range rapid.IntRange(1, 60).Draw(t, "steps") {
			now += pad.Time(rapid.IntRange(0, 400_000).Draw(t, "wait"))
			p := pad.Panel(rapid.IntRange(0, 4).Draw(t, "panel"))
			kind := pad.Down
			if down.Has(p) {
				kind = pad.Up
			}
			down ^= pad.SetOf(p)
			e := pad.Edge{T: now, Panel: p, Kind: kind}
			edges = append(edges, e)
			c.Fed(e)
			if !rapid.Bool().Draw(t, "frame") {
				continue
			}
			f.Fill(v, now)
			if v.Down != down {
				t.Fatalf("%b is shown down, is %b", v.Down, down)
			}
			rep := func(at pad.Time) int64 { // by counting
				k := int64(-1)
				for k+1 < 30 && pad.Second+pad.Time(k+1)*400_000 <= at {
					k++
				}
				return k
			}
			if v.Rep != rep(now) {
				t.Fatalf("rep %d is shown at %d µs", v.Rep, now)
			}
			var want []view.Bar
			for i, e := range edges {
				if e.Kind != pad.Down {
					continue
				}
				k := rep(e.T)
				zero := pad.Second + pad.Time(max(k, -1))*400_000
				b := view.Bar{Rep: k, Down: e.T - zero, Up: pad.Never, Panel: e.Panel, Foot: view.AnyFoot}
				for _, u := range edges[i+1:] {
					if u.Panel == e.Panel {
						b.Up = u.T - zero
						break
					}
				}
				want = append(want, b)
			}
			// The bars are the last ones: none of the newest five reps is missing.
			if len(v.Bars) > len(want) {
				t.Fatalf("%d bars of %d presses", len(v.Bars), len(want))
			}
			for i, b := range v.Bars {
				if w := want[len(want)-len(v.Bars)+i]; b != w {
					t.Fatalf("bar %+v, want %+v", b, w)
				}
			}
			if gone := want[:len(want)-len(v.Bars)]; len(gone) > 0 && gone[len(gone)-1].Rep >= v.Rep-4 {
				t.Fatalf("a press of rep %d is not shown in rep %d", gone[len(gone)-1].Rep, v.Rep)
			}
		}
	})
}

// A long rep is shown part by part, in whole beats, the part in which now is.
func TestPartsOfALongRep(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		slots := rapid.IntRange(1, 500).Draw(t, "slots")
		perBeat := rapid.IntRange(1, 8).Draw(t, "per beat")
		_, f, v := followed(t, drill.Spec{Name: "long", Layout: "single", BPM: 120, PerBeat: int64(perBeat), Reps: 2, Steps: "c" + strings.Repeat(" .", slots-1)})
		at := pad.Time(rapid.Int64Range(0, int64(v.RepLength)-1).Draw(t, "at"))
		f.Fill(v, pad.Second+at)
		slot := float64(v.RepLength) / float64(slots)
		shown := float64(v.To-v.From) / slot
		if at < v.From || at >= v.To || shown > 48+float64(perBeat) {
			t.Fatalf("at %d µs of %d the strip shows %d to %d, %.1f slots", at, v.RepLength, v.From, v.To, shown)
		}
		if slots <= 48 && (v.From != 0 || v.To != v.RepLength) {
			t.Fatalf("a rep of %d slots is not shown whole", slots)
		}
	})
}

// Between the ends of reps, filling does not allocate.
func TestFillDoesNotAllocate(t *testing.T) {
	c, f, v := followed(t, drill.Spec{Name: "busy", Layout: "single", BPM: 150, PerBeat: 4, Reps: 1000, Steps: "sw c ne . se c nw .", Footing: "L:sw R:c&ne R:se L:c&nw"})
	now := pad.Second
	step := func() {
		for p := range pad.Panel(5) {
			c.Fed(pad.Edge{T: now, Panel: p, Kind: pad.Down})
			c.Fed(pad.Edge{T: now + 3000, Panel: p, Kind: pad.Up})
		}
		now += 16 * pad.Millisecond
		f.Fill(v, now)
	}
	for range 2000 {
		step()
	}
	if n := testing.AllocsPerRun(500, step); n != 0 {
		t.Errorf("%v allocations a frame", n)
	}
	if len(v.Bars) == 0 || len(v.Next) == 0 {
		t.Errorf("%d bars, next %v", len(v.Bars), v.Next)
	}
}

// A screen that falls far behind loses edges of its own, says so, and the run
// does not wait for it.
func TestScreenFallsBehind(t *testing.T) {
	c, f, v := followed(t, drill.Spec{Name: "x", Layout: "single", BPM: 120, PerBeat: 1, Reps: 2, Steps: "c"})
	for i := range 20_000 {
		c.Fed(pad.Edge{T: pad.Time(i), Panel: 1, Kind: pad.EdgeKind(1 - i%2)})
	}
	c.Events(live.Missed{Lost: 7})
	c.Events(live.SourceEnded{Name: "pad", Err: fmt.Errorf("unplugged")})
	f.Fill(v, 1)
	if v.Notice != "pad stopped: unplugged" {
		t.Errorf("notice %q", v.Notice)
	}
	for i := range 20_000 {
		c.Fed(pad.Edge{T: pad.Time(i), Panel: 1, Kind: pad.EdgeKind(1 - i%2)})
	}
	f.Fill(v, 1)
	if !strings.Contains(v.Notice, "missed 3616 edges") {
		t.Errorf("notice %q", v.Notice)
	}
}

// On a pad of 8 ms a spread of 1 ms is grey and its help says why; one of 12 ms, and any
// on a pad that was not checked, is not.
func TestFiguresFinerThanThePad(t *testing.T) {
	for _, c := range []struct {
		fine   pad.Fineness
		sd     view.Number
		offset view.Number
		grey   int
	}{{8000, 1000, 500, 2}, {8000, 1000, 9000, 1}, {8000, 12_000, 9000, 0}, {0, 1000, 500, 0}, {8000, view.Undefined, view.Undefined, 0}} {
		v := &view.Live{}
		live.Figures(v, &live.Summed{Fineness: c.fine, Offset: view.Offsets{SD: c.sd, Median: c.offset}})
		grey := 0
		for _, f := range v.Figures {
			if f.Faint {
				grey++
			}
			if f.Faint != strings.Contains(f.Help, "the pad reports every 8.0 ms") {
				t.Errorf("%+v: help %q", c, f.Help)
			}
		}
		if grey != c.grey {
			t.Errorf("%+v: %d figures are grey", c, grey)
		}
	}
}
