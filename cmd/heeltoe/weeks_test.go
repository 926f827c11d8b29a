package main

import (
	"cmp"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"heeltoe/footing/pad"
	"heeltoe/input/record"
	"heeltoe/judge/drill"
	"heeltoe/trainer/estimate"
	"heeltoe/trainer/lesson"
	"heeltoe/trainer/store"
)

// walked is a drill of four plain steps without a technique, so that a rep is good by its
// bands alone.
const walked = "name = \"walked\"\nlayout = \"single\"\nbpm = 120\nper_beat = 2\nreps = 24\nsteps = \"sw se nw c\"\n"

// walker is a player whose share of good reps falls with the tempo, to a half at middle beats a
// minute; in a rep that is not good the last note comes late. The offsets of each note are
// the quantiles of a normal law in an order drawn, so that chance moves no figure, five in a hundred
// wider and narrower from evening to evening, the mirror image the other way round.
type walker struct {
	middle, spreadMS float64
	mirror           bool
}

// evening writes a run at each of six tempi into the history, on evening e.
func (p walker) evening(t *testing.T, at time.Time, e int) {
	t.Helper()
	d, err := drill.Parse("walked.toml", []byte(walked))
	if err == nil && p.mirror {
		d, err = d.Mirror()
	}
	if err != nil {
		t.Fatal(err)
	}
	dir := filepath.Join(store.RunsDir(store.Dir()), "2026")
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	for i := range 6 {
		d, err := d.WithTempo(100 + 15*float64(i))
		if err != nil {
			t.Fatal(err)
		}
		started := at.Add(time.Duration(i) * 3 * time.Minute)
		f, err := os.Create(filepath.Join(dir, fmt.Sprintf("%s-%v.jsonl", started.UTC().Format("20060102T150405Z"), p.mirror)))
		if err != nil {
			t.Fatal(err)
		}
		w, err := record.NewLogWriter(f, record.Header{Layout: "single", Lead: pad.Second, Drill: d.Spec, Started: started, Player: "ada"})
		if err != nil {
			t.Fatal(err)
		}
		rng := estimate.Rand(uint64(started.Unix()))
		g := d.Grid(pad.Second)
		share := 1 / (1 + math.Exp((d.BPM-p.middle)/6))
		spread := 0.95
		if (e%2 == 0) != p.mirror {
			spread = 1.05
		}
		var order [][]int
		for range d.Notes {
			order = append(order, rng.Perm(int(d.Reps)))
		}
		var edges []pad.Edge
		for rep := range d.Reps {
			good := float64(rep) < math.Round(share*float64(d.Reps))
			for k, n := range d.Notes {
				part := (float64(order[k][rep]) + 0.5) / float64(d.Reps)
				off := pad.Time(1000 * spread * p.spreadMS * distuv.UnitNormal.Quantile(part))
				if !good && k == len(d.Notes)-1 {
					off = 110 * pad.Millisecond
				}
				down := g.Due(rep, int64(n.Slot)) + off
				edges = append(edges, pad.Edge{T: down, Panel: n.Panel, Kind: pad.Down}, pad.Edge{T: down + 40*pad.Millisecond, Panel: n.Panel, Kind: pad.Up})
			}
		}
		slices.SortFunc(edges, func(a, b pad.Edge) int { return cmp.Compare(a.T, b.T) })
		for _, e := range edges {
			if err := w.Write(e); err != nil {
				t.Fatal(err)
			}
		}
		if err := w.Flush(); err != nil {
			t.Fatal(err)
		}
		if err := f.Close(); err != nil {
			t.Fatal(err)
		}
	}
}

var firstEvening = time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC)

// A player who does not move is told of a plateau and what to try; one who gets faster is not.
func TestLongPlateauOfWeeks(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	for _, c := range []struct {
		name    string
		gain    float64 // beats a minute from the first evening to the last
		plateau bool
		say     string
	}{{"stuck", 0, true, "no change that counts\nscatter"}, {"faster", 24, false, ": faster\nscatter"}} {
		home(t)
		file := filepath.Join(t.TempDir(), "walked.toml")
		if err := os.WriteFile(file, []byte(walked), 0o600); err != nil {
			t.Fatal(err)
		}
		for e := range 10 {
			walker{middle: 140 + c.gain*float64(e)/9, spreadMS: 15}.evening(t, firstEvening.AddDate(0, 0, 3*e), e)
		}
		if out := must(t, "plateau", file); strings.Contains(out, "This is a plateau") || !strings.Contains(out, "no rep is clear") && !strings.Contains(out, "clear reps of 0 days") {
			t.Errorf("%s, unread:\n%s", c.name, out)
		}
		must(t, "history", "read")
		out := must(t, "plateau", file)
		if strings.Contains(out, "This is a plateau: scatter stable, tempo stuck") != c.plateau || !strings.Contains(out, c.say) {
			t.Errorf("%s:\n%s", c.name, out)
		}
		if c.plateau {
			for _, try := range []string{"--bursts 6", "heeltoe lesson give", "--reps 24", "--within"} {
				if !strings.Contains(out, try) {
					t.Errorf("%q is not to be tried:\n%s", try, out)
				}
			}
		}
		var j struct {
			Plateau bool
			Gain    struct{ Low, High *float64 } `json:"limit_change"`
		}
		if err := json.Unmarshal([]byte(must(t, "plateau", file, "--json")), &j); err != nil || j.Plateau != c.plateau || j.Gain.Low == nil || *j.Gain.Low >= *j.Gain.High {
			t.Errorf("%s: %v, %+v", c.name, err, j)
		}
	}
}

