package consistency_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"heeltoe/footing/pad"
	"heeltoe/input/synth"
	"heeltoe/trainer/consistency"
	"heeltoe/trainer/drills"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/store/storetest"
	"heeltoe/trainer/view"
)

// reviewed reviews a run of the synthetic player of a drill of the library, feet and all.
func reviewed(t testing.TB, id string, presses int) *view.Report {
	t.Helper()
	made, err := storetest.Plan{Dir: t.TempDir(), Runs: 1, Presses: presses, Drills: []string{id}, MissRate: 0.04}.Make()
	if err != nil {
		t.Fatal(err)
	}
	r, err := practice.Review(made[0].File)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func middle(x []float64) float64 {
	slices.Sort(x)
	return (x[(len(x)-1)/2] + x[len(x)/2]) / 2
}

// same tells whether times are as many as x, with their median and mean.
func same(t *view.Times, x []float64) bool {
	if t.N != len(x) || len(x) == 0 {
		return t.N == len(x) && !t.Median.Value.Defined()
	}
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return math.Abs(float64(t.Median.Value)-middle(x)) < 0.01 && math.Abs(float64(t.Mean.Value)-sum/float64(len(x))) < 0.01 && t.Median.N == t.N &&
		t.Median.Known() == (t.N >= 8)
}

// Techniques, landings and contacts equal what plain loops over the review find, and
// nothing of it is left out.
func TestAgainstPlainLoops(t *testing.T) {
	for _, id := range []string{"corner-hook", "corner-jumps", "run-five-lower", "switched-centre", "held-corner", "stair-ten"} {
		r := reviewed(t, id, 120)
		s := consistency.Of(r)
		perRep := len(r.Notes) / len(r.Reps)
		for _, k := range s.Techniques {
			var off []float64
			reps := 0
			for _, rep := range r.Reps {
				if rep.Technique != k.Technique {
					continue
				}
				reps++
				for _, n := range r.Notes[rep.Rep*perRep : (rep.Rep+1)*perRep] {
					if n.Offset.Defined() {
						off = append(off, float64(n.Offset))
					}
				}
			}
			if k.Reps != reps || k.N != len(off) || math.Abs(float64(k.Median.Value)-middle(off)) > 0.01 {
				t.Errorf("%s: %s in %d reps, %v of %d", id, k.Technique, k.Reps, k.Median.Value, k.N)
			}
		}
		landed := 0
		for i := range s.Landings {
			k := &s.Landings[i]
			var off, spread []float64
			n, missed := 0, 0
			for _, l := range r.Landings {
				var kinds []string
				for _, c := range l.Contacts {
					kinds = append(kinds, c.Kind)
				}
				if !slices.Equal(l.Notes, k.Notes) || !slices.Equal(kinds, k.Kinds) {
					continue
				}
				n++
				if len(l.Missed) > 0 {
					missed++
				} else {
					spread = append(spread, float64(l.Spread))
				}
				if l.Offset.Defined() {
					off = append(off, float64(l.Offset))
				}
			}
			landed += n
			if !same(&k.Offset, off) || !same(&k.Spread, spread) || k.Half.N != n || math.Abs(float64(k.Half.Value)*float64(n)-float64(missed)) > 1e-9 || !k.Half.Known() {
				t.Errorf("%s: landing %v: %+v of %d, %d missed", id, k.Notes, k, n, missed)
			}
		}
		if landed != len(r.Landings) {
			t.Errorf("%s: %d of %d landings are told of", id, landed, len(r.Landings))
		}
		for i := range s.Contacts {
			k := &s.Contacts[i]
			var dwell, between, uneven []float64
			for _, l := range r.Landings {
				for _, c := range l.Contacts {
					if c.Kind != k.Kind {
						continue
					}
					var downs, dues []float64
					for _, n := range c.Notes {
						note := r.Notes[l.Rep*perRep+n]
						if note.Press.Defined() {
							downs, dues = append(downs, float64(note.Press)), append(dues, float64(note.Due))
							if note.Up.Defined() && note.Hold == nil {
								dwell = append(dwell, float64(note.Up-note.Press))
							}
						}
					}
					if len(downs) == 2 {
						between = append(between, math.Abs(downs[1]-downs[0]))
						uneven = append(uneven, downs[1]-downs[0]-(dues[1]-dues[0]))
					}
				}
			}
			if !same(&k.Dwell, dwell) || !same(&k.Between, between) || !same(&k.Uneven, uneven) {
				t.Errorf("%s: %s: %+v, want %d, %d, %d", id, k.Kind, k, len(dwell), len(between), len(uneven))
			}
		}
	}
}

// The synthetic player's habits are found again, within their intervals or nearly: how
// long a step lasts, how long a roll's panels overlap, and that rolls are even.
func TestHabitsAreFound(t *testing.T) {
	h := synth.Defaults()
	r := reviewed(t, "corner-hook", 400)
	s := consistency.Of(r)
	near := func(what string, e view.Estimate, ms, within float64) {
		t.Helper()
		if !e.Known() || math.Abs(float64(e.Value)/1000-ms) > within || !(e.Low <= e.Value && e.Value <= e.High) {
			t.Errorf("%s: %.1f ms (%.1f to %.1f), want %.1f", what, e.Value/1000, e.Low/1000, e.High/1000, ms)
		}
	}
	i := slices.IndexFunc(s.Contacts, func(c view.ContactTimes) bool { return c.Kind == "step" })
	j := slices.IndexFunc(s.Contacts, func(c view.ContactTimes) bool { return c.Kind == "roll" })
	if i < 0 || j < 0 {
		t.Fatalf("contacts: %+v", s.Contacts)
	}
	near("dwell of steps", s.Contacts[i].Dwell.Mean, h.DwellMeanMS, 0.15*h.DwellMeanMS)
	near("evenness of rolls", s.Contacts[j].Uneven.Median, 0, 6)
	d, err := drills.Load("corner-hook")
	if err != nil {
		t.Fatal(err)
	}
	if fmt.Sprint(s.Overlaps[0].From, s.Overlaps[0].To) != "0 1" || len(s.Overlaps) != len(d.Notes) {
		t.Errorf("overlaps: %+v", s.Overlaps)
	}
	near("overlap of a roll", s.Overlaps[0].Time.Median, h.RollOverlapMeanMS, 0.3*h.RollOverlapMeanMS)
}

// The time with no panel down, counted millisecond by millisecond from the edges, of a
// run with strays and missed notes: its trend is that of such counts.
func TestFreeTime(t *testing.T) {
	d := alternating(t, 24, false)
	p := habits(0.4, 15, 5)
	p.MissRate, p.StrayRate = 0.05, 0.1
	r := report(t, d, p, 5)
	var down []bool
	mark := func(from, to view.Moment) {
		for ms := from / 1000; ms < to/1000; ms++ {
			for int(ms) >= len(down) {
				down = append(down, false)
			}
			down[ms] = true
		}
	}
	for _, n := range r.Notes {
		if n.Press.Defined() {
			mark(n.Press, n.Up)
		}
	}
	for _, s := range r.Strays {
		mark(s.T, s.Up)
	}
	g := d.Grid(lead)
	var free []float64
	for k := range d.Reps - 1 {
		n := 0
		for at := g.Due(k, 0) / pad.Millisecond; at < g.Due(k+1, 0)/pad.Millisecond; at++ {
			if int(at) >= len(down) || !down[at] {
				n++
			}
		}
		free = append(free, float64(n)*1000)
	}
	var slopes []float64 // of Theil and Sen, by all pairs
	for i := range free {
		for j := i + 1; j < len(free); j++ {
			slopes = append(slopes, (free[j]-free[i])/float64(j-i))
		}
	}
	got := consistency.Of(r).Drift.Free
	if want := middle(slopes); got.N != len(free) || math.Abs(float64(got.Slope)-want) > 150 {
		t.Errorf("panel-free time changes by %v a rep (n %d), counted by %v (n %d)", got.Slope, got.N, want, len(free))
	}
}
