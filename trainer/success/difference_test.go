package success_test

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/trainer/estimate"
	"heeltoe/trainer/internal/outside"
	"heeltoe/trainer/success"
)

// Reps taken at once tell what they tell one by one.
func TestObserveAllEqualsObserve(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		one, all := success.NewPosterior(success.Grid(100, 130)), success.NewPosterior(success.Grid(100, 130))
		for range rapid.IntRange(1, 4).Draw(t, "tempi") {
			x := success.Trials{BPM: rapid.Float64Range(100, 130).Draw(t, "bpm"), N: rapid.IntRange(0, 30).Draw(t, "n")}
			x.Good = rapid.IntRange(0, x.N).Draw(t, "good")
			for k := range x.N {
				one.Observe(x.BPM, k < x.Good)
			}
			all.ObserveAll(x)
		}
		a, b := one.Tempo(0.8), all.Tempo(0.8)
		if a.N != b.N || math.Abs(a.Value-b.Value) > 1e-6 || a.Interval != b.Interval {
			t.Fatalf("one by one %+v, at once %+v", a, b)
		}
	})
}

// The interval of the difference of two limits holds the truth nine times in ten,
// and a limit that is 12 beats a minute lower is found nearly always.
func TestDifferenceHoldsTheTruth(t *testing.T) {
	const players = 100
	held, found, wrong := 0, 0, 0
	for i := range uint64(players) {
		rng := estimate.Rand(i)
		a := success.Curve{Middle: 130 + 20*rng.Float64(), Width: 4 + 6*rng.Float64(), Lapse: success.Lapse}
		b := a
		if i%2 == 0 {
			b.Middle -= 12
		}
		d, err := success.Difference(observed(played(a, tempi, 40, 2*i)), observed(played(b, tempi, 40, 2*i+1)), 0.8, estimate.Level, tempi[0], tempi[len(tempi)-1])
		if err != nil {
			t.Fatal(err)
		}
		if d.Holds(b.Tempo(0.8) - a.Tempo(0.8)) {
			held++
		}
		switch {
		case i%2 == 0 && d.High < 0:
			found++
		case i%2 == 1 && !d.Holds(0):
			wrong++
		}
		if d.N != 2*40*len(tempi) {
			t.Fatalf("of %d reps", d.N)
		}
	}
	t.Logf("held %d of %d; found %d of %d; named where there is none %d of %d", held, players, found, players/2, wrong, players/2)
	outside.Near(t, "share held", float64(held)/players, estimate.Level, 0.06)
	if found < 44 || wrong > 9 {
		t.Errorf("found %d, wrong %d", found, wrong)
	}
}

func TestWithinSaysWhereTheLimitMayLie(t *testing.T) {
	for _, c := range []struct {
		trials []success.Trials
		why    string
	}{
		{nil, "no rep is clear"},
		{[]success.Trials{{BPM: 100, Good: 40, N: 40}, {BPM: 120, Good: 40, N: 40}}, "above 120"},
		{[]success.Trials{{BPM: 100, Good: 0, N: 40}, {BPM: 120, Good: 0, N: 40}}, "below 100"},
		{[]success.Trials{{BPM: 100, Good: 1, N: 1}}, "anywhere"},
		{[]success.Trials{{BPM: 90, Good: 40, N: 40}, {BPM: 105, Good: 30, N: 40}, {BPM: 120, Good: 2, N: 40}}, ""},
	} {
		p := success.NewPosterior(success.Grid(90, 120))
		for _, x := range c.trials {
			p.ObserveAll(x)
		}
		slowest := 90.0
		if c.why == "below 100" || c.why == "anywhere" {
			slowest = 100
		}
		_, err := p.Within(0.8, slowest, 120)
		if (c.why == "") != (err == nil) || err != nil && !strings.Contains(err.Error(), c.why) {
			t.Errorf("%v: %v", c.trials, err)
		}
	}
}

// Of one who was not brought to the limit the difference has one end, of two none.
func TestDifferenceWithAnOpenEnd(t *testing.T) {
	at := func(middle float64) *success.Posterior {
		return observed(played(success.Curve{Middle: middle, Width: 5, Lapse: success.Lapse}, tempi, 40, 5))
	}
	inside, fast, slow := at(140), at(220), at(90)
	for _, c := range []struct {
		name           string
		first, second  *success.Posterior
		least, most    float64 // what the known end lies between; both 0: refused
		openLow, above bool
	}{
		{"faster than was played", inside, fast, 25, 50, false, true},
		{"the other way round", fast, inside, -50, -25, true, false},
		{"slower than was played", inside, slow, -45, -25, true, false},
		{"both faster", fast, fast, 0, 0, false, false},
		{"both slower", slow, slow, 0, 0, false, false},
	} {
		d, err := success.Difference(c.first, c.second, 0.8, estimate.Level, tempi[0], tempi[len(tempi)-1])
		switch {
		case c.least == 0:
			if err == nil || d.Known() {
				t.Errorf("%s: %+v, %v", c.name, d, err)
			}
		case err != nil || !math.IsNaN(d.Value) || math.IsInf(d.Low, -1) != c.openLow || math.IsInf(d.High, 1) != c.above:
			t.Errorf("%s: %+v, %v", c.name, d, err)
		case c.openLow && !(d.High > c.least && d.High < c.most), c.above && !(d.Low > c.least && d.Low < c.most):
			t.Errorf("%s: %+v", c.name, d)
		}
	}
}

// The probability of being the lowest is that of draws from the posteriors.
func TestLowestEqualsDraws(t *testing.T) {
	all := []*success.Posterior{
		observed(played(success.Curve{Middle: 140, Width: 8, Lapse: success.Lapse}, tempi, 20, 1)),
		observed(played(success.Curve{Middle: 145, Width: 8, Lapse: success.Lapse}, tempi, 20, 2)),
		observed(played(success.Curve{Middle: 150, Width: 8, Lapse: success.Lapse}, tempi, 20, 3)),
	}
	grid := success.Grid(60, 240) // as observed has it
	rng := estimate.Rand(9)
	draw := func(w []float64) float64 {
		u := rng.Float64()
		for i, x := range w {
			if u -= x; u < 0 {
				return grid[i].Tempo(0.8)
			}
		}
		return grid[len(w)-1].Tempo(0.8)
	}
	var weights [][]float64
	for _, p := range all {
		weights = append(weights, p.Weights())
	}
	var count [3]float64
	const draws = 4000
	for range draws {
		least, at := math.Inf(1), 0
		for i, w := range weights {
			if v := draw(w); v < least {
				least, at = v, i
			}
		}
		count[at]++
	}
	got := success.Lowest(all, 0.8)
	for i := range got {
		outside.Near(t, "share of draws", got[i], count[i]/draws, 0.03)
	}
	if one := success.Lowest(all[:1], 0.8); one[0] != 1 {
		t.Errorf("of one: %v", one)
	}
}
