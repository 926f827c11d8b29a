package read

import (
	"math"
	"slices"

	"heeltoe/judge/drill"
)

// facts gives what a run says to every term of the sheet, rep by rep, from one to before another.
func (s *sheet) facts(p *played, from, to int) []fact {
	of := make([]fact, 0, (to-from)*len(s.terms))
	f := facting{sheet: s, p: p, usual: usual(p)}
	for rep := from; rep < to; rep++ {
		for t := range s.terms {
			of = append(of, f.fact(rep, &s.terms[t]))
		}
	}
	return of
}

// usual gives the median offset of the notes that were pressed, in ms: where an absent one
// is taken to have been meant.
func usual(p *played) float64 {
	var off []float64
	for i, has := range p.has {
		if has {
			off = append(off, p.down[i]-p.due[i])
		}
	}
	if len(off) == 0 {
		return 0
	}
	slices.Sort(off)
	return off[len(off)/2]
}

// facting works out the facts of one run.
type facting struct {
	sheet *sheet
	p     *played
	usual float64
}

// nothing is said by a term whose presses are missing.
var nothing = fact{kind: constTerm}

func (f *facting) fact(rep int, t *termSpec) fact {
	p := f.p
	at := rep * p.notes
	switch t.kind {
	case middleTerm, gatherTerm:
		return f.landing(rep, t)
	case feetTerm:
		a, okA := f.down(rep, t.a)
		b, okB := f.down(rep, t.b)
		if !okA || !okB {
			return nothing
		}
		return fact{kind: feetTerm, x: b - a}
	case releaseTerm:
		return f.release(rep, t)
	case missTerm:
		return fact{kind: constTerm, x: f.missed(rep, t.a)}
	}
	n := f.sheet.contacts[t.a].notes
	i, j := at+int(n[0]), at+int(n[1])
	if !p.has[i] || !p.has[j] {
		return nothing
	}
	switch t.kind {
	case bracketTerm:
		return fact{kind: bracketTerm, x: p.down[j] - p.down[i]}
	case lagTerm:
		return fact{kind: lagTerm, x: p.down[j] - p.down[i] - (p.due[j] - p.due[i])}
	case partTerm:
		if p.up[i] == inf || p.up[j] == inf {
			return nothing
		}
		return fact{kind: partTerm, x: p.up[j] - p.up[i]}
	}
	if p.up[i] == inf { // overlapTerm
		return nothing
	}
	return fact{kind: overlapTerm, x: p.up[i] - p.down[j]}
}

// down gives when contact c came down: of a bracket midway between its presses, of a
// roll its first. It gives false where none of its presses was seen.
func (f *facting) down(rep int, c int32) (ms float64, ok bool) {
	p, k := f.p, &f.sheet.contacts[c]
	at := rep * p.notes
	sum, n := 0.0, 0
	for _, i := range k.noteIndices() {
		if j := at + int(i); p.has[j] {
			sum, n = sum+p.down[j], n+1
			if k.kind == drill.Roll {
				if i != k.notes[0] { // its first was not seen
					sum -= p.due[j] - p.due[at+int(k.notes[0])]
				}
				break
			}
		}
	}
	if n == 0 {
		return 0, false
	}
	return sum / float64(n), true
}

// landing is the offset of a landing's middle, of a rep or of the next, after that of the landing before.
func (f *facting) landing(rep int, t *termSpec) fact {
	of := rep
	if t.across {
		of++
	}
	if of >= f.p.reps {
		return nothing
	}
	x, ok := f.middle(of, t.a, t.b)
	if !ok {
		return nothing
	}
	before, ok := f.middle(rep, t.before[0], t.before[1])
	if !ok {
		before = math.NaN()
	}
	return fact{kind: t.kind, x: x, before: before}
}

// middle is the offset of a landing's middle from its aim, of one contact or two. It gives false
// where none of its presses was seen.
func (f *facting) middle(rep int, a, b int32) (ms float64, ok bool) {
	s := f.sheet
	sum, n := 0.0, 0
	first := inf
	for _, c := range [2]int32{a, b} {
		if c == none {
			continue
		}
		if at, ok := f.down(rep, c); ok {
			sum, n = sum+at, n+1
		}
		for _, i := range s.struck(c) {
			first = min(first, f.p.due[rep*f.p.notes+int(i)])
		}
	}
	if n == 0 {
		return 0, false
	}
	low, high := s.span(a, b)
	return sum/float64(n) - first - float64(s.aim[high-low])/perMS, true
}

