package main

import (
	"bufio"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"heeltoe/trainer/store"
	"heeltoe/trainer/store/storetest"
)

// An evening that is killed in the middle of a part goes on with the reps that are left,
// and every run that was begun is kept.
func TestEveningGoesOnAfterAKill(t *testing.T) {
	home(t)
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	args := []string{"session", "corner-hook@1000", "--reps", "120", "--source", "synth", "--click", "off", "--landings", "560", "--rest-seconds", "0"}
	cmd := exec.Command(self, args...)
	cmd.Env = append(os.Environ(), asProgram+"=1")
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	// It begins at the main part: the warm-up would take minutes.
	plan := must(t, append(args, "--plan-only", "--json")...)
	var laid struct {
		Begun *time.Time
		Parts []map[string]any
	}
	if err := json.Unmarshal([]byte(plan), &laid); err != nil {
		t.Fatal(err)
	}
	main, want := 0, int64(0)
	for i, p := range laid.Parts {
		switch p["kind"] {
		case "warm-up":
			p["done"], main = true, i+1
		case "drill":
			want += int64(p["drill"].(map[string]any)["reps"].(float64))
		}
	}
	keepEvening(t, laid.Parts)
	cmd.Args = append([]string{self}, "session", "--resume", "--source", "synth", "--click", "off")
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	tenth := regexp.MustCompile(`^rep [1-9]\d of \d\d+: `)
	for sc := bufio.NewScanner(out); sc.Scan() && !tenth.MatchString(sc.Text()); {
	}
	if err := cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = cmd.Wait()
	code, _, errs := heeltoe("", args...)
	if code != exitInput || !strings.Contains(errs, "--resume goes on with it, --anew begins another") {
		t.Errorf("a new evening: exit %d, %s", code, errs)
	}
	out2 := must(t, "session", "--resume", "--source", "synth", "--fast")
	m := regexp.MustCompile(`Part \d+ of \d+, drill: corner hook \(roll\) at 1000 beats a minute, (\d+) reps`).FindStringSubmatch(out2)
	if m == nil {
		t.Fatalf("it did not go on:\n%.600s", out2)
	}
	if left, _ := strconv.ParseInt(m[1], 10, 64); left < want/2 || left > want-9 {
		t.Errorf("it went on with %d reps of %d", left, want)
	}
	runs := storetest.Runs(t, storetest.Open(t, store.Dir()), store.Filter{})
	var reps int64
	for _, r := range runs {
		if r.Plan != eveningPlan || r.Number <= main && r.Name == "corner hook" {
			t.Errorf("a run is marked %+v", r.Block)
		}
		if r.Name == "corner hook" {
			reps += r.Reps
		}
	}
	if reps < want || reps > want+2 { // the rep that was cut is played again
		t.Errorf("%d reps in all, want %d and the one that was cut off", reps, want)
	}
}

// keepEvening writes parts, as session --json has them, as an evening that was cut off.
func keepEvening(t *testing.T, parts []map[string]any) {
	t.Helper()
	var kept []map[string]any
	for _, p := range parts {
		kept = append(kept, map[string]any{"kind": p["kind"], "drill": p["drill"], "rest_s": p["rest_s"], "done": p["done"], "reps_played": p["reps_played"]})
	}
	text, err := json.Marshal(map[string]any{"heeltoe": "evening", "version": 1, "begun": time.Now(), "parts": kept})
	if err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(store.Dir(), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(store.Dir(), "evening.json"), text, 0o600); err != nil {
		t.Fatal(err)
	}
}

