package success_test

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/trainer/estimate"
	"heeltoe/trainer/internal/outside"
	"heeltoe/trainer/success"
)

// A worked update, computed apart from this program: limits of 60, 80, … 160
// equally likely, P(good) = 1/(1 + exp((tempo − limit)/10)); a good rep at 100 and
// one at 120, then a failed one at 140.
func TestWorkedUpdate(t *testing.T) {
	var curves []success.Curve
	for m := 60.0; m <= 160; m += 20 {
		curves = append(curves, success.Curve{Middle: m, Width: 10})
	}
	p := success.NewPosterior(curves)
	weights := func(want ...float64) {
		t.Helper()
		for i, w := range p.Weights() {
			outside.Near(t, "weight", w, want[i], 5e-7)
		}
	}
	p.Observe(100, true)
	weights(.005143, .034082, .142958, .251834, .280774, .285209)
	outside.Near(t, "mean", p.Tempo(0.5).Value, 132.492849, 5e-7)
	p.Observe(120, true)
	outside.Near(t, "mean", p.Tempo(0.5).Value, 143.522983, 5e-7)
	p.Observe(140, false)
	weights(.000045, .002143, .058655, .388733, .433404, .117020)
	f := p.Tempo(0.5)
	outside.Near(t, "mean", f.Value, 132.087374, 5e-7)
	if f.N != 3 || f.Interval != (estimate.Interval{Low: 100, High: 160}) {
		t.Errorf("%+v: by the weights the central 90 %% are 100 to 160", f)
	}
}

// played gives reps of a player of the curve at each of the tempi.
func played(c success.Curve, tempi []float64, reps int, seed uint64) []success.Trials {
	rng := estimate.Rand(seed)
	var out []success.Trials
	for _, bpm := range tempi {
		t := success.Trials{BPM: bpm, N: reps}
		for range reps {
			if rng.Float64() < c.At(bpm) {
				t.Good++
			}
		}
		out = append(out, t)
	}
	return out
}

var tempi = []float64{100, 115, 130, 145, 160, 175}

// The fitted curve is scipy's, by a minimiser of its own of the same likelihood.
func TestFitEqualsScipy(t *testing.T) {
	type job struct {
		Do    string     `json:"do"`
		X     []float64  `json:"x"`
		Good  []int      `json:"good"`
		N     []int      `json:"n"`
		Lapse float64    `json:"lapse"`
		Start [2]float64 `json:"start"`
	}
	var jobs []job
	var all [][]success.Trials
	for seed := range uint64(20) {
		trials := played(success.Curve{Middle: 140, Width: 5 + float64(seed), Lapse: 0.02}, tempi, 12, seed)
		j := job{Do: "success", Lapse: 0.02, Start: [2]float64{140, 10}}
		for _, x := range trials {
			j.X, j.Good, j.N = append(j.X, x.BPM), append(j.Good, x.Good), append(j.N, x.N)
		}
		all, jobs = append(all, trials), append(jobs, j)
	}
	var want [][]float64
	outside.Scipy(t, jobs, &want)
	for i, trials := range all {
		c, err := success.Fit(trials, 0.02)
		if err != nil {
			t.Fatal(err)
		}
		outside.Near(t, "middle", c.Middle, want[i][0], 1e-3)
		outside.Near(t, "width", c.Width, want[i][1], 1e-3)
		outside.Near(t, "-ln L", -success.LogLikelihood(c, trials), want[i][2], 1e-9)
	}
}

