package judge_test

import (
	"math/rand/v2"
	"os"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/footing/pad"
	"heeltoe/judge"
	"heeltoe/judge/drill"
)

type key struct {
	stray     bool
	panel     pad.Panel
	rep, note int32
	press     pad.Time
}

func sortVerdicts(v []judge.Verdict) []judge.Verdict {
	slices.SortFunc(v, func(a, b judge.Verdict) int {
		if a.Stray != b.Stray {
			if a.Stray {
				return 1
			}
			return -1
		}
		for _, d := range []int64{int64(a.Panel) - int64(b.Panel), int64(a.Rep) - int64(b.Rep), int64(a.Note) - int64(b.Note)} {
			if d != 0 {
				return int(d)
			}
		}
		switch {
		case a.Press < b.Press:
			return -1
		case a.Press > b.Press:
			return 1
		}
		return 0
	})
	return v
}

// A live run, with the clock moved on at any moments between the edges, ends
// with the verdicts and holds of the same edges judged with no clock at all,
// and what it decided on the way never changed.
func TestLongLiveEqualsOffline(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	rapid.Check(t, func(t *rapid.T) {
		ids := []string{"nw", "sw", "c", "ne", "se", ".", "c", "sw=2", "c=3"}
		steps := ""
		slots := rapid.IntRange(2, 9).Draw(t, "slots")
		for range slots {
			steps += rapid.SampledFrom(ids).Draw(t, "token") + " "
		}
		spec := drill.Spec{Name: "any", Layout: "single", BPM: 60e6 / float64(rapid.IntRange(60_000, 250_000).Draw(t, "slot")) / 4, PerBeat: 4,
			Reps: rapid.Int64Range(1, 6).Draw(t, "reps"), RestBeats: rapid.Int64Range(0, 1).Draw(t, "rest"), Steps: steps + ". . . c"}
		d, err := drill.New(spec, nil)
		if err != nil {
			t.Skip(err)
		}
		o := judge.Options{Lead: 500_000, Shift: pad.Time(rapid.IntRange(-20_000, 20_000).Draw(t, "shift")),
			Debounce: pad.Time(rapid.SampledFrom([]int{0, 0, 15_000}).Draw(t, "debounce"))}
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		edges := play2(d, o, rng)

		off := judge.New(d, o)
		var want []judge.Verdict
		var wantHolds []judge.Hold
		for _, e := range edges {
			off.Feed(e)
			want = append(want, off.Verdicts()...)
			wantHolds = append(wantHolds, off.Holds()...)
		}
		off.Finish()
		want = append(want, off.Verdicts()...)
		wantHolds = append(wantHolds, off.Holds()...)

		live := judge.New(d, o)
		var got []judge.Verdict
		var gotHolds []judge.Hold
		take := func() {
			got = append(got, live.Verdicts()...)
			gotHolds = append(gotHolds, live.Holds()...)
		}
		last := pad.Time(0)
		for _, e := range edges {
			for rng.IntN(3) > 0 && e.T > last {
				last += pad.Time(rng.Int64N(int64(e.T-last) + 1))
				live.Advance(last)
				take()
			}
			last = e.T
			live.Feed(e)
			take()
		}
		for rng.IntN(5) > 0 {
			last += pad.Time(rng.Int64N(200_000))
			live.Advance(last)
			take()
		}
		live.Finish()
		take()
		if g, w := sortVerdicts(got), sortVerdicts(want); !reflect.DeepEqual(g, w) {
			t.Fatalf("live\n%v\noffline\n%v", g, w)
		}
		byNote := func(a, b judge.Hold) int {
			if a.Rep != b.Rep {
				return int(a.Rep - b.Rep)
			}
			return int(a.Note - b.Note)
		}
		slices.SortFunc(gotHolds, byNote)
		slices.SortFunc(wantHolds, byNote)
		if !reflect.DeepEqual(gotHolds, wantHolds) {
			t.Fatalf("live holds\n%v\noffline\n%v", gotHolds, wantHolds)
		}
		seen := make(map[key]int)
		for _, v := range got {
			k := key{v.Stray, v.Panel, v.Rep, v.Note, 0}
			if v.Stray {
				k.press = v.Press
			}
			if seen[k]++; seen[k] > 1 && !v.Stray {
				t.Fatalf("decided twice: %v", v)
			}
		}
	})
}

