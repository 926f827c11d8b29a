package footing_test

import (
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// wide are windows that play no part.
var wide = drill.Windows{2: {Early: -drill.MaxWindow, Late: drill.MaxWindow}}

// A body of which just that was measured which a footing asks of it at a tempo plays the
// footing at that tempo, and where no stagger is taken off not one per cent faster.
func TestLongAsksMeasuresABody(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	slower, faster := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		d := someDrill(t, 8, false)
		f := rapid.SampledFrom(plan(t, d, body(), footing.Filter{}, 6)).Draw(t, "footing")
		asked, err := footing.Asks(d, f.Contacts, body())
		if err != nil || len(asked) == 0 {
			return // no tempo serves, or any
		}
		bpm := rapid.Float64Range(asked[0].Fastest/2, min(asked[0].Fastest*2, drill.MaxBPM)).Draw(t, "bpm")
		if bpm < drill.MinBPM {
			return
		}
		text := drill.FootingText(d, f.Contacts)
		at := func(bpm float64) *drill.Drill {
			e, err := d.WithTempo(bpm)
			if err != nil {
				t.Fatal(err)
			}
			return e
		}
		e := at(bpm)
		if asked, err = footing.Asks(e, f.Contacts, body()); err != nil {
			t.Fatal(err)
		}
		b := body()
		for i, a := range asked {
			if i > 0 && a.Fastest < asked[i-1].Fastest || a.Time <= 0 && b.Limit(a.Limit) > b.Stagger {
				t.Fatalf("%s: asks %v", text, asked)
			}
			b.Measure(a.Limit, a.Time)
			if !b.Measured.Has(a.Limit) && a.Time > 0 || (b.Limit(a.Limit)-a.Time).Abs() > time.Microsecond && a.Time > 0 {
				t.Fatalf("%s is %v after %v was measured", a.Limit, b.Limit(a.Limit), a.Time)
			}
		}
		g, err := footing.Check(e, f.Contacts, b, wide)
		if err != nil {
			t.Fatal(err)
		}
		for _, why := range g.WhyNot {
			if !strings.HasPrefix(why, "notes struck at once span") && !g.Tempo[drill.Outer].Has(bpm*0.9999) {
				t.Fatalf("%s at %g, measured %v: %v", text, bpm, asked, g.WhyNot)
			}
		}
		if strings.Contains(text, "(") || bpm*1.01 > drill.MaxBPM {
			return
		}
		if h, err := footing.Check(at(bpm*1.01), f.Contacts, b, wide); err != nil || h.Feasible {
			t.Fatalf("%s goes faster than %g, which was measured by %v: %v", text, bpm, asked, err)
		}
		if bpm > asked[0].Fastest {
			faster++
		} else {
			slower++
		}
	})
	if slower == 0 || faster == 0 {
		t.Errorf("%d slower than the default limits, %d faster", slower, faster)
	}
}

// Times counted by hand: at 120 beats a minute and two slots a beat a slot is 250 ms.
func TestAsksByHand(t *testing.T) {
	for _, c := range []struct {
		steps, footing string
		want           map[footing.Limit]time.Duration
	}{
		{"sw se sw se", "L:sw R:se L:sw R:se", map[footing.Limit]time.Duration{footing.LimitCycle: 500 * time.Millisecond}},
		{"sw c ne", "L:sw R:c R:ne", map[footing.Limit]time.Duration{footing.LimitAlone2: 250 * time.Millisecond, footing.LimitCycle: 500 * time.Millisecond}},
		{"sw c . . . .", "L:sw>c", map[footing.Limit]time.Duration{footing.LimitRoll: 250 * time.Millisecond}},
		{"c . c . c .", "L:c R:c L:c", map[footing.Limit]time.Duration{footing.LimitClear: 500 * time.Millisecond}},
		// A landing of both feet leaves 6 ms less.
		{"sw+se . nw+ne .", "(L:sw R:se) (L:nw R:ne)", map[footing.Limit]time.Duration{footing.LimitTogetherMore: 494 * time.Millisecond}},
	} {
		d, err := drill.New(drill.Spec{Name: "x", Layout: "single", BPM: 120, PerBeat: 2, Reps: 1, Steps: c.steps, Footing: c.footing}, nil)
		if err != nil {
			t.Fatal(err)
		}
		asked, err := footing.Asks(d, d.Footing, body())
		if err != nil {
			t.Fatal(err)
		}
		found := make(map[footing.Limit]time.Duration)
		for _, a := range asked {
			found[a.Limit] = a.Time
		}
		for l, want := range c.want {
			if (found[l] - want).Abs() > time.Microsecond {
				t.Errorf("%s: %s has %v, by hand %v", c.footing, l.Key(), found[l], want)
			}
		}
	}
}