// Told to stop, the program keeps the evening; ended by the player, it lets it go. In a
// rest g goes on at once.
func TestEveningStopsAndEnds(t *testing.T) {
	if testing.Short() {
		t.Skip("not run: it plays in real time")
	}
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name   string
		orders func(p *os.Process, in *os.File) error
		kept   bool
	}{
		{"SIGTERM in a rest", func(p *os.Process, _ *os.File) error { return p.Signal(syscall.SIGTERM) }, true},
		{"e in a rest", func(_ *os.Process, in *os.File) error { _, err := in.WriteString("e\n"); return err }, false},
		{"g, then e in the part", func(_ *os.Process, in *os.File) error { _, err := in.WriteString("g\ne\n"); return err }, false},
	} {
		home(t)
		plan := must(t, "session", "corner-hook@1000", "--reps", "4", "--source", "synth", "--landings", "300", "--plan-only", "--json")
		var laid struct{ Parts []map[string]any }
		if err := json.Unmarshal([]byte(plan), &laid); err != nil {
			t.Fatal(err)
		}
		for _, p := range laid.Parts {
			if p["kind"] == "warm-up" {
				p["done"] = true
			}
			p["rest_s"] = 600
		}
		keepEvening(t, laid.Parts)
		in, give, err := os.Pipe()
		if err != nil {
			t.Fatal(err)
		}
		cmd := exec.Command(self, "session", "--resume", "--source", "synth", "--click", "off")
		cmd.Env, cmd.Stdin = append(os.Environ(), asProgram+"=1"), in
		out, err := cmd.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		var text strings.Builder
		for sc := bufio.NewScanner(out); sc.Scan(); {
			text.WriteString(sc.Text() + "\n")
			if strings.HasPrefix(sc.Text(), "Rest for 600 s; type g") {
				if err := c.orders(cmd.Process, give); err != nil {
					t.Fatal(err)
				}
			}
		}
		if err := cmd.Wait(); err != nil {
			t.Errorf("%s: %v\n%s", c.name, err, text.String())
		}
		_, err = os.Stat(filepath.Join(store.Dir(), "evening.json"))
		if (err == nil) != c.kept || !strings.Contains(text.String(), "\nevening    ") {
			t.Errorf("%s: kept %v\n%s", c.name, err == nil, text.String())
		}
		if c.kept != strings.Contains(text.String(), "heeltoe session --resume goes on") {
			t.Errorf("%s:\n%s", c.name, text.String())
		}
	}
}

// In the window each part is a run of its own, marked as part of the evening, and the evening
// goes on when the window is closed. In the window's place here stands the program itself,
// which takes the same flags.
func TestEveningInTheWindow(t *testing.T) {
	home(t)
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	window, err := windowProgram()
	if err == nil {
		t.Fatalf("%s is there already", window)
	}
	script := "#!/bin/sh\nexec " + strconv.Quote(self) + " live --text --fast \"$@\"\n"
	if err := os.WriteFile(window, []byte(script), 0o700); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.Remove(window) })
	t.Setenv("DISPLAY", ":none")
	t.Setenv(asProgram, "1")
	out := must(t, "session", "square-walk", "--reps", "6", "--source", "synth", "--landings", "200", "--rest-seconds", "0", "--window",
		"--windows", "30/40,60/80,100/120", "--shift-ms=-5", "--bar", "one", "--player", "ada", "--click", "wood")
	if !strings.Contains(out, "presses from the window; close it") || !regexp.MustCompile(`evening    (\d+) of (\d+) parts`).MatchString(out) {
		t.Errorf("it went\n%s", out)
	}
	runs := storetest.Runs(t, storetest.Index(t, store.Dir()), store.Filter{Player: "ada"})
	if len(runs) < 6 {
		t.Fatalf("%d runs", len(runs))
	}
	for i, r := range runs {
		if r.Plan != eveningPlan || r.Number != i+1 || r.Bar != "one" || r.ShiftUS != -5000 || !strings.HasPrefix(r.Windows, "-30000,40000") {
			t.Errorf("run %d: %+v", i+1, r)
		}
	}
	for _, c := range [][]string{{"--fast"}, {"--no-log"}} {
		if code, _, errs := heeltoe("", append([]string{"session", "square-walk", "--window", "--source", "synth"}, c...)...); code != exitInput || !strings.Contains(errs, "--window shows runs in their own time") {
			t.Errorf("%v: exit %d, %s", c, code, errs)
		}
	}
	if code, _, errs := heeltoe("", "session", "square-walk", "--source", "keys"); code != exitInput || !strings.Contains(errs, "for the window") {
		t.Errorf("keys as text: exit %d, %s", code, errs)
	}
	t.Setenv("DISPLAY", "")
	if code, _, errs := heeltoe("", "session", "square-walk", "--window"); code != exitLacking || !strings.Contains(errs, "leave --window away") {
		t.Errorf("without a display: exit %d, %s", code, errs)
	}
}
