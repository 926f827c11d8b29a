package trainer

import (
	"fmt"

	"heeltoe/trainer/view"
)

// ReaderVersion numbers the ways in which feet have been read so far. A reading that was
// kept is good for its run only while the reader is the one that took it: whoever changes
// what footing or footing/read make of some run raises it (a test notices).
const ReaderVersion = 4

// Reading is what reading the feet adds to the figures of a run, apart from them, so
// that it can be kept: it takes some hundred times as long as judging.
type Reading struct {
	Run      view.Technique `json:"run"`
	Reps     []RepReading   `json:"reps"`
	Notes    []NoteReading  `json:"notes"`
	Landings []view.Landing `json:"landings"`
	Standing *view.Standing `json:"standing"`
}

// RepReading is what was read of a rep.
type RepReading struct {
	Technique string                 `json:"t"`
	P         view.Number            `json:"p"`
	Outcome   view.Outcome           `json:"o"`
	Chances   map[string]view.Number `json:"c"`
}

// NoteReading is what was read of a note.
type NoteReading struct {
	Foot    view.Word   `json:"f"`
	Contact view.Word   `json:"c"`
	P       view.Number `json:"p"`
}

// ReadingOf takes the reading out of a report that has one.
func ReadingOf(r *view.Report) *Reading {
	g := &Reading{Run: r.Run, Landings: r.Landings, Standing: r.Standing}
	for i := range r.Reps {
		k := &r.Reps[i]
		g.Reps = append(g.Reps, RepReading{k.Technique, k.P, k.Outcome, k.Chances})
	}
	for i := range r.Notes {
		n := &r.Notes[i]
		g.Notes = append(g.Notes, NoteReading{n.Foot, n.Contact, n.P})
	}
	return g
}

// Into puts the reading into the figures of its run; then they are as Report gives
// them. It fails where they are of another run.
func (g *Reading) Into(r *view.Report) error {
	if len(g.Reps) != len(r.Reps) || len(g.Notes) != len(r.Notes) {
		return fmt.Errorf("a reading of %d reps and %d notes is not of a run of %d and %d", len(g.Reps), len(g.Notes), len(r.Reps), len(r.Notes))
	}
	r.Run, r.Landings, r.Standing = g.Run, g.Landings, g.Standing
	for i, k := range g.Reps {
		v := &r.Reps[i]
		v.Technique, v.P, v.Outcome, v.Chances = k.Technique, k.P, k.Outcome, k.Chances
	}
	for i, n := range g.Notes {
		v := &r.Notes[i]
		v.Foot, v.Contact, v.P = n.Foot, n.Contact, n.P
	}
	return nil
}
