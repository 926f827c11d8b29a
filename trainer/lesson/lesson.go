// Package lesson makes a lesson of a pupil's runs of a drill: which landing breaks
// first as the tempo rises, three graded drills against that, and later whether they helped.
package lesson

import (
	"fmt"
	"math"
	"slices"

	"heeltoe/footing"
	"heeltoe/judge/drill"
	"heeltoe/trainer/estimate"
	"heeltoe/trainer/success"
	"heeltoe/trainer/view"
)

// Share is that of the reps in which a landing must be good at its limit (design value).
const Share = 0.8

// Shown is how probable it must be that a landing is the first to break for it to be named.
const Shown = estimate.Level

// Landing is one landing of the drill's footing, with how it went.
type Landing struct {
	Notes  []int // of a rep, in due order
	Trials []success.Trials
	// Limit is the tempo in beats a minute at which it is good in Share of the reps; Why
	// says why it cannot be told.
	Limit estimate.Figure
	Why   error
	// First is the probability that it is the first to break, of all landings.
	First float64
}

// Diagnosis is what a pupil's runs show.
type Diagnosis struct {
	Drill            *drill.Drill // with the footing that names the landings
	Runs             int
	Slowest, Fastest float64 // tempi played, in beats a minute
	Landings         []Landing
	Whole            []success.Trials // reps as a whole, bands and technique; unclear ones left out
}

// Exact gives d with a footing: its own, or else the easiest that works and has the
// technique that the pupil's feet were read as, or else the easiest that works.
func Exact(d *drill.Drill, technique string, body footing.Body, windows drill.Windows) (*drill.Drill, error) {
	if d.Footing != nil {
		return d, nil
	}
	const listed = 20
	ways, err := footing.Plan(d, body, windows, footing.Filter{}, listed)
	if err != nil {
		return nil, err
	}
	best := footing.Easiest(ways, technique)
	if best == nil {
		return nil, estimate.Refusef("no footing of %s works at %g beats a minute", d.Name, d.BPM)
	}
	return d.WithFooting(best.Contacts, best.Technique)
}

// landings gives the notes of each landing of d's footing, in order of the landings.
func landings(d *drill.Drill) [][]int {
	out := make([][]int, d.Footing[len(d.Footing)-1].Landing+1)
	for i := range d.Footing {
		c := &d.Footing[i]
		for _, n := range c.NoteIndices() {
			out[c.Landing] = append(out[c.Landing], int(n))
		}
	}
	for _, notes := range out {
		slices.Sort(notes)
	}
	return out
}

// Diagnose looks at reviewed runs of the notes of d, which has a footing. A landing is good
// in a rep where all of its notes are inner or middle. Once one has failed, the
// later ones of that rep count for nothing: a slip throws what comes after it. It
// refuses no runs, and runs of other notes.
func Diagnose(d *drill.Drill, runs []*view.Report) (*Diagnosis, error) {
	if len(runs) == 0 {
		return nil, estimate.Refusef("there is no run")
	}
	g := &Diagnosis{Drill: d, Runs: len(runs), Slowest: math.Inf(1), Fastest: math.Inf(-1)}
	for _, notes := range landings(d) {
		g.Landings = append(g.Landings, Landing{Notes: notes})
	}
	for _, r := range runs {
		if err := g.take(r); err != nil {
			return nil, err
		}
	}
	beliefs := make([]*success.Posterior, len(g.Landings))
	for i := range g.Landings {
		l := &g.Landings[i]
		beliefs[i] = success.Believe(l.Trials, g.Slowest, g.Fastest)
		l.Limit, l.Why = beliefs[i].Within(Share, g.Slowest, g.Fastest)
	}
	for i, p := range success.Lowest(beliefs, Share) {
		g.Landings[i].First = p
	}
	return g, nil
}

// take counts the reps of a run.
func (g *Diagnosis) take(r *view.Report) error {
	n := len(g.Drill.Notes)
	if len(r.Notes) != n*len(r.Reps) {
		return estimate.Refusef("a run has %d notes in %d reps, %s has %d in each", len(r.Notes), len(r.Reps), g.Drill.Name, n)
	}
	g.Slowest, g.Fastest = min(g.Slowest, r.BPM), max(g.Fastest, r.BPM)
	for k := range r.Reps[:min(len(r.Reps), r.Summary.RepsBegun)] {
		switch r.Reps[k].Outcome {
		case view.Good:
			g.Whole = success.Add(g.Whole, one(r.BPM, true))
		case view.Bad:
			g.Whole = success.Add(g.Whole, one(r.BPM, false))
		}
		notes := r.Notes[k*n : (k+1)*n]
		for i := range g.Landings {
			l := &g.Landings[i]
			good := !slices.ContainsFunc(l.Notes, func(i int) bool {
				return notes[i].Band != drill.Inner.String() && notes[i].Band != drill.Middle.String()
			})
			l.Trials = success.Add(l.Trials, one(r.BPM, good))
			if !good {
				break
			}
		}
	}
	return nil
}

// one gives a rep as trials.
func one(bpm float64, good bool) success.Trials {
	t := success.Trials{BPM: bpm, N: 1}
	if good {
		t.Good = 1
	}
	return t
}

// Failed tells whether any landing failed at all.
func (g *Diagnosis) Failed() bool {
	return slices.ContainsFunc(g.Landings, func(l Landing) bool {
		return slices.ContainsFunc(l.Trials, func(t success.Trials) bool { return t.Good < t.N })
	})
}

// Weakest gives the landing that most probably breaks first, and whether that is shown.
func (g *Diagnosis) Weakest() (landing int, shown bool) {
	best := 0
	for i := range g.Landings {
		if g.Landings[i].First > g.Landings[best].First {
			best = i
		}
	}
	return best, g.Failed() && g.Landings[best].First >= Shown
}

// tempo gives the limit of a landing, or what the tempi played leave of it.
func (g *Diagnosis) tempo(landing int) float64 {
	return max(g.Slowest*0.8, min(g.Landings[landing].Limit.Value, g.Fastest))
}

// Name names a landing by its place from 1 and its panels.
func (g *Diagnosis) Name(landing int) string {
	panels := ""
	for i, n := range g.Landings[landing].Notes {
		if i > 0 {
			panels += "+"
		}
		panels += g.Drill.Layout.ID(g.Drill.Notes[n].Panel)
	}
	return fmt.Sprintf("landing %d of %d (%s)", landing+1, len(g.Landings), panels)
}
