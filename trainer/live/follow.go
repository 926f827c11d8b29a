package live

import (
	"fmt"
	"sort"
	"sync"

	"heeltoe/footing/pad"
	"heeltoe/judge"
	"heeltoe/judge/drill"
	"heeltoe/trainer/view"
)

// Sizes of what the screen keeps.
const (
	faintReps = 4    // reps that stay on the strip behind the one that goes on
	chartReps = 24   // lines of the timing chart
	partSlots = 48   // most slots that the strip shows at once
	maxBars   = 2048 // of the strip
	maxUnseen = 1 << 14
)

// Follower carries a run from the loop that judges to the goroutine that draws.
// Fed and Events are given to the loop as its Config's; Fill belongs to the
// drawing goroutine and brings a view.Live up to date. The loop never waits for
// the screen: a lock is held only while a slice changes hands.
type Follower struct {
	drill  *drill.Drill
	grid   drill.Grid
	rep    drill.Grid // of a rep's own moments: its first slot is at 0
	shift  pad.Time
	inner  drill.Bound
	fine   pad.Fineness
	before int64 // reps of the parts before

	mu     sync.Mutex
	edges  []pad.Edge // not yet on the screen
	events []Event
	missed int // edges that did not fit

	// The rest belongs to the drawing goroutine.
	seenEdges  []pad.Edge
	seenEvents []Event
	landings   []landing
	offsets    [chartReps][]pad.Time // of the last reps
	reps       int                   // told of
	read       *RepRead              // the newest, or nil
	gaps       int
	lost       uint32
}

// landing is when a landing of the footing begins, and the feet in it.
type landing struct {
	t      pad.Time
	prints []view.Print
}

// NewFollower makes the follower of a run; before is the number of reps that
// were played in parts before this one.
func NewFollower(c *Config, before int64) *Follower {
	w := c.Options.Windows
	if w == nil {
		w = &drill.DefaultWindows
	}
	return &Follower{drill: c.Drill, grid: c.Drill.Grid(c.Options.Lead), rep: c.Drill.Grid(0), shift: c.Options.Shift, inner: w[drill.Inner], fine: c.Fineness,
		before: before, landings: landingsOf(c.Drill)}
}

// Fed implements Config.Fed.
func (f *Follower) Fed(e pad.Edge) {
	f.mu.Lock()
	if len(f.edges) < maxUnseen {
		f.edges = append(f.edges, e)
	} else {
		f.missed++
	}
	f.mu.Unlock()
}

// Events implements Config.Events.
func (f *Follower) Events(e Event) {
	f.mu.Lock()
	f.events = append(f.events, e)
	f.mu.Unlock()
}

// landingsOf gives the landings of d's footing in time order; nil where it has none.
func landingsOf(d *drill.Drill) []landing {
	var of []landing
	g := d.Grid(0)
	for i := range d.Footing {
		c := &d.Footing[i]
		var p view.Print
		p.Foot = c.Foot
		for _, n := range c.NoteIndices() {
			p.Panels = p.Panels.With(d.Notes[n].Panel)
		}
		t := g.Due(0, int64(d.Notes[c.Notes[0]].Slot))
		if i > 0 && d.Footing[i-1].Landing == c.Landing {
			last := &of[len(of)-1]
			last.t = min(last.t, t)
			last.prints = append(last.prints, p)
			continue
		}
		of = append(of, landing{t, []view.Print{p}})
	}
	return of
}

