package consistency_test

import (
	"encoding/json"
	"errors"
	"io"
	"math"
	"strings"
	"testing"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/input/synth"
	"heeltoe/judge"
	"heeltoe/judge/drill"
	"heeltoe/trainer"
	"heeltoe/trainer/consistency"
	"heeltoe/trainer/estimate"
	"heeltoe/trainer/internal/outside"
	"heeltoe/trainer/view"
)

const lead = 2 * pad.Second

func newDrill(t testing.TB, s drill.Spec) *drill.Drill {
	t.Helper()
	s.Name, s.Layout = "x", "single"
	d, err := drill.New(s, nil)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// alternating is a press every 250 ms by turns, with rests of a slot between reps
// where uneven.
func alternating(t testing.TB, reps int64, uneven bool) *drill.Drill {
	steps := "sw se nw ne sw se nw ne"
	if uneven {
		steps += " ."
	}
	return newDrill(t, drill.Spec{BPM: 120, PerBeat: 2, Reps: reps, Steps: steps})
}

// report judges what a synthetic player makes of a drill, with the default setting
// and the click heard throughout.
func report(t testing.TB, d *drill.Drill, p synth.Params, seed uint64) *view.Report {
	t.Helper()
	contacts := d.Footing
	if contacts == nil {
		contacts = footing.Default(d)
	}
	y, err := synth.New(d, contacts, lead, p, seed)
	if err != nil {
		t.Fatal(err)
	}
	run := trainer.New(d, judge.Options{Lead: lead})
	for {
		e, err := y.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		run.Feed(e)
	}
	run.Finish()
	r := run.Figures()
	in := drill.DefaultWindows[drill.Inner]
	r.Setting = view.Setting{Inner: view.Bound{Early: in.Early, Late: in.Late}, Click: view.Click{Known: true}}
	return r
}

// habits gives a player of known timing without other noise.
func habits(alpha, clockMS, motorMS float64) synth.Params {
	p := synth.Defaults()
	p.PhaseCorrection, p.ClockSDMS, p.MotorSDMS, p.StaggerSDMS = alpha, clockMS, motorMS, 0
	return p
}

// The figures of a synthetic player lie in their intervals about as often as they
// should: mean −15 ms, the SD by the formula of Vorberg and Schulze (2002), early
// and late shares and the median deviation of the normal distribution.
func TestIntervalsHoldTheTruth(t *testing.T) {
	p := habits(0.4, 15, 5)
	g0, _, _ := p.Asynchrony()
	sd := 1000 * math.Sqrt(g0)
	early := 0.5 * math.Erfc(-15_000/(sd*math.Sqrt2))
	const runs = 16
	held := map[string]int{}
	for seed := range uint64(runs) {
		r := report(t, alternating(t, 30, false), p, seed)
		s := consistency.Of(r)
		if s.Run.N != r.Summary.Notes-r.Summary.Absent || s.Level != estimate.Level || len(s.Reps) != 30 || len(s.Panels) != 5 {
			t.Fatalf("%d presses, %d reps, %d panels", s.Run.N, len(s.Reps), len(s.Panels))
		}
		for what, c := range map[string]struct {
			in    view.Estimate
			truth float64
		}{
			"mean": {s.Run.Mean, -15_000}, "median": {s.Run.Median, -15_000}, "sd": {s.Run.SD, sd},
			"mad":   {s.Run.MAD, 0.6745 * sd}, // Φ⁻¹(3/4)
			"early": {s.Run.Early, early}, "late": {s.Run.Late, 1 - early},
			"mean of a panel": {s.Panels[0].Mean, -15_000},
		} {
			if float64(c.in.Low) <= c.truth && c.truth <= float64(c.in.High) {
				held[what]++
			}
		}
		for i, panel := range s.Panels {
			if want := r.Panels[i].Notes - r.Panels[i].Absent; panel.N != want || (want > 0) != panel.Mean.Known() {
				t.Errorf("panel %s: %+v", r.Panels[i].Panel, panel)
			}
		}
		for i, rep := range s.Reps {
			if rep.N != r.Reps[i].Notes-r.Reps[i].Absent || rep.Mean.Known() != (rep.N >= estimate.LeastN) {
				t.Errorf("rep %d: %+v", i, rep)
			}
		}
	}
	if len(held) != 7 {
		t.Errorf("held: %v", held)
	}
	for what, n := range held { // of 16 at 0.85, fewer than 10 come about once in 200
		if n < 10 {
			t.Errorf("the %s is held %d times of %d", what, n, runs)
		}
	}
}

// The same log gives the same figures, and undefined ones are null in JSON.
func TestJSON(t *testing.T) {
	d := newDrill(t, drill.Spec{BPM: 120, PerBeat: 2, Reps: 2, Steps: "sw se"})
	r := report(t, d, habits(0.4, 15, 5), 1)
	a, err := json.Marshal(consistency.Of(r))
	if err != nil {
		t.Fatal(err)
	}
	b, err := json.Marshal(consistency.Of(r))
	if err != nil || string(a) != string(b) {
		t.Errorf("%s\nthen\n%s (%v)", a, b, err)
	}
	for _, want := range []string{`"n":4,"mean_us":{"value":`, `"low":null,"high":null,"n":4}`, `"slope_per_rep":null`, `"correction":null`, `"why_not":"2 reps are fewer than 8"`} {
		if !strings.Contains(string(a), want) {
			t.Errorf("%s is not in %s", want, a)
		}
	}
	// A run without a press at all.
	empty := trainer.New(d, judge.Options{Lead: lead})
	empty.Finish()
	if _, err := json.Marshal(consistency.Of(empty.Figures())); err != nil {
		t.Error(err)
	}
}

// With the click the split finds the synthetic player's parameters, in loops with
// even notes and in such as pause between reps.
func TestSplitWithClick(t *testing.T) {
	for _, uneven := range []bool{false, true} {
		s := consistency.Of(report(t, alternating(t, 200, uneven), habits(0.4, 15, 5), 3))
		c := s.Source.WithClick
		if c.WhyNot != "" {
			t.Fatal(c.WhyNot)
		}
		outside.Near(t, "correction", float64(c.Correction), 0.4, 0.08)
		outside.Near(t, "clock", float64(c.Clock)/1000, 15, 1)
		outside.Near(t, "motor", float64(c.Motor)/1000, 5, 2)
		if !c.CorrectionRange.Known() || !(c.CorrectionRange.Low < c.Correction && c.Correction < c.CorrectionRange.High) {
			t.Errorf("the range is %v", c.CorrectionRange)
		}
		want := 200*8 - 1
		if uneven {
			want = 200 * 7
		}
		if c.N != want {
			t.Errorf("n is %d, want %d", c.N, want)
		}
		if s.Source.Silent.WhyNot == "" || s.Source.Assumed {
			t.Errorf("%+v", s.Source)
		}
	}
}

// kept makes a report of someone who keeps time alone in the silent reps, from offsets.
func kept(t testing.TB, reps int64, clockMS, motorMS float64) *view.Report {
	d := alternating(t, reps, false)
	run := trainer.New(d, judge.Options{Lead: lead})
	rng := estimate.Rand(12)
	g := d.Grid(lead)
	tick := 0.0
	for k := range reps {
		for _, n := range d.Notes {
			at := g.Due(k, int64(n.Slot)) + pad.Time(1000*(tick+motorMS*rng.NormFloat64()))
			run.Feed(pad.Edge{T: at, Panel: n.Panel, Kind: pad.Down})
			run.Feed(pad.Edge{T: at + 60*pad.Millisecond, Panel: n.Panel, Kind: pad.Up})
			// Drawn back towards the beat a little: else all would leave the windows.
			tick = 0.98*tick + clockMS*rng.NormFloat64()
		}
	}
	run.Finish()
	return run.Figures()
}

// Only reps in which the click was silent are split by the two-process model; the
// trap is that it takes paced presses too, and is wrong.
func TestSplitOfSilentReps(t *testing.T) {
	r := kept(t, 400, 4, 4)
	r.Setting.Click = view.Click{Known: true, SilentAfter: 50}
	s := consistency.Of(r).Source
	if s.Silent.WhyNot != "" {
		t.Fatal(s.Silent.WhyNot)
	}
	outside.Near(t, "clock", float64(s.Silent.Clock)/1000, 4, 0.4)
	outside.Near(t, "motor", float64(s.Silent.Motor)/1000, 4, 0.4)
	if s.Silent.N != 350*8-1 || s.Silent.Correction.Defined() || s.WithClick.WhyNot != "" && s.WithClick.N != 0 {
		t.Errorf("%+v", s)
	}
	// Every fourth rep silent: only its own presses, and its first follows a heard one.
	r.Setting.Click = view.Click{Known: true, SilentEvery: 4}
	s = consistency.Of(r).Source
	if s.Silent.N != 100*7 || s.WithClick.N != 300*8-100 {
		t.Errorf("n %d silent, %d with the click", s.Silent.N, s.WithClick.N)
	}
	// The same presses with the click: no two-process split, by no figure.
	r.Setting.Click = view.Click{Known: true}
	if s = consistency.Of(r).Source; s.Silent.WhyNot == "" || s.Silent.Clock.Defined() {
		t.Errorf("paced presses were split as silent ones: %+v", s.Silent)
	}
}

func TestSplitIsRefused(t *testing.T) {
	even := report(t, alternating(t, 40, false), habits(0.4, 15, 5), 1)
	off := *even
	off.Setting.Click.Off = true
	short := report(t, alternating(t, 4, false), habits(0.4, 15, 5), 1)
	gathers := newDrill(t, drill.Spec{BPM: 200, PerBeat: 4, Reps: 60, Steps: "sw c se c", Footing: "(L:sw R:c) (R:se L:c)"})
	hop := report(t, gathers, habits(0.4, 15, 5), 1)
	for name, c := range map[string]struct {
		r   *view.Report
		why string
	}{
		"no click": {&off, "the click was off"},
		"few":      {short, "fewer than 60"},
		"gathered": {hop, "come together"},
	} {
		s := consistency.Of(c.r).Source.WithClick
		if !strings.Contains(s.WhyNot, c.why) || s.Clock.Defined() || s.Correction.Defined() {
			t.Errorf("%s: %+v", name, s)
		}
	}
	even.Setting.Click.Known = false
	if s := consistency.Of(even).Source; !s.Assumed || s.WithClick.WhyNot != "" {
		t.Errorf("without word of the click: %+v", s)
	}
}

// A player who spreads more and more is told to rest; a steady one is not.
func TestDriftOverReps(t *testing.T) {
	d := alternating(t, 60, false)
	steady := consistency.Of(report(t, d, habits(0.4, 15, 5), 2)).Drift
	if steady.Tiring || steady.Offset.N != 60 || steady.WhyNot != "" {
		t.Errorf("steady: %+v", steady)
	}
	run := trainer.New(d, judge.Options{Lead: lead})
	rng := estimate.Rand(2)
	g := d.Grid(lead)
	for k := range d.Reps {
		for _, n := range d.Notes {
			off := float64(k) * 500 // half a millisecond later each rep
			at := g.Due(k, int64(n.Slot)) + pad.Time(off+(5000+500*float64(k))*rng.NormFloat64())
			run.Feed(pad.Edge{T: at, Panel: n.Panel, Kind: pad.Down})
			run.Feed(pad.Edge{T: at + 60*pad.Millisecond, Panel: n.Panel, Kind: pad.Up})
		}
	}
	run.Finish()
	got := consistency.Of(run.Figures()).Drift
	if got.Dwell.Slope != 0 || got.Dwell.N != 60 || got.Free.N != 59 || math.Abs(float64(got.Free.Slope)) > 200 {
		t.Errorf("every press lasts as long, and they are as far apart: %+v, %+v", got.Dwell, got.Free)
	}
	if !got.Tiring || !(got.Spread.Slope > 300) || float64(got.Offset.Range.Low) > 500 || float64(got.Offset.Range.High) < 500 || got.Spread.Change == nil || got.Spread.P > 0.001 {
		t.Errorf("tiring: %+v", got)
	}
}

// The statistics of a run of 512 presses take at most 200 ms, two thirds of what
// a report may.
func BenchmarkOf(b *testing.B) {
	r := report(b, alternating(b, 64, false), habits(0.4, 15, 5), 1)
	for b.Loop() {
		consistency.Of(r)
	}
}