func TestFitRefuses(t *testing.T) {
	for name, trials := range map[string][]success.Trials{
		"none":       nil,
		"one tempo":  {{100, 3, 5}, {100, 2, 5}},
		"all good":   {{100, 5, 5}, {120, 5, 5}},
		"all failed": {{100, 0, 5}, {120, 0, 5}},
		"parted":     {{100, 5, 5}, {120, 0, 5}},
		"parted at":  {{100, 5, 5}, {110, 2, 5}, {120, 0, 5}},
		"no reps":    {{100, 0, 0}, {120, 0, 0}},
	} {
		_, err := success.Fit(trials, 0.02)
		var r *estimate.Refused
		if !errors.As(err, &r) || r.Reason == "" {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Of many reps the posterior's tempi are those of the fitted curve, and its
// intervals hold the truth.
func TestPosteriorAgreesWithFit(t *testing.T) {
	truth := success.Curve{Middle: 140, Width: 9, Lapse: success.Lapse}
	trials := played(truth, tempi, 100, 3)
	c, err := success.Fit(trials, success.Lapse)
	if err != nil {
		t.Fatal(err)
	}
	p := observed(trials)
	for _, share := range []float64{0.5, 0.8} {
		f := p.Tempo(share)
		outside.Near(t, "tempo", f.Value, c.Tempo(share), 2)
		outside.Near(t, "true tempo", f.Value, truth.Tempo(share), 2)
		if f.N != 600 || f.High-f.Low > 10 || !f.Holds(truth.Tempo(share)) {
			t.Errorf("%+v", f)
		}
	}
	if f := p.Share(145); math.Abs(f.Value-truth.At(145)) > 0.05 || !f.Holds(truth.At(145)) {
		t.Errorf("share at 145: %+v, true %.3f", f, truth.At(145))
	}
}

func observed(trials []success.Trials) *success.Posterior {
	p := success.NewPosterior(success.Grid(60, 240))
	for _, x := range trials {
		p.ObserveAll(x)
	}
	return p
}

// A way that falls slowly overtakes one that breaks at once: at their equal shares,
// (t − 150)/6 = (t − 140)/30, so at 152.5.
func TestCrossing(t *testing.T) {
	steep := success.Curve{Middle: 150, Width: 6, Lapse: success.Lapse}
	flat := success.Curve{Middle: 140, Width: 30, Lapse: success.Lapse}
	if at := 152.5; math.Abs(steep.At(at)-flat.At(at)) > 1e-12 {
		t.Fatal("the curves do not cross where they should")
	}
	wide := []float64{80, 100, 120, 140, 160, 180, 200}
	a, b := observed(played(steep, wide, 60, 1)), observed(played(flat, wide, 60, 2))
	c := success.Cross(a, b, 80, 200)
	if !c.Tempo.Holds(152.5) || c.P < 0.99 || math.Abs(c.Tempo.Value-152.5) > 6 || c.Tempo.N != 840 {
		t.Errorf("%+v, want 152.5", c)
	}
	// The other way round there is none: the steep one never overtakes.
	if r := success.Cross(b, a, 80, 200); r.P > 0.01 {
		t.Errorf("turned round: %+v", r)
	}
	// Nor where one is better at all tempi looked at.
	better := observed(played(success.Curve{Middle: 190, Width: 6, Lapse: success.Lapse}, wide, 60, 4))
	if r := success.Cross(better, a, 80, 140); r.P > 0.2 {
		t.Errorf("of a way that is better throughout: %+v", r)
	}
}

// Informative gives the tempo of least expected entropy, by the entropies of both posteriors.
func TestInformativeEqualsExpectedEntropy(t *testing.T) {
	entropy := func(p *success.Posterior) (h float64) {
		for _, w := range p.Weights() {
			if w > 0 {
				h -= w * math.Log(w)
			}
		}
		return h
	}
	rapid.Check(t, func(t *rapid.T) {
		var curves []success.Curve
		for range rapid.IntRange(2, 8).Draw(t, "curves") {
			curves = append(curves, success.Curve{Middle: rapid.Float64Range(80, 200).Draw(t, "middle"),
				Width: rapid.Float64Range(2, 30).Draw(t, "width"), Lapse: 0.02})
		}
		var seen []success.Trials
		for range rapid.IntRange(0, 5).Draw(t, "reps") {
			seen = append(seen, success.Trials{BPM: rapid.Float64Range(80, 200).Draw(t, "bpm"), Good: rapid.IntRange(0, 1).Draw(t, "good"), N: 1})
		}
		after := func(bpm float64, good bool) *success.Posterior {
			p := success.NewPosterior(curves)
			for _, s := range seen {
				p.Observe(s.BPM, s.Good == 1)
			}
			if bpm > 0 {
				p.Observe(bpm, good)
			}
			return p
		}
		tempi := []float64{90, 120, 150, 180}
		p := after(0, false)
		expected := func(bpm float64) float64 {
			q := p.Share(bpm).Value
			return q*entropy(after(bpm, true)) + (1-q)*entropy(after(bpm, false))
		}
		got := expected(p.Informative(tempi))
		for _, bpm := range tempi {
			if e := expected(bpm); e < got-1e-6 {
				t.Fatalf("%v leaves %v, the chosen tempo %v", bpm, e, got)
			}
		}
	})
}

// Tempo undoes At.
func TestCurveInverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := success.Curve{Middle: rapid.Float64Range(50, 300).Draw(t, "middle"), Width: rapid.Float64Range(1, 40).Draw(t, "width"), Lapse: 0.02}
		share := rapid.Float64Range(0.01, 0.97).Draw(t, "share")
		if got := c.At(c.Tempo(share)); math.Abs(got-share) > 1e-9 {
			t.Fatalf("%v came back as %v", share, got)
		}
	})
	if c := (success.Curve{Middle: 100, Width: 5, Lapse: 0.02}); !math.IsNaN(c.Tempo(0.99)) || !math.IsNaN(c.Tempo(0)) {
		t.Error("a tempo for what is never reached")
	}
}
