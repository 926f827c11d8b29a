package read_test

import (
	"os"
	"testing"

	"heeltoe/footing/read"
	"heeltoe/judge/drill"
	"heeltoe/trainer/drills"
)

// Which share of a difference in evidence is to be believed is found on half of the drills with players
// whom no test has, and held against the other half with others: by pattern and by run
// nothing is measured on what it was chosen on. The reader's share is hardly worse there than the best.
func TestMeasureCalibration(t *testing.T) {
	if os.Getenv("HEELTOE_MEASURE") == "" {
		t.Skip("not run: make measure runs it")
	}
	var ids []string
	for _, e := range drills.List() {
		ids = append(ids, e.ID)
	}
	shares := [...]float64{read.Tempering, .2, .4, 1}
	var of [2][len(shares)]struct {
		reps []sample
		feet feetCount
	}
	runs := 0
	for i, p := range patterns(t, ids, []float64{1}, 12) {
		rd, err := read.New(p.d, drill.DefaultWindows)
		if err != nil {
			t.Fatal(err)
		}
		half := i % 2
		for _, technique := range p.techniques() {
			for k := range uint64(4) {
				runs++
				h, r := player(2_000_000+1000*uint64(half)+k, k%2 == 1)
				run, genie := p.playBeside(technique, h, r)
				told := p.told(t, genie, technique)
				for j, share := range shares {
					to := &of[half][j]
					got := rd.Tempered(share).Read(run)
					to.feet.add(p.ways[technique], got)
					for rep := range got.Reps {
						g := &got.Reps[rep]
						to.reps = append(to.reps, sample{truth: technique, genie: told, run: runs, label: g.Technique, p: g.P, runIs: got.Technique})
					}
				}
			}
		}
	}
	best := 0
	var held [len(shares)]figures
	for j, share := range shares {
		chosen := sum(of[0][j].reps, of[0][j].feet)
		held[j] = sum(of[1][j].reps, of[1][j].feet)
		if j == 0 || chosen.calibration < sum(of[0][best].reps, of[0][best].feet).calibration {
			best = j
		}
		t.Logf("share %.1f: reps %.4f where it is chosen, %.4f on the rest; runs %.4f and %.4f; calibration error %.4f and %.4f; wrong of those with p ≥ 0.95 %.4f and %.4f; unclear %.4f and %.4f", share,
			chosen.reps, held[j].reps, chosen.runs, held[j].runs, chosen.calibration, held[j].calibration, chosen.sureWrong, held[j].sureWrong, chosen.unclear, held[j].unclear)
	}
	if held[0].calibration > .03 || held[0].calibration > held[best].calibration+.01 {
		t.Errorf("on the other drills the calibration error is %.4f, with the share %.1f that was best on the first ones %.4f", held[0].calibration,
			shares[best], held[best].calibration)
	}
}
