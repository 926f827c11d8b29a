package timing_test

import (
	"errors"
	"io"
	"math"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/input/synth"
	"heeltoe/judge/drill"
	"heeltoe/trainer/estimate"
	"heeltoe/trainer/internal/outside"
	"heeltoe/trainer/timing"
)

// Worked by hand from the formulas of Wing and Kristofferson (1973) and, in
// exact fractions, apart from this program.
func TestTwoProcessWorked(t *testing.T) {
	x := [][]float64{{470, 525, 480, 505, 480, 495, 500, 530, 510, 505}}
	outside.Near(t, "g0", timing.Autocovariance(x, 0), 340, 1e-9)
	outside.Near(t, "g1", timing.Autocovariance(x, 1), -100, 1e-9)
	clock, motor, err := timing.WingKristofferson(x)
	if err != nil {
		t.Fatal(err)
	}
	outside.Near(t, "clock", clock, 140, 1e-9)
	outside.Near(t, "motor", motor, 100, 1e-9)
	y := [][]float64{{500, 510, 490, 505, 495, 510, 488, 502, 498, 502}}
	outside.Near(t, "correlation", timing.Autocovariance(y, 1)/timing.Autocovariance(y, 0), -0.745059, 5e-7)
	for name, z := range map[string][][]float64{
		"a clock variance of −24.8": y,
		"a rising correlation":      {{1, 1, 1, 1, 2, 2, 2, 2}},
		"no spread":                 {{5, 5, 5, 5}},
	} {
		var refused *estimate.Refused
		if _, _, err := timing.WingKristofferson(z); !errors.As(err, &refused) || refused.Reason == "" {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// played gives the offsets, in µs, of a synthetic player who alternates, a press every 500 ms.
func played(t *testing.T, presses int64, alpha, clockMS, motorMS float64, seed uint64) []float64 {
	t.Helper()
	p := synth.Defaults()
	p.PhaseCorrection, p.ClockSDMS, p.MotorSDMS, p.StaggerSDMS = alpha, clockMS, motorMS, 0
	d, err := drill.New(drill.Spec{Name: "x", Layout: "single", BPM: 120, PerBeat: 1, Reps: presses / 2, Steps: "sw se"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	y, err := synth.New(d, footing.Default(d), pad.Second, p, seed)
	if err != nil {
		t.Fatal(err)
	}
	var x []float64
	for g := d.Grid(pad.Second); ; {
		e, err := y.Next()
		if err == io.EOF {
			return x
		}
		if err != nil {
			t.Fatal(err)
		}
		if e.Kind == pad.Down {
			x = append(x, float64(e.T-g.Due(0, int64(len(x)))))
		}
	}
}

// The trap: presses that follow a click have interval covariances 2(g0 − g1) and
// 2g1 − g0 − g2 by the phase-correction model (Vorberg and Schulze 2002), 216.67 and
// −79.17 ms² for α 0.5, clock 10 ms, motor 5 ms. The two-process split takes them
// for a motor variance of 79.17 (true: 25) and a clock of 58.33 (true: 100). So
// Unpaced refuses them, and Paced gives what is true.
func TestPacedPressesAreRefusedBySplitForSilence(t *testing.T) {
	x := played(t, 20_000, 0.5, 10, 5, 1)
	var intervals []float64
	for i := 1; i < len(x); i++ {
		intervals = append(intervals, 500+(x[i]-x[i-1])/1000)
	}
	clock, motor, err := timing.WingKristofferson([][]float64{intervals})
	if err != nil {
		t.Fatal(err)
	}
	outside.Near(t, "the wrong motor variance", motor, 79.1667, 4)
	outside.Near(t, "the wrong clock variance", clock, 58.3333, 6)

	s := timing.Segment{Spacing: 500 * pad.Millisecond, Offsets: x}
	var refused *estimate.Refused
	if _, err := timing.Unpaced([]timing.Segment{s}, 1); !errors.As(err, &refused) {
		t.Errorf("presses with the click were split as if it were silent: %v", err)
	}
	quiet := s
	quiet.Silent = true
	if _, err := timing.Unpaced([]timing.Segment{quiet, s}, 1); !errors.As(err, &refused) {
		t.Errorf("silent presses mixed with others were taken: %v", err)
	}
	if _, err := timing.Paced([]timing.Segment{s, quiet}, 1); !errors.As(err, &refused) {
		t.Errorf("presses without a click were taken as following it: %v", err)
	}
	c, err := timing.Paced([]timing.Segment{s}, 1)
	if err != nil {
		t.Fatal(err)
	}
	outside.Near(t, "correction", c.Alpha.Value, 0.5, 0.03)
	outside.Near(t, "timekeeper", c.Clock.Value/1000, 10, 0.3)
	outside.Near(t, "motor", c.Motor.Value/1000, 5, 0.3)
	if !c.Alpha.Holds(0.5) || !c.Clock.Holds(10_000) || !c.Motor.Holds(5_000) {
		t.Errorf("intervals %v %v %v miss the truth", c.Alpha, c.Clock, c.Motor)
	}
	if c.Alpha.N != len(x)-1 {
		t.Errorf("n is %d of %d pairs", c.Alpha.N, len(x)-1)
	}
}

// alone gives n + 1 press moments of the two-process model as offsets from a steady grid.
func alone(n int, clockMS, motorMS, driftMS float64, seed uint64) timing.Segment {
	rng := estimate.Rand(seed)
	s := timing.Segment{Silent: true, Spacing: 500 * pad.Millisecond}
	tick := 0.0
	for i := range n + 1 {
		s.Offsets = append(s.Offsets, 1000*(tick+motorMS*rng.NormFloat64()))
		tick += clockMS*rng.NormFloat64() + driftMS*float64(i)
	}
	return s
}

// The two-process split finds what made the intervals, through a steady drift too.
func TestUnpacedFindsTheTruth(t *testing.T) {
	for _, drift := range []float64{0, 0.01} {
		got, err := timing.Unpaced([]timing.Segment{alone(2000, 20, 10, drift, 3), alone(2000, 20, 10, drift, 4)}, 1)
		if err != nil {
			t.Fatal(err)
		}
		outside.Near(t, "clock", got.Clock.Value/1000, 20, 1)
		outside.Near(t, "motor", got.Motor.Value/1000, 10, 1)
		if !got.Clock.Holds(20_000) || !got.Motor.Holds(10_000) || got.Clock.N != 4000 {
			t.Errorf("%+v misses the truth", got)
		}
	}
	if _, err := timing.Unpaced([]timing.Segment{alone(timing.Least-1, 20, 10, 0, 1)}, 1); err == nil {
		t.Errorf("%d intervals were taken", timing.Least-1)
	}
}

// Bias of the two-process split in small samples, as simulated apart from this
// program (clock variance 400, motor 100; means of 4,000 runs): 334 and 116 of
// 15 intervals, 379 and 105 of 60, where 7.8 % of the motor variances are below 0.
func TestSmallSamplesOfTwoProcesses(t *testing.T) {
	const runs = 4000
	for _, c := range []struct {
		n                       int
		clock, motor, belowZero float64
	}{{15, 334, 116, 0.207}, {60, 379, 105, 0.078}} {
		var clock, motor, below float64
		for seed := range uint64(runs) {
			s := alone(c.n, 20, 10, 0, 1000+seed)
			var x []float64
			for i := 1; i < len(s.Offsets); i++ {
				x = append(x, (s.Offsets[i]-s.Offsets[i-1])/1000)
			}
			m := -timing.Autocovariance([][]float64{x}, 1)
			motor += m / runs
			clock += (timing.Autocovariance([][]float64{x}, 0) - 2*m) / runs
			if m < 0 {
				below += 1.0 / runs
			}
		}
		outside.Near(t, "clock variance", clock, c.clock, 15)
		outside.Near(t, "motor variance", motor, c.motor, 6)
		outside.Near(t, "share below 0", below, c.belowZero, 0.02)
	}
}

// What the fit recovers of (0.4, 15, 5): of 200 presses a mean of (.411, 14.6, 4.2)
// with an SD of α of .090; of 30 presses (.475, 14.6, 3.4) and .193, as simulated
// apart from this program.
func TestRecoveryOfCorrection(t *testing.T) {
	for _, c := range []struct {
		n                       int64
		alpha, clock, motor, sd float64
	}{{200, 0.411, 14.6, 4.2, 0.090}, {30, 0.475, 14.6, 3.4, 0.193}} {
		const runs = 400
		var alphas []float64
		var alpha, clock, motor, sq float64
		for seed := range uint64(runs) {
			a, s, m, err := timing.PhaseCorrection([][]float64{played(t, c.n, 0.4, 15, 5, seed)})
			if err != nil {
				t.Fatal(err)
			}
			alphas = append(alphas, a)
			alpha, clock, motor = alpha+a/runs, clock+s/1000/runs, motor+m/1000/runs
		}
		for _, a := range alphas {
			sq += (a - alpha) * (a - alpha) / (runs - 1)
		}
		outside.Near(t, "mean correction", alpha, c.alpha, 0.03)
		outside.Near(t, "mean timekeeper", clock, c.clock, 0.4)
		outside.Near(t, "mean motor", motor, c.motor, 0.6)
		outside.Near(t, "sd of correction", math.Sqrt(sq), c.sd, 0.02)
	}
}

// Whatever is fitted: the bound of the method holds, the unit does not matter, and a
// shift of all offsets changes nothing.
func TestPhaseCorrectionProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.SliceOfN(rapid.Float64Range(-80, 80), 8, 60).Draw(t, "offsets")
		alpha, clock, motor, err := timing.PhaseCorrection([][]float64{x})
		if err != nil {
			t.Skip(err)
		}
		if !(clock >= motor-1e-9) || math.IsNaN(alpha) || motor < 0 {
			t.Fatalf("α %v clock %v motor %v", alpha, clock, motor)
		}
		y := make([]float64, len(x))
		for i := range x {
			y[i] = 1000 * (x[i] + 33)
		}
		a, c, m, err := timing.PhaseCorrection([][]float64{y})
		if err != nil || math.Abs(a-alpha) > 1e-6 || math.Abs(c-1000*clock) > 0.01*(1+clock) || math.Abs(m-1000*motor) > 0.01*(1+motor) {
			t.Fatalf("%v %v %v became %v %v %v (%v)", alpha, clock, motor, a, c, m, err)
		}
	})
}
