package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"heeltoe/footing/pad"
	"heeltoe/input/record"
	"heeltoe/judge/drill"
	"heeltoe/trainer/adapt"
	"heeltoe/trainer/estimate"
	"heeltoe/trainer/limits"
	"heeltoe/trainer/store"
	"heeltoe/trainer/success"
)

// writeRun writes the log of a run in which each press of a good rep is due to the
// microsecond and a bad rep lacks its last note.
func writeRun(t *testing.T, file string, d *drill.Drill, plan string, good func(rep int64) bool) {
	t.Helper()
	const lead = 2 * pad.Second
	h := record.Header{Layout: d.Layout.Name, Lead: lead, Drill: d.Spec}
	if plan != "" {
		mark, err := json.Marshal(store.Block{Plan: plan, Number: 1})
		if err != nil {
			t.Fatal(err)
		}
		h.Extra = append(h.Extra, record.Member{Key: store.BlockKey, Value: mark})
	}
	var buf bytes.Buffer
	w, err := record.NewLogWriter(&buf, h)
	if err != nil {
		t.Fatal(err)
	}
	// A panel goes up before the next slot.
	g := d.Grid(lead)
	dwell := g.Due(0, 1) - lead - 20*pad.Millisecond
	var ups []pad.Edge
	for rep := range d.Reps {
		for i, n := range d.Notes {
			at := g.Due(rep, int64(n.Slot))
			for len(ups) > 0 && ups[0].T <= at {
				if err := w.Write(ups[0]); err != nil {
					t.Fatal(err)
				}
				ups = ups[1:]
			}
			if i == len(d.Notes)-1 && !good(rep) {
				continue
			}
			if err := w.Write(pad.Edge{T: at, Panel: n.Panel, Kind: pad.Down}); err != nil {
				t.Fatal(err)
			}
			ups = append(ups, pad.Edge{T: at + dwell, Panel: n.Panel, Kind: pad.Up})
		}
	}
	for _, e := range ups {
		if err := w.Write(e); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Flush(); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, buf.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
}

func at(t *testing.T, name, steps string, bpm float64, reps int64) *drill.Drill {
	t.Helper()
	d, err := drill.New(drill.Spec{Name: name, Layout: "single", BPM: bpm, PerBeat: 2, Reps: reps, Steps: steps}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// figuresIn gives the numbers that a pattern finds in a text.
func figuresIn(t *testing.T, text, pattern string) []float64 {
	t.Helper()
	m := regexp.MustCompile(pattern).FindStringSubmatch(text)
	if m == nil {
		t.Fatalf("%q is not in:\n%s", pattern, text)
	}
	var v []float64
	for _, s := range m[1:] {
		x, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		v = append(v, x)
	}
	return v
}

// Two ways of known curves, one that breaks at 150 at once and one that falls
// slowly about 140: their limits and the crossing, at (t − 150)/5 = (t − 140)/35, so
// at 151.7, are found.
func TestLongLimitsOfTwoWays(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	home(t)
	dir := t.TempDir()
	logs := map[string][]string{}
	curves := map[string]success.Curve{
		"steep": {Middle: 150, Width: 5, Lapse: success.Lapse},
		"flat":  {Middle: 140, Width: 35, Lapse: success.Lapse},
	}
	for name, steps := range map[string]string{"steep": "sw se nw ne", "flat": "sw+se nw+ne"} {
		rng := estimate.Rand(3)
		for bpm := 100.0; bpm <= 200; bpm += 10 {
			file := filepath.Join(dir, fmt.Sprintf("%s-%.0f.jsonl", name, bpm))
			writeRun(t, file, at(t, name, steps, bpm, 40), "", func(int64) bool { return rng.Float64() < curves[name].At(bpm) })
			logs[name] = append(logs[name], file)
		}
	}
	out := must(t, append(append([]string{"limits"}, logs["steep"]...), logs["flat"]...)...)
	if !strings.HasPrefix(out, "steep: 11 runs") || !strings.Contains(out, "\nflat: 11 runs") {
		t.Fatalf("the ways are not told apart:\n%s", out)
	}
	limit := `80 % of the reps are good at ([\d.]+) beats a minute \(([\d.]+) to ([\d.]+); n (\d+) clear reps\)`
	v := figuresIn(t, out, limit)
	if truth := curves["steep"].Tempo(0.8); v[1] > truth || truth > v[2] || math.Abs(v[0]-truth) > 4 || v[3] < 400 {
		t.Errorf("the limit is %v, truly %.1f", v, truth)
	}
	x := figuresIn(t, out, `Above ([\d.]+) beats a minute \(([\d.]+) to ([\d.]+); n \d+\) flat goes better than steep`)
	if x[1] > 151.7 || 151.7 > x[2] || math.Abs(x[0]-151.7) > 6 {
		t.Errorf("the crossing is %v, truly 151.7", x)
	}
	if strings.Contains(out, "steep goes better than flat") {
		t.Error("and the other way round")
	}
}

// Runs held until they failed by the model, C = 3 landings a second and 300 in
// reserve: the rate, and how long tempi can be kept. At 120 beats a minute with two
// landings a beat there are 4 a second: 300 s.
func TestLongLimitsOfStamina(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	home(t)
	dir := t.TempDir()
	var logs []string
	for _, bpm := range []float64{110, 130, 150, 165} {
		rate := bpm / 30
		failed := int64(math.Round(300 / (rate - 3) * rate / 4)) // reps of four landings
		file := filepath.Join(dir, fmt.Sprintf("%.0f.jsonl", bpm))
		writeRun(t, file, at(t, "x", "sw se nw ne", bpm, failed), limits.HoldOut, func(rep int64) bool { return rep < failed-adapt.Slips-1 })
		logs = append(logs, file)
	}
	out := must(t, append([]string{"limits", "--at", "120,80,300"}, logs...)...)
	v := figuresIn(t, out, `for long: ([\d.]+) landings a second .* above it (\d+) landings in reserve`)
	if math.Abs(v[0]-3) > 0.02 || math.Abs(v[1]-300) > 8 {
		t.Errorf("%v, want 3 and 300", v)
	}
	s := figuresIn(t, out, `at 120 beats a minute: about (\d+) s \((\d+) to (\d+)\)`)
	if math.Abs(s[0]-300) > 6 || s[1] > s[0] || s[2] < s[0] {
		t.Errorf("at 120: %v s, want 300", s)
	}
	for _, want := range []string{"at 80 beats a minute: 2.67 steps a second are not above the critical rate", "at 300 beats a minute: 43 s lie outside"} {
		if !strings.Contains(out, want) {
			t.Errorf("%q is not in:\n%s", want, out)
		}
	}
	two := must(t, append([]string{"limits"}, logs[:2]...)...)
	if !strings.Contains(two, "cannot be told: 2 runs held to failure are fewer than 3") {
		t.Errorf("of two runs:\n%s", two)
	}
}

func TestLimitsRefuses(t *testing.T) {
	home(t)
	log := filepath.Join(t.TempDir(), "a.jsonl")
	writeRun(t, log, at(t, "x", "sw se", 120, 4), "", func(int64) bool { return true })
	for _, args := range [][]string{{log, "--share", "2"}, {log, "--at", "fast"}, {log + "x"}} {
		if code, out, errs := heeltoe("", append([]string{"limits"}, args...)...); code != exitInput || out != "" || errs == "" {
			t.Errorf("%v: exit %d, %q, %q", args, code, out, errs)
		}
	}
	if out := must(t, "limits", log); !strings.Contains(out, "The limit was not reached: it may lie above 120") && !strings.Contains(out, "cannot be told") {
		t.Errorf("of one run:\n%s", out)
	}
}
