package sides_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"heeltoe/trainer/estimate"
	"heeltoe/trainer/internal/outside"
	"heeltoe/trainer/sides"
	"heeltoe/trainer/success"
)

// player is a simulated player of one side, of whom the truth is known.
type player struct {
	curve     success.Curve
	scatterUS float64
	half      float64 // chance that half of a bracket is missed
}

// runs gives 16 runs of 12 reps at four tempi, whose scatters vary by a tenth from
// run to run and grow with the tempo, with two brackets a rep.
func (p player) runs(rng *rand.Rand) []sides.Run {
	var out []sides.Run
	for i := range 16 {
		r := sides.Run{BPM: 110 + 15*float64(i%4), Clear: 12, Brackets: 24}
		for range r.Clear {
			if rng.Float64() < p.curve.At(r.BPM) {
				r.Good++
			}
		}
		for range r.Brackets {
			if rng.Float64() < p.half {
				r.Halves++
			}
		}
		r.ScatterUS = p.scatterUS * r.BPM / 110 * math.Exp(0.1*rng.NormFloat64())
		out = append(out, r)
	}
	return out
}

// Of simulated players with a weak side it is found, by what is weak of it; of those with equal
// sides at most one in ten is told of one.
func TestWeakSideIsFoundWhereThereIsOne(t *testing.T) {
	even := player{success.Curve{Middle: 140, Width: 8, Lapse: success.Lapse}, 18_000, 0.04}
	slow, wide, halved := even, even, even
	slow.curve.Middle -= 14
	wide.scatterUS *= 1.2
	halved.half = 0.12
	const players = 60
	for _, c := range []struct {
		name        string
		weak        player
		by          string
		least, most int // of the players in whom that side is named the weak one
	}{
		{"equal", even, "", 0, players / 10},
		{"slower", slow, "limit", players * 80 / 100, players},
		{"wider", wide, "scatter", players * 80 / 100, players},
		{"half brackets", halved, "halves", players * 80 / 100, players},
	} {
		named, other, by := 0, 0, 0
		for i := range uint64(players) {
			rng := estimate.Rand(1000*i + uint64(len(c.name)))
			weak := int(i % 2)
			runs := [2][]sides.Run{even.runs(rng), even.runs(rng)}
			runs[weak] = c.weak.runs(rng)
			got := sides.Compare(runs[0], runs[1], 0.8)
			side, how := got.Weaker()
			switch {
			case side == weak:
				named++
			case side >= 0:
				other++
			}
			if slices.Contains(how, c.by) {
				by++
			}
		}
		t.Logf("%s: named %d of %d (by %s %d), the other side %d", c.name, named, players, c.by, by, other)
		if named < c.least || named+other > c.most && c.by == "" || c.by != "" && (by < c.least || other > players/20) {
			t.Errorf("%s: named %d, by %s %d, the other side %d of %d", c.name, named, c.by, by, other, players)
		}
	}
}

// The difference of scatters is the side's coefficient of least squares on the band
// of tempo and the side, by scipy's solver on the whole design.
func TestScatterEqualsLeastSquares(t *testing.T) {
	rng := estimate.Rand(3)
	var runs [2][]sides.Run
	var design [][]float64
	var y []float64
	for range 23 {
		k, band := rng.IntN(2), rng.IntN(3)
		r := sides.Run{BPM: 100 + 10*float64(band) + 9*rng.Float64(), ScatterUS: math.Exp(9 + 0.2*rng.NormFloat64() + 0.1*float64(k))}
		runs[k] = append(runs[k], r)
		row := make([]float64, 4)
		row[band], row[3] = 1, float64(k)
		design, y = append(design, row), append(y, math.Log(r.ScatterUS))
	}
	var want [][]float64
	outside.Scipy(t, []any{map[string]any{"do": "lstsq", "design": design, "y": y, "level": sides.Level}}, &want)
	got := sides.Compare(runs[0], runs[1], 0.8).Scatter
	outside.Near(t, "ratio", math.Log(got.Value), want[0][0], 1e-9)
	outside.Near(t, "low", math.Log(got.Low), want[0][1], 1e-9)
	outside.Near(t, "high", math.Log(got.High), want[0][2], 1e-9)
	if got.N != 23 || got.Why != nil {
		t.Errorf("%+v", got)
	}
}

// What cannot be told says why, and names no side.
func TestCompareRefuses(t *testing.T) {
	one := []sides.Run{{BPM: 100, Clear: 8, Good: 8, ScatterUS: 9000}}
	far := []sides.Run{{BPM: 180, Clear: 8, Good: 8, ScatterUS: math.NaN()}}
	for name, c := range map[string][2][]sides.Run{"none": {}, "one side": {one, nil}, "one run each": {one, one}, "far tempi": {one, far}} {
		got := sides.Compare(c[0], c[1], 0.8)
		for what, d := range map[string]sides.Difference{"limit": got.Limit, "scatter": got.Scatter, "halves": got.Halves} {
			if d.Why == nil || d.Known() || !math.IsNaN(d.Value) {
				t.Errorf("%s: %s is %+v", name, what, d)
			}
		}
		if side, by := got.Weaker(); side != -1 || len(by) > 0 {
			t.Errorf("%s: side %d by %v", name, side, by)
		}
	}
}

// A foot that begins on both sides does so by habit; where the feet change with
// the side, or it is not shown, there is none.
func TestHabits(t *testing.T) {
	of := func(left, right, even int) sides.Habit {
		var runs []sides.Feet
		for range left {
			runs = append(runs, sides.Feet{Lead: sides.Count{8, 1}})
		}
		for range right {
			runs = append(runs, sides.Feet{Lead: sides.Count{0, 8}})
		}
		for range even {
			runs = append(runs, sides.Feet{Lead: sides.Count{4, 4}})
		}
		return sides.HabitsOf(runs).Lead
	}
	left, right, open := of(12, 1, 3), of(1, 12, 0), of(7, 6, 0)
	if left.N != 13 || !left.Holds(12./13) {
		t.Errorf("%+v", left)
	}
	for _, c := range []struct {
		a, b sides.Habit
		foot string
	}{{left, left, "L"}, {right, right, "R"}, {left, right, ""}, {left, open, ""}, {of(0, 0, 0), left, ""}} {
		foot, ok := sides.ByHabit(c.a, c.b)
		if ok != (c.foot != "") || ok && foot.String() != c.foot {
			t.Errorf("%+v and %+v: %v, %v", c.a, c.b, foot, ok)
		}
	}
}
