package adapt_test

import (
	"errors"
	"math"
	"os"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"heeltoe/trainer/adapt"
	"heeltoe/trainer/estimate"
	"heeltoe/trainer/internal/outside"
	"heeltoe/trainer/success"
)

// reversal is a trial, from 1, after which the level turned round.
type reversal struct {
	trial int
	level float64
}

// reversals gives those of a track, of which the last level has no trial.
func reversals(track []float64) []reversal {
	var out []reversal
	was := 0.0
	for i := 1; i < len(track); i++ {
		step := track[i] - track[i-1]
		if step*was < 0 {
			out = append(out, reversal{i, track[i-1]})
		}
		if step != 0 {
			was = step
		}
	}
	return out
}

// Levitt's (1971) figures 4 and 5, one up one down and one up two down, where a
// correct answer (C) lowers the level by 1: the levels, the reversals, the midpoints of
// every second run and the means of the last reversals, as they are worked in the
// tests of the UpDownMethods repository and again apart from this program.
func TestLevitt(t *testing.T) {
	for _, c := range []struct {
		name, answers string
		needed        int
		levels        []float64
		reversals     []reversal
		mid           []float64
		last2, last4  float64
	}{
		{"figure 4", "CCIIIICCIIICCCCCIIICCIII", 1,
			[]float64{0, -1, -2, -1, 0, 1, 2, 1, 0, 1, 2, 3, 2, 1, 0, -1, -2, -1, 0, 1, 0, -1, 0, 1},
			[]reversal{{3, -2}, {7, 2}, {9, 0}, {12, 3}, {17, -2}, {20, 1}, {22, -1}},
			[]float64{0, 1.5, -0.5}, 0, 0.25},
		{"figure 5", "CCCCICIICICCCCCIIICCCCCC", 2,
			[]float64{0, 0, -1, -1, -2, -1, -1, 0, 1, 1, 2, 2, 1, 1, 0, 0, 1, 2, 3, 3, 2, 2, 1, 1},
			[]reversal{{5, -2}, {12, 2}, {16, 0}, {20, 3}},
			[]float64{0, 1.5}, 1.5, 0.75},
	} {
		s := &adapt.Staircase{Up: -1, Down: -1, Needed: c.needed}
		var track []float64
		for _, a := range c.answers {
			track = append(track, s.Level)
			s.Feed(a == 'C')
		}
		if !slices.Equal(track, c.levels) {
			t.Errorf("%s: levels %v, want %v", c.name, track, c.levels)
		}
		r := reversals(append(track, s.Level))
		var mid []float64
		for i := 0; i+1 < len(r); i += 2 {
			mid = append(mid, (r[i].level+r[i+1].level)/2)
		}
		if !slices.Equal(r, c.reversals) || !slices.Equal(mid, c.mid) {
			t.Errorf("%s: reversals %v, runs %v", c.name, r, mid)
		}
		mean := func(n int) (m float64) {
			for _, v := range r[len(r)-n:] {
				m += v.level / float64(n)
			}
			return m
		}
		outside.Near(t, c.name+" last two", mean(2), c.last2, 1e-12)
		outside.Near(t, c.name+" last four", mean(4), c.last4, 1e-12)
	}
}

