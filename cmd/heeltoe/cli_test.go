package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"heeltoe/footing/pad"
	"heeltoe/input"
	"heeltoe/input/record"
	"heeltoe/trainer/drills"
	"heeltoe/trainer/profile"
	"heeltoe/trainer/view"
)

// asProgram makes the test binary act as heeltoe, for tests that kill it.
const asProgram = "HEELTOE_TEST_AS_PROGRAM"

func TestMain(m *testing.M) {
	if os.Getenv(asProgram) != "" {
		os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
	}
	os.Exit(m.Run())
}

// home gives the program empty folders for its settings and runs.
func home(t testing.TB) {
	t.Setenv("XDG_CONFIG_HOME", t.TempDir())
	t.Setenv("XDG_DATA_HOME", t.TempDir())
}

func must(t testing.TB, args ...string) string {
	t.Helper()
	code, out, err := heeltoe("", args...)
	if code != exitDone {
		t.Fatalf("heeltoe %s: exit %d: %s", strings.Join(args, " "), code, err)
	}
	return out
}

// encode writes the edges of a run log as the reports of the ten-button game
// pad of HID 1.11 (two bytes, panel n at bit n), changes only, as a recording.
func encode(t testing.TB, log, file string) {
	l, err := record.ReadLog(log)
	if err != nil {
		t.Fatal(err)
	}
	var buf bytes.Buffer
	w, err := record.NewReportWriter(&buf, record.ReportHeader{Layout: l.Layout.Name,
		Devices: []record.ReportDevice{{Identity: input.Identity{Vendor: 0x1209, Product: 1}, Name: "ten buttons"}}})
	if err != nil {
		t.Fatal(err)
	}
	var down pad.PanelSet
	send := func(at pad.Time) {
		if err := w.Report(at, 0, []byte{byte(down), byte(down >> 8)}); err != nil {
			t.Fatal(err)
		}
	}
	send(0)
	for i, e := range l.Edges {
		if e.Kind == pad.Down {
			down = down.With(e.Panel)
		} else {
			down = down.Without(e.Panel)
		}
		if i+1 < len(l.Edges) && l.Edges[i+1].T == e.T && l.Edges[i+1].Panel != e.Panel {
			continue // both changes go into one report
		}
		send(e.T)
	}
	if err := w.Flush(); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, buf.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
}

// A recording of HID reports, taught and replayed through the live loop, gives
// the same review as its run log: as fast as it goes, and in its own time.
func TestLongTaughtRecordingGivesTheSameReview(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	home(t)
	dir := t.TempDir()
	must(t, "pads", "teach", "--from", "../../testdata/reports/ten-buttons-teach.jsonl", "--layout", "double", "--name", "home pad")
	for _, c := range []struct {
		drill string
		reps  string
		fast  bool
	}{{"stair-ten", "40", true}, {"seam-zigzag", "30", true}, {"stair-middle-six", "3", false}} {
		log, rec, played := filepath.Join(dir, c.drill+"-log.jsonl"), filepath.Join(dir, c.drill+"-rec.jsonl"), filepath.Join(dir, c.drill+"-out.jsonl")
		must(t, "synth", c.drill, "--reps", c.reps, "--miss-rate", "0.05", "--stray-rate", "0.05", "--out", log)
		encode(t, log, rec)
		args := []string{"live", c.drill, "--reps", c.reps, "--source", rec, "--pad", "home pad", "--out", played}
		if c.fast {
			args = append(args, "--fast")
		}
		must(t, args...)
		want, got := must(t, "review", log, "--json"), must(t, "review", played, "--json")
		// Only the log of the run that was played says how its click was set.
		want = strings.Replace(want, `,"click_assumed":true`, "", 1)
		if want != got {
			t.Errorf("%s: the review of the replayed recording differs:\n%.600s\nfrom that of the run log:\n%.600s", c.drill, got, want)
		}
		var raw struct {
			Summary struct{ Notes, Absent, Stray int }
		}
		if err := json.Unmarshal([]byte(got), &raw); err != nil {
			t.Fatal(err)
		}
		if raw.Summary.Notes == 0 || c.fast && (raw.Summary.Absent == 0 || raw.Summary.Stray == 0) {
			t.Errorf("%s: nothing was judged: %+v", c.drill, raw.Summary)
		}
	}
}

