package read_test

import (
	"os"
	"testing"

	"heeltoe/footing/read"
	"heeltoe/judge/drill"
	"heeltoe/trainer/drills"
)

// What each part of the reading is worth, with all parts and without each, on the second
// player, whose feet leave by other laws than the model's: the share of reps and of runs that are
// read right, how often a reading with p ≥ 0.95 is wrong, and the score of Brier (1950, Monthly
// Weather Review 78), which is 0 where every technique was given all of the probability and 2 where
// another one was. It is least for whoever says what they believe, so a part that costs right
// guesses but keeps from being sure of wrong ones is paid for what it does.
func TestMeasureAblations(t *testing.T) {
	if os.Getenv("HEELTOE_MEASURE") == "" {
		t.Skip("not run: make measure runs it")
	}
	var ids []string
	for _, e := range drills.List() {
		ids = append(ids, e.ID)
	}
	ps := patterns(t, ids, []float64{1}, 12)
	of := make([][]sample, 1+len(read.Parts)) // with all parts, and without each
	runs := 0
	for i := range ps {
		p := &ps[i]
		whole, err := read.New(p.d, drill.DefaultWindows)
		if err != nil {
			t.Fatal(err)
		}
		readers := []*read.Reader{whole}
		for k := range read.Parts {
			readers = append(readers, whole.Without(k))
		}
		for _, technique := range p.techniques() {
			for seed := range uint64(12) {
				h, r := player(9000+seed, seed%2 == 1)
				run := p.play(technique, h, r)
				for k, rd := range readers {
					got := rd.Read(run)
					for rep := range got.Reps {
						g := &got.Reps[rep]
						of[k] = append(of[k], sample{truth: technique, run: runs, label: g.Technique, p: g.P, runIs: got.Technique, chances: byLabel(&g.Chances)})
					}
				}
				runs++
			}
		}
	}
	most := brier(of[0])
	for k, name := range append([]string{"nothing"}, read.Parts...) {
		f, score := sum(of[k], feetCount{}), brier(of[k])
		t.Logf("without %-24s reps %.4f, runs %.4f, sure and wrong %.4f, Brier's score %.4f", name, f.reps, f.runs, f.sureWrong, score)
		if score < most {
			t.Errorf("the reading is better without %s", name)
		}
	}
}

// brier is the mean over the reps of the squares by which the chances miss the truth.
func brier(all []sample) (mean float64) {
	for i := range all {
		for _, label := range read.Labels {
			off := all[i].chances[label]
			if label == all[i].truth {
				off--
			}
			mean += off * off / float64(len(all))
		}
	}
	return mean
}