// A lesson of an evening in the history names the landing that breaks, writes drills that
// can be played, and a week later tells what became of it.
func TestLongLessonOfAnEvening(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	home(t)
	dir := t.TempDir()
	file := filepath.Join(dir, "walked.toml")
	if err := os.WriteFile(file, []byte(walked), 0o600); err != nil {
		t.Fatal(err)
	}
	for e := range 3 {
		walker{middle: 135, spreadMS: 12}.evening(t, firstEvening.AddDate(0, 0, e), e)
	}
	// One run a day at each of six tempi, on three days in a row.
	if out := must(t, "progress", file); !regexp.MustCompile(`(?m)^night +[+-][\d.]+ %, probably [+-][\d.]+ to [+-][\d.]+ % \(12 nights\)$`).MatchString(out) {
		t.Errorf("nights are not told:\n%s", out)
	}
	out := must(t, "lesson", "give", file, "--player", "ada", "--out", filepath.Join(dir, "home"))
	if !strings.Contains(out, "The first to break is landing 4 of 4 (c), p 1.00") {
		t.Errorf("it gave\n%s", out)
	}
	sheet, err := os.ReadFile(filepath.Join(dir, "home", "homework.txt"))
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Homework for ada", "steps    . se nw c", "Stop at once at pain", "heeltoe lesson compare homework.json", "no\nmedical advice"} {
		if !strings.Contains(string(sheet), want) {
			t.Errorf("%q is not in\n%s", want, sheet)
		}
	}
	for _, name := range []string{"1-slower", "2-split", "3-rejoined"} {
		must(t, "live", filepath.Join(dir, "home", name+".toml"), "--source", "synth", "--fast", "--no-log")
	}
	work := filepath.Join(dir, "home", "homework.json")
	if code, _, errs := heeltoe("", "lesson", "compare", work); code != exitInput || !strings.Contains(errs, "since the homework was given") {
		t.Errorf("before any run: exit %d, %s", code, errs)
	}
	week := time.Now().Add(7 * 24 * time.Hour)
	for e := range 3 {
		walker{middle: 150, spreadMS: 12}.evening(t, week.AddDate(0, 0, e), e)
	}
	out = must(t, "lesson", "compare", work)
	if !strings.Contains(out, "18 runs until") || strings.Count(out, ": the limit moved by +1") != 2 {
		t.Errorf("after a gain of 15:\n%s", out)
	}
	if out = must(t, "lesson", "compare", work, "--json"); !strings.Contains(out, `"shown":true`) {
		t.Error(out)
	}
	h, _, err := lesson.ReadHomework(work)
	if err != nil || h.Landing != 3 || h.Before.Runs != 18 {
		t.Errorf("%+v, %v", h, err)
	}
}

// A weak side of a player in the history is named, an equal one is not.
func TestLongSidesOfTheHistory(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	for _, c := range []struct {
		name string
		weak walker
		want string
	}{
		{"weak", walker{middle: 125, spreadMS: 20, mirror: true}, "The weaker side is walked, mirrored, by limit and scatter."},
		{"equal", walker{middle: 140, spreadMS: 13, mirror: true}, "No difference between the sides is shown."},
	} {
		home(t)
		file := filepath.Join(t.TempDir(), "walked.toml")
		if err := os.WriteFile(file, []byte(walked), 0o600); err != nil {
			t.Fatal(err)
		}
		for e := range 2 {
			at := firstEvening.AddDate(0, 0, e)
			walker{middle: 140, spreadMS: 13}.evening(t, at, e)
			c.weak.evening(t, at.Add(time.Hour), e)
		}
		out := must(t, "sides", file)
		if !strings.Contains(out, c.want) || !strings.Contains(out, "12 ") {
			t.Errorf("%s:\n%s", c.name, out)
		}
		var j struct {
			Weaker *int
			Sides  []struct{ Runs int }
		}
		if err := json.Unmarshal([]byte(must(t, "sides", file, "--json")), &j); err != nil || (j.Weaker != nil) != (c.name == "weak") || len(j.Sides) != 2 || j.Sides[1].Runs != 12 {
			t.Errorf("%s: %v, %+v", c.name, err, j)
		}
	}
}