// Kaernbach's (1991) balance: of steps up (harder) and down, up·p = down·(1−p). For
// p of .75 a failure costs 3 steps, of .6 1.5, of .8 4, of .9 9. A ratio upside down would
// settle at 1 − p: the staircase is run on a player whose curve is known.
func TestWeightedSettlesAtItsTarget(t *testing.T) {
	for target, ratio := range map[float64]float64{0.75: 3, 0.6: 1.5, 0.8: 4, 0.9: 9} {
		s := adapt.Weighted(0, 0.1, target)
		outside.Near(t, "ratio", s.Down/s.Up, ratio, 1e-9)
		rng := estimate.Rand(uint64(100 * target))
		good := 0
		const trials = 40_000
		for range trials {
			ok := rng.Float64() < 1/(1+math.Exp(s.Level))
			if ok {
				good++
			}
			s.Feed(ok)
		}
		outside.Near(t, "share of successes", float64(good)/trials, target, 0.01)
	}
	// Levitt's rules: n successes in a row settle where pⁿ is a half.
	for n, target := range map[int]float64{1: 0.5, 2: 0.7071067812, 3: 0.7937005260, 4: 0.8408964153} {
		outside.Near(t, "pⁿ", math.Pow(target, float64(n)), 0.5, 1e-9)
		s := &adapt.Staircase{Up: 0.05, Down: 0.05, Needed: n}
		rng := estimate.Rand(uint64(n))
		sum := 0.0
		const trials = 40_000
		for range trials {
			p := 1 / (1 + math.Exp(s.Level))
			sum += p / trials
			s.Feed(rng.Float64() < p)
		}
		outside.Near(t, "mean share of successes", sum, target, 0.02)
	}
}

// search plays a search with a simulated player.
func search(t testing.TB, rule adapt.Rule, player success.Curve, target float64, seed uint64) *adapt.Search {
	t.Helper()
	s, err := adapt.NewSearch(adapt.SearchOptions{Target: target, Start: 100, Slowest: 50, Fastest: 300,
		Reps: 4, MostReps: 160, Precision: 0.03, Rule: rule})
	if err != nil {
		t.Fatal(err)
	}
	rng := estimate.Rand(seed)
	for b, ok := s.Next(); ok; b, ok = s.Next() {
		var out []adapt.Outcome
		for range b.Reps {
			switch {
			case rng.Float64() < 0.05:
				out = append(out, adapt.Unclear)
			case rng.Float64() < player.At(b.BPM):
				out = append(out, adapt.Good)
			default:
				out = append(out, adapt.Bad)
			}
		}
		s.Played(out)
	}
	return s
}

// simulate gives the bias of the estimates, as a share of the true tempo, how often
// the interval holds the truth, the mean number of clear reps, and the share of
// searches that give no estimate, over players whose limits and widths vary.
func simulate(t testing.TB, rule adapt.Rule, searches int) (bias, held, reps, refused float64) {
	rng := estimate.Rand(99)
	n := 0.0
	for seed := range searches {
		middle := 90 * math.Exp(rng.Float64()) // 90 to 245
		player := success.Curve{Middle: middle, Width: middle * 0.02 * math.Exp(1.6*rng.Float64()), Lapse: success.Lapse}
		const target = 0.8
		s := search(t, rule, player, target, uint64(seed))
		f, err := s.Tempo()
		if err != nil {
			refused += 1 / float64(searches)
			continue
		}
		n++
		truth := player.Tempo(target)
		bias += f.Value/truth - 1
		if f.Holds(truth) {
			held++
		}
		reps += float64(f.N)
	}
	return bias / n, held / n, reps / n, refused
}

// Estimates of simulated players by either rule. Twenty searches show a gross fault;
// TestMeasureSearches holds them to the figures.
func TestSearchOfSimulatedPlayers(t *testing.T) {
	for _, rule := range []adapt.Rule{adapt.Bayesian, adapt.UpDown} {
		bias, held, _, refused := simulate(t, rule, 20)
		outside.Near(t, "bias", bias, 0, 0.02)
		outside.Near(t, "share held", held, estimate.Level, 0.2)
		outside.Near(t, "share refused", refused, 0, 0.1)
	}
}

// Over 1,000 simulated players: a bias of at most 2 %, and intervals that hold the
// truth 90 ± 4 % of the time.
func TestMeasureSearches(t *testing.T) {
	if os.Getenv("HEELTOE_MEASURE") == "" {
		t.Skip("not run: make measure runs it")
	}
	for _, rule := range []adapt.Rule{adapt.Bayesian, adapt.UpDown} {
		bias, held, reps, refused := simulate(t, rule, 1000)
		t.Logf("rule %d: bias %+.2f %%, held %.1f %%, %.0f clear reps, %.1f %% without an estimate", rule, 100*bias, 100*held, reps, 100*refused)
		outside.Near(t, "bias", bias, 0, 0.02)
		outside.Near(t, "share held", held, estimate.Level, 0.04)
		outside.Near(t, "share refused", refused, 0, 0.05)
	}
}

