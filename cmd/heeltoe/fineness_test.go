package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"heeltoe/footing/pad"
	"heeltoe/trainer/profile"
)

// What a check found of a pad is in the header of every run on it, and from there in the
// review: figures finer than the pad can tell stand in brackets.
func TestFinenessReachesTheReview(t *testing.T) {
	home(t)
	dir := t.TempDir()
	must(t, "pads", "teach", "--from", "../../testdata/reports/ten-buttons-teach.jsonl", "--layout", "double", "--name", "home")
	log, rec, played := filepath.Join(dir, "log.jsonl"), filepath.Join(dir, "rec.jsonl"), filepath.Join(dir, "played.jsonl")
	must(t, "synth", "centre-pair", "--reps", "6", "--motor-sd-ms", "0.5", "--clock-sd-ms", "0.5", "--mean-asynchrony-ms", "9", "--out", log)
	encode(t, log, rec)
	play := func(out string) string {
		return must(t, "live", "centre-pair", "--reps", "6", "--source", rec, "--pad", "home", "--fast", "--text", "--out", out)
	}
	if text := play(played); strings.Contains(text, "in brackets") {
		t.Errorf("of a pad that was not checked:\n%s", text)
	}
	p, err := profile.LoadPad("home")
	if err != nil {
		t.Fatal(err)
	}
	p.Interval = 8 * pad.Millisecond
	if _, err := profile.SavePad(p); err != nil {
		t.Fatal(err)
	}
	checked := filepath.Join(dir, "checked.jsonl")
	text := play(checked)
	header, err := os.ReadFile(checked)
	if err != nil || !strings.Contains(strings.SplitN(string(header), "\n", 2)[0], `"interval_us":8000`) {
		t.Errorf("the header is %.400s, %v", header, err)
	}
	for _, text := range []string{text, must(t, "review", checked)} {
		if !strings.Contains(text, "pad        the pad reports every 8.0 ms") {
			t.Errorf("nothing is said of the pad:\n%s", text)
		}
		sd := figuresIn(t, text, `offset     mean [+(]*([\d.]+)\)? ms, sd \(([\d.]+)\) ms`)
		if sd[1] > 3.2 {
			t.Errorf("an sd of %v ms is in brackets:\n%s", sd[1], text)
		}
	}
	if !strings.Contains(text, "sd (") || strings.Contains(text, "median (+9") {
		t.Errorf("rep by rep:\n%s", text)
	}
	var r struct {
		Pad *struct {
			Interval     int `json:"interval_us"`
			Quantisation int `json:"quantisation_us"`
		}
	}
	if err := json.Unmarshal([]byte(must(t, "review", checked, "--json")), &r); err != nil || r.Pad == nil || r.Pad.Interval != 8000 || r.Pad.Quantisation != 2309 {
		t.Errorf("%+v, %v", r.Pad, err)
	}
	if text := must(t, "review", played); strings.Contains(text, "in brackets") || strings.Contains(text, "sd (") {
		t.Errorf("of a pad that was not checked:\n%s", text)
	}
}

// Over weeks it is the same: what the pad of the runs cannot tell stands in brackets in the
// tables, and is grey on the page.
func TestFinenessReachesTheWeeks(t *testing.T) {
	home(t)
	dir := t.TempDir()
	must(t, "pads", "teach", "--from", "../../testdata/reports/ten-buttons-teach.jsonl", "--layout", "double", "--name", "home")
	weeks := func(interval pad.Time) (table, page string) {
		p, err := profile.LoadPad("home")
		if err != nil {
			t.Fatal(err)
		}
		p.Interval = interval
		if _, err := profile.SavePad(p); err != nil {
			t.Fatal(err)
		}
		for k := range 2 {
			log, rec := filepath.Join(dir, "log.jsonl"), filepath.Join(dir, "rec.jsonl")
			must(t, "synth", "centre-pair", "--reps", "6", "--motor-sd-ms", "0.5", "--clock-sd-ms", "0.5", "--mean-asynchrony-ms", "9", "--seed", fmt.Sprint(k), "--out", log, "--force")
			encode(t, log, rec)
			must(t, "live", "centre-pair", "--reps", "6", "--source", rec, "--pad", "home", "--fast", "--text")
		}
		out := filepath.Join(dir, "page.html")
		must(t, "report", "centre-pair", "--out", out, "--force")
		text, err := os.ReadFile(out)
		if err != nil {
			t.Fatal(err)
		}
		return must(t, "progress", "centre-pair"), string(text)
	}
	table, page := weeks(0)
	if strings.Contains(table, "in brackets") || strings.Contains(page, "Such figures") {
		t.Errorf("of a pad that was not checked:\n%s", table)
	}
	table, page = weeks(8 * pad.Millisecond)
	if v := figuresIn(t, table, `scatter +\(([\d.]+)\) ms`); v[0] > 2.21 { // √2 × 8 ms/√12 / 1.4826
		t.Errorf("a scatter of %v ms is in brackets", v[0])
	}
	if !strings.Contains(table, "pad        the pad reports every 8.0 ms") || !strings.Contains(table, "+9") || strings.Contains(table, "(+9") {
		t.Errorf("of a pad that tells 8 ms:\n%s", table)
	}
	if !strings.Contains(page, "The pad reports every 8.0 ms") || !strings.Contains(page, "Grey: finer than the pad can tell") {
		t.Error("the page does not say what the pad cannot tell")
	}
}
