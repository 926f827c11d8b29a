package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"heeltoe/input/record"
)

// plainDrill writes a drill without a technique, so that a rep is good by its bands alone.
func plainDrill(t *testing.T) string {
	file := filepath.Join(t.TempDir(), "plain.toml")
	text := "name = \"plain\"\nlayout = \"single\"\nbpm = 120\nper_beat = 2\nreps = 8\nsteps = \"sw se nw ne\"\n"
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return file
}

// The synthetic player is never off by more than 70 ms and often by more than 16:
// with the windows as they are it has no limit, with narrow ones it reaches none.
var narrow = []string{"--windows", "8/8,16/16,105/135"}

// blocksPlayed plays a plan with the synthetic player and gives what was printed.
func blocksPlayed(t *testing.T, drill string, args ...string) string {
	t.Helper()
	return must(t, append([]string{"live", drill, "--source", "synth", "--fast", "--no-log"}, args...)...)
}

func TestLongAdaptSaysWhatItCannotTell(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	home(t)
	d := plainDrill(t)
	for _, rule := range []string{"bayesian", "up-down"} {
		out := blocksPlayed(t, d, "--adapt", "--rule", rule, "--fastest", "200")
		if !strings.Contains(out, "not estimated: the limit was not reached: it may lie above 200 beats a minute") {
			t.Errorf("%s: a player without a limit:\n%s", rule, last(out, 12))
		}
		out = blocksPlayed(t, d, append([]string{"--adapt", "--rule", rule}, narrow...)...)
		if !strings.Contains(out, "not estimated: the limit may lie below 60 beats a minute") {
			t.Errorf("%s: a player who is never good:\n%s", rule, last(out, 12))
		}
	}
}

func TestLadderHoldOutAndBursts(t *testing.T) {
	home(t)
	d := plainDrill(t)
	if out := blocksPlayed(t, d, "--ladder", "100:20:150"); !strings.Contains(out, "held up to 140.0 beats a minute, where it ended") || strings.Count(out, "Block ") != 3 {
		t.Errorf("a ladder held:\n%s", last(out, 12))
	}
	if out := blocksPlayed(t, d, append([]string{"--ladder", "100:20:150"}, narrow...)...); !strings.Contains(out, "not held at 100.0") || strings.Count(out, "Block ") != 1 {
		t.Errorf("a ladder failed:\n%s", last(out, 12))
	}
	// 4 landings in 2 beats: at 120 a rep lasts a second, so a minute holds 60 reps.
	if out := blocksPlayed(t, d, "--hold-out", "--most-minutes", "1"); !strings.Contains(out, "held       60 reps, 60 s, 240 landings at 120.0 beats a minute (4.00 landings a second); ended without failing") {
		t.Errorf("held to the cap of minutes:\n%s", last(out, 12))
	}
	if out := blocksPlayed(t, d, "--hold-out", "--most-landings", "30"); !strings.Contains(out, "held       7 reps, 7 s, 28 landings") {
		t.Errorf("held to the cap of landings:\n%s", last(out, 12))
	}
	out := blocksPlayed(t, d, append([]string{"--hold-out"}, narrow...)...)
	if !regexp.MustCompile(`held       [3-9] reps, [3-9] s, .* failed: more than 2 of the last 6 reps were bad`).MatchString(out) || !strings.Contains(out, "Never push through pain") {
		t.Errorf("held until it failed:\n%s", last(out, 12))
	}
	if out := blocksPlayed(t, d, "--bursts", "3", "--block", "2", "--bpm", "180"); !strings.Contains(out, "bursts     3 at 180.0 beats a minute: 6 of 6 reps good") {
		t.Errorf("bursts:\n%s", last(out, 12))
	}
}

func TestTwoWaysInTurn(t *testing.T) {
	home(t)
	out := blocksPlayed(t, plainDrill(t), "--against", "mirror", "--tempi", "120,140", "--block", "3")
	order := regexp.MustCompile(`Block \d+: (plain[a-z, ]*) at ([\d.]+)`).FindAllStringSubmatch(out, -1)
	var got []string
	for _, m := range order {
		way := "A"
		if m[1] != "plain" {
			way = "B"
		}
		got = append(got, way+m[2])
	}
	if want := "A120.0 B120.0 A120.0 B120.0 B120.0 A120.0 B140.0 A140.0 A140.0 B140.0"; strings.Join(got, " ") != want {
		t.Errorf("the blocks are %v, want %s", got, want)
	}
	if strings.Count(out, "no difference shown") != 2 || !strings.Contains(out, "A 6 of 6 reps good, B 6 of 6") {
		t.Errorf("two equal ways:\n%s", last(out, 8))
	}
}