// A player without limits in range, or with none at all, gets no figure.
func TestSearchWithoutLimit(t *testing.T) {
	var r *estimate.Refused
	for name, middle := range map[string]float64{"above all": 1000, "below all": 20} {
		s := search(t, adapt.Bayesian, success.Curve{Middle: middle, Width: 5, Lapse: success.Lapse}, 0.8, 1)
		if f, err := s.Tempo(); !errors.As(err, &r) {
			t.Errorf("%s: %+v", name, f)
		}
	}
	if _, err := search(t, adapt.Bayesian, success.Curve{Middle: 150, Width: 8, Lapse: success.Lapse}, 0.8, 1).Tempo(); err != nil {
		t.Error(err)
	}
	for _, o := range []adapt.SearchOptions{
		{Target: 0.3, Start: 100, Slowest: 50, Fastest: 300, Reps: 4, MostReps: 100, Precision: 0.03},
		{Target: 0.8, Start: 40, Slowest: 50, Fastest: 300, Reps: 4, MostReps: 100, Precision: 0.03},
		{Target: 0.8, Start: 100, Slowest: 50, Fastest: 300, Reps: 0, MostReps: 100, Precision: 0.03},
		{Target: 0.8, Start: 100, Slowest: 50, Fastest: 300, Reps: 4, MostReps: 2, Precision: 0.03},
		{Target: 0.8, Start: 100, Slowest: 50, Fastest: 300, Reps: 4, MostReps: 100},
	} {
		if _, err := adapt.NewSearch(o); !errors.As(err, &r) {
			t.Errorf("%+v was taken", o)
		}
	}
}

// Unclear reps leave what is believed as it is: only they would let the tempo rise
// while the technique changes. Played alone they end with the cap.
func TestUnclearRepsCountForNothing(t *testing.T) {
	o := adapt.SearchOptions{Target: 0.8, Start: 100, Slowest: 50, Fastest: 300, Reps: 4, MostReps: 40, Precision: 0.03}
	for _, rule := range []adapt.Rule{adapt.Bayesian, adapt.UpDown} {
		o.Rule = rule
		s, err := adapt.NewSearch(o)
		if err != nil {
			t.Fatal(err)
		}
		before := s.Belief().Weights()
		blocks, first := 0, 0.0
		for b, ok := s.Next(); ok; b, ok = s.Next() {
			blocks++
			if blocks <= 2 && rule == adapt.UpDown {
				if first == 0 {
					first = b.BPM
				}
				outside.Near(t, "tempo", b.BPM, first, 1e-9)
			}
			s.Played(slices.Repeat([]adapt.Outcome{adapt.Unclear}, int(b.Reps)))
		}
		if blocks != 10 || !slices.Equal(before, s.Belief().Weights()) || s.Belief().N() != 0 {
			t.Errorf("%d blocks, %d reps believed", blocks, s.Belief().N())
		}
		if _, err := s.Tempo(); err == nil {
			t.Error("a tempo of unclear reps")
		}
	}
}

// No block is more than a quarter faster than the one before, whatever happens, and
// every tempo is within the bounds; the search ends.
func TestSearchKeepsWithinBounds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		o := adapt.SearchOptions{Target: rapid.Float64Range(0.5, 0.95).Draw(t, "target"), Start: rapid.Float64Range(60, 250).Draw(t, "start"),
			Slowest: 60, Fastest: 250, Reps: 4, MostReps: 48, Precision: 0.02, Rule: adapt.Rule(rapid.IntRange(0, 1).Draw(t, "rule")), Rest: time.Minute}
		s, err := adapt.NewSearch(o)
		if err != nil {
			t.Fatal(err)
		}
		was, reps := 0.0, int64(0)
		for b, ok := s.Next(); ok; b, ok = s.Next() {
			if b.BPM < 60-1e-9 || b.BPM > 250+1e-9 || was > 0 && b.BPM > 1.25*was+1e-9 || (was == 0) != (b.Rest == 0) {
				t.Fatalf("%+v after %v", b, was)
			}
			was = b.BPM
			reps += b.Reps
			var out []adapt.Outcome
			for range b.Reps {
				out = append(out, adapt.Outcome(rapid.IntRange(0, 2).Draw(t, "outcome")))
			}
			s.Played(out)
		}
		if reps > 48 {
			t.Fatalf("%d reps", reps)
		}
	})
}

