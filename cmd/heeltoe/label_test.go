package main

import (
	"path/filepath"
	"strings"
	"testing"
)

// A run is labelled, and the reading checked against the labels.
func TestLabelAndCheck(t *testing.T) {
	home(t)
	log := filepath.Join(t.TempDir(), "run.jsonl")
	must(t, "synth", "crossing-lower", "--reps", "8", "--out", log)
	if out := must(t, "review", log, "--check"); !strings.Contains(out, "No rep has a label") {
		t.Errorf("without labels: %s", out)
	}
	must(t, "label", log, "1-4=hop", "5=unsure", "6=roll", "7=roll", "7=", "--by", "video")
	out := must(t, "review", log, "--check")
	for _, want := range []string{"by video: 5 reps, unsure of 1 more", "right in 4 of 5 (80.0 %)", "1 of them wrong"} {
		if !strings.Contains(out, want) {
			t.Errorf("the check lacks %q:\n%s", want, out)
		}
	}
	for _, wrong := range []string{"9=hop", "0=hop", "3-2=hop", "2=trot", "hop", "x=hop"} {
		if code, _, _ := heeltoe("", "label", log, wrong); code != exitInput {
			t.Errorf("the label %q gives exit %d", wrong, code)
		}
	}
}

// What is fitted to labels is shown, changes the reading of the player's runs, and is taken back.
func TestOwnParametersOfLabels(t *testing.T) {
	home(t)
	log := filepath.Join(t.TempDir(), "run.jsonl")
	must(t, "synth", "anchor-corner", "--reps", "12", "--out", log)
	if code, _, text := heeltoe("", "label", log, "--fit"); code != exitInput || !strings.Contains(text, "label") {
		t.Errorf("without labels a fit gives exit %d, %s", code, text)
	}
	must(t, "label", log, "1-12=alternate", "--by", "teacher")
	before := must(t, "review", log, "--json")
	out := must(t, "label", log, "--fit")
	for _, want := range []string{"fitted to 12 reps of run.jsonl", "asynchrony", "dwell", "Kept in"} {
		if !strings.Contains(out, want) {
			t.Errorf("the fit lacks %q:\n%s", want, out)
		}
	}
	if again := must(t, "label", log, "--fit"); again != out {
		t.Errorf("fitted again it is\n%s, not\n%s", again, out)
	}
	if shown := must(t, "label", log, "--own"); !strings.HasSuffix(out, shown) {
		t.Errorf("shown is\n%s", shown)
	}
	if must(t, "review", log, "--json") == before {
		t.Error("the player's own parameters change nothing")
	}
	if out := must(t, "label", log, "--forget"); !strings.Contains(out, "as anybody's") {
		t.Errorf("taken back: %s", out)
	}
	if must(t, "review", log, "--json") != before {
		t.Error("what was taken back still counts")
	}
	if code, _, _ := heeltoe("", "label", log, "--forget"); code != exitInput {
		t.Errorf("taking back what is not there gives exit %d", code)
	}
}
