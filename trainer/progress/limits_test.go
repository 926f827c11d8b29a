package progress_test

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"golang.org/x/sync/errgroup"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/progress"
	"heeltoe/trainer/store"
	"heeltoe/trainer/store/storetest"
	"heeltoe/trainer/success"
	"heeltoe/trainer/view"
)

// The player of the test: alternating breaks at once, hops slowly, so that hops go better above
// (160·16 − 175·5)/(16 − 5) = 153.2 beats a minute.
var (
	steps = success.Curve{Middle: 160, Width: 5, Lapse: success.Lapse}
	hops  = success.Curve{Middle: 175, Width: 16, Lapse: success.Lapse}
)

const crossing, critical, reserve = (160*16 - 175*5) / 11., 5.5, 150.

// known gives the runs of four weeks of a player of known limits, feet read.
func known(t testing.TB) []store.Run {
	t.Helper()
	dir := t.TempDir()
	spec := drill.Spec{Name: "corner hook", Layout: "single", BPM: 120, PerBeat: 4, Reps: 8, Steps: "se ne c sw . nw . .", Technique: "alternate", Footing: "R:se L:ne R:c L:sw R:nw"}
	hop := spec
	hop.Technique, hop.Footing = "hop", "R:se&ne L:c&sw L:nw"
	ms := pad.Millisecond
	p := storetest.Player{Dir: filepath.Join(dir, "runs"), From: time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC), Weeks: 4, Evenings: 2,
		Ways: []storetest.Way{{Drill: spec, Curve: steps}, {Drill: hop, Curve: hops}}, Tempi: []float64{130, 145, 155, 170, 190}, Reps: 10,
		Windows: &drill.Windows{{Early: -40 * ms, Late: 50 * ms}, {Early: -130 * ms, Late: 130 * ms}, {Early: -135 * ms, Late: 170 * ms}}, Late: 150 * ms,
		ClockSDMS: [2]float64{12, 6}, Held: []float64{142, 147, 153, 159}, Critical: critical, Reserve: reserve, Seed: 2}
	if err := p.Make(); err != nil {
		t.Fatal(err)
	}
	x := storetest.Open(t, dir)
	runs := storetest.Runs(t, x, store.Filter{})
	var read errgroup.Group
	read.SetLimit(runtime.GOMAXPROCS(0))
	for _, r := range runs {
		read.Go(func() error { _, err := practice.RecallIn(t.Context(), x, x.File(r.Log)); return err })
	}
	if err := read.Wait(); err != nil {
		t.Fatal(err)
	}
	runs = storetest.Runs(t, x, store.Filter{})
	return runs
}

