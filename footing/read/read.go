// Package read tells from a run's presses which foot did what: the pad reports
// panels, never feet. It weighs every footing that a rep may have been played
// with by how well a model of two feet, fitted to the player of the run, explains
// when panels went down and up.
//
// The model tells the story of a rep, given its footing: when each landing comes
// down, against its aim (middleTerm and the terms after it), how long each foot stays
// (law.release), which notes get no press (facting.missed) and how many presses belong to
// nothing. Its parameters are the table Priors. A rep's footing is a state of a
// hidden Markov chain that mostly stays as it is (engine.infer). The parameters are
// fitted to the run from every technique at several levels of dwell, and the ends
// of these fits are weighed against each other (engine.modes), since what is a
// roll for one player is slow stepping for another.
//
// Left and right are told apart only by the order in which feet take turns: a reading
// with left and right exchanged all through explains the presses as well.
//
// Free reads presses with no drill to go by, by the same law.
package read

import (
	"math"
	"slices"
	"sort"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// Reader reads runs of one drill. It is for one goroutine.
type Reader struct {
	d       *drill.Drill
	windows drill.Windows
	sheet   *sheet
	without part // none, but in measurements
	prior   prior

	tempering float64
}

// New prepares the reading of runs of d: it asks the planner for the footings that
// may be met. The drill's number of reps plays no part.
func New(d *drill.Drill, windows drill.Windows) (*Reader, error) {
	c, err := candidates(d, windows)
	if err != nil {
		return nil, err
	}
	return &Reader{d: d, windows: windows, sheet: newSheet(d, c), prior: anybody(), tempering: tempering}, nil
}

// Words for what a rep or a run is read as, beside the techniques of drills.
const (
	Mash    = "mash"    // no footing plays these presses
	Unclear = "unclear" // no label reaches leastP
	Mixed   = "mixed"   // of a run: no label has mixedUnder of its reps
)

const (
	leastP     = 0.5
	mixedUnder = 0.6
)

// Labels are the labels that have a probability: the techniques in their order, and mash.
var Labels = append(append([]string(nil), drill.Techniques...), Mash)

// Chances are the probabilities of Labels.
type Chances [7]float64

// best gives the likeliest label.
func (c *Chances) best() (label int, p float64) {
	for i, v := range c {
		if v > p {
			label, p = i, v
		}
	}
	return label, p
}

// Reading is what a run was read as.
type Reading struct {
	Technique string  // of Labels, or Mixed, or Unclear where nothing was pressed
	P         float64 // mean over the reps of its probability
	Reps      []Rep

	// Values are the parameters that fitted best, of the run's last part where it is long.
	Values Values
}

// Rep is what a rep was read as.
type Rep struct {
	Technique string  // of Labels, or Unclear
	P         float64 // of the likeliest label, though it be unclear
	Chances   Chances

	// Contacts is the likeliest footing of that label: empty for mash, and where nothing was pressed.
	Contacts []drill.Contact

	// Notes has for each note of the rep what was read of it.
	Notes []Note

	turned bool // the feet are exchanged against Contacts of the rep before, as the planner has both
}

// Note is what was read of one note.
type Note struct {
	Pressed bool // by a press that the reading took as its own; the rest means nothing without
	Foot    pad.Foot
	Kind    drill.ContactKind

	// P is the probability of foot and kind, up to the exchange of left and right in the rep.
	P float64
}

// Sizes of the parts that a long run is read in: the time that a reading takes grows with
// the number of parts. A part overlaps the next by a rep on either side.
const (
	partNotes = 768
	partReps  = 96
)

// Read reads a run.
func (r *Reader) Read(run *Run) *Reading {
	p := prepare(r.d, r.windows, run)
	out := &Reading{Reps: make([]Rep, 0, p.reps), Values: mean()}
	part := max(1, min(partReps, partNotes/p.notes))
	last := p.reps // the last rep with a press ends what is fitted
	for last > 0 && !p.pressed(last-1) {
		last--
	}
	for from := 0; from < last; from += part {
		to := min(from+part, last)
		low, high := max(0, from-1), min(to+1, last)
		e := r.engine(p, low, high)
		b := e.believe(e.modes())
		out.Values = b.values
		out.Reps = b.append(out.Reps, from, to)
	}
	for len(out.Reps) < p.reps {
		out.Reps = append(out.Reps, Rep{Technique: Unclear, Notes: make([]Note, p.notes)})
	}
	orient(out.Reps)
	out.sum(p)
	return out
}

// engine makes the engine that reads the reps of p from one to before another.
func (r *Reader) engine(p *played, from, to int) *engine {
	e := newEngine(r.sheet, p, from, to, r.without)
	e.prior, e.tempering = r.prior, r.tempering
	return e
}

// At reads the reps of a run from one to before another, with frozen parameters: it is
// for a rep that has just ended. The rep before is looked at too, and what was pressed after;
// the time it takes does not grow with what came earlier.
func (r *Reader) At(run *Run, v Values, from, to int) []Rep {
	low := max(0, from-1)
	g := r.d.Grid(run.Lead)
	begin := g.Due(int64(low), 0) + r.windows[drill.Outer].Early - widenBy + run.Shift
	first := sort.Search(len(run.Presses), func(i int) bool { return run.Presses[i].Down >= begin })
	part := &Run{Lead: g.Due(int64(low), 0), Shift: run.Shift, Reps: min(to+1, run.Reps) - low, Presses: slices.Clone(run.Presses[first:])}
	for i := range part.Presses {
		if p := &part.Presses[i]; p.Rep >= 0 {
			if p.Rep -= int32(low); p.Rep < 0 {
				p.Rep, p.Note = None, None
			}
		}
	}
	p := prepare(r.d, r.windows, part)
	e := r.engine(p, 0, to-low)
	reps := e.believe([]mode{e.only(v)}).append(nil, from-low, to-low)
	orient(reps)
	return reps
}

// Aim gives when a landing of these contacts should come down in a rep, on the grid's
// clock: its due moment, or where it gathers notes of different slots the planner's
// aim. Where it has a roll it is midway between its first and its last note.
func (r *Reader) Aim(rep int, g drill.Grid, landing []drill.Contact) pad.Time {
	low, high, rolls := int32(math.MaxInt32), int32(0), false
	for i := range landing {
		rolls = rolls || landing[i].Kind == drill.Roll
		for _, n := range landing[i].NoteIndices() {
			low, high = min(low, r.d.Notes[n].Slot), max(high, r.d.Notes[n].Slot)
		}
	}
	first, last := g.Due(int64(rep), int64(low)), g.Due(int64(rep), int64(high))
	if rolls {
		return first + (last-first)/2
	}
	return first + r.sheet.aim[high-low]
}

// sum finds what the run is as a whole.
func (g *Reading) sum(p *played) {
	var all Chances
	n := 0
	for rep := range g.Reps {
		if !p.pressed(rep) {
			continue
		}
		n++
		for i, v := range g.Reps[rep].Chances {
			all[i] += v
		}
	}
	if n == 0 {
		g.Technique = Unclear
		return
	}
	label, total := all.best()
	g.Technique, g.P = Labels[label], total/float64(n)
	if g.P < mixedUnder {
		g.Technique = Mixed
	}
}
