package standing_test

import (
	"math/rand/v2"
	"slices"
	"testing"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/footing/read/walker"
	"heeltoe/judge"
	"heeltoe/judge/drill"
	"heeltoe/trainer"
	"heeltoe/trainer/drills"
	"heeltoe/trainer/standing"
	"heeltoe/trainer/view"
)

// stood plays a built-in drill as a player who moves so far during the run, and tells what of it is told.
func stood(t *testing.T, id string, seed uint64, backMM, leftMM float64) *view.Standing {
	t.Helper()
	d, err := drills.Load(id)
	if err != nil {
		t.Fatal(err)
	}
	if d, err = d.WithReps(48); err != nil {
		t.Fatal(err)
	}
	f, err := footing.Check(d, d.Footing, footing.DefaultBody(), drill.DefaultWindows)
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(seed, 31))
	h := walker.Draw(r, false)
	h.BackMM, h.LeftMM = backMM, leftMM
	reps := make([]walker.Rep, d.Reps)
	for i := range reps {
		reps[i].Footing = f
	}
	const lead = 2 * pad.Second
	run := trainer.New(d, judge.Options{Lead: lead})
	for _, e := range walker.Edges(walker.Play(d, reps, h, lead, r)) {
		run.Feed(e)
	}
	run.Finish()
	if !slices.ContainsFunc(d.Footing, func(c drill.Contact) bool { return c.Kind == drill.Bracket }) {
		return standing.Of(run.Figures(), d.Layout) // without brackets it asks for no reading of feet, which takes long
	}
	return standing.Of(run.Report(), d.Layout)
}

// Of players of the second kind (read/walker) who stay where they are hardly any is told to
// drift, those who drift by 150 mm in 48 reps mostly are, and hardly any the wrong way.
func TestDriftIsTold(t *testing.T) {
	for _, c := range []struct {
		name         string
		back, left   float64
		want, not    string
		least, wrong float64 // shares
	}{
		{"steady", 0, 0, "", "", 0, 0},
		{"back", 150, 0, "back", "forward", .55, .01},
		{"forward", -150, 0, "forward", "back", .55, .01},
		{"left", 0, 150, "left", "right", .6, .01},
	} {
		told, right, wrong, n := 0.0, 0.0, 0.0, 0.0
		for _, id := range []string{"anchor-corner", "corner-hook", "bracket-taps", "crossover-lower"} {
			for seed := range uint64(12) {
				got := stood(t, id, seed, c.back, c.left)
				n++
				if len(got.Probably) > 0 {
					told++
				}
				if slices.Contains(got.Probably, c.want) {
					right++
				}
				if slices.Contains(got.Probably, c.not) {
					wrong++
				}
			}
		}
		t.Logf("%-8s told of %.3f, right of %.3f, the wrong way of %.3f, of %.0f runs", c.name, told/n, right/n, wrong/n, n)
		if c.want == "" && told/n > .04 {
			t.Errorf("a drift is told of %.3f of the runs of players who stay", told/n)
		}
		if right/n < c.least || wrong/n > c.wrong {
			t.Errorf("%s: right of %.3f, the wrong way of %.3f", c.name, right/n, wrong/n)
		}
	}
}

// A run that is too short says nothing.
func TestTooShort(t *testing.T) {
	got := standing.Of(&view.Report{Reps: make([]view.Rep, 7), Summary: view.Summary{RepsBegun: 7}}, pad.Single)
	if got.WhyNot == "" || got.Probably != nil {
		t.Errorf("of 7 reps %+v is told", got)
	}
}
