package main

import (
	"encoding/json"
	"math"
	"path/filepath"
	"strings"
	"testing"

	"heeltoe/judge/drill"
	"heeltoe/trainer/drills"
)

// readReport is what the contract says of the reading.
type readReport struct {
	Run struct {
		Technique string
		P         float64
	}
	Reps []struct {
		Rep       int
		Technique string
		P         float64
		Outcome   string
	}
	Landings []struct {
		Rep    int
		Notes  []int
		Aim    *int64 `json:"aim_us"`
		Centre *int64 `json:"centre_us"`
		Offset *int64 `json:"offset_us"`
		Spread *int64 `json:"spread_us"`
		Missed []int
	}
	Notes []struct {
		Rep, Note     int
		Due           int64  `json:"due_us"`
		Press         *int64 `json:"press_us"`
		Foot, Contact *string
		P             *float64
	}
}

// Runs of the first synthetic player are read as what it played, and the review says
// of them what the contract asks.
func TestReviewReadsFeet(t *testing.T) {
	home(t)
	right, feet, notes := 0, 0, 0
	ids := []string{"anchor-centre", "bracket-taps", "corner-hook", "corner-jumps", "corner-roll", "crossing-lower", "held-corner", "seam-switch", "side-pairs", "stair-middle-six"}
	for _, id := range ids {
		d, err := drills.Load(id)
		if err != nil {
			t.Fatal(err)
		}
		log := filepath.Join(t.TempDir(), "run.jsonl")
		must(t, "synth", id, "--out", log, "--miss-rate", "0.02", "--reps", "16")
		var got readReport
		if err := json.Unmarshal([]byte(must(t, "review", log, "--json")), &got); err != nil {
			t.Fatal(err)
		}
		if got.Run.Technique == d.Technique {
			right++
		} else {
			t.Logf("%s was played by %s and read as %s, p %.2f", id, d.Technique, got.Run.Technique, got.Run.P)
		}
		if len(got.Reps) != 16 || len(got.Notes) != 16*len(d.Notes) {
			t.Fatalf("%s: %d reps and %d notes", id, len(got.Reps), len(got.Notes))
		}
		for _, r := range got.Reps {
			if !(r.P > 0 && r.P <= 1) || r.Technique == "" || r.Outcome == "" {
				t.Errorf("%s: rep %d is %s, p %v, %s", id, r.Rep, r.Technique, r.P, r.Outcome)
			}
		}
		foot := make([]string, len(d.Notes))
		for i := range d.Footing {
			for _, n := range d.Footing[i].NoteIndices() {
				foot[n] = d.Footing[i].Foot.String()
			}
		}
		same := 0
		for _, n := range got.Notes {
			if (n.Press == nil) != (n.Foot == nil) || (n.Foot == nil) != (n.P == nil) || (n.P == nil) != (n.Contact == nil) {
				t.Fatalf("%s: rep %d note %d has a press, or foot, contact and p, without the others", id, n.Rep, n.Note)
			}
			if n.Press == nil {
				continue
			}
			notes++
			if *n.Foot == foot[n.Note] {
				same++
			} else {
				same--
			}
			if !(*n.P >= 0 && *n.P <= 1) {
				t.Errorf("%s: p is %v", id, *n.P)
			}
		}
		feet += max(same, -same)
		checkLandings(t, id, d, &got)
	}
	if right < len(ids)-1 {
		t.Errorf("%d of %d runs were read as they were played", right, len(ids))
	}
	// Of n notes of which k have the foot that was played or all the other, same is 2k − n.
	if share := (1 + float64(feet)/float64(notes)) / 2; share < .97 {
		t.Errorf("the feet of %.3f of the notes are right up to exchange", share)
	}
}

// checkLandings works the landings' figures out again from the notes.
func checkLandings(t *testing.T, id string, d *drill.Drill, got *readReport) {
	t.Helper()
	played := make(map[[2]int]int)
	for _, l := range got.Landings {
		first, last, missed := int64(math.MaxInt64), int64(math.MinInt64), 0
		for _, n := range l.Notes {
			played[[2]int{l.Rep, n}]++
			if p := got.Notes[l.Rep*len(d.Notes)+n].Press; p != nil {
				first, last = min(first, *p), max(last, *p)
			} else {
				missed++
			}
		}
		switch {
		case missed != len(l.Missed):
			t.Errorf("%s: a landing of rep %d missed %v, by its notes %d", id, l.Rep, l.Missed, missed)
		case missed == len(l.Notes):
			if l.Centre != nil || l.Offset != nil || l.Spread != nil {
				t.Errorf("%s: a landing of rep %d without a press has a centre", id, l.Rep)
			}
		case l.Centre == nil || l.Aim == nil || *l.Centre != first+(last-first)/2 || *l.Offset != *l.Centre-*l.Aim || *l.Spread != last-first:
			t.Errorf("%s: a landing of rep %d: %+v, its presses from %d to %d", id, l.Rep, l, first, last)
		}
	}
	for k, n := range played {
		if n != 1 {
			t.Errorf("%s: note %v is in %d landings", id, k, n)
		}
	}
}

// The text has the reading too.
func TestReviewPrintsFeet(t *testing.T) {
	home(t)
	log := filepath.Join(t.TempDir(), "run.jsonl")
	must(t, "synth", "crossing-lower", "--out", log)
	text := must(t, "review", log)
	for _, want := range []string{"technique  hop, p ", "hop was asked for", "L:1sw&1c R:1ne&2nw", "landing  times"} {
		if !strings.Contains(text, want) {
			t.Errorf("the review lacks %q:\n%s", want, text)
		}
	}
}

// With no drill to go by there is a foot for every press.
func TestReviewFree(t *testing.T) {
	home(t)
	log := filepath.Join(t.TempDir(), "run.jsonl")
	must(t, "synth", "anchor-corner", "--out", log)
	var got struct {
		Presses []struct {
			T       int64
			Panel   string
			Foot    string
			Contact string
			P       float64
		}
	}
	if err := json.Unmarshal([]byte(must(t, "review", log, "--free", "--json")), &got); err != nil {
		t.Fatal(err)
	}
	if len(got.Presses) < 100 {
		t.Fatalf("%d presses were read", len(got.Presses))
	}
	turns := 0
	for i := 1; i < len(got.Presses); i++ {
		if got.Presses[i].Foot != got.Presses[i-1].Foot {
			turns++
		}
		if p := got.Presses[i].P; !(p > 0 && p <= 1) {
			t.Errorf("p is %v", p)
		}
	}
	if float64(turns) < .9*float64(len(got.Presses)-1) {
		t.Errorf("of %d presses that were stepped in turn %d were read so", len(got.Presses), turns)
	}
	if out := must(t, "review", log, "--free"); !strings.Contains(out, "contact") {
		t.Errorf("the text lacks its table:\n%s", out)
	}
}
