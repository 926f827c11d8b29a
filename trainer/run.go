// Package trainer follows one run of a drill: it joins what was judged, keeps
// it small, and sums it up. Live and offline use it the same way: Feed the edges,
// Advance the clock, Finish.
package trainer

import (
	"math"
	"slices"
	"sort"

	"heeltoe/footing/pad"
	"heeltoe/footing/read"
	"heeltoe/judge"
	"heeltoe/judge/drill"
	"heeltoe/trainer/view"
)

// Run is one run of a drill. Feed, Advance and Finish are for one goroutine and
// do not allocate but for what is kept: four bytes a note from the start, 44 bytes a
// press, and what strays and holds add.
type Run struct {
	drill   *drill.Drill
	judge   *judge.Judge
	presses read.Collector
	own     read.Own // of the player; nil: not known
	grid    drill.Grid
	windows drill.Windows
	shift   pad.Time

	offsets []int32 // by rep and note: µs, or one of the two marks below
	left    []int32 // notes of each rep that are not decided
	strayIn []int32 // strays of each rep
	before  int     // strays before the first rep
	strays  []pad.Press
	holds   []judge.Hold

	done  int // reps that are over and decided
	now   pad.Time
	last  pad.Time
	fed   bool
	gaps  int
	lost  int
	notes int
}

// Marks among the offsets: no window reaches as far.
const (
	undecided = math.MinInt32
	absent    = math.MaxInt32
)

// New begins a run of d.
func New(d *drill.Drill, o judge.Options) *Run {
	j := judge.New(d, o)
	w := drill.DefaultWindows
	if o.Windows != nil {
		w = *o.Windows
	}
	r := &Run{drill: d, judge: j, grid: j.Grid(), windows: w, shift: o.Shift, notes: len(d.Notes),
		presses: read.Collector{Debounce: o.Debounce}}
	r.offsets = make([]int32, d.Total())
	for i := range r.offsets {
		r.offsets[i] = undecided
	}
	r.left = make([]int32, d.Reps)
	for i := range r.left {
		r.left[i] = int32(r.notes)
	}
	r.strayIn = make([]int32, d.Reps)
	return r
}

// Suit has the feet read as those of a player whose own parameters are known. Call it
// before Report.
func (r *Run) Suit(own read.Own) { r.own = own }

// KeepPresses bounds the presses that are kept for reading the feet, so that a run
// may last for hours: a longer one is read from its log. Call it before the first edge.
func (r *Run) KeepPresses(n int) { r.presses.Keep = n }

// Whole tells whether Report can read the feet of the whole run.
func (r *Run) Whole() bool { return !r.presses.Forgot() }

// Feed takes the next edge; edges come in time order.
func (r *Run) Feed(e pad.Edge) {
	r.fed, r.last, r.now = true, e.T, max(r.now, e.T)
	if e.Kind == pad.Gap {
		r.gaps++
		r.lost += int(e.Lost)
	}
	r.presses.Feed(e)
	r.judge.Feed(e)
	r.take()
}

// Advance says that no edge before now will come any more.
func (r *Run) Advance(now pad.Time) {
	r.now = max(r.now, now)
	r.judge.Advance(now)
	r.take()
}

// Finish says that no edge will come any more.
func (r *Run) Finish() {
	r.now = max(r.now, r.judge.End(), r.grid.Due(r.drill.Reps, 0)+r.shift)
	r.judge.Finish()
	r.take()
}

// take keeps what was decided.
func (r *Run) take() {
	for _, v := range r.judge.Verdicts() {
		r.presses.Judged(&v)
		switch {
		case v.Stray:
			r.strays = append(r.strays, pad.Press{Panel: v.Panel, Down: v.Press})
			if k := r.repAt(v.Press - r.shift); k >= 0 {
				r.strayIn[k]++
			} else {
				r.before++
			}
			continue
		case v.Press == pad.Never:
			r.offsets[int(v.Rep)*r.notes+int(v.Note)] = absent
		default:
			r.offsets[int(v.Rep)*r.notes+int(v.Note)] = int32(v.Offset)
		}
		r.left[v.Rep]--
	}
	r.holds = append(r.holds, r.judge.Holds()...)
}

// repAt gives the rep that a moment belongs to: from the outermost early bound
// of its first slot to that of the next rep's. It gives -1 before the first.
func (r *Run) repAt(t pad.Time) int {
	early := r.windows[drill.Outer].Early
	return sort.Search(int(r.drill.Reps), func(k int) bool { return r.grid.Due(int64(k), 0)+early > t }) - 1
}

// DoneReps gives the number of reps, from the first, that are over and decided.
func (r *Run) DoneReps() int {
	early := r.windows[drill.Outer].Early
	for int64(r.done) < r.drill.Reps && r.left[r.done] == 0 && r.now-r.shift >= r.grid.Due(int64(r.done)+1, 0)+early {
		r.done++
	}
	return r.done
}

