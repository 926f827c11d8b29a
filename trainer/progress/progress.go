// Package progress compares a player's runs over weeks, like with like: runs of
// one drill on one side, of one technique and footing, under the same
// conditions and at nearly one tempo.
package progress

import (
	"cmp"
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"heeltoe/trainer/estimate"
	"heeltoe/trainer/store"
	"heeltoe/trainer/trend"
	"heeltoe/trainer/view"
)

// TempoBand is how wide the bands of tempo are in which runs are compared, in
// beats a minute (design value, no source).
const TempoBand = 10

// mostRuns is how many runs of a group a trend looks at, the newest: it looks at
// them in pairs.
const mostRuns = 400

// leastWeeks is how many weeks a trend takes: the runs of one evening say nothing
// about weeks.
const leastWeeks = 2

// alike is what runs must have in common to be compared.
type alike struct {
	drill, technique, footing         string
	read                              bool
	player, pad, bar, windows, layout string
	shoeMM                            int64
	tempo                             int64 // number of its band
}

func alikeOf(r *store.Run) alike {
	a := alike{drill: r.Drill, technique: r.Technique, read: r.Technique != "", footing: r.Footing,
		player: r.Player, pad: r.Pad, bar: r.Bar, windows: r.Windows, layout: r.Layout, shoeMM: r.ShoeMM,
		tempo: int64(math.Floor(r.BPM / TempoBand))}
	if !a.read {
		a.technique = r.Asked
	}
	return a
}

// Of compares runs, which come in the order in which they were begun; weeks begin
// on Monday in the time zone loc. Runs without a matched note count in their week but
// have no steadiness.
func Of(runs []store.Run, loc *time.Location) *view.Progress {
	p := &view.Progress{Groups: []view.Group{}}
	groups := map[alike][]*store.Run{}
	var order []alike
	for i := range runs {
		r := &runs[i]
		if r.Started.IsZero() {
			p.Undated++
			continue
		}
		k := alikeOf(r)
		if groups[k] == nil {
			order = append(order, k)
		}
		groups[k] = append(groups[k], r)
	}
	for _, k := range order {
		p.Groups = append(p.Groups, group(k, groups[k], loc))
	}
	slices.SortStableFunc(p.Groups, func(a, b view.Group) int {
		return cmp.Or(b.Last.Compare(a.Last), cmp.Compare(a.Drill, b.Drill))
	})
	return p
}

// OfDrill is Of for the runs of one drill and its mirror image, with what their tempi and
// their rests tell.
func OfDrill(runs []store.Run, loc *time.Location) *view.Progress {
	p := Of(runs, loc)
	rests := Recovery(runs, loc)
	p.Limits, p.Recovery = Limits(runs), &rests
	return p
}

func group(k alike, runs []*store.Run, loc *time.Location) view.Group {
	last := runs[len(runs)-1]
	g := view.Group{Drill: last.Name, Key: k.drill, Mirror: last.Mirror, Layout: k.layout, Technique: k.technique, Read: k.read, Footing: k.footing,
		Player: k.player, Pad: k.pad, Bar: k.bar, ShoeMM: k.shoeMM, Windows: k.windows,
		Tempo: view.Tempo{From: float64(k.tempo) * TempoBand, Below: float64(k.tempo+1) * TempoBand},
		Runs:  len(runs), First: runs[0].Started, Last: last.Started}
	for from := 0; from < len(runs); {
		day := monday(runs[from].Started, loc)
		to := from + 1
		for to < len(runs) && monday(runs[to].Started, loc).Equal(day) {
			to++
		}
		g.Weeks = append(g.Weeks, week(day, runs[from:to]))
		from = to
	}
	g.All = week(monday(runs[0].Started, loc), runs)
	g.Notes = g.All.Notes
	g.Day = day(runs, loc)
	g.Scatter, g.Steadiness = g.Weeks[len(g.Weeks)-1].Scatter, g.Weeks[len(g.Weeks)-1].Steadiness
	g.Trend, g.Verdict = change(runs, len(g.Weeks))
	return g
}

// monday gives the beginning of the week that t lies in.
func monday(t time.Time, loc *time.Location) time.Time {
	t = t.In(loc)
	return time.Date(t.Year(), t.Month(), t.Day()-(int(t.Weekday())+6)%7, 0, 0, 0, 0, loc)
}

// mostTurns is how many runs of a day are told apart; further ones are left out.
const mostTurns = 12

// day sums runs up by their place among those of their day.
func day(runs []*store.Run, loc *time.Location) []view.Turn {
	var byPlace [][]*store.Run
	var today string
	place := 0
	for _, r := range runs {
		if d := r.Started.In(loc).Format(time.DateOnly); d != today {
			today, place = d, 0
		}
		if place < mostTurns {
			if place == len(byPlace) {
				byPlace = append(byPlace, nil)
			}
			byPlace[place] = append(byPlace[place], r)
		}
		place++
	}
	turns := []view.Turn{}
	for i, of := range byPlace {
		w := week(time.Time{}, of)
		turns = append(turns, view.Turn{Place: i + 1, Scatter: w.Scatter, InnerShare: w.InnerShare, Missed: w.Missed})
	}
	return turns
}

