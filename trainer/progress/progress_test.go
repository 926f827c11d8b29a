package progress_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"heeltoe/trainer/internal/outside"
	"heeltoe/trainer/progress"
	"heeltoe/trainer/store"
	"heeltoe/trainer/store/storetest"
	"heeltoe/trainer/view"
)

// A player who drills for four weeks and gets steadier is seen to, from the logs
// up; one who does not is not. The archive plays two tempi, which are not mixed.
func TestFourWeeks(t *testing.T) {
	for _, c := range []struct {
		clock [2]float64
		want  view.Verdict
	}{{[2]float64{26, 12}, view.Steadier}, {[2]float64{12, 26}, view.Unsteadier}} {
		dir := t.TempDir()
		plan := storetest.Plan{Dir: filepath.Join(dir, "runs"), Runs: 48, Presses: 80, Weeks: 4, From: time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC),
			Drills: []string{"corner-hook"}, BPM: []float64{112, 128}, ClockSDMS: c.clock}
		if _, err := plan.Make(); err != nil {
			t.Fatal(err)
		}
		x := storetest.Open(t, dir)
		runs := storetest.Runs(t, x, store.Filter{})
		p := progress.Of(runs, time.UTC)
		if len(p.Groups) != 2 || p.Undated != 0 {
			t.Fatalf("%d groups, %d undated", len(p.Groups), p.Undated)
		}
		for _, g := range p.Groups {
			if g.Runs != 24 || len(g.Weeks) != 4 || g.Notes != 24*80 || g.Verdict != c.want || !g.Trend.Known() || !g.Scatter.Known() || g.Scatter.N != 6 ||
				g.Technique != "roll" || g.Read {
				t.Errorf("clock %v: %+v", c.clock, g)
			}
			if b := g.Tempo; b.From != 110 && b.From != 120 || b.Below != b.From+10 {
				t.Errorf("tempi are %v", b)
			}
		}
	}
}

// fake makes runs of one group, one every few hours, whose scatter and shares are drawn.
func fake(n int, every time.Duration, rng *rand.Rand, trendUS float64) []store.Run {
	runs := make([]store.Run, n)
	from := time.Date(2026, 1, 5, 9, 0, 0, 0, time.UTC)
	for i := range runs {
		at := from.Add(time.Duration(i) * every)
		r := &runs[i]
		r.Started, r.Drill, r.Mirror, r.Name, r.BPM = at, "a", "b", "some drill", 130
		r.Notes, r.Inner, r.Absent = 100, 80+rng.IntN(10), rng.IntN(5)
		r.Steadiness = view.Number(min(1, 0.9+0.03*rng.NormFloat64()))
		r.ScatterUS = view.Number(12_000 + 1_500*rng.NormFloat64() + trendUS*at.Sub(from).Hours()/(7*24))
		r.Offset.SD, r.Offset.Median = r.ScatterUS*1.5, view.Number(-10_000+3_000*rng.NormFloat64())
	}
	return runs
}

// Where nothing changes, "no change shown" is said nine times in ten, as the
// interval's level promises, and where the true change is known the interval holds
// it as often: 300 archives of 40 runs, so that chance moves the share by 0.017.
func TestTrendIsHonest(t *testing.T) {
	for _, truth := range []float64{0, -400} {
		held, still := 0, 0
		const archives = 300
		for k := range uint64(archives) {
			g := progress.Of(fake(40, 17*time.Hour, rand.New(rand.NewPCG(k, 3)), truth), time.UTC).Groups[0]
			if float64(g.Trend.Low) <= truth && truth <= float64(g.Trend.High) {
				held++
			}
			if g.Verdict == view.NoChange {
				still++
			}
		}
		if share := float64(held) / archives; math.Abs(share-0.90) > 0.05 {
			t.Errorf("a change of %g µs a week is held by %.3f of the intervals", truth, share)
		}
		if truth == 0 && still != held {
			t.Errorf("no change: %d intervals hold it, %d verdicts say so", held, still)
		}
	}
}

