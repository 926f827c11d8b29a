package read_test

import (
	"os"
	"testing"

	"heeltoe/footing/read"
	"heeltoe/judge/drill"
	"heeltoe/trainer/drills"
)

// What each part of the reading is worth: the share of reps and of runs that are read
// right, and how often a reading with p ≥ 0.95 is wrong, with all parts and without each, on the
// second player, whose feet leave by other laws than the model's.
func TestMeasureAblations(t *testing.T) {
	if os.Getenv("HEELTOE_MEASURE") == "" {
		t.Skip("not run: make measure runs it")
	}
	var ids []string
	for _, e := range drills.List() {
		ids = append(ids, e.ID)
	}
	ps := patterns(t, ids, []float64{1}, 12)
	var reps, runs, n, sure, wrong, count [16]float64
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
			for seed := range uint64(4) {
				h, r := player(9000+seed, seed%2 == 1)
				run := p.play(technique, h, r)
				for k, rd := range readers {
					got := rd.Read(run)
					count[k]++
					if got.Technique == technique {
						runs[k]++
					}
					for i := range got.Reps {
						g := &got.Reps[i]
						n[k]++
						if g.Technique == technique {
							reps[k]++
						}
						if g.P >= .95 {
							sure[k]++
							if g.Technique != technique {
								wrong[k]++
							}
						}
					}
				}
			}
		}
	}
	all := reps[0] / n[0]
	t.Logf("%-28s reps %.4f, runs %.4f, sure and wrong %.4f", "with all parts", all, runs[0]/count[0], wrong[0]/sure[0])
	for k, name := range read.Parts {
		k++
		t.Logf("%-28s reps %.4f, runs %.4f, sure and wrong %.4f", "without "+name, reps[k]/n[k], runs[k]/count[k], wrong[k]/sure[k])
		// A part that costs some reps may earn its place by what is said for sure.
		if reps[k]/n[k] > all+.002 && wrong[k]/sure[k] <= wrong[0]/sure[0] {
			t.Errorf("the reading is better without %s", name)
		}
	}
}