// release is how long contact a stayed, and how long it could.
func (f *facting) release(rep int, t *termSpec) fact {
	s, p := f.sheet, f.p
	k := &s.contacts[t.a]
	at := rep * p.notes
	down, up, n := 0.0, 0.0, 0
	free, swing := inf, clearShare
	held := 0.0
	for _, i := range k.noteIndices() {
		j := at + int(i)
		if !p.has[j] || p.up[j] == inf {
			continue
		}
		if p.next[j] < free && !f.plays(rep, t, p.again[j]) {
			free = p.next[j]
		}
		if k.kind == drill.Roll && i == k.notes[0] && p.has[at+int(k.notes[1])] {
			continue // a roll stays until its second panel goes up, but is in the way on both
		}
		down, up, n = down+p.down[j], up+p.up[j], n+1
		held = max(held, f.held(j))
	}
	if n == 0 {
		return nothing
	}
	down, up = down/float64(n), up/float64(n)
	to, seen, ok := f.arrives(rep, t.b, t.across)
	unseen := false
	if ok {
		// The other foot may take the panel before; what comes first counts, a swing
		// taken as long as usual.
		if far := swingShare(s.way(t.a, t.b)); to-usualSwing*far <= free-usualSwing*clearShare {
			free, swing, unseen = to, far, !seen
		}
	}
	r := newRelease(up-down, free-down, swing)
	r.unseen[0] = unseen
	if to, seen, ok := f.arrives(rep, t.other, t.otherAcross); ok {
		r.over, r.unseen[1] = to-down, !seen
	}
	r.hold = held
	r.own = s.ownDwell(k)
	return r
}

// held gives how long note j of the run is to be held from when it was pressed, in ms.
func (f *facting) held(j int) float64 {
	hold := f.sheet.d.Notes[j%f.p.notes].Hold
	if hold == 0 {
		return 0
	}
	return max(1, f.p.due[j]+f.usual+float64(hold)*60e3/(f.sheet.d.BPM*float64(f.sheet.d.PerBeat))-f.p.down[j])
}

// arrives gives when contact c of a rep, or of the next, came down, or where no press of it
// was seen would have; not ok where there is none.
func (f *facting) arrives(rep int, c int32, across bool) (ms float64, seen, ok bool) {
	if across {
		rep++
	}
	if c == none || rep >= f.p.reps {
		return 0, false, false
	}
	if at, ok := f.down(rep, c); ok {
		return at, true, true
	}
	return f.p.due[rep*f.p.notes+int(f.sheet.contacts[c].notes[0])] + f.usual, false, true
}

// newRelease gives the fact of a foot that stayed so long.
func newRelease(stayed, free, swing float64) fact {
	x := max(stayed, 1)
	return fact{kind: releaseTerm, x: x, logX: math.Log(x), free: free, swing: swing, over: inf}
}

// swingShare gives a swing's time over a way in metres as a share of Swing.
func swingShare(way float64) float64 {
	return swingStill + (1-swingStill)*math.Log2(1+way/panelWidth)/math.Log2(1+SwingWay/panelWidth)
}

// usualSwing is a swing's time over SwingWay before a run is known, in ms.
var usualSwing = math.Exp(Priors[Swing].Mean)

// plays tells whether note i of the run belongs to the contact that follows in t.
func (f *facting) plays(rep int, t *termSpec, i int32) bool {
	if t.b == none || i == None {
		return false
	}
	if t.across {
		rep++
	}
	return int(i)/f.p.notes == rep && slices.Contains(f.sheet.contacts[t.b].noteIndices(), i%int32(f.p.notes))
}

// missed is the logarithm of the probability that the notes of contact c have the
// presses that they have, and not more.
func (f *facting) missed(rep int, c int32) float64 {
	k := &f.sheet.contacts[c]
	seen := 0
	for _, i := range k.noteIndices() {
		if f.p.has[rep*f.p.notes+int(i)] {
			seen++
		}
	}
	if k.kind != drill.Bracket {
		n := len(k.noteIndices())
		return float64(seen)*math.Log(1-missRate) + float64(n-seen)*math.Log(missRate)
	}
	switch seen {
	case 2:
		return math.Log(1 - halfRate - missRate)
	case 1:
		return math.Log(halfRate / 2)
	}
	return math.Log(missRate)
}
