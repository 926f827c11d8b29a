package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"heeltoe/footing/pad"
	"heeltoe/input/record"
	"heeltoe/judge/drill"
	"heeltoe/trainer/drills"
)

// heeltoe runs the program without a process of its own.
func heeltoe(stdin string, args ...string) (code int, stdout, stderr string) {
	var out, errs bytes.Buffer
	code = run(args, strings.NewReader(stdin), &out, &errs)
	return code, out.String(), errs.String()
}

func TestDrillsList(t *testing.T) {
	code, out, errs := heeltoe("", "drills", "list", "--json")
	var list []drills.Entry
	if err := json.Unmarshal([]byte(out), &list); code != 0 || err != nil || len(list) != len(drills.List()) {
		t.Errorf("exit %d, %v, %d drills, %s", code, err, len(list), errs)
	}
	code, out, _ = heeltoe("", "drills", "list")
	for _, e := range list {
		if code != 0 || !strings.Contains(out, "  "+e.ID+" ") {
			t.Errorf("%s is not listed", e.ID)
		}
	}
}

// Every built-in drill can be shown in every way, and its grid has each note once.
func TestLongDrillsShow(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	for _, e := range drills.List() {
		for _, flags := range [][]string{nil, {"--mirror"}, {"--reverse"}, {"--within"}, {"--mirror", "--reverse", "--within"}} {
			args := append([]string{"drills", "show", e.ID}, flags...)
			code, out, errs := heeltoe("", args...)
			if code != 0 || errs != "" {
				t.Errorf("%v: exit %d, %s", args, code, errs)
				continue
			}
			code, text, _ := heeltoe("", append(args, "--toml")...)
			d, err := drill.Parse("shown.toml", []byte(text))
			if code != 0 || err != nil {
				t.Errorf("%v --toml: exit %d, %v", args, code, err)
				continue
			}
			_, grid, _ := strings.Cut(out, "\n\n")
			grid = grid[:strings.LastIndex(grid, "\n\n")]
			if n := strings.Count(grid, "o") + strings.Count(grid, "L") + strings.Count(grid, "R"); n != len(d.Notes) {
				t.Errorf("%v: %d of %d notes in\n%s", args, n, len(d.Notes), grid)
			}
			for line := range strings.Lines(out) {
				if strings.Contains(line, "|") && len(line) > 81 {
					t.Errorf("%v: a line of %d", args, len(line))
				}
			}
		}
	}
	code, out, _ := heeltoe("", "drills", "show", "held-corner")
	want := "nw |....|....|\nsw |L---|----|\n c |..R.|..R.|\nne |....|R...|\nse |....|....|\n"
	if code != 0 || !strings.Contains(out, want) {
		t.Errorf("%s", out)
	}
}

func TestUnknownDrills(t *testing.T) {
	dir := t.TempDir()
	t.Chdir(dir)
	bad := filepath.Join(dir, "bad.toml")
	if err := os.WriteFile(bad, []byte("name = 'a'\nlayout = 'single'\nbpm = 100\nper_beat = 1\nreps = 1\nsteps = 'nw zz'\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile("plain", nil, 0o600); err != nil {
		t.Fatal(err)
	}
	for ref, says := range map[string]string{
		"corner-hok": "near to it: corner-hook",
		"crosover":   "heeltoe drills list",
		"stair":      "stair-ten",
		"":           "heeltoe drills list",
		"no.toml":    "no.toml:1:1: ",
		"./no":       "./no:1:1: ",
		"bad.toml":   `bad.toml:6:13: steps: "zz"`,
		"plain":      "./plain",
	} {
		for _, args := range [][]string{{"drills", "show", ref}, {"synth", ref}} {
			if code, out, errs := heeltoe("", args...); code != exitInput || out != "" || !strings.Contains(errs, says) {
				t.Errorf("%q: exit %d, %q, %q; want %q", args, code, out, errs, says)
			}
		}
	}
}

// What synth writes is a sound run log, the same each time, to a file as to the
// output, with the presses that the drill asks for.
func TestSynth(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "run.jsonl")
	for _, id := range []string{"corner-hook", "held-corner", "stair-ten", "inner-jumps"} {
		args := []string{"synth", id, "--reps", "5", "--seed", "7", "--mirror"}
		code, out, errs := heeltoe("", args...)
		if code != 0 || errs != "" {
			t.Fatalf("%s: exit %d, %s", id, code, errs)
		}
		log, err := record.ReadLogFrom("out", strings.NewReader(out))
		if err != nil || len(log.Warnings) != 0 {
			t.Fatalf("%s: %v, %v", id, err, log)
		}
		down := 0
		for _, e := range log.Edges {
			if e.Kind == pad.Down {
				down++
			}
		}
		if down != log.Drill.Total() || log.Drill.Reps != 5 || !strings.HasSuffix(log.Drill.Name, "mirrored") {
			t.Errorf("%s: %d presses of %d notes in %d reps", id, down, log.Drill.Total(), log.Drill.Reps)
		}
		if code, _, errs := heeltoe("", append(args, "--out", file, "--force")...); code != 0 {
			t.Errorf("%s: exit %d, %s", id, code, errs)
		}
		if text, err := os.ReadFile(file); err != nil || string(text) != out {
			t.Errorf("%s: the file differs from the output, %v", id, err)
		}
	}
	before, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{
		{"synth", "corner-hook", "--out", file},
		{"synth", "corner-hook", "--bpm", "1"},
		{"synth", "corner-hook", "--reps", "-1"},
		{"synth", "corner-hook", "--miss-rate", "2"},
		{"synth", "corner-hook", "--phase-correction", "NaN"},
		{"synth", "corner-hook", "--clock-sd-ms", "x"},
	} {
		if code, out, errs := heeltoe("", args...); code != exitInput || out != "" || errs == "" {
			t.Errorf("%v: exit %d, %q, %q", args, code, out, errs)
		}
	}
	if after, err := os.ReadFile(file); err != nil || !bytes.Equal(before, after) {
		t.Errorf("a file that was there is changed, %v", err)
	}
}