// play2 makes edges of an untidy player of d, holds and chatter among them.
func play2(d *drill.Drill, o judge.Options, rng *rand.Rand) []pad.Edge {
	type span struct {
		p          pad.Panel
		down, upAt pad.Time
	}
	g := d.Grid(o.Lead)
	var spans []span
	for r := range d.Reps {
		for _, n := range d.Notes {
			at := g.Due(r, int64(n.Slot)) + pad.Time(rng.NormFloat64()*50_000)
			long := pad.Time(20_000 + rng.IntN(150_000))
			if n.Hold > 0 {
				long = g.Due(r, int64(n.Slot)+int64(n.Hold)) - g.Due(r, int64(n.Slot)) + pad.Time(rng.NormFloat64()*60_000)
			}
			switch rng.IntN(12) {
			case 0:
			case 1:
				spans = append(spans, span{n.Panel, at, at + long/3}, span{n.Panel, at + long/3 + 10_000, at + long})
			case 2:
				spans = append(spans, span{n.Panel, at, at + long}, span{pad.Panel(rng.IntN(5)), at + 70_000, at + 90_000})
			default:
				spans = append(spans, span{n.Panel, at, at + long})
			}
		}
	}
	slices.SortFunc(spans, func(a, b span) int { return int(a.down - b.down) })
	var edges []pad.Edge
	free := map[pad.Panel]pad.Time{}
	for _, s := range spans {
		s.down = max(s.down, free[s.p], 0)
		s.upAt = max(s.upAt, s.down+1)
		free[s.p] = s.upAt + 1
		edges = append(edges, pad.Edge{T: s.down, Panel: s.p, Kind: pad.Down}, pad.Edge{T: s.upAt, Panel: s.p, Kind: pad.Up})
	}
	slices.SortStableFunc(edges, func(a, b pad.Edge) int { return int(a.T - b.T) })
	if rng.IntN(4) == 0 && len(edges) > 4 {
		k := 1 + rng.IntN(len(edges)-2)
		edges = slices.Insert(edges, k, pad.Edge{T: edges[k].T, Kind: pad.Gap, Panel: pad.NoPanel})
	}
	return edges
}

// A verdict costs no allocation once a run is under way.
func TestSteadyStateDoesNotAllocate(t *testing.T) {
	d, edges := longRun(t, 100_000)
	j := judge.New(d, judge.Options{Lead: 2 * pad.Second})
	i, verdicts := 0, 0
	step := func() {
		for range 1000 {
			j.Feed(edges[i])
			verdicts += len(j.Verdicts())
			j.Advance(edges[i].T)
			verdicts += len(j.Verdicts())
			i++
		}
	}
	step()
	if a := testing.AllocsPerRun(100, step); a != 0 {
		t.Errorf("%v allocations for 1000 edges, want 0", a)
	}
	if verdicts < 40_000 {
		t.Errorf("only %d verdicts: the run was not judged", verdicts)
	}
}

// A panel struck halfway between its notes, again and again, keeps the whole
// chain open: every press could belong to either neighbour until it ends. Time
// stays linear, and what is decided at the end is right.
func TestLongChainOfTies(t *testing.T) {
	d, err := drill.New(drill.Spec{Name: "chain", Layout: "single", BPM: 400, PerBeat: 1, Reps: 100_000, Steps: "c c"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	j := judge.New(d, judge.Options{Lead: pad.Second})
	g := d.Grid(pad.Second)
	c, _ := d.Layout.Lookup("c")
	matched := 0
	count := func() {
		for _, v := range j.Verdicts() {
			if !v.Stray && v.Offset == 75_000 {
				matched++
			}
		}
	}
	for k := range d.Total() {
		at := g.Due(0, int64(k)) + 75_000
		j.Feed(pad.Edge{T: at, Panel: c, Kind: pad.Down})
		count()
		j.Feed(pad.Edge{T: at + 30_000, Panel: c, Kind: pad.Up})
	}
	j.Finish()
	count()
	if matched != d.Total() {
		t.Errorf("%d notes of %d have the press that came 75 ms after them", matched, d.Total())
	}
}

// Ties over a chain are the slowest case; it must stay above 1 million presses a second.
func BenchmarkChainOfTies(b *testing.B) {
	d, err := drill.New(drill.Spec{Name: "chain", Layout: "single", BPM: 400, PerBeat: 1, Reps: 50_000, Steps: "c c c c"}, nil)
	if err != nil {
		b.Fatal(err)
	}
	g := d.Grid(pad.Second)
	presses := 0
	for b.Loop() {
		j := judge.New(d, judge.Options{Lead: pad.Second})
		for k := range d.Total() {
			at := g.Due(0, int64(k)) + 75_000 - pad.Time(k&1)
			j.Feed(pad.Edge{T: at, Panel: 2, Kind: pad.Down})
			j.Verdicts()
			j.Feed(pad.Edge{T: at + 30_000, Panel: 2, Kind: pad.Up})
			presses++
		}
		j.Finish()
	}
	b.ReportMetric(float64(presses)/b.Elapsed().Seconds()/1e6, "Mpresses/s")
}

// A press merges with the one before it where it comes within the debounce time
// of that one's release, to its very end; the time may be told apart by 1 µs.
func TestDebounceBound(t *testing.T) {
	d, err := drill.New(drill.Spec{Name: "one", Layout: "single", BPM: 60, PerBeat: 1, Reps: 1, Steps: "c"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		debounce, gap   pad.Time
		presses, merged int64
	}{{10_000, 9_999, 1, 1}, {10_000, 10_000, 1, 1}, {10_000, 10_001, 2, 0}, {0, 0, 2, 0}} {
		j := judge.New(d, judge.Options{Lead: pad.Second, Debounce: c.debounce})
		at := pad.Second
		for _, k := range []pad.Edge{{T: at, Kind: pad.Down}, {T: at + 500, Kind: pad.Up}, {T: at + 500 + c.gap, Kind: pad.Down}, {T: at + 90_000, Kind: pad.Up}} {
			k.Panel = 2
			j.Feed(k)
		}
		j.Finish()
		if j.Presses() != c.presses || j.Merged(2) != c.merged {
			t.Errorf("debounce %d, %d after the release: %d presses, %d merged; want %d, %d", c.debounce, c.gap, j.Presses(), j.Merged(2), c.presses, c.merged)
		}
	}
}
