package read_test

import (
	"math/rand/v2"
	"os"
	"testing"

	"heeltoe/footing/read"
	"heeltoe/footing/read/walker"
	"heeltoe/judge/drill"
	"heeltoe/trainer/drills"
)

// rightShare gives the share of reps that were read as they were played.
func rightShare(got *read.Reading, truth []string) float64 {
	right := 0.0
	for i := range got.Reps {
		if got.Reps[i].Technique == truth[i] {
			right++
		}
	}
	return right / float64(len(got.Reps))
}

// Every kind of player that misleads plays drills of several families by every
// technique; of each kind most reps are read right.
func TestPlayersThatMislead(t *testing.T) {
	ps := patterns(t, []string{"crossing-lower", "corner-jumps", "seam-switch", "side-pairs"}, []float64{1}, 12)
	for k, kind := range walker.Kinds {
		t.Run(kind.Name, func(t *testing.T) {
			t.Parallel()
			share, runs := 0.0, 0.0
			for i := range ps {
				p := &ps[i]
				rd, err := read.New(p.d, drill.DefaultWindows)
				if err != nil {
					t.Fatal(err)
				}
				for j, technique := range p.techniques() {
					r := rand.New(rand.NewPCG(uint64(100*k+10*i+j), 5))
					h := walker.Draw(r, false)
					kind.Change(&h, r)
					got := rd.Read(p.play(technique, h, r))
					truth := make([]string, len(got.Reps))
					for n := range truth {
						truth[n] = technique
					}
					s := rightShare(got, truth)
					if s < .5 {
						t.Logf("%s by %s: %.2f, read as %s, p %.2f", p.id, technique, s, got.Technique, got.P)
					}
					share, runs = share+s, runs+1
				}
			}
			// Alternation and double-steps of a foot that leaves at once press the same.
			least := .85
			if kind.Name == "short dwell" || kind.Name == "rests on dead cells" {
				least = .7
			}
			if share/runs < least {
				t.Errorf("%.3f of the reps were read right, less than %v", share/runs, least)
			}
		})
	}
}

// Reps that are mashed in the middle of a run are told from the others.
func TestLongMash(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	right, reps := 0.0, 0.0
	for i, p := range patterns(t, []string{"corner-hook", "stair-middle-six", "run-eight"}, []float64{1}, 16) {
		rd, err := read.New(p.d, drill.DefaultWindows)
		if err != nil {
			t.Fatal(err)
		}
		for j, technique := range p.techniques() {
			h, r := player(uint64(3*(10*i+j)), false)
			played, truth := make([]walker.Rep, p.d.Reps), make([]string, p.d.Reps)
			for n := range played {
				if played[n].Footing, truth[n] = p.ways[technique], technique; n%5 == 3 {
					played[n].Footing, truth[n] = nil, read.Mash
				}
			}
			got := rd.Read(judged(p.d, walker.Play(p.d, played, h, lead, r)))
			for n := range truth {
				reps++
				if (truth[n] == read.Mash) == (got.Reps[n].Technique == read.Mash) {
					right++
				}
			}
		}
	}
	if right/reps < .97 {
		t.Errorf("mashing was told from footings in %.3f of %v reps, less than 0.97", right/reps, reps)
	}
}

// A technique that changes in the middle of a run is followed.
func TestLongChangeInMidRun(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	share, runs := 0.0, 0
	for i, p := range patterns(t, []string{"corner-hook", "crossing-lower", "crossover-upper", "diagonal-three", "run-five-lower", "seam-switch", "stair-middle-six"}, []float64{1}, 16) {
		rd, err := read.New(p.d, drill.DefaultWindows)
		if err != nil {
			t.Fatal(err)
		}
		for _, a := range p.techniques() {
			for _, b := range p.techniques() {
				if a == b {
					continue
				}
				for k := range 3 {
					seed := uint64(30*i + runs%10*3 + k) // one of the three is a player of a kind that misleads
					h, r := player(seed, false)
					played, truth := make([]walker.Rep, p.d.Reps), make([]string, p.d.Reps)
					for n := range played {
						if played[n].Footing, truth[n] = p.ways[a], a; n >= 7 {
							played[n].Footing, truth[n] = p.ways[b], b
						}
					}
					got := rd.Read(judged(p.d, walker.Play(p.d, played, h, lead, r)))
					s := rightShare(got, truth)
					share, runs = share+s, runs+1
					if s < .8 {
						t.Logf("%s, player %d, from %s to %s: %.2f, read as %s", p.id, seed, a, b, s, got.Technique)
					}
				}
			}
		}
	}
	if share/float64(runs) < .93 { // the players whose feet leave at once are among them
		t.Errorf("%.3f of the reps of %d runs were read right, less than 0.93", share/float64(runs), runs)
	} else {
		t.Logf("%.3f of the reps of %d runs were read right", share/float64(runs), runs)
	}
}

// Where nothing was pressed nothing is claimed, however long that lasts.
func TestNothingPressed(t *testing.T) {
	d, err := drills.Load("corner-hook")
	if err != nil {
		t.Fatal(err)
	}
	rd, err := read.New(d, drill.DefaultWindows)
	if err != nil {
		t.Fatal(err)
	}
	got := rd.Read(&read.Run{Lead: lead, Reps: 5})
	if got.Technique != read.Unclear || len(got.Reps) != 5 {
		t.Errorf("an empty run is read as %s, with %d reps", got.Technique, len(got.Reps))
	}
	for i := range got.Reps {
		if g := &got.Reps[i]; g.Technique != read.Unclear || g.Contacts != nil || len(g.Notes) != len(d.Notes) {
			t.Errorf("rep %d without a press is read as %s, %v", i, g.Technique, g.Contacts)
		}
	}
}
