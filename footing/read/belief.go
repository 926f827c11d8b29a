package read

import (
	"math"
	"slices"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// belief is what is thought of a run when all modes have been weighed.
type belief struct {
	e         *engine
	values    Values    // of the best mode
	posterior []float64 // by rep of the engine and candidate, mash the last
}

// tempering is the share of a difference in evidence between modes that is believed: all
// reps of a run lean on the same parameters, and the model is only a model. Of 0.2, 0.4, 0.6
// and 1 on two halves of the drills, with players of their own (TestMeasureCalibration), the calibration
// errors lie between 0.006 and 0.014: little depends on it.
const tempering = 0.6

// believe weighs the modes by their evidence.
func (e *engine) believe(modes []mode) *belief {
	best := &modes[0]
	for i := range modes {
		if modes[i].evidence > best.evidence {
			best = &modes[i]
		}
	}
	b := &belief{e: e, values: best.values, posterior: make([]float64, len(best.posterior))}
	total := 0.0
	if e.without&weighedModes != 0 {
		modes = []mode{*best}
		best = &modes[0]
	}
	for i := range modes {
		w := math.Exp(e.tempering * (modes[i].evidence - best.evidence))
		total += w
		for j, p := range modes[i].posterior {
			b.posterior[j] += w * p
		}
	}
	for j := range b.posterior {
		b.posterior[j] /= total
	}
	e.at(b.values)
	return b
}

// append adds the reps from one to before another.
func (b *belief) append(reps []Rep, from, to int) []Rep {
	for rep := from; rep < to; rep++ {
		reps = append(reps, b.rep(rep))
	}
	return reps
}

// of gives the posteriors of a rep by candidate.
func (b *belief) of(rep int) []float64 {
	k := len(b.e.s.cands) + 1
	return b.posterior[(rep-b.e.from)*k : (rep-b.e.from+1)*k]
}

// labelOf gives the place of a candidate's label in Labels.
func (b *belief) labelOf(cand int) int { return slices.Index(Labels, b.e.labelOf(cand)) }

// chances sums the candidates' posteriors by label; top is the likeliest candidate of the likeliest label.
func (b *belief) chances(rep int) (c Chances, top int) {
	p := b.of(rep)
	for i, v := range p {
		c[b.labelOf(i)] += v
	}
	for i := range c {
		c[i] = min(c[i], 1) // rounding
	}
	label, _ := c.best()
	top = -1
	for i, v := range p {
		if b.labelOf(i) == label && (top < 0 || v > p[top]) {
			top = i
		}
	}
	return c, top
}

// rep gives what a rep is read as.
func (b *belief) rep(rep int) Rep {
	e := b.e
	r := Rep{Technique: Unclear, Notes: make([]Note, e.p.notes)}
	if !e.p.pressed(rep) {
		return r
	}
	c, top := b.chances(rep)
	label, p := c.best()
	r.Chances, r.P = c, p
	if p >= leastP {
		r.Technique = Labels[label]
	}
	if top == len(e.s.cands) {
		return r
	}
	r.Contacts = e.s.cands[top].contacts
	if rep > e.from {
		if _, before := b.chances(rep - 1); before < len(e.s.cands) {
			r.turned = e.turns(rep-1-e.from, before, top) > 0.5
		}
	}
	b.notes(&r, rep, top)
	return r
}

// foothold is what a candidate says of a note.
type foothold struct {
	foot pad.Foot
	kind drill.ContactKind
}

// notes says of each note what the likeliest footing has, and how sure that is: the
// other footings count where they have the same, after left and right have been
// exchanged in them if more agrees so.
func (b *belief) notes(r *Rep, rep, top int) {
	p := b.of(rep)
	n := b.e.p.notes
	said, other := make([]foothold, n), make([]foothold, n)
	b.footholds(said, top)
	for i, share := range p {
		if share < leastShare || i == len(b.e.s.cands) {
			continue
		}
		b.footholds(other, i)
		same, exchanged := 0, 0
		for j := range said {
			if other[j].foot == said[j].foot {
				same++
			} else {
				exchanged++
			}
		}
		for j := range said {
			if other[j].kind == said[j].kind && (other[j].foot == said[j].foot) == (same >= exchanged) {
				r.Notes[j].P += share
			}
		}
	}
	for j := range said {
		note := &r.Notes[j]
		note.Pressed = b.e.p.has[rep*n+j]
		note.Foot, note.Kind, note.P = said[j].foot, said[j].kind, min(note.P, 1)
	}
}

func (b *belief) footholds(dst []foothold, cand int) {
	for i := range b.e.s.cands[cand].contacts {
		c := &b.e.s.cands[cand].contacts[i]
		for _, n := range c.NoteIndices() {
			dst[n] = foothold{c.Foot, c.Kind}
		}
	}
}

// orient exchanges left and right where the feet turn from rep to rep, so that a
// reading goes on from one rep to the next, and as a whole agrees with the planner
// in most of its reps.
func orient(reps []Rep) {
	turned, count := false, 0
	for i := range reps {
		turned = turned != reps[i].turned
		if reps[i].turned = turned; turned {
			count++
		}
	}
	most := 2*count > len(reps)
	for i := range reps {
		r := &reps[i]
		if r.turned == most {
			continue
		}
		r.Contacts = slices.Clone(r.Contacts)
		for j := range r.Contacts {
			r.Contacts[j].Foot = r.Contacts[j].Foot.Other()
		}
		for j := range r.Notes {
			r.Notes[j].Foot = r.Notes[j].Foot.Other()
		}
	}
}