// Weeks are those of ISO 8601, by the standard library's ISOWeek, in any time
// zone, over the change to summer time and the turn of a year; each run is in one
// week and the counts add up.
func TestWeeks(t *testing.T) {
	var zones []*time.Location
	for _, name := range []string{"UTC", "Europe/Berlin", "America/Los_Angeles", "Pacific/Kiritimati"} {
		z, err := time.LoadLocation(name)
		if err != nil {
			t.Skipf("not run: no time zones here: %v", err)
		}
		zones = append(zones, z)
	}
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		runs := fake(rapid.IntRange(1, 60).Draw(t, "runs"), time.Duration(rapid.IntRange(1, 200).Draw(t, "hours"))*time.Hour, rng, 0)
		zone := rapid.SampledFrom(zones).Draw(t, "zone")
		g := progress.Of(runs, zone).Groups[0]
		want := map[string]int{}
		for _, r := range runs {
			y, w := r.Started.In(zone).ISOWeek()
			want[fmt.Sprintf("%d-%d", y, w)]++
		}
		got := map[string]int{}
		notes := 0
		for i, k := range g.Weeks {
			day, err := time.ParseInLocation(time.DateOnly, k.Monday, zone)
			if err != nil || day.Weekday() != time.Monday {
				t.Fatalf("a week begins on %s", k.Monday)
			}
			y, w := day.ISOWeek()
			got[fmt.Sprintf("%d-%d", y, w)] += k.Runs
			notes += k.Notes
			if i > 0 && k.Monday <= g.Weeks[i-1].Monday {
				t.Fatalf("weeks are out of order")
			}
			if k.Scatter.N != k.Runs || k.Scatter.Known() != (k.Runs > 1) {
				t.Fatalf("a week of %d runs has %+v", k.Runs, k.Scatter)
			}
			if k.Scatter.Known() && (k.Scatter.Low > k.Scatter.Value || k.Scatter.Value > k.Scatter.High) {
				t.Fatalf("the interval does not hold the figure: %+v", k.Scatter)
			}
		}
		// By place in the day, each run is counted once.
		byDay := map[string]int{}
		places := map[int]int{}
		for _, r := range runs {
			d := r.Started.In(zone).Format(time.DateOnly)
			byDay[d]++
			places[byDay[d]]++
		}
		for _, turn := range g.Day {
			if turn.Scatter.N != places[turn.Place] {
				t.Fatalf("at place %d there are %d runs, want %d", turn.Place, turn.Scatter.N, places[turn.Place])
			}
			delete(places, turn.Place)
		}
		for place := range places {
			if place <= 12 {
				t.Fatalf("the runs at place %d are not there", place)
			}
		}
		if len(got) != len(want) || notes != g.Notes || g.Notes != 100*len(runs) {
			t.Fatalf("weeks %v, want %v", got, want)
		}
		for k, n := range want {
			if got[k] != n {
				t.Fatalf("week %s has %d runs, want %d", k, got[k], n)
			}
		}
	})
}

// The interval of a mean is scipy's t interval; that of a share over runs of equal
// length is that of the mean of their shares, cut to 0 to 1.
func TestIntervalsEqualScipy(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	type job struct {
		Do    string    `json:"do"`
		Level float64   `json:"level"`
		X     []float64 `json:"x"`
	}
	var jobs []job
	var got []view.Estimate
	for n := 2; n < 30; n++ {
		runs := fake(n, time.Minute, rng, 0)
		w := progress.Of(runs, time.UTC).Groups[0].Weeks[0]
		scatter, inner := job{"middle", 0.90, nil}, job{"middle", 0.90, nil}
		for _, r := range runs {
			scatter.X = append(scatter.X, float64(r.ScatterUS))
			inner.X = append(inner.X, float64(r.Inner)/float64(r.Notes))
		}
		jobs = append(jobs, scatter, inner)
		got = append(got, w.Scatter, w.InnerShare)
	}
	var want [][2]float64
	outside.Scipy(t, jobs, &want)
	for i, g := range got {
		low, high := want[i][0], want[i][1]
		if i%2 == 1 {
			low, high = max(low, 0), min(high, 1)
		}
		outside.Near(t, "low", float64(g.Low), low, 1e-9*math.Abs(high))
		outside.Near(t, "high", float64(g.High), high, 1e-9*math.Abs(high))
	}
}

