package plateau_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"heeltoe/trainer/estimate"
	"heeltoe/trainer/plateau"
	"heeltoe/trainer/success"
)

var from = time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC)

// practice is a simulated player who drills on so many days of eight runs of 12 reps at
// four tempi. Limit and scatter change evenly by the shares given, and vary from day to
// day by one and five in a hundred, the scatter of a run by another eight.
type practice struct {
	days, every   int // days with runs, one in so many
	faster, wider float64
}

func (p practice) runs(rng *rand.Rand) []plateau.Run {
	var out []plateau.Run
	for d := range p.days {
		part := float64(d) / float64(p.days-1)
		c := success.Curve{Middle: 140 * (1 + p.faster*part) * (1 + 0.01*rng.NormFloat64()), Width: 8, Lapse: success.Lapse}
		today := 18_000 * math.Exp(part*math.Log1p(p.wider)+0.05*rng.NormFloat64())
		for k := range 8 {
			r := plateau.Run{Started: from.AddDate(0, 0, d*p.every).Add(time.Duration(k) * 5 * time.Minute), BPM: 105 + 15*float64(k%4), Clear: 12}
			for range r.Clear {
				if rng.Float64() < c.At(r.BPM) {
					r.Good++
				}
			}
			r.ScatterUS = today * math.Exp(0.08*rng.NormFloat64())
			out = append(out, r)
		}
	}
	return out
}

// A plateau that is there is found, and none is named where the player gets faster or
// steadier, or where there is too little to tell.
func TestPlateauIsFoundWhereThereIsOne(t *testing.T) {
	const players = 100
	for _, c := range []struct {
		name        string
		of          practice
		least, most int // of the players told of a plateau
	}{
		{"five weeks, nothing moves", practice{17, 2, 0, 0}, 80, players},
		{"a tenth faster", practice{17, 2, 0.2, 0}, 0, 5}, // 20 % from end to end is 10 % from half to half
		{"a third steadier", practice{17, 2, 0, -1. / 3}, 0, 5},
		{"slower again", practice{17, 2, -0.2, 0}, 0, 5},
		{"eight days, nothing moves", practice{8, 3, 0, 0}, 0, 50},
	} {
		found := 0
		moves := map[plateau.Move]int{}
		for i := range uint64(players) {
			f, err := plateau.Of(c.of.runs(estimate.Rand(i)), 0.8, time.UTC)
			if err != nil || f.TempoWhy != nil || f.ScatterWhy != nil {
				t.Fatalf("%s: %v, %v, %v", c.name, err, f.TempoWhy, f.ScatterWhy)
			}
			if f.Plateau() {
				found++
			}
			moves[f.Tempo]++
		}
		t.Logf("%s: a plateau in %d of %d; the tempo %v", c.name, found, players, moves)
		if found < c.least || found > c.most {
			t.Errorf("%s: a plateau in %d of %d", c.name, found, players)
		}
		if c.of.faster > 0 && moves[plateau.Up] < 90 || c.of.faster < 0 && moves[plateau.Down] < 90 {
			t.Errorf("%s: the tempo %v", c.name, moves)
		}
	}
}

// What cannot be told says why, and is no plateau.
func TestOfRefuses(t *testing.T) {
	rng := estimate.Rand(1)
	long := practice{17, 2, 0, 0}.runs(rng)
	good := practice{17, 2, 0, 0}.runs(rng)
	for i := range good {
		good[i].Good = good[i].Clear
	}
	bare := practice{17, 2, 0, 0}.runs(rng)
	for i := range bare {
		bare[i].Clear, bare[i].Good, bare[i].ScatterUS = 0, 0, math.NaN()
	}
	for _, c := range []struct {
		name           string
		runs           []plateau.Run
		refused        bool
		tempo, scatter bool // they can be told
	}{
		{"none", nil, true, false, false},
		{"a week", practice{7, 1, 0, 0}.runs(rng), true, false, false},
		{"seven days over weeks", practice{7, 4, 0, 0}.runs(rng), false, true, false},
		{"never at the limit", good, false, false, true},
		{"nothing to see", bare, false, false, false},
		{"enough", long, false, true, true},
	} {
		f, err := plateau.Of(c.runs, 0.8, time.UTC)
		if (err != nil) != c.refused || !c.refused && ((f.TempoWhy == nil) != c.tempo || (f.ScatterWhy == nil) != c.scatter) {
			t.Errorf("%s: %v, %v, %v", c.name, err, f.TempoWhy, f.ScatterWhy)
		}
		if f.Plateau() && !(c.tempo && c.scatter) {
			t.Errorf("%s is named a plateau", c.name)
		}
	}
}

// What lies further back than the window does not count.
func TestOfLooksAtTheLastWeeks(t *testing.T) {
	rng := estimate.Rand(2)
	runs := practice{17, 2, 0, 0}.runs(rng)
	old := practice{10, 2, 0, 0}.runs(rng)
	for i := range old {
		old[i].Started = old[i].Started.AddDate(-1, 0, 0)
	}
	a, errA := plateau.Of(runs, 0.8, time.UTC)
	b, errB := plateau.Of(append(old, runs...), 0.8, time.UTC)
	if errA != nil || errB != nil || a != b || a.Runs != len(runs) {
		t.Errorf("%+v, %v\n%+v, %v", a, errA, b, errB)
	}
}
