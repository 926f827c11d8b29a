// Package judge says which press belongs to which note and how far off it was,
// live and offline by the same steps: edges go in, verdicts come out as soon as
// nothing that can still come changes them.
package judge

import (
	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// Verdict is what was decided of one note or of one press that belongs to none.
// It does not change once given.
type Verdict struct {
	Stray  bool // a press without a note: Rep, Note and Due mean nothing
	Band   drill.Band
	Panel  pad.Panel
	Rep    int32    // from 0
	Note   int32    // within the rep, from 0
	Due    pad.Time // on the clock of the edges
	Press  pad.Time // when the panel went down, as the pad gave it; Never where absent
	Offset pad.Time // Press less the shift, minus Due; 0 where absent
}

// Hold is how a note that asks for its panel to be kept down was held, from its
// due moment to its end.
type Hold struct {
	Panel pad.Panel
	Rep   int32
	Note  int32
	Due   pad.Time
	End   pad.Time // when it may be let go
	Cover pad.Time // how long the panel was down between Due and End
	// StartLate is the time from Due until the panel was first down, Never where it never was.
	StartLate pad.Time
	Drops     int32 // times it went up before End by more than the outermost early bound
	Regrabs   int32 // times it went down again before End
	// Release is the last time it went up minus End; Never where it was not let
	// go within the outermost late bound after End, or not held at all.
	Release pad.Time
	Unknown bool // edges are missing in this time: the figures are of what was seen
}

// Options are what a run is judged by.
type Options struct {
	Lead     pad.Time       // moment of the first slot of the first rep
	Windows  *drill.Windows // nil means drill.DefaultWindows
	Shift    pad.Time       // subtracted from every press before matching
	Debounce pad.Time       // 0: each down edge is a press
}

// Judge judges one run. Feed, Advance and Finish are for one goroutine and do
// not allocate once its buffers have grown to what is open at a time.
type Judge struct {
	drill    *drill.Drill
	grid     drill.Grid
	windows  drill.Windows
	shift    pad.Time
	debounce pad.Time

	lanes    []*lane
	holds    []*holdLane // nil for panels that no note holds
	verdicts []Verdict
	held     []Hold
	taken    bool
	heldGone bool

	up       [pad.MaxPanels]pad.Time // last release, Never where unknown or while down
	merged   [pad.MaxPanels]int64
	presses  int64
	finished bool
}

// New makes a judge of a run of d.
func New(d *drill.Drill, o Options) *Judge {
	w := drill.DefaultWindows
	if o.Windows != nil {
		w = *o.Windows
	}
	j := &Judge{drill: d, grid: d.Grid(o.Lead), windows: w, shift: o.Shift, debounce: o.Debounce}
	j.lanes = make([]*lane, len(d.Layout.Panels))
	j.holds = make([]*holdLane, len(d.Layout.Panels))
	for p := range j.lanes {
		j.lanes[p] = newLane(j, pad.Panel(p))
		j.holds[p] = newHoldLane(j, pad.Panel(p))
	}
	for p := range j.up {
		j.up[p] = pad.Never
	}
	return j
}

// Feed takes the next edge; edges come in time order.
func (j *Judge) Feed(e pad.Edge) {
	j.reset()
	if e.Kind == pad.Gap {
		for p, h := range j.holds {
			j.up[p] = pad.Never
			if h != nil {
				h.gap(e.T - j.shift)
			}
		}
		return
	}
	if int(e.Panel) >= len(j.lanes) {
		return
	}
	h := j.holds[e.Panel]
	if e.Kind == pad.Up {
		j.up[e.Panel] = e.T
		if h != nil {
			h.release(e.T - j.shift)
		}
		return
	}
	was := j.up[e.Panel]
	j.up[e.Panel] = pad.Never
	if j.debounce > 0 && was != pad.Never && e.T-was <= j.debounce {
		j.merged[e.Panel]++
		if h != nil {
			h.merge()
		}
		return
	}
	if h != nil {
		h.press(e.T - j.shift)
	}
	j.presses++
	j.lanes[e.Panel].feed(e.T)
}

// Advance says that no edge before now will come any more.
func (j *Judge) Advance(now pad.Time) {
	j.reset()
	for _, l := range j.lanes {
		l.advance(now - j.shift)
	}
	for _, h := range j.holds {
		if h != nil {
			h.advance(now - j.shift)
		}
	}
}

// Finish says that no edge will come any more: everything is decided.
func (j *Judge) Finish() {
	if j.finished {
		return
	}
	j.finished = true
	j.Advance(j.End())
}

// End gives the first moment at which every note and every hold is decided
// whatever comes, with no press earlier than it outstanding.
func (j *Judge) End() pad.Time {
	last := j.grid.Due(j.drill.Reps-1, 0)
	for _, n := range j.drill.Notes {
		last = max(last, j.grid.Due(j.drill.Reps-1, int64(n.Slot)+int64(n.Hold)))
	}
	return last + j.windows[drill.Outer].Late + j.shift + j.debounce + 1
}

// reset forgets what was taken.
func (j *Judge) reset() {
	if j.taken {
		j.verdicts, j.taken = j.verdicts[:0], false
	}
	if j.heldGone {
		j.held, j.heldGone = j.held[:0], false
	}
}

// Verdicts gives what was decided since it was called last. The slice is good
// until the next Feed, Advance or Finish. Verdicts of one panel's notes come in
// no promised order.
func (j *Judge) Verdicts() []Verdict {
	if j.taken {
		return nil
	}
	j.taken = true
	return j.verdicts
}

// Holds gives the holds that ended since it was called last; the slice is good
// until the next Feed, Advance or Finish.
func (j *Judge) Holds() []Hold {
	if j.heldGone {
		return nil
	}
	j.heldGone = true
	return j.held
}

// Provisional appends what would be decided if nothing more came, of notes that
// are matched but not decided yet, at most limit a panel. It may still change.
func (j *Judge) Provisional(dst []Verdict, limit int) []Verdict {
	for _, l := range j.lanes {
		l.current(limit, func(n *openNote, raw pad.Time) {
			dst = append(dst, j.verdict(l, n, raw))
		})
	}
	return dst
}

// Grid gives the due moments of the run.
func (j *Judge) Grid() drill.Grid { return j.grid }

// Presses gives the number of presses so far, those that were merged not counted.
func (j *Judge) Presses() int64 { return j.presses }

// Merged gives how many presses of p were merged with the one before.
func (j *Judge) Merged(p pad.Panel) int64 { return j.merged[p] }

func (j *Judge) verdict(l *lane, n *openNote, raw pad.Time) Verdict {
	offset := raw - j.shift - n.due
	return Verdict{Band: j.windows.Band(offset), Panel: l.panel, Rep: n.rep, Note: n.index, Due: n.due, Press: raw, Offset: offset}
}

func (j *Judge) match(l *lane, n *openNote, raw pad.Time) {
	j.verdicts = append(j.verdicts, j.verdict(l, n, raw))
}

func (j *Judge) absent(l *lane, n *openNote) {
	j.verdicts = append(j.verdicts, Verdict{Band: drill.Absent, Panel: l.panel, Rep: n.rep, Note: n.index, Due: n.due, Press: pad.Never})
}

func (j *Judge) stray(p pad.Panel, raw pad.Time) {
	j.verdicts = append(j.verdicts, Verdict{Stray: true, Band: drill.Absent, Panel: p, Press: raw})
}
