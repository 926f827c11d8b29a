package judge_test

import (
	"math/rand/v2"
	"slices"
	"testing"

	"heeltoe/footing/pad"
	"heeltoe/judge"
	"heeltoe/judge/drill"
)

// longRun makes a ten-panel drill at 480 steps a minute, as many reps as give
// the notes asked for, and the edges of a player who is steady to 20 ms, leaves
// out 3 % and adds 2 %.
func longRun(t testing.TB, notes int) (*drill.Drill, []pad.Edge) {
	t.Helper()
	d, err := drill.New(drill.Spec{Name: "stair", Layout: "double", BPM: 120, PerBeat: 4, Reps: int64(notes / 10),
		Steps: "1nw 1sw 1c 1ne 1se 2sw 2nw 2c 2ne 2se"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(1, 2))
	g := d.Grid(2 * pad.Second)
	var edges []pad.Edge
	press := func(p pad.Panel, at pad.Time) {
		edges = append(edges, pad.Edge{T: at, Panel: p, Kind: pad.Down}, pad.Edge{T: at + 100_000, Panel: p, Kind: pad.Up})
	}
	for r := range d.Reps {
		for _, n := range d.Notes {
			u := g.Due(r, int64(n.Slot))
			if rng.IntN(100) >= 3 {
				press(n.Panel, u+pad.Time(min(max(rng.NormFloat64(), -3.5), 3.5)*20_000))
			}
			if rng.IntN(100) < 2 {
				press(n.Panel, u+500_000)
			}
		}
	}
	slices.SortStableFunc(edges, func(a, b pad.Edge) int { return int(a.T - b.T) })
	return d, edges
}

// Must reach 20 million presses a second on one core.
func BenchmarkOffline(b *testing.B) {
	d, edges := longRun(b, 500_000)
	presses := 0
	b.ReportAllocs()
	for b.Loop() {
		j := judge.New(d, judge.Options{Lead: 2 * pad.Second})
		verdicts := 0
		for _, e := range edges {
			j.Feed(e)
			verdicts += len(j.Verdicts())
		}
		j.Finish()
		verdicts += len(j.Verdicts())
		presses += int(j.Presses())
	}
	b.ReportMetric(float64(presses)/b.Elapsed().Seconds()/1e6, "Mpresses/s")
}