// Every built-in drill, as it is, mirrored, reversed and within a stream, is
// played and reviewed; the counts add up.
func TestLongEveryDrillPlays(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	home(t)
	dir := t.TempDir()
	for i, e := range drills.List() {
		for j, flags := range [][]string{nil, {"--mirror"}, {"--reverse"}, {"--within"}} {
			log := filepath.Join(dir, fmt.Sprintf("%d-%d.jsonl", i, j))
			must(t, append([]string{"live", e.ID, "--reps", "3", "--source", "synth", "--fast", "--out", log}, flags...)...)
			var r struct {
				Summary struct{ Notes, Inner, Middle, Outer, Absent, Presses, Stray int }
				Reps    []struct{ Notes int }
			}
			if err := json.Unmarshal([]byte(must(t, "review", log, "--json")), &r); err != nil {
				t.Fatal(err)
			}
			s := r.Summary
			if len(r.Reps) != 3 || s.Notes != s.Inner+s.Middle+s.Outer+s.Absent || s.Notes != 3*r.Reps[0].Notes || s.Presses != s.Inner+s.Middle+s.Outer+s.Stray || s.Inner == 0 {
				t.Errorf("%s %v: %+v", e.ID, flags, s)
			}
		}
	}
}

// Wrong input: exit 2, the place on standard error, nothing on standard output
// and nothing written. What the machine lacks: exit 3.
func TestWrongInput(t *testing.T) {
	home(t)
	dir := t.TempDir()
	file := func(name, text string) string {
		p := filepath.Join(dir, name)
		if err := os.WriteFile(p, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return p
	}
	huge := func(name string) string {
		p := filepath.Join(dir, name)
		f, err := os.Create(p)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		for range 100 {
			if _, err := f.Write(bytes.Repeat([]byte{'x'}, 1<<20)); err != nil {
				t.Fatal(err)
			}
		}
		return p
	}
	drill := file("bad.toml", "name = \"x\"\nlayout = \"single\"\nbpm = 130\nper_beat = 4\nreps = 2\nsteps = \"se up\"\n")
	key := file("key.toml", "name = \"x\"\ntempo = 3\n")
	log := file("bad.jsonl", `{"heeltoe":"run","version":9}`+"\n")
	rec := file("rec.jsonl", `{"heeltoe":"reports","version":1,"devices":[]}`+"\n")
	if err := os.MkdirAll(filepath.Dir(profile.PadFile("torn")), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(profile.PadFile("torn"), []byte("name = \"torn\"\nlayout = 5\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(dir, "out.jsonl")
	for _, c := range []struct {
		code int
		want string // on standard error
		args []string
	}{
		{exitInput, drill + ":6:13: steps: \"up\" is not a panel", []string{"live", drill, "--fast", "--source", "synth", "--out", out}},
		{exitInput, key + ":2:1: unknown key \"tempo\"", []string{"drills", "show", key}},
		{exitInput, log + ":1:1: the header lacks", []string{"review", log}},
		{exitInput, rec + ":1:", []string{"pads", "teach", "--from", rec}},
		{exitInput, profile.PadFile("torn") + ":2:10: ", []string{"pads", "show", "torn"}},
		{exitInput, filepath.Join(dir, "none.jsonl") + ":1:1: cannot be opened", []string{"review", filepath.Join(dir, "none.jsonl")}},
		{exitInput, dir + ":1:1: cannot be read: is a directory", []string{"review", dir}},
		{exitInput, "heeltoe: ", []string{"live", "no-such-drill", "--out", out}},
		{exitInput, "heeltoe: ", []string{"live", "corner-hook", "--windows", "40/50", "--out", out}},
		{exitInput, "heeltoe: --bpm", []string{"live", "corner-hook", "--bpm", "5", "--out", out}},
		{exitInput, "heeltoe: ", []string{"review"}},
		{exitInput, "heeltoe: ", []string{"review", log, "--nonsense"}},
		{exitInput, "heeltoe: ", nil},
		{exitInput, "", []string{"review", huge("huge.jsonl")}},
		{exitInput, "", []string{"drills", "show", huge("huge.toml")}},
		{exitInput, "", []string{"pads", "teach", "--from", filepath.Join(dir, "huge.jsonl")}},
		{exitInput, "heeltoe: there is no pad", []string{"live", "corner-hook", "--source", "pad", "--pad", "never taught", "--out", out}},
		{exitLacking, "heeltoe: no HID device is plugged in", []string{"pads", "record", filepath.Join(dir, "r.jsonl")}},
	} {
		code, stdout, stderr := heeltoe("", c.args...)
		if code != c.code || !strings.HasPrefix(stderr, c.want) || stderr == "" {
			t.Errorf("%v: exit %d, %q; want exit %d, %q…", c.args, code, stderr, c.code, c.want)
		}
		if stdout != "" {
			t.Errorf("%v: standard output has %q", c.args, stdout)
		}
	}
	for _, p := range []string{out, filepath.Join(dir, "r.jsonl")} {
		if _, err := os.Stat(p); err == nil {
			t.Errorf("%s was written", p)
		}
	}
}

// Paused, a run is closed whole; going on makes another of what is left.
func TestPauseGoOnEnd(t *testing.T) {
	home(t)
	dir := t.TempDir()
	out := filepath.Join(dir, "run.jsonl")
	stdin, type_ := io.Pipe()
	screen, stdout := io.Pipe()
	code := make(chan int, 1)
	go func() {
		c := run([]string{"live", "corner-hook", "--source", "synth", "--bpm", "300", "--reps", "12", "--out", out}, stdin, stdout, io.Discard)
		stdout.Close()
		code <- c
	}()
	var text strings.Builder
	seen := bufio.NewScanner(screen)
	for seen.Scan() {
		text.WriteString(seen.Text() + "\n")
		switch {
		case strings.HasPrefix(seen.Text(), "rep 2 of 12:") && !strings.Contains(text.String(), "Paused:"):
			fmt.Fprintln(type_, "p")
		case strings.HasPrefix(seen.Text(), "Paused:"):
			fmt.Fprintln(type_, "p")
		case strings.HasPrefix(seen.Text(), "rep 6 of 12:"):
			fmt.Fprintln(type_, "e")
		}
	}
	type_.Close()
	if c := <-code; c != exitDone {
		t.Fatalf("exit %d:\n%s", c, text.String())
	}
	first, err := record.ReadLog(out)
	if err != nil {
		t.Fatal(err)
	}
	second, err := record.ReadLog(filepath.Join(dir, "run-2.jsonl"))
	if err != nil {
		t.Fatal(err)
	}
	if first.Drill.Reps < 2 || first.Drill.Reps > 5 || second.Drill.Reps < 4 || second.Drill.Reps > 7 || len(first.Edges) < 18 || len(second.Edges) < 36 ||
		!strings.Contains(text.String(), "Paused: 2 of 12 reps played.") || strings.Contains(text.String(), "absent 5") {
		t.Errorf("the parts have %d and %d reps, %d and %d edges\n%s", first.Drill.Reps, second.Drill.Reps, len(first.Edges), len(second.Edges), text.String())
	}
	if !strings.Contains(text.String(), view.Caution) {
		t.Error("the caution is not shown")
	}
}

// Conditions that were given once are kept for the next run.
func TestConditionsAreKept(t *testing.T) {
	home(t)
	dir := t.TempDir()
	play := func(name string, flags ...string) record.Header {
		out := filepath.Join(dir, name)
		must(t, append([]string{"live", "corner-hook", "--source", "synth", "--fast", "--out", out}, flags...)...)
		l, err := record.ReadLog(out)
		if err != nil {
			t.Fatal(err)
		}
		return l.Header
	}
	play("one.jsonl", "--shoe", "295", "--bar", "both", "--player", "ada")
	if h := play("two.jsonl"); h.ShoeMM != 295 || h.Bar != "both" || h.Player != "ada" {
		t.Errorf("the next run has %d mm, bar %q, player %q", h.ShoeMM, h.Bar, h.Player)
	}
	if h := play("three.jsonl", "--windows", "30/40,60/80,100/120", "--shift-ms=-12.5", "--debounce-ms", "8"); h.Windows == nil ||
		h.Windows[0].Late != 40_000 || h.Shift != -12_500 || h.Debounce != 8_000 {
		t.Errorf("windows %v, shift %d, debounce %d", h.Windows, h.Shift, h.Debounce)
	}
}

// A pattern stomped and captured is the drill that is played next.
func TestCaptureThenPlay(t *testing.T) {
	home(t)
	dir := t.TempDir()
	slow, drill := filepath.Join(dir, "slow.jsonl"), filepath.Join(dir, "mine.toml")
	must(t, "synth", "corner-hook", "--bpm", "30", "--reps", "4", "--out", slow)
	must(t, "drills", "capture", drill, "--from", slow)
	shown := must(t, "drills", "show", drill)
	if !strings.Contains(shown, "se") {
		t.Errorf("the drill is shown as\n%s", shown)
	}
	must(t, "live", drill, "--source", "synth", "--fast", "--no-log")
}

// review of a run of 5,000 presses, from reading to the last byte written: at
// most 100 ms.
func BenchmarkReview5000(b *testing.B) {
	home(b)
	log := filepath.Join(b.TempDir(), "run.jsonl")
	must(b, "synth", "stair-ten", "--reps", "500", "--out", log)
	for b.Loop() {
		must(b, "review", log)
	}
	b.ReportMetric(float64(b.Elapsed().Milliseconds())/float64(b.N), "ms/review")
}
