package trend_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/trainer/estimate"
	"heeltoe/trainer/internal/outside"
	"heeltoe/trainer/trend"
)

// indices gives 0, 1, … n − 1.
func indices(n int) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = float64(i)
	}
	return x
}

// Worked examples, computed apart from this program by the published formulas;
// the first is the small-sample example of US EPA QA/G-9 (p = .117, from memory).
func TestMannKendallWorked(t *testing.T) {
	for _, c := range []struct {
		y         []float64
		s         int
		v, z, p   float64 // p as the exact test or, with ties, the normal approximation has it
		exact     bool
		oneSided  float64
		slope, at float64 // Theil–Sen
	}{
		{y: []float64{5, 6, 11, 8, 10}, s: 6, v: 16.6667, z: 1.224745, exact: true, p: 28. / 120, oneSided: 14. / 120, slope: 4. / 3, at: 8 - 2*4./3},
		{y: []float64{23, 24, 29, 6, 29, 24, 24, 29, 23}, s: 3, v: 83.6667, z: 0.2186522, p: 0.826921, oneSided: 0.826921 / 2, slope: 0, at: 24},
		{y: []float64{12.1, 12.4, 12.0, 12.9, 13.3, 13.1, 13.8, 14.2, 14.0, 15.1}, s: 37, v: 125, z: 3.219938, exact: true, p: math.NaN(), slope: 0.3, at: 11.85},
	} {
		got, err := trend.MannKendall(c.y)
		if err != nil {
			t.Fatal(err)
		}
		if got.S != c.s || got.Exact != c.exact || got.N != len(c.y) {
			t.Errorf("%+v, want S %d", got, c.s)
		}
		outside.Near(t, "var", got.Var, c.v, 5e-5)
		outside.Near(t, "z", got.Z, c.z, 5e-7)
		if !math.IsNaN(c.p) {
			outside.Near(t, "p", got.P, c.p, 5e-7)
			outside.Near(t, "one-sided p", got.OneSided, c.oneSided, 5e-7)
		}
		l, err := trend.TheilSen(indices(len(c.y)), c.y, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		if c.slope != 4./3 { // of five points the slope was not given
			outside.Near(t, "slope", l.Slope.Value, c.slope, 1e-12)
			outside.Near(t, "intercept", l.Intercept, c.at, 1e-12)
		}
	}
	// 2·Φ(−3.219938), the normal p of the third, as was given for it.
	outside.Near(t, "normal p", math.Erfc(3.219938/math.Sqrt2), 0.00128218, 5e-9)
}

// Annual flow of the Nile 1871–1970 (Cobb 1978): the classic change is at 1898,
// the 28th value. S, slope and interval as R and scipy have them, K of Pettitt's test by its
// formula, apart from this program.
func TestNile(t *testing.T) {
	var y []float64
	for _, r := range outside.Rows(t, outside.Data(t, "trend", "nile.csv")) {
		y = append(y, outside.Number(t, r["flow"]))
	}
	mk, err := trend.MannKendall(y)
	if err != nil {
		t.Fatal(err)
	}
	if mk.S != -1387 || mk.Exact || mk.N != 100 {
		t.Errorf("%+v", mk)
	}
	outside.Near(t, "var", mk.Var, 112728.3333, 5e-5)
	outside.Near(t, "z", mk.Z, -4.1280665, 5e-8)
	outside.Near(t, "p", mk.P, 3.65826e-5, 5e-11)
	l, err := trend.TheilSen(indices(100), y, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	outside.Near(t, "slope", l.Slope.Value, -2.6, 1e-12)
	outside.Near(t, "low", l.Slope.Low, -3.627907, 5e-7)
	outside.Near(t, "high", l.Slope.High, -1.428571, 5e-7)
	c, err := trend.Pettitt(y)
	if err != nil {
		t.Fatal(err)
	}
	if c.At != 28 || c.K != 1617 {
		t.Errorf("%+v, want a change after the 28th value, K 1617", c)
	}
	outside.Near(t, "p", c.P, 3.59102e-7, 5e-13)
}

// Slopes, intervals and exact probabilities equal those of scipy.
func TestEqualsScipy(t *testing.T) {
	type job struct {
		Do    string    `json:"do"`
		X     []float64 `json:"x"`
		Y     []float64 `json:"y"`
		Level float64   `json:"level"`
	}
	rng := estimate.Rand(5)
	var jobs []job
	for n := 4; n <= 64; n += 4 {
		var x, y, plain []float64
		for i := range n {
			x = append(x, float64(i/(1+n%3))) // some x repeat
			plain = append(plain, 0.05*float64(i)+rng.NormFloat64())
			y = append(y, math.Round(2*plain[i])) // many y repeat
		}
		jobs = append(jobs, job{"theil_sen", x, plain, 0.9}, job{"theil_sen", indices(n), y, 0.95})
		if n <= 40 {
			jobs = append(jobs, job{"kendall", nil, plain, 0})
		}
	}
	var want [][]float64
	outside.Scipy(t, jobs, &want)
	for i, j := range jobs {
		if j.Do == "kendall" {
			got, err := trend.MannKendall(j.Y)
			if err != nil || !got.Exact {
				t.Fatal(err, got)
			}
			outside.Near(t, "exact p", got.P/want[i][0], 1, 1e-9)
			continue
		}
		l, err := trend.TheilSen(j.X, j.Y, j.Level)
		if err != nil {
			t.Fatal(err)
		}
		for k, got := range []float64{l.Slope.Value, l.Intercept, l.Slope.Low, l.Slope.High} {
			outside.Near(t, "theil-sen", got, want[i][k], 1e-12)
		}
	}
}

// S and K against their definitions, pair by pair; a series turned round falls as
// much as it rose and changes at the mirrored place.
func TestAgainstDefinitions(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var y []float64
		for _, v := range rapid.SliceOfN(rapid.IntRange(-5, 5), 2, 50).Draw(t, "y") {
			y = append(y, float64(v))
		}
		n := len(y)
		sign := func(d float64) int {
			switch {
			case d > 0:
				return 1
			case d < 0:
				return -1
			}
			return 0
		}
		s, k := 0, 0
		for j := range y {
			for i := range j {
				s += sign(y[j] - y[i])
			}
		}
		for cut := 1; cut < n; cut++ {
			u := 0
			for _, a := range y[:cut] {
				for _, b := range y[cut:] {
					u += sign(a - b)
				}
			}
			k = max(k, u, -u)
		}
		mk, err := trend.MannKendall(y)
		if err != nil || mk.S != s || !(mk.P >= 0 && mk.P <= 1) || mk.OneSided > 0.75 {
			t.Fatalf("%+v (%v), S is %d", mk, err, s)
		}
		c, err := trend.Pettitt(y)
		if err != nil || int(math.Round(c.K)) != k || !(c.P > 0 && c.P <= 1) {
			t.Fatalf("%+v (%v), K is %d", c, err, k)
		}
		back := make([]float64, n)
		for i := range y {
			back[n-1-i] = y[i]
		}
		if r, err := trend.MannKendall(back); err != nil || r.S != -s {
			t.Fatalf("%+v (%v) turned round, S was %d", r, err, s)
		}
	})
}

func TestRefusals(t *testing.T) {
	if _, err := trend.MannKendall([]float64{1}); err == nil {
		t.Error("a trend of one value")
	}
	if _, err := trend.MannKendall(make([]float64, trend.MaxN+1)); err == nil {
		t.Error("a trend of too many values")
	}
	if _, err := trend.TheilSen([]float64{3, 3}, []float64{1, 2}, 0.9); err == nil {
		t.Error("a line through two points of one x")
	}
	if _, err := trend.TheilSen(make([]float64, trend.MaxN+1), make([]float64, trend.MaxN+1), 0.9); err == nil {
		t.Error("a line through too many points")
	}
	if _, err := trend.Pettitt(nil); err == nil {
		t.Error("a change of nothing")
	}
}