// Where nothing was missed in any run the bound is the exact one of that many
// trials: of 300 notes without a miss at most 1 − 0.05^(1/300) = 0.9936 %.
func TestNothingMissed(t *testing.T) {
	runs := fake(3, time.Minute, rand.New(rand.NewPCG(1, 2)), 0)
	for i := range runs {
		runs[i].Absent, runs[i].Inner, runs[i].Steadiness = 0, 100, 1
	}
	w := progress.Of(runs, time.UTC).Groups[0].Weeks[0]
	for _, e := range []view.Estimate{w.Missed, w.InnerShare, w.Steadiness} {
		miss, bound := float64(e.Value), float64(e.High)
		if e.Value == 1 {
			miss, bound = 0, 1-float64(e.Low)
		}
		if miss != 0 || math.Abs(bound-0.00993608) > 1e-7 {
			t.Errorf("%+v", e)
		}
	}
}

// Whatever differs keeps runs apart; a share is of all notes together, not a mean of shares.
func TestLikeWithLike(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	base := fake(1, time.Hour, rng, 0)[0]
	differ := []func(*store.Run){
		func(r *store.Run) {},
		func(r *store.Run) { r.Drill, r.Mirror = "b", "a" },
		func(r *store.Run) { r.Asked = "hop" },
		func(r *store.Run) { r.Technique = "hop" },
		func(r *store.Run) { r.Footing = "L:c" },
		func(r *store.Run) { r.Player = "ben" },
		func(r *store.Run) { r.Pad = "other" },
		func(r *store.Run) { r.Bar = "one" },
		func(r *store.Run) { r.ShoeMM = 300 },
		func(r *store.Run) { r.Windows = "other" },
		func(r *store.Run) { r.BPM = 140 },
		func(r *store.Run) { r.BPM = 129.9 },
	}
	var runs []store.Run
	for range 2 {
		for _, f := range differ {
			r := base
			f(&r)
			runs = append(runs, r)
		}
	}
	same := base
	same.BPM, same.Name = 139.9, "renamed"
	undated := base
	undated.Started = time.Time{}
	p := progress.Of(append(runs, same, undated), time.UTC)
	if len(p.Groups) != len(differ) || p.Undated != 1 {
		t.Errorf("%d groups of %d, %d undated", len(p.Groups), len(differ), p.Undated)
	}
	if i := slices.IndexFunc(p.Groups, func(g view.Group) bool { return g.Runs == 3 }); i < 0 || p.Groups[i].Drill != "renamed" {
		t.Error("a run of nearly the same tempo and another name is not with its like")
	}
	a, b := base, base
	a.Notes, a.Inner, a.Absent, a.Steadiness = 100, 90, 0, 1
	b.Notes, b.Inner, b.Absent, b.Steadiness = 300, 30, 200, 0.5
	w := progress.Of([]store.Run{a, b}, time.UTC).Groups[0].Weeks[0]
	if w.InnerShare.Value != 0.3 || w.Missed.Value != 0.5 || w.Steadiness.Value != 0.75 {
		t.Errorf("shares are %v, %v, %v", w.InnerShare.Value, w.Missed.Value, w.Steadiness.Value)
	}
	none := base
	none.Absent, none.Steadiness = none.Notes, view.Undefined
	none.ScatterUS = view.Undefined
	none.Offset = view.Offsets{Mean: view.Undefined, SD: view.Undefined, Median: view.Undefined, MAD: view.Undefined}
	w = progress.Of([]store.Run{none}, time.UTC).Groups[0].Weeks[0]
	if w.Steadiness.Value.Defined() || w.Scatter.Value.Defined() || w.Scatter.N != 0 || w.Missed.Value != 1 {
		t.Errorf("a run without a press: %+v", w)
	}
}
