package walker

import (
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"gonum.org/v1/gonum/floats"
	"pgregory.net/rapid"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// Numbers that rise make Float64 and IntN rise, and reach all of their range.
func TestStreamRises(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := rapid.Float64Range(0, .999999).Draw(t, "u")
		n := rapid.IntRange(3, 40).Filter(func(n int) bool { return n&(n-1) != 0 }).Draw(t, "n")
		if got := rand.New(&stream{[]float64{u}}).Float64(); math.Abs(got-u) > 1e-15+1./(1<<53) {
			t.Fatalf("%v came out as %v", u, got)
		}
		// IntN sees 11 bits of it well.
		off := float64(n) / 2048
		if got := float64(rand.New(&stream{[]float64{u}}).IntN(n)); got < math.Floor(u*float64(n)-off) || got > u*float64(n)+off {
			t.Fatalf("of %d, %v came out as %v", n, u, got)
		}
	})
}

// Of runs short enough, what the stranger makes of them is the mean over many players drawn
// plainly: of the same footing, and of the one with the feet of one rep exchanged.
func TestLongStrangerKnowsThePopulation(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	spec := drill.Spec{Name: "four", Layout: "single", BPM: 170, PerBeat: 4, Reps: 2, Steps: "sw c ne c"}
	d, err := drill.New(spec, nil)
	if err != nil {
		t.Fatal(err)
	}
	all, err := footing.Best(d, footing.DefaultBody(), drill.DefaultWindows, footing.Filter{}, 40)
	if err != nil {
		t.Fatal(err)
	}
	people := func(r *rand.Rand) Habits { return Draw(r, false) }
	const draws, seeds = 40_000, 6
	checked := 0
	for seed := range uint64(seeds) {
		r := rand.New(rand.NewPCG(seed, 5))
		played := all[r.IntN(len(all))]
		_, g := PlayBeside(d, []Rep{{played}, {played}}, people(r), pad.Second, r)
		for _, f := range all {
			if !SameShape(f, played) {
				continue
			}
			called := g.w.callsBy(f)
			logs := make([]float64, draws)
			u := make([]float64, chances)
			for i := range logs {
				for k := range u {
					u[k] = r.Float64()
				}
				logs[i] = g.w.as(people, u).logLikelihood(called, -40)
			}
			mean := floats.LogSumExp(logs) - math.Log(draws)
			squares := 0.0
			for _, l := range logs {
				squares += math.Exp(2 * (l - mean))
			}
			off := math.Sqrt(squares) / draws // of the mean, as a share of it
			if off > .1 {
				continue // too few of the players fit
			}
			checked++
			if got := g.LogEvidence(f, people, 200, r); math.Abs(got-mean) > .5+3*off {
				t.Errorf("seed %d, %s: the sampler has %.2f, the mean over players %.2f ± %.2f", seed, f.Technique, got, mean, off)
			}
		}
	}
	if checked < 10 {
		t.Errorf("only %d were compared", checked)
	}
}
