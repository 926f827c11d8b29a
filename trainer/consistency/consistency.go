// Package consistency works out the statistics of a reviewed run: how sure its
// figures are, how they went over the reps, and where the spread comes from.
package consistency

import (
	"cmp"
	"math"
	"runtime"
	"slices"

	"golang.org/x/sync/errgroup"

	"heeltoe/footing/pad"
	"heeltoe/judge"
	"heeltoe/judge/drill"
	"heeltoe/trainer/estimate"
	"heeltoe/trainer/stamina"
	"heeltoe/trainer/view"
)

// mostReps is the longest run whose reps get intervals one by one: 400 resamples of
// a rep take about half a millisecond, and a longer run is read by its trends.
const mostReps = 200

// seed of the bootstrap: the same log always gives the same figures.
const seed = 1

// Of gives the statistics of a report. What stands apart is worked out side by side.
func Of(r *view.Report) *view.Statistics {
	inner := drill.Bound{Early: r.Setting.Inner.Early, Late: r.Setting.Inner.Late}
	out := &view.Statistics{Level: estimate.Level, Reps: []view.Figures{}}
	all, byRep, byPanel := offsets(r)
	var work errgroup.Group
	work.SetLimit(runtime.GOMAXPROCS(0))
	do := func(f func()) { work.Go(func() error { f(); return nil }) }
	do(func() { out.Source = source(r, r.Setting.Click) }) // by far the longest
	do(func() { out.Run = figures(all, inner) })
	if len(byRep) <= mostReps {
		out.Reps = make([]view.Figures, len(byRep))
		for i, x := range byRep {
			do(func() { out.Reps[i] = figures(x, inner) })
		}
	}
	dwells := dwells(r)
	out.Panels = make([]view.PanelFigures, len(r.Panels))
	for i := range r.Panels {
		do(func() {
			x := byPanel[r.Panels[i].Panel]
			low, high := judge.Quartiles(x)
			out.Panels[i] = view.PanelFigures{Panel: r.Panels[i].Panel, Figures: figures(x, inner),
				Quartiles: [2]view.Number{view.Number(low), view.Number(high)}, Dwell: times(dwells[r.Panels[i].Panel])}
		})
	}
	do(func() { out.Techniques = techniques(r, byRep, inner) })
	do(func() { out.Landings = landings(r) })
	do(func() { out.Contacts = contacts(r) })
	do(func() { out.Overlaps = overlaps(r) })
	do(func() { out.Drift = drift(r) })
	_ = work.Wait() // none of them fails
	return out
}

// offsets gives the offsets of the matched notes in due order: all, by rep, by panel.
func offsets(r *view.Report) (all []pad.Time, byRep [][]pad.Time, byPanel map[string][]pad.Time) {
	byRep, byPanel = make([][]pad.Time, len(r.Reps)), map[string][]pad.Time{}
	for i := range r.Notes {
		n := &r.Notes[i]
		if !n.Offset.Defined() {
			continue
		}
		o := pad.Time(n.Offset)
		all = append(all, o)
		byRep[n.Rep] = append(byRep[n.Rep], o)
		byPanel[n.Panel] = append(byPanel[n.Panel], o)
	}
	return all, byRep, byPanel
}

// figures gives the figures of offsets in due order with their intervals: those of times
// by the bootstrap, those of shares by Wilson's formula for as many presses as the
// series is worth.
func figures(x []pad.Time, inner drill.Bound) view.Figures {
	series := floats(x)
	steady, shift := judge.Steadiness(x, inner)
	i := estimate.Bootstrap(x, estimate.Block(series), seed, func(x []pad.Time) []float64 {
		slices.Sort(x) // for all below at once
		s := judge.Summarise(x)
		_, shift := judge.Steadiness(x, inner)
		return []float64{s.Mean, s.SD, s.Median, s.MAD, float64(shift)}
	})
	before, after := 0, 0
	for _, o := range x {
		switch {
		case o < 0:
			before++
		case o > 0:
			after++
		}
	}
	n, worth, s := len(x), estimate.Worth(series), judge.Summarise(x)
	best := float64(shift)
	if n == 0 {
		best = math.NaN()
	}
	share := func(p float64) view.Estimate { return known(p, estimate.Wilson(p, worth, estimate.Level), n) }
	return view.Figures{N: n, Mean: known(s.Mean, i[0], n), SD: known(s.SD, i[1], n), Median: known(s.Median, i[2], n), MAD: known(s.MAD, i[3], n),
		Early: share(float64(before) / float64(n)), Late: share(float64(after) / float64(n)), // NaN of none
		Steadiness: share(steady), BestShift: known(best, i[4], n)}
}

// times gives the figures of times in the order in which they came, with intervals by
// the bootstrap.
func times(x []pad.Time) view.Times {
	i := estimate.Bootstrap(x, estimate.Block(floats(x)), seed, func(x []pad.Time) []float64 {
		slices.Sort(x)
		s := judge.Summarise(x)
		return []float64{s.Mean, s.SD, s.Median, s.MAD}
	})
	n, s := len(x), judge.Summarise(x)
	low, high := judge.Quartiles(x)
	return view.Times{N: n, Mean: known(s.Mean, i[0], n), SD: known(s.SD, i[1], n), Median: known(s.Median, i[2], n), MAD: known(s.MAD, i[3], n),
		Quartiles: [2]view.Number{view.Number(low), view.Number(high)}}
}

func floats(x []pad.Time) []float64 {
	out := make([]float64, len(x))
	for i, o := range x {
		out[i] = float64(o)
	}
	return out
}

// known gives an estimate as shown.
func known(value float64, i estimate.Interval, n int) view.Estimate {
	return view.EstimateOf(value, i.Low, i.High, n)
}

// span gives an interval as shown.
func span(i estimate.Interval) view.Range {
	return view.Range{Low: view.Number(i.Low), High: view.Number(i.High)}
}

// drift tells how the reps went. Those after the end of a cut log are left out.
func drift(r *view.Report) view.Drift {
	reps := r.Reps[:min(len(r.Reps), r.Summary.RepsBegun)]
	var off, spread, inner []float64
	for i := range reps {
		p := &reps[i]
		off, spread = append(off, float64(p.Offset.Median)), append(spread, float64(p.Offset.SD))
		inner = append(inner, float64(p.Inner)/float64(max(1, p.Notes)))
	}
	d := view.Drift{}
	var why [5]error
	told := func(k int, values []float64) (stamina.Course, view.Course) {
		c, err := stamina.CourseOf(values)
		why[k] = err
		return c, course(c, err)
	}
	var s, g stamina.Course
	_, d.Offset = told(0, off)
	s, d.Spread = told(1, spread)
	g, d.Inner = told(2, inner)
	_, d.Dwell = told(3, dwellByRep(r, len(reps)))
	_, d.Free = told(4, freeByRep(r, len(reps)))
	if err := cmp.Or(why[0], why[1], why[2], why[3], why[4]); err != nil {
		d.WhyNot = err.Error()
	}
	// A course that is not told has neither a rise nor a fall.
	d.Tiring = stamina.Tiring(s, g)
	return d
}

func course(c stamina.Course, err error) view.Course {
	if err != nil {
		return view.Course{Slope: view.Undefined, P: view.Undefined, Range: span(estimate.Unknown)}
	}
	v := view.Course{N: c.Slope.N, Slope: view.Number(c.Slope.Value), Range: span(c.Slope.Interval), P: view.Number(c.P)}
	if c.Change >= 0 {
		v.Change = &c.Change
	}
	return v
}