// Still fills v with what is known of a drill before it is played: its strip,
// at the rep's beginning, and its first landing. w may be nil.
func Still(v *view.Live, d *drill.Drill, w *drill.Windows) {
	if w == nil {
		w = &drill.DefaultWindows
	}
	g := d.Grid(0)
	*v = view.Live{Drill: d.Name, Layout: d.Layout, BPM: d.BPM, PerBeat: d.PerBeat, Reps: d.Reps, Rep: -1,
		CountOf: d.CountIn(), RepLength: g.Due(1, 0),
		Notes: v.Notes[:0], Bars: v.Bars[:0], Slots: v.Slots[:0], Beats: v.Beats[:0], Lines: v.Lines[:0],
		Figures: v.Figures[:0], Next: v.Next[:0], Orders: v.Orders[:0]}
	for b := range v.Windows {
		v.Windows[b] = view.Bound{Early: w[b].Early, Late: w[b].Late}
	}
	foot := make([]pad.Foot, len(d.Notes))
	for i := range foot {
		foot[i] = view.AnyFoot
	}
	for i := range d.Footing {
		for _, n := range d.Footing[i].NoteIndices() {
			foot[n] = d.Footing[i].Foot
		}
	}
	for i, n := range d.Notes {
		t := g.Due(0, int64(n.Slot))
		v.Notes = append(v.Notes, view.Due{Panel: n.Panel, Foot: foot[i], T: t, Hold: g.Due(0, int64(n.Slot)+int64(n.Hold)) - t})
	}
	slots := d.RepSlots()
	for s := range slots {
		t := g.Due(0, s)
		v.Slots = append(v.Slots, t)
		if s%d.PerBeat == 0 {
			v.Beats = append(v.Beats, t)
		}
	}
	part(v, d, &g, 0)
	if l := landingsOf(d); len(l) > 0 {
		v.Next = append(v.Next, l[0].prints...)
	}
}

// part chooses the part of the rep that the strip shows: all of it, or where it
// has more than partSlots slots, the one of several equal parts that the time
// lies in. g has the moments of a rep alone.
func part(v *view.Live, d *drill.Drill, g *drill.Grid, inRep pad.Time) {
	slots := d.RepSlots()
	parts := (slots + partSlots - 1) / partSlots
	each := (slots + parts - 1) / parts
	each = (each + d.PerBeat - 1) / d.PerBeat * d.PerBeat // whole beats
	k := int64(sort.Search(int(parts), func(i int) bool { return g.Due(0, int64(i+1)*each) > inRep }))
	v.From, v.To = g.Due(0, min(k*each, slots)), g.Due(0, min((k+1)*each, slots))
	if v.To <= v.From {
		v.From, v.To = 0, v.RepLength
	}
}

// repAt gives the rep that moment t lies in, by due times: -1 before the first.
func (f *Follower) repAt(t pad.Time) int64 {
	return int64(sort.Search(int(f.drill.Reps), func(k int) bool { return f.grid.Due(int64(k), 0) > t })) - 1
}

// first gives the moment of rep k's first slot; that of rep -1 lies a rep
// before the first one's.
func (f *Follower) first(k int64) pad.Time { return f.grid.Due(k, 0) }

// Fill brings v, which Still has filled, up to date at the moment now. It does
// not allocate between the ends of reps, once its slices have grown.
func (f *Follower) Fill(v *view.Live, now pad.Time) {
	f.mu.Lock()
	f.edges, f.seenEdges = f.seenEdges[:0], f.edges
	f.events, f.seenEvents = f.seenEvents[:0], f.events
	missed := f.missed
	f.missed = 0
	f.mu.Unlock()
	if missed > 0 {
		v.Notice = fmt.Sprintf("The screen missed %d edges; the run has them.", missed)
	}
	for _, e := range f.seenEdges {
		f.edge(v, e)
	}
	for i, e := range f.seenEvents {
		f.event(v, e)
		f.seenEvents[i] = nil
	}
	v.Now = now
	f.place(v, now)
	f.next(v)
}

// edge puts an edge on the strip.
func (f *Follower) edge(v *view.Live, e pad.Edge) {
	switch e.Kind {
	case pad.Gap:
		v.Down = 0
	case pad.Down:
		v.Down = v.Down.With(e.Panel)
		t := e.T - f.shift
		k := f.repAt(t)
		if len(v.Bars) == maxBars {
			v.Bars = v.Bars[:copy(v.Bars, v.Bars[maxBars/4:])]
		}
		v.Bars = append(v.Bars, view.Bar{Rep: k, Down: t - f.first(k), Up: pad.Never, Panel: e.Panel, Foot: view.AnyFoot})
	case pad.Up:
		v.Down = v.Down.Without(e.Panel)
		for i := len(v.Bars) - 1; i >= 0; i-- {
			if b := &v.Bars[i]; b.Panel == e.Panel {
				if b.Up == pad.Never {
					b.Up = e.T - f.shift - f.first(b.Rep)
				}
				break
			}
		}
	}
}

