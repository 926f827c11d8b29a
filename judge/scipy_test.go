package judge_test

import (
	"bytes"
	"encoding/json"
	"math/rand/v2"
	"os"
	"os/exec"
	"slices"
	"testing"

	"heeltoe/footing/pad"
	"heeltoe/judge"
	"heeltoe/judge/drill"
)

// systemPython is Debian's own interpreter, for which python3-scipy is installed.
const systemPython = "/usr/bin/python3"

// The totals of the matching equal those of scipy's linear_sum_assignment, a
// general solver that knows nothing of lines and windows (Debian's
// python3-scipy), on lanes as long as a run has them.
func TestTotalsEqualScipy(t *testing.T) {
	if exec.Command(systemPython, "-c", "import scipy").Run() != nil {
		if os.Getenv("CI") != "" || os.Getenv("HEELTOE_STRICT") != "" {
			t.Fatal("python3-scipy is missing; make test installs it")
		}
		t.Skip("not run: python3-scipy is missing; make test installs it")
	}
	type lane struct {
		Due   []pad.Time `json:"due"`
		Press []pad.Time `json:"press"`
	}
	w := drill.DefaultWindows[drill.Outer]
	job := struct {
		Early pad.Time `json:"early"`
		Late  pad.Time `json:"late"`
		Lanes []lane   `json:"lanes"`
	}{w.Early, w.Late, nil}
	rng := rand.New(rand.NewPCG(7, 11))
	var got [][2]int64
	for k := range 72 {
		// From sparse lanes to such as have 24 notes in one window; spread
		// and loss from a steady player's to noise.
		step := []pad.Time{10_000, 40_000, 75_000, 110_000, 150_000, 400_000}[k%6]
		slots := make([]bool, 8)
		for i := range slots {
			slots[i] = rng.IntN(3) > 0
		}
		slots[0] = true
		d := oneLane(t, step, slots, 30)
		due := dues(d, 2_000_000)
		sd := []float64{1_000, 5_000, 30_000, 80_000}[k/6%4]
		var press []pad.Time
		for _, u := range due {
			for rng.IntN(10) > 1 {
				press = append(press, u+pad.Time(rng.NormFloat64()*sd))
				if rng.IntN(8) > 0 {
					break
				}
			}
		}
		slices.Sort(press)
		job.Lanes = append(job.Lanes, lane{due, press})
		var sum [2]int64
		j := judge.New(d, judge.Options{Lead: 2_000_000})
		c, _ := d.Layout.Lookup("c")
		count := func() {
			for _, v := range j.Verdicts() {
				if !v.Stray && v.Press != pad.Never {
					sum[0]++
					sum[1] += int64(v.Offset.Abs())
				}
			}
		}
		for _, p := range press {
			j.Feed(pad.Edge{T: p, Panel: c, Kind: pad.Down})
			count()
			j.Feed(pad.Edge{T: p, Panel: c, Kind: pad.Up})
		}
		j.Finish()
		count()
		got = append(got, sum)
	}
	in, err := json.Marshal(job)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(systemPython, "../testdata/scipy/assignment.py")
	cmd.Stdin = bytes.NewReader(in)
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	var want [][2]int64
	if err := json.Unmarshal(out, &want); err != nil {
		t.Fatal(err)
	}
	if len(want) != len(got) {
		t.Fatalf("scipy answered %d lanes of %d", len(want), len(got))
	}
	for i := range got {
		if got[i] != want[i] {
			t.Errorf("lane %d: %d notes at %d µs, scipy has %d at %d", i, got[i][0], got[i][1], want[i][0], want[i][1])
		}
	}
}