// A drill played slowly, no notes gathered, by the synthetic player is taken down as it was.
func TestCapture(t *testing.T) {
	dir := t.TempDir()
	for _, id := range []string{"corner-hook", "run-eight", "corner-jumps", "stair-middle-six-rolls", "seam-anchor"} {
		d, err := drills.Load(id)
		if err != nil {
			t.Fatal(err)
		}
		code, run, errs := heeltoe("", "synth", id, "--bpm", "35", "--reps", "4")
		if code != 0 {
			t.Fatal(errs)
		}
		file := filepath.Join(dir, id+".toml")
		args := []string{"drills", "capture", file, "--from", "-", "--bpm", "35", "--per-beat", "4", "--times", "4", "--reps", "3"}
		if code, _, errs := heeltoe(run, args...); code != 0 {
			t.Errorf("%s: exit %d, %s", id, code, errs)
			continue
		}
		got, err := drill.ReadFile(file)
		if err != nil {
			t.Error(err)
			continue
		}
		if int64(len(got.Notes)) != int64(len(d.Notes)) || got.Slots != d.RepSlots() || got.Reps != 3 || got.Name != id {
			t.Errorf("%s: %q became %q", id, d.Steps, got.Steps)
		}
		for i, n := range d.Notes {
			if got.Notes[i].Slot != n.Slot {
				t.Errorf("%s: %q became %q", id, d.Steps, got.Steps)
				break
			}
		}
		if code, out, errs := heeltoe(run, args...); code != exitInput || out != "" || !strings.Contains(errs, "--force") {
			t.Errorf("%s: a file that is there: exit %d, %q, %q", id, code, out, errs)
		}
		if code, _, errs := heeltoe(run, append(args, "--force", "--mirror", "--reverse")...); code != 0 {
			t.Errorf("%s: exit %d, %s", id, code, errs)
		}
	}
	for _, c := range []struct{ stdin, says string }{
		{"", "standard input"},
		{"{}\n", "standard input:1:"},
	} {
		if code, out, errs := heeltoe(c.stdin, "drills", "capture", filepath.Join(dir, "x.toml"), "--from", "-"); code != exitInput || out != "" || !strings.Contains(errs, c.says) {
			t.Errorf("%q: exit %d, %q, %q", c.stdin, code, out, errs)
		}
	}
	for _, flags := range [][]string{{"x", "--from", "-"}, {"x.toml", "--from", "-", "--bpm", "1"}, {"x.toml", "--from", "-", "--join-ms", "0"}, {"x.toml", "--from", "-", "--per-beat", "99"}} {
		if code, out, errs := heeltoe("", append([]string{"drills", "capture"}, flags...)...); code != exitInput || out != "" || errs == "" {
			t.Errorf("%v: exit %d, %q, %q", flags, code, out, errs)
		}
	}
}