// Latest gives the last reps, at most so many, up to and with rep k, as a run of
// their own to be read: from the number of its first rep. It allocates.
func (r *Run) Latest(k, most int) (first int, of *read.Run) {
	first = max(0, k+1-most)
	of = &read.Run{Lead: r.grid.Due(int64(first), 0), Shift: r.shift, Reps: k + 1 - first}
	of.Presses = r.presses.Since(of.Lead + r.shift + r.windows[drill.Outer].Early)
	for i := range of.Presses {
		if p := &of.Presses[i]; p.Rep >= 0 {
			if p.Rep -= int32(first); p.Rep < 0 || int(p.Rep) >= of.Reps {
				p.Rep, p.Note = read.None, read.None
			}
		}
	}
	return first, of
}

// End gives the moment from which on everything is decided.
func (r *Run) End() pad.Time { return r.judge.End() }

// Now gives the moment up to which the run is known.
func (r *Run) Now() pad.Time { return r.now }

// Presses gives the number of presses so far.
func (r *Run) Presses() int64 { return r.judge.Presses() }

// Rep sums up rep k as far as it is decided. It allocates: it is for the end of a rep.
func (r *Run) Rep(k int) view.Rep {
	v := view.Rep{Rep: k, P: view.Undefined, Scatter: view.Undefined}
	off := make([]pad.Time, 0, r.notes)
	for _, o := range r.offsets[k*r.notes : (k+1)*r.notes] {
		off = count(&v.Counts, &r.windows, o, off)
	}
	v.Stray = int(r.strayIn[k])
	v.Offset = offsetsOf(off)
	lo, hi := judge.Quartiles(off)
	v.Quartiles = [2]view.Number{view.Number(lo), view.Number(hi)}
	return v
}

// Offsets gives the offsets of rep k's matched notes, in due order. It allocates.
func (r *Run) Offsets(k int) []pad.Time {
	var c view.Counts
	off := make([]pad.Time, 0, r.notes)
	for _, o := range r.offsets[k*r.notes : (k+1)*r.notes] {
		off = count(&c, &r.windows, o, off)
	}
	return off
}

// Spreads gives how far off rep k was on each panel of the layout. It allocates.
func (r *Run) Spreads(k int) []view.Spread {
	of := make([]view.Spread, len(r.drill.Layout.Panels))
	var c view.Counts
	var off []pad.Time
	for p := range of {
		off = off[:0]
		for i, n := range r.drill.Notes {
			if int(n.Panel) == p {
				off = count(&c, &r.windows, r.offsets[k*r.notes+i], off)
			}
		}
		lo, hi := judge.Quartiles(off)
		of[p] = view.Spread{N: len(off), Low: view.Number(lo), Median: view.Number(judge.Summarise(off).Median), High: view.Number(hi)}
	}
	return of
}

// count adds a note to the counts, and its offset to off where it has one.
func count(c *view.Counts, w *drill.Windows, o int32, off []pad.Time) []pad.Time {
	if o == undecided {
		return off
	}
	c.Notes++
	if o == absent {
		c.Absent++
		return off
	}
	switch w.Band(pad.Time(o)) {
	case drill.Inner:
		c.Inner++
	case drill.Middle:
		c.Middle++
	default:
		c.Outer++
	}
	return append(off, pad.Time(o))
}

func offsetsOf(off []pad.Time) view.Offsets {
	s := judge.Summarise(off)
	return view.Offsets{Mean: view.Number(s.Mean), SD: view.Number(s.SD), Median: view.Number(s.Median), MAD: view.Number(s.MAD)}
}

// Report sums up the run and reads its feet. Call it after Finish. The
// reading takes some 20 ms for a hundred presses, and the planning of the drill before it.
func (r *Run) Report() *view.Report {
	rep := r.Figures()
	r.read(rep)
	return rep
}

