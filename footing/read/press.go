package read

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// Press is a press with the note that it was judged to belong to: Rep and Note
// are None where it is a stray.
type Press struct {
	pad.Press
	Rep, Note int32
}

// None is the rep and the note of a press that belongs to none.
const None = -1

// Run is what is read: the presses of a run of a drill.
type Run struct {
	Lead    pad.Time // moment of the first slot of the first rep
	Shift   pad.Time // subtracted from every press
	Reps    int      // that were begun
	Presses []Press  // in order of Down
}

// For the reading alone, bounds are looser than for judging: what a foot did is of interest
// even where it was too late to count.
const (
	chatterGap = 22 * pad.Millisecond  // a press so soon after a release of its panel is the same press, where one of them has no note
	widenBy    = 110 * pad.Millisecond // a stray so far outside the windows can still be a note's press
)

// played is a run made ready: for each rep and note its press in ms, by the moment of
// its lead, with chatter merged and strays close to absent notes taken as theirs.
type played struct {
	notes  int
	reps   int
	down   []float64 // ms, where has
	up     []float64 // ms, +Inf where it is not known
	has    []bool
	due    []float64
	strays []int     // of each rep
	next   []float64 // ms: when the panel is pressed again after the press, +Inf where it is not
	again  []int32   // and by which note of the run, or None
}

var inf = math.Inf(1)

// pressed tells whether a note of a rep has a press.
func (p *played) pressed(rep int) bool {
	return slices.Contains(p.has[rep*p.notes:(rep+1)*p.notes], true)
}

const perMS = float64(pad.Millisecond)

// prepare makes r ready to be read.
func prepare(d *drill.Drill, w drill.Windows, r *Run) *played {
	n := len(d.Notes)
	p := &played{notes: n, reps: r.Reps, strays: make([]int, r.Reps)}
	total := n * r.Reps
	p.down, p.up, p.due, p.next = make([]float64, total), make([]float64, total), make([]float64, total), make([]float64, total)
	p.has, p.again = make([]bool, total), make([]int32, total)
	grid := d.Grid(r.Lead)
	due := func(i int) pad.Time { return grid.Due(int64(i/n), int64(d.Notes[i%n].Slot)) + r.Shift }
	for i := range total {
		p.due[i] = float64(due(i)-r.Shift-r.Lead) / perMS
	}
	merged := mergeChatter(r.Presses)
	for i := range merged {
		if m := &merged[i]; m.Rep >= 0 && int(m.Rep) < r.Reps {
			p.has[int(m.Rep)*n+int(m.Note)] = true
		}
	}
	adopt(d, w, r, merged, p.has, due)
	// Where a panel's next press is, seen from the end.
	var next [pad.MaxPanels]float64
	var again [pad.MaxPanels]int32
	for q := range next {
		next[q], again[q] = inf, None
	}
	for i := len(merged) - 1; i >= 0; i-- {
		m := &merged[i]
		at := float64(m.Down-r.Shift-r.Lead) / perMS
		note := int32(None)
		if m.Rep >= 0 && int(m.Rep) < r.Reps {
			note = m.Rep*int32(n) + m.Note
			p.has[note], p.down[note], p.up[note] = true, at, inf
			if m.Up != pad.Never {
				p.up[note] = max(float64(m.Up-r.Shift-r.Lead)/perMS, at+1)
			}
			p.next[note], p.again[note] = next[m.Panel], again[m.Panel]
		} else if k := repOf(&grid, r, w, m.Down-r.Shift); k >= 0 {
			p.strays[k]++
		}
		next[m.Panel], again[m.Panel] = at, note
	}
	return p
}

// repOf gives the rep that a stray at t belongs to, None before the first.
func repOf(g *drill.Grid, r *Run, w drill.Windows, t pad.Time) int {
	return sort.Search(r.Reps, func(k int) bool { return g.Due(int64(k), 0)+w[drill.Outer].Early > t }) - 1
}

// mergeChatter joins presses of one panel that a bouncing switch has cut.
func mergeChatter(presses []Press) []Press {
	var last [pad.MaxPanels]int
	for i := range last {
		last[i] = None
	}
	merged := make([]Press, 0, len(presses))
	for i := range presses {
		p := &presses[i]
		if j := last[p.Panel]; j != None {
			m := &merged[j]
			if m.Up != pad.Never && p.Down-m.Up <= chatterGap && (m.Rep < 0 || p.Rep < 0) {
				if m.Rep < 0 {
					m.Rep, m.Note = p.Rep, p.Note
				}
				m.Up = p.Up
				continue
			}
		}
		last[p.Panel] = len(merged)
		merged = append(merged, *p)
	}
	return merged
}

// adopt gives strays to absent notes of their panel that are not far off, the nearest first.
func adopt(d *drill.Drill, w drill.Windows, r *Run, merged []Press, has []bool, due func(int) pad.Time) {
	type pair struct {
		press, note int
		off         pad.Time
	}
	var pairs []pair
	n, grid := len(d.Notes), d.Grid(r.Lead)
	low, high := w[drill.Outer].Early-widenBy, w[drill.Outer].Late+widenBy
	for i := range merged {
		m := &merged[i]
		if m.Rep >= 0 {
			continue
		}
		k := repOf(&grid, r, w, m.Down-r.Shift)
		for rep := max(0, k-1); rep <= min(r.Reps-1, k+1); rep++ {
			for j := range d.Notes {
				at := rep*n + j
				if d.Notes[j].Panel != m.Panel || has[at] {
					continue
				}
				if off := m.Down - due(at); low <= off && off <= high {
					pairs = append(pairs, pair{i, at, off.Abs()})
				}
			}
		}
	}
	slices.SortFunc(pairs, func(a, b pair) int {
		return cmp.Or(cmp.Compare(a.off, b.off), cmp.Compare(a.press, b.press), cmp.Compare(a.note, b.note))
	})
	for _, c := range pairs {
		m := &merged[c.press]
		if m.Rep >= 0 || has[c.note] {
			continue
		}
		m.Rep, m.Note = int32(c.note/n), int32(c.note%n)
		has[c.note] = true
	}
}