// play plays a plan by a function of the block, and gives the blocks.
func play(t *testing.T, p adapt.Plan, how func(b adapt.Block, rep int) adapt.Outcome) []adapt.Block {
	t.Helper()
	var blocks []adapt.Block
	for b, ok := p.Next(); ok; b, ok = p.Next() {
		if blocks = append(blocks, b); len(blocks) > 1000 {
			t.Fatal("the plan does not end")
		}
		var out []adapt.Outcome
		for rep := range int(b.Reps) {
			out = append(out, how(b, rep))
			if b.Enough != nil && b.Enough(out) {
				break
			}
		}
		p.Played(out)
	}
	return blocks
}

func TestLadder(t *testing.T) {
	l := &adapt.Ladder{From: 100, Step: 10, To: 200, Reps: 8, Share: 0.75, Rest: time.Minute}
	blocks := play(t, l, func(b adapt.Block, rep int) adapt.Outcome {
		if b.BPM > 130 && rep < 3 {
			return adapt.Bad
		}
		return adapt.Good
	})
	if l.Held != 130 || l.Failed != 140 || len(blocks) != 5 || blocks[0].Rest != 0 || blocks[4].Rest != time.Minute {
		t.Errorf("%+v: %v", l, blocks)
	}
	// Unclear reps that could turn the answer are played again, twice.
	l = &adapt.Ladder{From: 100, Step: 10, To: 200, Reps: 8, Share: 0.75}
	blocks = play(t, l, func(b adapt.Block, rep int) adapt.Outcome {
		if rep < 3 {
			return adapt.Unclear
		}
		return adapt.Good
	})
	if l.Held != 0 || l.Failed != 100 || len(blocks) != 3 {
		t.Errorf("%+v: %v", l, blocks)
	}
	// The top ends it too.
	l = &adapt.Ladder{From: 100, Step: 10, To: 125, Reps: 2, Share: 1}
	play(t, l, func(adapt.Block, int) adapt.Outcome { return adapt.Good })
	if l.Held != 120 || l.Failed != 0 {
		t.Errorf("%+v", l)
	}
	// A player who leaves at once ends it.
	l = &adapt.Ladder{From: 100, Step: 10, To: 125, Reps: 2, Share: 1}
	l.Next()
	l.Played(nil)
	if _, ok := l.Next(); ok {
		t.Error("a ladder climbs on without reps")
	}
}

func TestBursts(t *testing.T) {
	b := &adapt.Bursts{BPM: 180, Reps: 2, Count: 6, Rest: 20 * time.Second}
	blocks := play(t, b, func(adapt.Block, int) adapt.Outcome { return adapt.Bad })
	if len(blocks) != 6 || len(b.Outcomes) != 6 || blocks[0].Rest != 0 || blocks[5].Rest != 20*time.Second || blocks[3].BPM != 180 {
		t.Errorf("%+v", blocks)
	}
}

func TestHoldOut(t *testing.T) {
	h := &adapt.HoldOut{BPM: 150, Slips: 1, Of: 4, MostReps: 100}
	blocks := play(t, h, func(_ adapt.Block, rep int) adapt.Outcome {
		if rep == 5 || rep == 20 || rep == 22 {
			return adapt.Bad
		}
		return adapt.Good
	})
	if len(blocks) != 1 || !h.Failed || h.Reps != 23 {
		t.Errorf("%+v, want a failure in the 23rd rep", h)
	}
	h = &adapt.HoldOut{BPM: 150, Slips: 1, Of: 4, MostReps: 10}
	play(t, h, func(adapt.Block, int) adapt.Outcome { return adapt.Unclear })
	if h.Failed || h.Reps != 10 {
		t.Errorf("%+v, want the cap", h)
	}
}