// part is what one run gives to a figure that is Σof / Σall over runs: a share,
// or with all = 1 a mean.
type part struct{ of, all float64 }

// week sums up runs of one week. Shares are of all notes of the week together.
func week(day time.Time, runs []*store.Run) view.Week {
	w := view.Week{Monday: day.Format(time.DateOnly), Runs: len(runs)}
	var steady, inner, absent, median, scatter, sd []part
	mean := func(parts []part, v view.Number) []part {
		if !v.Defined() {
			return parts
		}
		return append(parts, part{float64(v), 1})
	}
	for _, r := range runs {
		w.Notes += r.Notes
		w.Inner += r.Inner
		w.Middle += r.Middle
		w.Outer += r.Outer
		w.Absent += r.Absent
		w.Stray += r.Stray
		w.Interval = max(w.Interval, view.Moment(r.IntervalUS))
		if r.Notes > 0 {
			inner = append(inner, part{float64(r.Inner), float64(r.Notes)})
			absent = append(absent, part{float64(r.Absent), float64(r.Notes)})
		}
		if m := float64(r.Matched()); m > 0 {
			steady = append(steady, part{float64(r.Steadiness) * m, m})
		}
		median = mean(median, r.Offset.Median)
		scatter = mean(scatter, r.ScatterUS)
		sd = mean(sd, r.Offset.SD)
	}
	w.Steadiness, w.InnerShare, w.Missed = share(steady), share(inner), share(absent)
	w.Median, w.Scatter, w.SD = figure(median), figure(scatter), figure(sd)
	return w
}

// figure gives Σof / Σall with its interval, for which whole runs are what
// varies, since the notes of a run are no independent trials: the ratio's standard
// error by its residuals (Cochran 1977, Sampling Techniques, chapter 6, from memory)
// times the quantile of Student's distribution. For a mean that is the exact interval
// where the runs' figures are normal. One run has none.
func figure(parts []part) view.Estimate {
	e := view.NoEstimate(len(parts))
	var of, all float64
	for _, p := range parts {
		of += p.of
		all += p.all
	}
	n := float64(len(parts))
	if n == 0 {
		return e
	}
	value := of / all
	e.Value = view.Number(value)
	if n == 1 {
		return e
	}
	var squares float64
	for _, p := range parts {
		d := p.of - value*p.all
		squares += d * d
	}
	half := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: n - 1}.Quantile(1-estimate.Tail) * math.Sqrt(n/(n-1)*squares) / all
	e.Low, e.High = view.Number(value-half), view.Number(value+half)
	return e
}

// share is figure for what lies from 0 to 1. Where no run has any of it, or every
// run has nothing else, their residuals are all 0 and say nothing: then the bound is
// that of as many independent trials as there are notes, the least that can be said
// (Clopper and Pearson 1934).
func share(parts []part) view.Estimate {
	e := figure(parts)
	if !e.Known() {
		return e
	}
	var all float64
	for _, p := range parts {
		all += p.all
	}
	e.Low, e.High = max(e.Low, 0), min(e.High, 1)
	switch e.Value {
	case 0:
		e.High = view.Number(1 - math.Pow(estimate.Tail, 1/all))
	case 1:
		e.Low = view.Number(math.Pow(estimate.Tail, 1/all))
	}
	return e
}

// change gives by how many µs the scatter changes in a week:
// the Theil–Sen slope over the runs, and whether its interval leaves out no change
// at all.
func change(runs []*store.Run, weeks int) (view.Estimate, view.Verdict) {
	var x, y []float64
	for _, r := range runs[max(0, len(runs)-mostRuns):] {
		if r.ScatterUS.Defined() {
			x = append(x, r.Started.Sub(runs[0].Started).Hours()/(7*24))
			y = append(y, float64(r.ScatterUS))
		}
	}
	none := view.NoEstimate(len(y))
	if weeks < leastWeeks || len(y) < estimate.LeastN {
		return none, view.TooFew
	}
	l, err := trend.TheilSen(x, y, estimate.Level)
	if err != nil {
		return none, view.TooFew
	}
	e := view.Estimate{Value: view.Number(l.Slope.Value), Low: view.Number(l.Slope.Low), High: view.Number(l.Slope.High), N: len(y)}
	switch {
	case !e.Known():
		return e, view.TooFew
	case e.High < 0:
		return e, view.Steadier
	case e.Low > 0:
		return e, view.Unsteadier
	}
	return e, view.NoChange
}