// What is told of a player of known limits is the truth, and how sure it is: at which
// tempo each technique breaks, where the hop overtakes alternation, the cadence that can be
// kept for long, and that they got steadier.
func TestLongKnownPlayer(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	runs := known(t)
	p := progress.OfDrill(runs, time.UTC)
	if len(p.Limits) != 1 {
		t.Fatalf("%d sets of conditions", len(p.Limits))
	}
	l := &p.Limits[0]
	holds := func(what string, e view.Estimate, truth, within float64) {
		t.Helper()
		t.Logf("%s: %.2f (%.2f to %.2f, n %d), true %.2f", what, e.Value, e.Low, e.High, e.N, truth)
		// One interval in ten misses the truth: by no more than half of its width here.
		slack := float64(e.High-e.Low) / 2
		if !e.Known() || e.N == 0 || !(float64(e.Low)-slack <= truth && truth <= float64(e.High)+slack) || math.Abs(float64(e.Value)-truth) > within {
			t.Errorf("%s: %.2f (%.2f to %.2f, n %d), true %.2f", what, e.Value, e.Low, e.High, e.N, truth)
		}
	}
	if len(l.Ways) != 2 || l.Ways[0].Name != "corner hook, alternate" || l.Ways[1].Name != "corner hook, hop" || l.Unread != 0 {
		t.Fatalf("ways: %+v", l.Ways)
	}
	alternate, hop := &l.Ways[0], &l.Ways[1]
	holds("limit of hops", hop.Limit, hops.Tempo(progress.WellShare), 5)
	holds("limit of alternation", alternate.Limit, steps.Tempo(progress.WellShare), 2.5)
	for _, c := range alternate.Curve {
		if e := c.Share; !e.Known() || math.Abs(float64(e.Value)-steps.At(c.BPM)) > 0.15 {
			t.Errorf("at %.0f beats a minute the curve has %+v, true %.2f", c.BPM, e, steps.At(c.BPM))
		}
	}
	if len(l.Crossings) != 1 || l.Crossings[0].Below != alternate.Name || l.Crossings[0].Above != hop.Name {
		t.Fatalf("crossings: %+v", l.Crossings)
	}
	holds("crossing", l.Crossings[0].Tempo, crossing, 6)
	if hop.Endurance != nil || alternate.Endurance == nil || len(alternate.Endurance.Bouts) != 4 {
		t.Fatalf("endurance: %+v", alternate.Endurance)
	}
	e := alternate.Endurance
	holds("landings a second for long", e.Critical, critical, 0.1)
	holds("beats a minute for long", e.CriticalBPM, critical*24, 2.4) // five landings in two beats
	holds("reserve", e.Reserve, reserve, 30)
	for _, k := range e.Lasts {
		holds(fmt.Sprintf("seconds at %.0f", k.BPM), k.Seconds, reserve/(k.BPM/24-critical), 0.1*reserve/(k.BPM/24-critical))
	}
	searches := 0
	for _, s := range l.Searches {
		switch {
		case s.Plan == "adapt" && s.Way == alternate.Name:
			searches++
			if s.Blocks != 8 || s.Good.N < 20 || s.Tempo.Known() && math.Abs(float64(s.Tempo.Value)-steps.Tempo(0.8)) > 15 {
				t.Errorf("a search came to %+v", s)
			}
		case s.Plan == "hold-out" && (!s.Failed || !(s.Seconds > 100)):
			t.Errorf("a run held came to %+v", s)
		}
	}
	if searches != 4 {
		t.Errorf("%d searches for the tempo of alternation", searches)
	}
	steadier := 0
	for _, g := range p.Groups {
		if g.Verdict == view.Steadier && len(g.Weeks) == 4 {
			steadier++
		}
		if g.Verdict == view.Unsteadier {
			t.Errorf("%s at %v is told to be less steady", g.Technique, g.Tempo)
		}
	}
	if steadier < 4 {
		t.Errorf("steadier in %d groups", steadier)
	}
	if r := p.Recovery; r.Run.N == 0 || r.Pause.N == 0 || len(r.ByRest) == 0 || !r.Run.Known() {
		t.Errorf("rests: %+v", r)
	}
}

// Runs under other conditions are not taken together, and those that nobody read are
// counted alone.
func TestLimitsLikeWithLike(t *testing.T) {
	at := time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC)
	run := func(minute int, player, technique, outcomes string, bpm float64) store.Run {
		return store.Run{Started: at.Add(time.Duration(minute) * time.Minute), Drill: "k", Name: "x", Player: player, Technique: technique, Asked: "roll",
			Outcomes: outcomes, BPM: bpm, PerBeat: 4, RepSlots: 8, Moments: 5}
	}
	got := progress.Limits([]store.Run{run(0, "ada", "roll", "gggbu", 120), run(1, "ben", "roll", "bbb", 120), run(2, "ada", "", "", 120), run(3, "ada", "roll", "gb", 120)})
	if len(got) != 2 || got[0].Player != "ada" || got[0].Unread != 1 || got[1].Unread != 0 {
		t.Fatalf("%+v", got)
	}
	w := got[0].Ways
	if len(w) != 1 || w[0].Runs != 2 || len(w[0].Trials) != 1 || w[0].Trials[0].Good != 4 || w[0].Trials[0].Reps.N != 6 || w[0].WhyNot == "" || w[0].Endurance != nil {
		t.Errorf("%+v", w)
	}
	if got := progress.Limits(nil); len(got) != 0 {
		t.Errorf("of none: %+v", got)
	}
}
