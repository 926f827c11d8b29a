package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"heeltoe/trainer/store"
	"heeltoe/trainer/store/storetest"
)

// An archive of 10,000 runs and nearly 5 million presses, on two processors: the
// index made anew within 60 s and 300 MB, progress of one drill within 150 ms, the
// report of a run within 300 ms, each by a process of its own, its start included.
func TestMeasureArchive(t *testing.T) {
	if os.Getenv("HEELTOE_MEASURE") == "" {
		t.Skip("not run: make measure runs it")
	}
	home(t)
	began := time.Now()
	made, err := storetest.Plan{Dir: store.RunsDir(store.Dir()), Runs: 10_000, Presses: 500, Weeks: 104, From: time.Date(2024, 1, 1, 0, 0, 0, 0, time.UTC),
		MissRate: 0.02, ClockSDMS: [2]float64{24, 12}, Players: []string{"ada", "ben"}}.Make()
	if err != nil {
		t.Fatal(err)
	}
	presses := 0
	for _, m := range made {
		presses += m.Presses
	}
	t.Logf("%d runs, %d presses made in %v", len(made), presses, time.Since(began).Round(time.Millisecond))
	if presses < 4_500_000 {
		t.Errorf("%d presses are too few", presses)
	}
	took, peak := measured(t, 1, "history", "rebuild")
	t.Logf("rebuild: %v, at most %d MB", took, peak>>20)
	if took > 60*time.Second || peak > 300<<20 {
		t.Errorf("rebuild took %v and %d MB", took, peak>>20)
	}
	index, err := os.ReadFile(filepath.Join(store.Dir(), "history.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("the index has %d MB", len(index)>>20)
	for _, c := range []struct {
		most time.Duration
		args []string
	}{
		{150 * time.Millisecond, []string{"progress", "corner-hook"}},
		{150 * time.Millisecond, []string{"progress", "stair-ten", "--player", "ben", "--json"}},
		{300 * time.Millisecond, []string{"report", made[5000].File, "--out", filepath.Join(t.TempDir(), "r.html"), "--force"}},
	} {
		took, peak := measured(t, 7, c.args...)
		t.Logf("%v: %v, at most %d MB", c.args[:2], took, peak>>20)
		if took > c.most {
			t.Errorf("%v took %v, want %v", c.args[:2], took, c.most)
		}
	}
	// Every run of the archive is there, and the index anew is the same.
	before := must(t, "history", "list", "--json")
	if n := strings.Count(before, "\n"); n != len(made) {
		t.Errorf("%d runs are listed", n)
	}
	must(t, "history", "rebuild")
	if must(t, "history", "list", "--json") != before {
		t.Error("the index made anew is another")
	}
}

// measured runs the program and gives the median of its times and its largest
// use of memory, in bytes, as the kernel counts it.
func measured(t *testing.T, times int, args ...string) (time.Duration, int64) {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	var took []time.Duration
	peak := int64(0)
	for range times {
		cmd := exec.Command(self, args...)
		cmd.Env = append(os.Environ(), asProgram+"=1")
		var errs bytes.Buffer
		cmd.Stderr = &errs
		began := time.Now()
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		stop := make(chan struct{})
		watched := make(chan int64)
		go func() { watched <- highWater(cmd.Process.Pid, stop) }()
		err := cmd.Wait()
		took = append(took, time.Since(began))
		close(stop)
		peak = max(peak, <-watched)
		if err != nil {
			t.Fatalf("%v: %v: %s", args, err, errs.String())
		}
	}
	slices.Sort(took)
	return took[len(took)/2], peak
}

// highWater gives the largest resident size of a process until stop, as Linux
// keeps it in VmHWM. What wait4 tells would count this process too, as it was
// when it began the other.
func highWater(pid int, stop <-chan struct{}) (peak int64) {
	for {
		text, _ := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
		if _, rest, ok := strings.Cut(string(text), "VmHWM:"); ok {
			kb, _ := strconv.ParseInt(strings.Fields(rest)[0], 10, 64)
			peak = max(peak, kb<<10)
		}
		select {
		case <-stop:
			return peak
		case <-time.After(2 * time.Millisecond):
		}
	}
}
