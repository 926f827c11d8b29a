package estimate_test

import (
	"math"
	"testing"

	"heeltoe/trainer/estimate"
	"heeltoe/trainer/internal/outside"
)

// The interval of a mean is scipy's.
func TestMeanEqualsScipy(t *testing.T) {
	rng := estimate.Rand(4)
	var jobs []any
	var all [][]float64
	for _, n := range []int{2, 3, 9, 50} {
		x := make([]float64, n)
		for i := range x {
			x[i] = 5 + 2*rng.NormFloat64()
		}
		all = append(all, x)
		jobs = append(jobs, map[string]any{"do": "middle", "level": 0.9, "x": x})
	}
	var want [][]float64
	outside.Scipy(t, jobs, &want)
	for i, x := range all {
		got := estimate.Mean(x, 0.9)
		outside.Near(t, "low", got.Low, want[i][0], 1e-9)
		outside.Near(t, "high", got.High, want[i][1], 1e-9)
		if got.N != len(x) {
			t.Errorf("n %d of %d", got.N, len(x))
		}
	}
	if f := estimate.Mean([]float64{3}, 0.9); f.Value != 3 || f.Known() {
		t.Errorf("of one: %+v", f)
	}
	if f := estimate.Mean(nil, 0.9); !math.IsNaN(f.Value) || f.Known() {
		t.Errorf("of none: %+v", f)
	}
}
