package main

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/footing/pad"
	"heeltoe/input/synth"
	"heeltoe/judge"
	"heeltoe/judge/drill"
	"heeltoe/trainer/click"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/profile"
)

// steadyClicks are n clicks of the tempo given after four to count in.
func steadyClicks(t interface{ Fatal(...any) }, bpm float64, n int64) *click.Schedule {
	d, err := drill.New(drill.Spec{Name: "d", Layout: "single", BPM: bpm, PerBeat: 1, Reps: n, Steps: "c"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	s, err := click.New(d, 3*pad.Second, click.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// pressed gives the edges of presses of 50 ms.
func pressed(at []pad.Time) (edges []pad.Edge) {
	for _, t := range at {
		edges = append(edges, pad.Edge{T: t, Panel: 2, Kind: pad.Down}, pad.Edge{T: t + 50*pad.Millisecond, Panel: 2, Kind: pad.Up})
	}
	return edges
}

// Real taps: 120 trials of 30 people with a metronome of 600 ms, whole
// milliseconds (Bååth and Madison 2012, open data). Over all of them the median
// is -38.5 ms, as computed apart from this program. Nearly every trial leads the
// click, as the text says; nearly every trial is trusted, and a tap at random is not.
func TestRealTapsLeadTheClick(t *testing.T) {
	folder := os.Getenv("HEELTOE_DATA")
	if folder == "" {
		t.Skip("not run: HEELTOE_DATA names no folder with the open data")
	}
	f, err := os.Open(filepath.Join(folder, "tapping_data_baath_madison_2012.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if got := strings.Join(rows[0], ","); got != "subject,trial,isi,asynch" {
		t.Fatalf("the columns are %s", got)
	}
	var all []pad.Time
	trials := map[string][]pad.Time{}
	for _, r := range rows[1:] {
		if r[2] != "600" {
			continue
		}
		ms, err := strconv.ParseFloat(r[3], 64)
		if err != nil {
			t.Fatal(err)
		}
		off := pad.Time(ms * 1000)
		all = append(all, off)
		trials[r[0]+"/"+r[1]] = append(trials[r[0]+"/"+r[1]], off)
	}
	play := func(offsets []pad.Time) delayFigures {
		clicks := steadyClicks(t, 100, int64(len(offsets)))
		at := make([]pad.Time, len(offsets))
		for i, off := range offsets {
			due, _ := clicks.At(clicks.CountIn() + int64(i))
			at[i] = due + off
		}
		slices.Sort(at)
		return measureDelay(clicks, pressed(at), 0)
	}
	if s := judge.Summarise(all); s.N != 3412 || s.Median != -38_500 {
		t.Errorf("of %d taps the median is %v µs, want -38,500 of 3412", s.N, s.Median)
	}
	// Played to the clicks, the few taps that are more than half an interval off
	// are given to no click or to another.
	if m := play(all); math.Abs(m.stats.Median+38_500) > 1000 || m.stats.N < 3380 || m.stats.N == 3412 {
		t.Errorf("of %d taps that were paired the median is %v µs", m.stats.N, m.stats.Median)
	}
	leading, trusted := 0, 0
	for _, offsets := range trials {
		m := play(offsets)
		if m.stats.Median < 0 {
			leading++
		}
		if m.doubt() == "" {
			trusted++
		}
	}
	t.Logf("%d trials: %d lead the click, %d are trusted", len(trials), leading, trusted)
	if len(trials) != 120 || leading < 114 || trusted < 108 || trusted == len(trials) {
		t.Errorf("%d trials: %d lead the click, %d are trusted", len(trials), leading, trusted)
	}
}

// Of tests of 30 presses by a player of a known mean, whose offsets carry over
// from one press to the next as people's do (Vorberg and Wing 1996), nine in ten
// have that mean within what is said of their median.
func TestDelayUncertainty(t *testing.T) {
	p := synth.Defaults()
	within, sum := 0, 0.0
	const tests = 400
	for seed := range uint64(tests) {
		clicks := steadyClicks(t, 100, 30)
		d, err := drill.New(drill.Spec{Name: "d", Layout: "single", BPM: 100, PerBeat: 1, Reps: 30, Steps: "c"}, nil)
		if err != nil {
			t.Fatal(err)
		}
		y, err := practice.Synthetic(d, 3*pad.Second, p, seed)
		if err != nil {
			t.Fatal(err)
		}
		var edges []pad.Edge
		for e, err := y.Next(); err == nil; e, err = y.Next() {
			edges = append(edges, e)
		}
		m := measureDelay(clicks, edges, 0)
		sum += m.stats.Median
		if math.Abs(m.stats.Median-1000*p.MeanAsynchronyMS) <= m.uncertain() {
			within++
		}
	}
	t.Logf("%d of %d within; mean of the medians %.0f µs", within, tests, sum/tests)
	if within < tests*86/100 || within > tests*97/100 || math.Abs(sum/tests-1000*p.MeanAsynchronyMS) > 1000 {
		t.Errorf("%d of %d tests are within what they say; the medians are about %.0f µs, the player's mean is %.0f", within, tests, sum/tests, 1000*p.MeanAsynchronyMS)
	}
}

// The pairing equals that by looking at every press for every click.
func TestDelayPairing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.Int64Range(10, 40).Draw(t, "clicks")
		bpm := rapid.Float64Range(minDelayBPM, maxDelayBPM).Draw(t, "bpm")
		clicks := steadyClicks(t, bpm, n)
		at := rapid.SliceOfN(rapid.Map(rapid.Int64Range(0, 60_000_000), func(v int64) pad.Time { return pad.Time(v) }), 0, 80).Draw(t, "presses")
		slices.Sort(at)
		last, _ := clicks.At(clicks.Len() - 1)
		before, _ := clicks.At(clicks.Len() - 2)
		half := (last - before) / 2
		var want []float64
		for k := int64(4); k < clicks.Len(); k++ {
			due, _ := clicks.At(k)
			for _, p := range at {
				if p >= due-half && p < due+half {
					want = append(want, float64(p-due))
					break
				}
			}
		}
		m := measureDelay(clicks, pressed(at), 0)
		if m.stats.N != len(want) || m.clicks != n {
			t.Fatalf("%d of %d clicks have a press, want %d of %d", m.stats.N, m.clicks, len(want), n)
		}
		if len(want) == 0 {
			return
		}
		sum := 0.0
		for _, w := range want {
			sum += w
		}
		if math.Abs(sum/float64(len(want))-m.stats.Mean) > 1e-6 {
			t.Fatalf("the mean is %v, want %v", m.stats.Mean, sum/float64(len(want)))
		}
	})
}

// A bounce is no press, and gaps are told of.
func TestDelayDoubts(t *testing.T) {
	clicks := steadyClicks(t, 100, 30)
	at := make([]pad.Time, 30)
	played := func(f func(i int) pad.Time) []pad.Edge {
		for i := range at {
			due, _ := clicks.At(4 + int64(i))
			at[i] = due + f(i)
		}
		return pressed(at)
	}
	early := played(func(i int) pad.Time { return -400_000 + 600*pad.Time(i) })
	var bouncing []pad.Edge // each press bounces 55 ms later, near the click before
	for i := 0; i < len(early); i += 2 {
		bouncing = append(bouncing, early[i], early[i+1], pad.Edge{T: early[i+1].T + 5_000, Panel: 2, Kind: pad.Down}, pad.Edge{T: early[i+1].T + 8_000, Panel: 2, Kind: pad.Up})
	}
	plain, merged := measureDelay(clicks, early, 0), measureDelay(clicks, bouncing, 10*pad.Millisecond)
	if plain.stats != merged.stats {
		t.Errorf("with bounces %+v, without %+v", merged.stats, plain.stats)
	}
	for _, c := range []struct {
		want  string
		edges []pad.Edge
	}{
		{"", played(func(i int) pad.Time { return -30_000 + 1_000*pad.Time(i%20) })},
		{"too few", played(func(i int) pad.Time { return 0 })[:38]},
		{"too few", nil},
		{"too wide", played(func(i int) pad.Time { return pad.Time(i%7-3) * 30_000 })},
		{"too far off", played(func(i int) pad.Time { return 250_000 })},
		{"lost", append(played(func(i int) pad.Time { return 0 }), pad.Edge{T: pad.Minute, Panel: pad.NoPanel, Kind: pad.Gap})},
	} {
		m := measureDelay(clicks, c.edges, 0)
		if got := m.doubt(); (got == "") != (c.want == "") || !strings.Contains(got, c.want) {
			t.Errorf("doubt %q, want %q", got, c.want)
		}
	}
}

// A player of a known habit is measured, trusted, and stored only when asked.
func TestDelayOffersAndStores(t *testing.T) {
	home(t)
	dir := t.TempDir()
	must(t, "pads", "teach", "--from", "../../testdata/reports/ten-buttons-teach.jsonl", "--layout", "double", "--name", "home pad")
	file, log, rec := filepath.Join(dir, "d.toml"), filepath.Join(dir, "log.jsonl"), filepath.Join(dir, "rec.jsonl")
	if err := os.WriteFile(file, []byte("name = \"delay test\"\nlayout = \"double\"\nbpm = 100\nper_beat = 1\nreps = 300\nsteps = \"1c\"\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	shift := func() float64 {
		p, err := profile.LoadPad("home pad")
		if err != nil {
			t.Fatal(err)
		}
		return p.Shift.Milliseconds()
	}
	for _, mean := range []float64{-38, 25} {
		must(t, "synth", file, fmt.Sprintf("--mean-asynchrony-ms=%v", mean), "--out", log, "--force")
		encode(t, log, rec)
		was := shift()
		args := []string{"delay", "--source", rec, "--pad", "home pad", "--presses", "300", "--fast"}
		out := must(t, args...)
		if shift() != was || !strings.Contains(out, "Nothing is kept") {
			t.Errorf("the shift was kept without being asked for: %s", out)
		}
		for _, text := range []string{"presses    300 with 300 clicks", "Aschersleben", "30 to 50 ms", "not the delay of your equipment alone"} {
			if !strings.Contains(out, text) {
				t.Errorf("the text lacks %q: %s", text, out)
			}
		}
		must(t, append(args, "--store")...)
		// 300 presses of an SD of 19.6 ms, correlated: the median is good to 6 ms.
		if got := shift(); math.Abs(got-mean) > 6 {
			t.Errorf("the shift kept is %v ms, the player's is %v", got, mean)
		}
	}
	// A player whose presses say nothing: exit 1 with --store, and nothing changes.
	was := shift()
	must(t, "synth", file, "--clock-sd-ms", "120", "--out", log, "--force")
	encode(t, log, rec)
	code, out, stderr := heeltoe("", "delay", "--source", rec, "--pad", "home pad", "--presses", "300", "--fast", "--store")
	if code != exitError || !strings.Contains(out, "not to be trusted") || !strings.Contains(stderr, "was not kept") || shift() != was {
		t.Errorf("exit %d, %q, %q; the shift is %v, was %v", code, out, stderr, shift(), was)
	}
	// A log, in its own layout; without --store the exit is 0, but the figure is refused.
	if out := must(t, "delay", "--source", log, "--presses", "300", "--fast"); !strings.Contains(out, "not to be trusted") {
		t.Error(out)
	}
}

func TestDelayWrongUse(t *testing.T) {
	home(t)
	bad := filepath.Join(t.TempDir(), "bad.jsonl")
	if err := os.WriteFile(bad, []byte("{\"heeltoe\":\"run\",\"version\":9}\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		code int
		want string
		args []string
	}{
		{exitInput, "heeltoe: --presses: 9 is not from 10 to 500", []string{"--presses", "9"}},
		{exitInput, "heeltoe: --bpm: 300 is not from 40 to 200", []string{"--bpm", "300"}},
		{exitInput, "heeltoe: --store is for a taught pad", []string{"--source", "synth", "--store"}},
		{exitInput, "heeltoe: --fast is for a file", []string{"--fast"}},
		{exitInput, "heeltoe: --loudness-db: 3 is not from -60 to 0", []string{"--source", "synth", "--loudness-db", "3"}},
		{exitInput, "heeltoe: ", []string{"--source", "synth", "--click", "off"}},
		{exitInput, bad + ":1:1: the header lacks", []string{"--source", bad}},
		{exitInput, bad + "x:1:1: cannot be opened", []string{"--source", bad + "x"}},
		{exitInput, "heeltoe: there is no pad", []string{"--pad", "never taught"}},
		{exitLacking, "heeltoe: no pad has been taught", nil},
	} {
		code, out, stderr := heeltoe("", append([]string{"delay"}, c.args...)...)
		if code != c.code || !strings.HasPrefix(stderr, c.want) || out != "" {
			t.Errorf("%v: exit %d, %q, %q; want exit %d, %q", c.args, code, out, stderr, c.code, c.want)
		}
	}
}