// Each block is a run with a log that says which block it is and how the click was
// set; its review adds the statistics.
func TestBlocksAreKept(t *testing.T) {
	home(t)
	log := filepath.Join(t.TempDir(), "b.jsonl")
	must(t, "live", plainDrill(t), "--source", "synth", "--fast", "--bursts", "2", "--block", "20", "--silent-after", "12", "--out", log)
	for i, file := range []string{log, strings.TrimSuffix(log, ".jsonl") + "-2.jsonl"} {
		l, err := record.ReadLog(file)
		if err != nil {
			t.Fatal(err)
		}
		extra := map[string]string{}
		for _, m := range l.Header.Extra {
			extra[m.Key] = string(m.Value)
		}
		if want := fmt.Sprintf(`{"plan":"bursts","number":%d,"way":0,"warm_up":false}`, i+1); extra["block"] != want {
			t.Errorf("block is %s, want %s", extra["block"], want)
		}
		if want := `{"sound":"tick","silent_after":12,"silent_every":0,"reps_before":0}`; extra["click"] != want {
			t.Errorf("click is %s, want %s", extra["click"], want)
		}
	}
	var r struct {
		Statistics struct {
			Run    struct{ N int }
			Reps   []struct{ N int }
			Source struct {
				WithClick struct {
					N   int
					Why string `json:"why_not"`
				} `json:"with_click"`
				Silent struct {
					N   int
					Why string `json:"why_not"`
				}
				Assumed bool `json:"click_assumed"`
			} `json:"spread_from"`
		}
	}
	if err := json.Unmarshal([]byte(must(t, "review", log, "--json")), &r); err != nil {
		t.Fatal(err)
	}
	s := r.Statistics
	// 12 reps of 4 with the click are 48 presses, 47 pairs; the other 8 give 31 intervals.
	if s.Run.N != 80 || len(s.Reps) != 20 || s.Source.Assumed || !strings.Contains(s.Source.WithClick.Why, "47 evenly spaced") || !strings.Contains(s.Source.Silent.Why, "31 intervals") {
		t.Errorf("%+v", s)
	}
	text := must(t, "review", log)
	for _, want := range []string{"How sure the figures are", "Over the run, for each rep", "Where the spread comes from", "run  80"} {
		if !strings.Contains(text, want) {
			t.Errorf("the review does not say %q:\n%s", want, text)
		}
	}
}

// In real time a plan rests between blocks, and e ends it, whether at rest or in a block.
func TestPlanEndsOnOrder(t *testing.T) {
	home(t)
	code, out, errs := heeltoe("e\n", "live", plainDrill(t), "--source", "synth", "--click", "off", "--no-log", "--bursts", "3", "--block", "1", "--bpm", "960", "--rest-seconds", "60")
	if code != exitDone || strings.Count(out, "Block ") > 1 {
		t.Errorf("exit %d: %s\n%s", code, out, errs)
	}
	code, out, errs = heeltoe("", "live", plainDrill(t), "--source", "synth", "--click", "off", "--no-log", "--bursts", "2", "--block", "1", "--bpm", "960", "--rest-seconds", "0.1")
	if code != exitDone || strings.Count(out, "Block ") != 2 || !strings.Contains(out, "Rest for") {
		t.Errorf("exit %d: %s\n%s", code, out, errs)
	}
}

func TestWrongPlans(t *testing.T) {
	home(t)
	d := plainDrill(t)
	for _, args := range [][]string{
		{"--adapt", "--hold-out"},
		{"--adapt", "--share", "1"},
		{"--adapt", "--block", "0"},
		{"--adapt", "--slowest", "200", "--fastest", "100"},
		{"--adapt", "--slowest", "1"},
		{"--adapt", "--rest-seconds=-1"},
		{"--ladder", "100:5"},
		{"--ladder", "150:5:100"},
		{"--ladder", "a:b:c"},
		{"--bursts", "-1"},
		{"--hold-out", "--most-minutes", "0"},
		{"--hold-out", "--most-landings", "1"},
		{"--against", "no-such-drill"},
		{"--against", "seam-zigzag"},
		{"--against", "mirror", "--tempi", "fast"},
		{"--adapt", "--source", "x.jsonl"},
	} {
		code, out, errs := heeltoe("", append([]string{"live", d, "--source", "synth", "--fast", "--no-log"}, args...)...)
		if code != exitInput || errs == "" || strings.Contains(out, "Block ") {
			t.Errorf("%v: exit %d, %q", args, code, errs)
		}
	}
}

// last gives the last lines of a text.
func last(text string, n int) string {
	lines := strings.Split(strings.TrimRight(text, "\n"), "\n")
	return strings.Join(lines[max(0, len(lines)-n):], "\n")
}
