package main

import (
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"heeltoe/footing/pad"
	"heeltoe/input/record"
	"heeltoe/trainer/profile"
)

// killed starts the program in folders of its own, kills it (SIGKILL) after a
// time, and tells when that was. ended is true where it was over before.
func killed(t *testing.T, home string, after time.Duration, args ...string) (at time.Time, ended bool) {
	t.Helper()
	cmd := exec.Command(os.Args[0], args...)
	cmd.Env = append(os.Environ(), asProgram+"=1", "XDG_CONFIG_HOME="+home+"/config", "XDG_DATA_HOME="+home+"/data", "DISPLAY=")
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	time.Sleep(after)
	at = time.Now()
	_ = cmd.Process.Kill() // it may be over already
	err := cmd.Wait()
	return at, err == nil
}

// again runs the program in such folders and gives what it writes.
func again(t *testing.T, home string, args ...string) string {
	t.Helper()
	cmd := exec.Command(os.Args[0], args...)
	cmd.Env = append(os.Environ(), asProgram+"=1", "XDG_CONFIG_HOME="+home+"/config", "XDG_DATA_HOME="+home+"/data", "DISPLAY=")
	out, err := cmd.CombinedOutput()
	if err != nil {
		t.Errorf("heeltoe %s: %v\n%s", strings.Join(args, " "), err, out)
	}
	return string(out)
}

// Killed at random moments of runs, of teachings and of settings being written,
// nothing is lost: every edge that is older than 50 ms is in the log, a pad and
// the settings are the old ones or the new ones, and the next start says what it
// found and closes it. A few dozen here, 300 in make measure.
func TestLongKilledAtAnyMoment(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("not run: make test runs it with nothing beside")
	}
	kills(t, 36)
}
func TestMeasureKilledAtAnyMoment(t *testing.T) {
	if os.Getenv("HEELTOE_MEASURE") == "" {
		t.Skip("not run: make measure runs it")
	}
	kills(t, 300)
}

func kills(t *testing.T, n int) {
	script := filepath.Join(t.TempDir(), "script.jsonl")
	home(t)
	must(t, "synth", "stair-ten", "--reps", "40", "--out", script)
	all, err := record.ReadLog(script)
	if err != nil {
		t.Fatal(err)
	}
	const seed = 7
	r := rand.New(rand.NewPCG(seed, 0))
	var kept, repeated atomic.Int32 // runs of which there was a log when they were killed; kills done again
	kinds := []func(t *testing.T, home string, random float64) bool{
		func(t *testing.T, home string, random float64) bool {
			// A busy machine can keep a program from its work for longer than the 50 ms. So a
			// run that lost edges is killed at the same moment again: what loses edges
			// loses them three times.
			for try := 1; ; try++ {
				lost, logged, ended := killRun(t, filepath.Join(home, fmt.Sprint(try)), random, script, all)
				if lost == "" || try == 3 {
					if lost != "" {
						t.Error(lost)
					}
					if logged {
						kept.Add(1)
					}
					return ended
				}
				t.Log("killed again: " + lost)
				repeated.Add(1)
			}
		},
		killTeaching, killSettings,
	}
	var counts [3]struct{ killed, ended int }
	var mu sync.Mutex
	var wg sync.WaitGroup
	at := make(chan struct{}, 4) // at once
	for i := range n {
		random, home := r.Float64(), t.TempDir()
		at <- struct{}{}
		wg.Go(func() {
			defer func() { <-at }()
			ended := kinds[i%3](t, home, random)
			mu.Lock()
			defer mu.Unlock()
			if counts[i%3].killed++; ended {
				counts[i%3].ended++
			}
		})
	}
	wg.Wait()
	t.Logf("%d kills at random moments (seed %d), of runs, teachings and settings being written; over before: %d, %d, %d; killed again: %d",
		n, seed, counts[0].ended, counts[1].ended, counts[2].ended, repeated.Load())
	// A run has its log from its beginning on; how soon it begins is up to the machine.
	if int(kept.Load()) < counts[0].killed/2 {
		t.Errorf("only %d of %d runs had a log", kept.Load(), counts[0].killed)
	}
	for i, c := range counts {
		if c.ended == c.killed {
			t.Errorf("kind %d was never killed before it was over", i)
		}
	}
}