// place finds where in the run now is, and lets go of bars that are too old.
func (f *Follower) place(v *view.Live, now pad.Time) {
	k := f.repAt(now)
	v.Rep = k
	v.Phase = view.Playing
	v.InRep = now - f.first(max(k, 0))
	if k < 0 {
		v.Phase, v.InRep, v.Count = view.CountIn, 0, 0
		for n := range v.CountOf {
			if now >= f.grid.Due(0, -(v.CountOf-n)*f.drill.PerBeat) {
				v.Count = n + 1
			}
		}
	}
	v.InRep = min(v.InRep, v.RepLength)
	part(v, f.drill, &f.rep, v.InRep)
	old := 0
	for old < len(v.Bars) && v.Bars[old].Rep < k-faintReps && v.Bars[old].Up != pad.Never {
		old++
	}
	if old > 0 {
		v.Bars = v.Bars[:copy(v.Bars, v.Bars[old:])]
	}
}

// next finds the landing that comes next.
func (f *Follower) next(v *view.Live) {
	v.Next = v.Next[:0]
	if len(f.landings) == 0 {
		return
	}
	i := 0
	if v.Phase == view.Playing {
		i = sort.Search(len(f.landings), func(i int) bool { return f.landings[i].t >= v.InRep })
	}
	v.Next = append(v.Next, f.landings[i%len(f.landings)].prints...)
}

// event takes what the loop tells of.
func (f *Follower) event(v *view.Live, e Event) {
	switch e := e.(type) {
	case RepDone:
		if len(v.Lines) == chartReps {
			v.Lines = v.Lines[:copy(v.Lines, v.Lines[1:])]
		}
		v.Lines = append(v.Lines, view.Line{Rep: f.before + int64(e.Rep.Rep), Panels: e.Panels})
		f.offsets[f.reps%chartReps] = e.Offsets
		f.reps++
		f.figures(v, &e.Rep)
	case RepRead:
		f.feet(v, &e)
	case Missed:
		f.gaps++
		f.lost += e.Lost
		v.Notice = fmt.Sprintf("Gap %d: presses may be missing, up to %d reports so far.", f.gaps, f.lost)
	case LogTrouble:
		v.Notice = fmt.Sprintf("The run log cannot be written: %v. The run goes on and writing is tried again.", e.Err)
	case SourceEnded:
		if e.Err != nil {
			v.Notice = fmt.Sprintf("%s stopped: %v", e.Name, e.Err)
		}
	}
}

// feet puts what was read of a rep on the strip and among the figures.
func (f *Follower) feet(v *view.Live, r *RepRead) {
	for i := range v.Bars {
		b := &v.Bars[i]
		at := f.first(b.Rep) + b.Down + f.shift
		for _, s := range r.Feet {
			if s.Panel == b.Panel && s.Down == at {
				b.Foot = s.Foot
			}
		}
	}
	f.read = r
	putRead(v, readFigures(r.Technique, r.Asked, r.P))
}

// figures fills the figures after a rep: those of the rep, and the steadiness
// of the last reps.
func (f *Follower) figures(v *view.Live, r *view.Rep) {
	var all []pad.Time
	for i := range min(f.reps, chartReps) {
		all = append(all, f.offsets[i]...)
	}
	share, _ := judge.Steadiness(all, f.inner)
	steady := view.Number(100 * share)
	if len(all) == 0 {
		steady = view.Undefined
	}
	Figures(v, &Summed{Scope: LastRep, Counts: r.Counts, Offset: r.Offset, Steadiness: steady,
		Rep: f.before + int64(r.Rep) + 1, Reps: f.before + f.drill.Reps, BPM: f.drill.BPM, Fineness: f.fine})
	if f.read != nil {
		putRead(v, readFigures(f.read.Technique, f.read.Asked, f.read.P))
	} else {
		putRead(v, readFigures("", Asked(f.drill), 0))
	}
}
