package consistency

import (
	"cmp"
	"math"
	"slices"

	"heeltoe/footing/pad"
	"heeltoe/judge"
	"heeltoe/trainer/view"
)

// lasted gives how long the press of a note lasted; false where its end was not seen,
// and of a held note, whose length the drill asks for.
func lasted(n *view.Note) (pad.Time, bool) {
	return pad.Time(n.Up - n.Press), n.Press.Defined() && n.Up.Defined() && n.Hold == nil
}

// dwells gives how long the presses of each panel lasted, in their order.
func dwells(r *view.Report) map[string][]pad.Time {
	out := map[string][]pad.Time{}
	for i := range r.Notes {
		if d, ok := lasted(&r.Notes[i]); ok {
			out[r.Notes[i].Panel] = append(out[r.Notes[i].Panel], d)
		}
	}
	return out
}

// dwellByRep gives the median length of the presses of each of the first reps, in µs.
func dwellByRep(r *view.Report, reps int) []float64 {
	by := make([][]pad.Time, len(r.Reps))
	for i := range r.Notes {
		if d, ok := lasted(&r.Notes[i]); ok {
			by[r.Notes[i].Rep] = append(by[r.Notes[i].Rep], d)
		}
	}
	out := make([]float64, reps)
	for k := range out {
		out[k] = judge.Summarise(by[k]).Median
	}
	return out
}

// overlaps gives, for each note of the rep, how long its panel was still down when that
// of the next note came down. Notes due at one moment follow each other in the drill's
// order; pairs with a press or a release unseen are left out.
func overlaps(r *view.Report) []view.Overlap {
	out := []view.Overlap{}
	if len(r.Reps) == 0 {
		return out
	}
	n := len(r.Notes) / len(r.Reps)
	spans := make([][]pad.Time, n)
	for i := 0; i+1 < len(r.Notes); i++ {
		a, b := &r.Notes[i], &r.Notes[i+1]
		if a.Press.Defined() && a.Up.Defined() && b.Press.Defined() {
			spans[a.Note] = append(spans[a.Note], pad.Time(a.Up-b.Press))
		}
	}
	for i, s := range spans {
		if len(s) > 0 {
			out = append(out, view.Overlap{From: i, To: (i + 1) % n, Time: times(s)})
		}
	}
	return out
}

// freeByRep gives for how long no panel was down in each of the first reps, in µs, from
// its first note's due moment to that of the next rep. It is NaN of the last rep, and of
// one into which a press reaches whose end was not seen.
func freeByRep(r *view.Report, reps int) []float64 {
	type press struct{ down, up pad.Time }
	var all []press
	add := func(down, up view.Moment) {
		if down.Defined() {
			all = append(all, press{pad.Time(down), pad.Time(up)})
		}
	}
	for i := range r.Notes {
		add(r.Notes[i].Press, r.Notes[i].Up)
	}
	for i := range r.Strays {
		add(r.Strays[i].T, r.Strays[i].Up)
	}
	slices.SortFunc(all, func(a, b press) int { return cmp.Compare(a.down, b.down) })
	out := make([]float64, reps)
	next, until := 0, pad.Time(math.MinInt64) // a panel is down until then, as far as was seen
	for k := range out {
		out[k] = math.NaN()
		if k+1 >= len(r.Reps) {
			break
		}
		perRep := len(r.Notes) / len(r.Reps)
		from, to := pad.Time(r.Notes[k*perRep].Due), pad.Time(r.Notes[(k+1)*perRep].Due)
		at, free := max(from, min(until, to)), pad.Time(0)
		unseen := until == pad.Never
		for ; next < len(all) && all[next].down < to; next++ {
			p := all[next]
			if p.down > at {
				free += p.down - at
			}
			unseen = unseen || p.up == pad.Never
			until = max(until, p.up)
			at = max(at, min(until, to))
		}
		free += max(0, to-at)
		if unseen {
			until = pad.Time(math.MinInt64) // what follows is counted from the next press on
			continue
		}
		out[k] = float64(free)
	}
	return out
}
