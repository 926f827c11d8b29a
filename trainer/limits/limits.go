// Package limits tells from runs at several tempi at which tempo each way of playing
// breaks, where one overtakes another, and how long a tempo can be kept.
package limits

import (
	"cmp"
	"math"
	"slices"
	"time"

	"heeltoe/trainer/adapt"
	"heeltoe/trainer/estimate"
	"heeltoe/trainer/stamina"
	"heeltoe/trainer/success"
	"heeltoe/trainer/view"
)

// Run is one run as it is needed here.
type Run struct {
	Way       string // how it was played: runs of one way are taken together
	Drill     string // key of what was played
	Started   time.Time
	BPM       float64
	Outcomes  []adapt.Outcome
	Landings  int64         // moments of a rep at which notes are due
	RepLength time.Duration // with its rest

	Plan   string // that it is a block of; empty: none
	Number int    // of the block
	WarmUp bool   // it counts for nothing
}

// HoldOut, Adapt, Ladder and Bursts are the plans whose results are told.
const (
	HoldOut = "hold-out"
	Adapt   = "adapt"
	Ladder  = "ladder"
	Bursts  = "bursts"
)

// CrossingShown is how probable a crossing must be to be told of.
const CrossingShown = 0.9

// points is how many tempi a curve is given at.
const points = 25

// Of takes runs under like conditions together, in the order in which they were begun.
// share is that of good reps that counts as playing it well, at are tempi to say how long
// they are kept; nil: those of the runs that were held.
func Of(runs []Run, share float64, at []float64) view.Limits {
	runs = slices.DeleteFunc(slices.Clone(runs), func(r Run) bool { return r.WarmUp })
	out := view.Limits{Share: share, Ways: []view.Way{}, Crossings: []view.Crossing{}, Searches: searches(runs, share)}
	byWay := map[string][]Run{}
	slowest, fastest := math.Inf(1), math.Inf(-1)
	var names []string
	for _, r := range runs {
		if byWay[r.Way] == nil {
			names = append(names, r.Way)
		}
		byWay[r.Way] = append(byWay[r.Way], r)
		slowest, fastest = min(slowest, r.BPM), max(fastest, r.BPM)
	}
	beliefs := make([]*success.Posterior, len(names))
	for i, name := range names {
		of := byWay[name]
		trials := Fresh(of)
		beliefs[i] = success.Believe(trials, slowest, fastest)
		w := view.Way{Name: name, Drill: of[0].Drill, Runs: len(of), Curve: []view.CurvePoint{}, Endurance: endurance(of, at)}
		for _, t := range trials {
			w.Trials = append(w.Trials, view.Trial{BPM: t.BPM, Good: t.Good, Reps: shown(estimate.Share(t.Good, t.N, estimate.Level))})
		}
		limit, err := beliefs[i].Within(share, slowest, fastest)
		if err != nil {
			w.WhyNot = err.Error()
			limit.Value, limit.Interval = math.NaN(), estimate.Unknown
		}
		w.Limit = shown(limit)
		if len(trials) > 1 {
			from, to := trials[0].BPM, trials[len(trials)-1].BPM
			for k := range points {
				bpm := from + (to-from)*float64(k)/(points-1)
				w.Curve = append(w.Curve, view.CurvePoint{BPM: bpm, Share: shown(beliefs[i].Share(bpm))})
			}
		}
		out.Ways = append(out.Ways, w)
	}
	for i := range names {
		for j := range names {
			if i == j || len(out.Ways[i].Curve) == 0 || len(out.Ways[j].Curve) == 0 {
				continue
			}
			if x := success.Cross(beliefs[i], beliefs[j], slowest, fastest); x.P >= CrossingShown {
				out.Crossings = append(out.Crossings, view.Crossing{Below: names[i], Above: names[j], Tempo: shown(x.Tempo), P: view.Number(x.P)})
			}
		}
	}
	return out
}

// Fresh gives the trials that count for the share of good reps: not warm-ups, and not runs
// that were held until they failed, each of which ends with bad reps whatever its tempo.
func Fresh(runs []Run) []success.Trials {
	return Trials(slices.DeleteFunc(slices.Clone(runs), func(r Run) bool { return r.WarmUp || r.Plan == HoldOut }))
}

// Trials gives the clear reps of runs by tempo, slowest first.
func Trials(runs []Run) []success.Trials {
	var out []success.Trials
	for _, r := range runs {
		i, found := slices.BinarySearchFunc(out, r.BPM, func(t success.Trials, bpm float64) int { return cmp.Compare(t.BPM, bpm) })
		t := success.Trials{BPM: r.BPM}
		for _, o := range r.Outcomes {
			switch o {
			case adapt.Good:
				t.Good, t.N = t.Good+1, t.N+1
			case adapt.Bad:
				t.N++
			}
		}
		switch {
		case t.N == 0:
		case found:
			out[i].Good, out[i].N = out[i].Good+t.Good, out[i].N+t.N
		default:
			out = slices.Insert(out, i, t)
		}
	}
	return out
}

func shown(f estimate.Figure) view.Estimate { return view.EstimateOf(f.Value, f.Low, f.High, f.N) }

// endurance fits how long a way can be kept; nil where no run was held until it failed.
func endurance(runs []Run, at []float64) *view.Endurance {
	e := &view.Endurance{Bouts: []view.Bout{}, Lasts: []view.Lasting{}}
	var bouts []stamina.Bout
	perBeat := 0.0 // landings a second at one beat a minute
	for i := range runs {
		r := &runs[i]
		if r.Plan != HoldOut {
			continue
		}
		if h := held(r); h.Failed {
			b := stamina.Bout{Rate: float64(r.Landings) / r.RepLength.Seconds(), Seconds: float64(h.Reps) * r.RepLength.Seconds()}
			bouts = append(bouts, b)
			e.Bouts = append(e.Bouts, view.Bout{BPM: r.BPM, Rate: b.Rate, Seconds: b.Seconds})
			perBeat = b.Rate / r.BPM
		}
	}
	if len(bouts) == 0 {
		return nil
	}
	none := view.NoEstimate(len(bouts))
	e.Critical, e.CriticalBPM, e.Reserve = none, none, none
	c, err := stamina.Fit(bouts, stamina.Hyperbola)
	if err != nil {
		e.WhyNot = err.Error()
		return e
	}
	e.Critical, e.Reserve = shown(c.Critical), shown(c.Reserve)
	tempo := view.Number(perBeat)
	e.CriticalBPM = view.Estimate{Value: e.Critical.Value / tempo, Low: e.Critical.Low / tempo, High: e.Critical.High / tempo, N: e.Critical.N}
	if at == nil {
		for _, b := range e.Bouts {
			at = append(at, b.BPM)
		}
		slices.Sort(at)
		at = slices.Compact(at)
	}
	for _, bpm := range at {
		l := view.Lasting{BPM: bpm, Seconds: none}
		if f, err := c.Lasts(bpm * perBeat); err != nil {
			l.WhyNot = err.Error()
		} else {
			l.Seconds = shown(f)
		}
		e.Lasts = append(e.Lasts, l)
	}
	return e
}

// held plays the rule by which a run that is held fails.
func held(r *Run) adapt.HoldOut {
	h := adapt.HoldOut{Slips: adapt.Slips, Of: adapt.SlipsOf}
	h.Played(r.Outcomes)
	return h
}