// killRun kills a run 0 to 3 s after its beginning. lost says which edges are not in its log that
// are older than 50 ms.
func killRun(t *testing.T, home string, random float64, script string, all *record.Log) (lost string, logged, ended bool) {
	at, ended := killed(t, home, time.Duration(random*3*float64(time.Second)), "live", "stair-ten", "--reps", "40", "--source", script, "--text", "--click", "off")
	logs, _ := filepath.Glob(home + "/data/heeltoe/runs/*/*.jsonl")
	if len(logs) == 0 {
		return "", false, ended // it had not come to that
	}
	before, err := record.ReadLog(logs[0])
	if err != nil {
		t.Errorf("%v", err)
		return "", true, ended
	}
	due := 0
	for _, e := range all.Edges {
		if e.T < pad.FromDuration(at.Sub(before.Header.Started))-50*pad.Millisecond {
			due++
		}
	}
	if len(before.Edges) < due {
		lost = fmt.Sprintf("%d edges are kept, %d are older than 50 ms", len(before.Edges), due)
	}
	if len(before.Edges) > len(all.Edges) || !slices.Equal(before.Edges, all.Edges[:len(before.Edges)]) {
		t.Errorf("the edges kept are not those of the script: %v", before.Edges)
	}
	said := again(t, home, "live", "run-five-lower", "--source", "synth", "--fast", "--no-log")
	if !strings.Contains(said, "A run was cut off") || !strings.Contains(said, "heeltoe review "+logs[0]) {
		t.Errorf("the next start says:\n%s", said)
	}
	after, err := record.ReadLog(logs[0])
	if err != nil || len(after.Warnings) > 0 || !slices.Equal(after.Edges, before.Edges) || after.Drill.Reps >= 40 {
		t.Errorf("closed: %v, %+v", err, after)
	}
	if said := again(t, home, "live", "run-five-lower", "--source", "synth", "--fast", "--no-log"); strings.Contains(said, "cut off") {
		t.Errorf("the start after that says:\n%s", said)
	}
	again(t, home, "review", logs[0])
	return lost, true, ended
}

// quickly is how soon a command that only writes a file is killed: within the
// time in which it starts and ends.
func quickly(random float64) time.Duration {
	return time.Duration(random * 60 * float64(time.Millisecond))
}

// killTeaching kills a teaching that replaces what was taught before.
func killTeaching(t *testing.T, home string, random float64) (ended bool) {
	teach := func(recording string) []string {
		return []string{"pads", "teach", "--from", "../../testdata/reports/" + recording + "-teach.jsonl", "--name", "mine", "--force"}
	}
	file := home + "/config/heeltoe/pads/mine.toml"
	read := func() string {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Error(err)
			return ""
		}
		if _, err := profile.ParsePad(file, text); err != nil {
			t.Errorf("the pad cannot be read: %v", err)
		}
		return string(text)
	}
	again(t, home, teach("active-low")...)
	old := read()
	_, ended = killed(t, home, quickly(random), teach("joystick")...)
	is := read()
	again(t, home, teach("joystick")...)
	if is != old && is != read() {
		t.Errorf("the pad is neither the old nor the new one:\n%s", is)
	}
	return ended
}

// killSettings kills a run while it keeps its conditions.
func killSettings(t *testing.T, home string, random float64) (ended bool) {
	play := func(shoe int) []string {
		return []string{"live", "run-five-lower", "--source", "synth", "--fast", "--no-log", "--shoe", fmt.Sprint(shoe)}
	}
	file := home + "/config/heeltoe/settings.toml"
	shoe := func() int64 {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Error(err)
			return 0
		}
		s, err := profile.ParseSettings(file, text)
		if err != nil {
			t.Errorf("the settings cannot be read: %v", err)
			return 0
		}
		return s.ShoeMM
	}
	again(t, home, play(280)...)
	_, ended = killed(t, home, quickly(random), play(310)...)
	if mm := shoe(); mm != 280 && mm != 310 {
		t.Errorf("the settings say %d mm", mm)
	}
	return ended
}