// Figures sums up the run without reading its feet: techniques, landings and what is
// read of notes are left out. Call it after Finish.
func (r *Run) Figures() *view.Report {
	d := r.drill
	rep := &view.Report{Drill: d.Name, BPM: d.BPM, PerBeat: d.PerBeat, Layout: d.Layout.Name,
		Reps: make([]view.Rep, 0, d.Reps), Notes: make([]view.Note, 0, len(r.offsets)), Strays: []view.Stray{},
		Panels: []view.Panel{}, Bands: []view.Band{}}
	var all []pad.Time
	byPanel := make([][]pad.Time, len(d.Layout.Panels))
	panels := make([]view.Counts, len(d.Layout.Panels))
	sum := &rep.Summary
	for k := range int(d.Reps) {
		rep.Reps = append(rep.Reps, r.Rep(k))
		for i, n := range d.Notes {
			o := r.offsets[k*r.notes+i]
			due := r.grid.Due(int64(k), int64(n.Slot))
			all = count(&sum.Counts, &r.windows, o, all)
			byPanel[n.Panel] = count(&panels[n.Panel], &r.windows, o, byPanel[n.Panel])
			v := view.Note{Rep: k, Note: i, Panel: d.Layout.ID(n.Panel), Due: view.Moment(due),
				Press: view.Moment(pad.Never), Offset: view.Moment(pad.Never), Up: view.Moment(pad.Never), Band: drill.Absent.String(), P: view.Undefined}
			if o != absent && o != undecided {
				v.Press, v.Offset = view.Moment(due+pad.Time(o)+r.shift), view.Moment(o)
				v.Band = r.windows.Band(pad.Time(o)).String()
			}
			rep.Notes = append(rep.Notes, v)
		}
	}
	r.scatter(rep)
	sum.Stray = len(r.strays)
	sum.Offset = offsetsOf(all)
	share, shift := judge.Steadiness(all, r.windows[drill.Inner])
	sum.Steadiness, sum.BestShift = view.Number(share), view.Number(shift)
	if len(all) == 0 {
		sum.BestShift = view.Undefined
	}
	sum.Presses, sum.Gaps, sum.Lost, sum.Ended = int(r.judge.Presses()), r.gaps, r.lost, view.Moment(pad.Never)
	if r.fed {
		sum.Ended = view.Moment(r.last)
		sum.RepsBegun = r.repAt(r.last-r.shift) + 1
	}
	strays := slices.Clone(r.strays)
	slices.SortStableFunc(strays, func(a, b pad.Press) int {
		if a.Down != b.Down {
			if a.Down < b.Down {
				return -1
			}
			return 1
		}
		return int(a.Panel) - int(b.Panel)
	})
	spans := r.attachHolds(rep)
	ups := r.attachUps(rep)
	for _, s := range strays {
		panels[s.Panel].Stray++
		up, ok := ups[moment{s.Panel, s.Down}]
		if !ok {
			up = pad.Never
		}
		rep.Strays = append(rep.Strays, view.Stray{T: view.Moment(s.Down), Up: view.Moment(up), Panel: d.Layout.ID(s.Panel), Regrab: spans.regrab(s.Panel, s.Down-r.shift)})
	}
	for p := range panels {
		m := int(r.judge.Merged(pad.Panel(p)))
		sum.Merged += m
		rep.Panels = append(rep.Panels, view.Panel{Panel: d.Layout.ID(pad.Panel(p)), Counts: panels[p], Merged: m, Offset: offsetsOf(byPanel[p])})
	}
	for b := drill.Inner; b <= drill.Outer; b++ {
		var in []pad.Time
		for _, o := range all {
			if r.windows.Band(o) == b {
				in = append(in, o)
			}
		}
		rep.Bands = append(rep.Bands, view.Band{Band: b.String(), Notes: len(in), Offset: offsetsOf(in)})
	}
	return rep
}

// moment is that at which a panel went down.
type moment struct {
	panel pad.Panel
	t     pad.Time
}

// attachUps puts the end of each press beside its note, and gives those of the strays. What
// was let go of (see KeepPresses) has none.
func (r *Run) attachUps(rep *view.Report) map[moment]pad.Time {
	strays := map[moment]pad.Time{}
	for _, p := range r.presses.Presses() {
		if p.Rep == read.None {
			strays[moment{p.Panel, p.Down}] = p.Up
		} else {
			rep.Notes[int(p.Rep)*r.notes+int(p.Note)].Up = view.Moment(p.Up)
		}
	}
	return strays
}

// holdSpans are the holds of each panel, in time order.
type holdSpans map[pad.Panel][]judge.Hold

// attachHolds puts each hold beside its note.
func (r *Run) attachHolds(rep *view.Report) holdSpans {
	spans := holdSpans{}
	for _, h := range r.holds {
		rep.Notes[int(h.Rep)*r.notes+int(h.Note)].Hold = &view.Hold{
			Duration: view.Moment(h.End - h.Due), Cover: view.Moment(h.Cover), StartLate: view.Moment(h.StartLate),
			Drops: int(h.Drops), Regrabs: int(h.Regrabs), Release: view.Moment(h.Release), Unknown: h.Unknown,
		}
		if h.Regrabs > 0 {
			spans[h.Panel] = append(spans[h.Panel], h)
		}
	}
	return spans
}

// regrab tells whether a press at the shifted moment t lies within a hold of
// its panel that was taken up again.
func (s holdSpans) regrab(p pad.Panel, t pad.Time) bool {
	h := s[p]
	i := sort.Search(len(h), func(i int) bool { return h[i].End > t })
	return i < len(h) && h[i].Due < t
}
