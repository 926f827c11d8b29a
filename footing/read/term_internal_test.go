package read

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/diff/fd"
	"gonum.org/v1/gonum/integrate/quad"
	"pgregory.net/rapid"
)

// drawValues gives values within two standard deviations of the priors.
func drawValues(t *rapid.T) Values {
	v := mean()
	for i := range v {
		v[i] += Priors[i].SD * rapid.Float64Range(-2, 2).Draw(t, Priors[i].Name)
	}
	return v
}

// The slopes of every term are those of gonum's finite differences.
func TestSlopesEqualDifferences(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := drawValues(t)
		f := fact{kind: termKind(rapid.IntRange(int(constTerm), int(termKinds)-1).Draw(t, "kind")), x: rapid.Float64Range(-80, 80).Draw(t, "x")}
		if f.kind == releaseTerm {
			free := rapid.Float64Range(20, 500).Draw(t, "free")
			if rapid.Bool().Draw(t, "never") {
				free = inf
			}
			f = newRelease(rapid.Float64Range(5, 500).Draw(t, "x"), free, rapid.SampledFrom([]float64{clearShare, .6, 1, 1.2}).Draw(t, "swing"))
			f.over = rapid.SampledFrom([]float64{50, 120, 250, inf}).Draw(t, "over")
			f.unseen = [2]bool{rapid.Bool().Draw(t, "unseen free"), rapid.Bool().Draw(t, "unseen over")}
			f.own = rapid.SampledFrom([][2]Param{{}, {PanelDwell, PanelDwell}, {PanelDwell + 1, PanelDwell + 4}}).Draw(t, "own")
			f.hold = rapid.SampledFrom([]float64{0, 0, 0, 300}).Draw(t, "hold")
		}
		f.before = rapid.SampledFrom([]float64{math.NaN(), -60, 0, 30}).Draw(t, "before")
		var s slopes
		newLaw(v).log(&f, &s)
		var got Values
		for i := range s.n {
			got[s.of[i]] += s.by[i]
		}
		want := fd.Gradient(nil, func(x []float64) float64 { return newLaw(Values(x)).log(&f, nil) }, v[:], &fd.Settings{Formula: fd.Central})
		for i := range got {
			if math.Abs(got[i]-want[i]) > 1e-4*math.Max(1, math.Abs(want[i])) {
				t.Fatalf("%+v: the slope by %s is %v, by differences %v", f, Priors[i].Name, got[i], want[i])
			}
		}
	})
}

// Times that are certain to come have densities whose integral is 1: of a release
// all but what follows no rule, which is spread evenly. (A foot that must go at once
// may by the normal law have gone before it came: that part is not looked at here.)
func TestDensitiesIntegrateToOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := newLaw(drawValues(t))
		kind := termKind(rapid.IntRange(int(middleTerm), int(termKinds)-1).Draw(t, "kind"))
		before := rapid.SampledFrom([]float64{math.NaN(), -60, 0, 30}).Draw(t, "before")
		density := func(x float64) float64 { f := fact{kind: kind, x: x, before: before}; return math.Exp(l.log(&f, nil)) }
		low, high, want, within := -20_000.0, 20_000.0, 1.0, 2e-3
		if kind == releaseTerm {
			free := rapid.SampledFrom([]float64{350, 500, 800, inf}).Draw(t, "free")
			over := rapid.SampledFrom([]float64{300, 500, inf}).Draw(t, "over")
			density = func(x float64) float64 { f := newRelease(x, free, 1); f.over = over; return math.Exp(l.log(&f, nil)) }
			low, high = 1, 6000
			want = 1 - oddRate + oddRate/oddSpan*(high-low)
			within = 5e-3 // what lies below 1 ms and above 6 s
		}
		sum := 0.0
		for part, step := low, (high-low)/800; part < high; part += step {
			sum += quad.Fixed(density, part, part+step, 40, nil, 0)
		}
		if math.Abs(sum-want) > within {
			t.Fatalf("kind %d: the integral is %v, not %v", kind, sum, want)
		}
	})
}
