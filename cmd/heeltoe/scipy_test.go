package main

import (
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// The review of whole runs equals one by other means (testdata/scipy/review.py:
// exact fractions, scipy's linear_sum_assignment, numpy's statistics; Debian's
// python3-scipy). Offsets in runs are in whole microseconds with chance in
// them, so that two matchings of one total do not occur.
func TestLongReviewEqualsScipy(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	const python = "/usr/bin/python3" // Debian's own, for which scipy is installed
	if exec.Command(python, "-c", "import scipy").Run() != nil {
		if os.Getenv("CI") != "" || os.Getenv("HEELTOE_STRICT") != "" {
			t.Fatal("python3-scipy is missing; make test installs it")
		}
		t.Skip("not run: python3-scipy is missing; make test installs it")
	}
	home(t)
	for _, args := range [][]string{
		{"stair-ten", "--reps", "30"},
		{"corner-pair", "--bpm", "180", "--reps", "60", "--motor-sd-ms", "25", "--miss-rate", "0.1", "--stray-rate", "0.2"},
		{"switched-centre", "--bpm", "210", "--reps", "40", "--clock-sd-ms", "20", "--miss-rate", "0.1"},
		{"held-corner", "--reps", "20", "--stray-rate", "0.1"},
		{"run-eight", "--bpm", "133.7", "--reps", "25", "--miss-rate", "0.3"},
	} {
		log := filepath.Join(t.TempDir(), "run.jsonl")
		must(t, append([]string{"synth", "--out", log}, args...)...)
		var got struct {
			Summary struct {
				Notes, Inner, Middle, Absent, Stray int
				Offset                              struct{ Mean, SD, Median, MAD float64 } `json:"offset_us"`
			}
		}
		if err := json.Unmarshal([]byte(must(t, "review", log, "--json")), &got); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command(python, "../../testdata/scipy/review.py", log).Output()
		if err != nil {
			t.Fatal(err)
		}
		var want struct {
			Notes, Inner, Middle, Absent, Stray int
			Mean, SD, Median, MAD               float64
		}
		if err := json.Unmarshal(out, &want); err != nil {
			t.Fatal(err)
		}
		s := got.Summary
		if s.Notes != want.Notes || s.Absent != want.Absent || s.Stray != want.Stray || s.Inner != want.Inner || s.Middle != want.Middle || want.Notes == want.Absent {
			t.Errorf("%v: %+v, by other means %+v", args, s, want)
		}
		near := func(what string, a, b float64) {
			if math.Abs(a-b) > 1e-9*math.Max(1, math.Abs(b)) {
				t.Errorf("%v: %s is %v, by other means %v", args, what, a, b)
			}
		}
		near("mean", s.Offset.Mean, want.Mean)
		near("sd", s.Offset.SD, want.SD)
		near("median", s.Offset.Median, want.Median)
		near("mad", s.Offset.MAD, want.MAD)
	}
}
