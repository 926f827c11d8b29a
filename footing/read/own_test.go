package read_test

import (
	"math"
	"os"
	"testing"

	"heeltoe/footing/read"
	"heeltoe/judge/drill"
)

// What is learnt of a player from one labelled run of each technique makes the reading of other
// drills no worse, and their reps better on the whole.
func TestLongOwnParameters(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	teach := patterns(t, []string{"corner-roll", "anchor-corner"}, []float64{1}, 16)
	ask := patterns(t, []string{"anchor-round", "stair-middle-six-rolls", "side-pairs", "corner-twist", "crossover-upper"}, []float64{1}, 12)
	before, after, n := 0.0, 0.0, 0.0
	for seed := uint64(700); seed < 703; seed++ {
		var fits []read.Own
		for i := range teach {
			rd, err := read.New(teach[i].d, drill.DefaultWindows)
			if err != nil {
				t.Fatal(err)
			}
			for _, technique := range []string{"alternate", "double-step", "roll"} {
				if teach[i].ways[technique] == nil {
					continue
				}
				h, r := player(seed, false)
				labels := make([]string, teach[i].d.Reps)
				for k := range labels {
					labels[k] = technique
				}
				own, reps := rd.Learn(teach[i].play(technique, h, r), labels)
				if reps != len(labels) || own["asynchrony"] == 0 {
					t.Fatalf("of %d reps %d were used: %v", len(labels), reps, own)
				}
				fits = append(fits, own)
			}
		}
		own := read.Mean(fits, nil)
		for i := range ask {
			rd, err := read.New(ask[i].d, drill.DefaultWindows)
			if err != nil {
				t.Fatal(err)
			}
			for _, technique := range ask[i].techniques() {
				h, r := player(seed, false)
				run := ask[i].play(technique, h, r)
				truth := make([]string, run.Reps)
				for k := range truth {
					truth[k] = technique
				}
				rd.Suit(nil)
				before += rightShare(rd.Read(run), truth)
				rd.Suit(own)
				after += rightShare(rd.Read(run), truth)
				n++
			}
		}
	}
	t.Logf("reps read right: %.4f as of anybody, %.4f with the player's own parameters", before/n, after/n)
	if after < before {
		t.Errorf("with a player's own parameters %.4f of the reps are read right, without %.4f", after/n, before/n)
	}
}

// Without labels nothing is learnt, and what is no parameter changes nothing.
func TestNothingLearnt(t *testing.T) {
	p := &patterns(t, []string{"corner-roll"}, []float64{1}, 12)[0]
	rd, err := read.New(p.d, drill.DefaultWindows)
	if err != nil {
		t.Fatal(err)
	}
	h, r := player(3, false)
	run := p.play("roll", h, r)
	if own, reps := rd.Learn(run, []string{"", "unsure", "mash"}); len(own) > 0 || reps > 0 {
		t.Errorf("without labels %v is learnt of %d reps", own, reps)
	}
	want := rd.Read(run).P
	rd.Suit(read.Own{"shoe size": 44, "dwell": -3, "swing": math.NaN()})
	if got := rd.Read(run).P; got != want {
		t.Errorf("what is no parameter changes p from %v to %v", want, got)
	}
}