// Keys are read back, and every limit has its own.
func TestLimitKeys(t *testing.T) {
	words := make(map[string]bool)
	for _, l := range footing.Limits() {
		if m, ok := footing.LimitOf(l.Key()); !ok || m != l || words[l.String()] {
			t.Errorf("%d: %s, %s", l, l.Key(), l)
		}
		words[l.String()] = true
		b := body()
		if was := b.Limit(l); was <= 0 {
			t.Errorf("%s is %v", l, was)
		}
		b.Measure(l, 77*time.Millisecond)
		for _, m := range footing.Limits() {
			if is, want := b.Limit(m), body(); (m == l) != (is != want.Limit(m)) || b.Measured.Has(m) != (m == l) {
				t.Errorf("%s measured: %s is %v", l, m, is)
			}
		}
	}
	for l, want := range map[footing.Limit][]footing.Limit{footing.LimitAloneMore: {footing.LimitAlone2, footing.LimitAlone3},
		footing.LimitTogether3: {footing.LimitTogether2}, footing.LimitAlone2: nil, footing.LimitSwing: nil} {
		if got := l.Easier(); !slices.Equal(got, want) {
			t.Errorf("easier than %s: %v", l, got)
		}
	}
	if _, ok := footing.LimitOf("flight"); ok {
		t.Error("there is a limit called flight")
	}
}

// What was measured of a foot goes before the shoe's length, for that foot alone.
func TestMeasuredPairs(t *testing.T) {
	d, err := drill.New(drill.Spec{Name: "x", Layout: "single", BPM: 60, PerBeat: 2, Reps: 1, Steps: "nw+sw . c . se+c . ."}, nil)
	if err != nil {
		t.Fatal(err)
	}
	works := func(b footing.Body, text string) (bool, []string) {
		s := d.Spec
		s.Footing = text
		e, err := drill.New(s, nil)
		if err != nil {
			t.Fatal(err)
		}
		f := check(t, e, e.Footing, b)
		return f.Feasible, f.WhyNot
	}
	small := body()
	small.ShoeMM = 250
	const left, right = "L:nw&sw L:c R:se&c", "R:nw&sw R:c L:se&c"
	if ok, why := works(small, left); ok || !strings.Contains(why[0], "250 mm long, cannot lie over nw and sw") {
		t.Errorf("a foot of 250 mm: %v, %v", ok, why)
	}
	b := small
	b.Pairs = footing.NewPairs(pad.Single)
	b.Pairs.Set(pad.Left, 0, 1, true)
	if ok, why := works(b, left); !ok {
		t.Errorf("the left foot was measured on them: %v", why)
	}
	if ok, _ := works(b, right); ok {
		t.Error("the right foot was not")
	}
	for _, f := range plan(t, d, b, footing.Filter{}, 10) {
		for _, c := range f.Contacts {
			if f.Feasible && c.Kind == drill.Bracket && c.Foot == pad.Right && d.Notes[c.Notes[0]].Panel == 0 {
				t.Errorf("planned is %s", drill.FootingText(d, f.Contacts))
			}
		}
	}
	b.Pairs = footing.NewPairs(pad.Single)
	b.Pairs.Set(pad.Right, 2, 4, false)
	b.ShoeMM = 310
	if ok, why := works(b, left); ok || len(why) != 1 || why[0] != "the right foot was measured not to press c and se at once" {
		t.Errorf("a foot that was measured not to: %v, %v", ok, why)
	}
	other := b
	other.Pairs = footing.NewPairs(pad.Double) // of another pad
	other.Pairs.Set(pad.Right, 2, 4, false)
	if ok, why := works(other, left); !ok {
		t.Errorf("measured on another layout: %v", why)
	}
}