func TestTwoWays(t *testing.T) {
	w := &adapt.TwoWays{Tempi: []float64{120, 140}, Reps: 10, Rest: 30 * time.Second, WarmUp: 4}
	blocks := play(t, w, func(b adapt.Block, rep int) adapt.Outcome {
		if b.WarmUp || b.Way == 1 && b.BPM > 130 && rep < 7 {
			return adapt.Bad
		}
		return adapt.Good
	})
	var order []int
	for _, b := range blocks {
		order = append(order, b.Way)
	}
	if !slices.Equal(order, []int{0, 1, 0, 1, 1, 0, 1, 0, 0, 1}) {
		t.Errorf("the ways come as %v", order)
	}
	d := w.Differences()
	if len(d) != 2 || d[0].N != [2]int{20, 20} || d[0].Good != [2]int{20, 20} || d[0].Shown() || d[0].BPM != 120 {
		t.Errorf("at 120: %+v", d)
	}
	if d[1].Good != [2]int{20, 6} || math.Abs(d[1].Share.Value-0.7) > 1e-12 || !d[1].Shown() || d[1].Share.N != 40 {
		t.Errorf("at 140: %+v", d[1])
	}
}

// Two ways that are equally good: a difference is shown about one time in ten, as the
// level says.
func TestTwoEqualWays(t *testing.T) {
	rng := estimate.Rand(6)
	const runs = 2000
	shown := 0
	for range runs {
		w := &adapt.TwoWays{Tempi: []float64{120}, Reps: 12}
		play(t, w, func(adapt.Block, int) adapt.Outcome {
			if rng.Float64() < 0.7 {
				return adapt.Good
			}
			return adapt.Bad
		})
		if d := w.Differences(); d[0].Shown() {
			shown++
		}
	}
	if share := float64(shown) / runs; share < 0.06 || share > 0.14 {
		t.Errorf("a difference is shown in %.3f", share)
	}
}

func TestRepLength(t *testing.T) {
	if d := adapt.RepLength(8, 4, 120); d != time.Second {
		t.Errorf("8 slots of a quarter beat at 120 last %v", d)
	}
}

// Choosing the next tempo takes less than the pause between two blocks: at most 20 ms.
func BenchmarkNext(b *testing.B) {
	s, err := adapt.NewSearch(adapt.SearchOptions{Target: 0.8, Start: 100, Slowest: 50, Fastest: 300, Reps: 4, MostReps: math.MaxInt64, Precision: 1e-9})
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		s.Next()
		s.Played([]adapt.Outcome{adapt.Good, adapt.Bad})
	}
}

// TestMeasureSearch is the same at other targets.
func TestMeasureSearch(t *testing.T) {
	if os.Getenv("HEELTOE_MEASURE") == "" {
		t.Skip("not run: make measure runs it")
	}
	for _, target := range []float64{0.6, 0.75, 0.9} {
		for _, player := range []success.Curve{{Middle: 110, Width: 4, Lapse: success.Lapse}, {Middle: 200, Width: 16, Lapse: success.Lapse}} {
			bias, held, n := 0.0, 0.0, 0.0
			for seed := range uint64(300) {
				f, err := search(t, adapt.Bayesian, player, target, seed).Tempo()
				if err != nil {
					continue
				}
				n++
				truth := player.Tempo(target)
				bias += f.Value/truth - 1
				if f.Holds(truth) {
					held++
				}
			}
			t.Logf("target %.2f, %+v: bias %+.2f %%, held %.1f %% of %.0f", target, player, 100*bias/n, 100*held/n, n)
			outside.Near(t, "bias", bias/n, 0, 0.03)
			if n < 270 || held/n < 0.8 {
				t.Errorf("%.0f estimates, held %.3f", n, held/n)
			}
		}
	}
}
