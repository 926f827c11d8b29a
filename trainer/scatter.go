package trainer

import (
	"math"

	"heeltoe/footing/pad"
	"heeltoe/judge"
	"heeltoe/trainer/view"
)

// scatter puts into the report how far presses scatter about their own note's median. That a
// note is struck early and another late, as where notes are gathered into one landing, is
// how a drill is played and no unsteadiness. Each distance is widened by √(k/(k−1)) for
// the k presses that the median was made of; a note pressed once tells nothing.
func (r *Run) scatter(rep *view.Report) {
	rep.Summary.Scatter = view.Undefined
	of := make([][]pad.Time, r.notes)
	for i := range rep.Notes {
		if n := &rep.Notes[i]; n.Offset.Defined() {
			of[n.Note] = append(of[n.Note], pad.Time(n.Offset))
		}
	}
	middle, widen := make([]float64, r.notes), make([]float64, r.notes)
	for i, x := range of {
		k := float64(len(x))
		middle[i], widen[i] = judge.Summarise(x).Median, math.Sqrt(k/(k-1))
	}
	var all []pad.Time
	squares, counts := make([]float64, len(rep.Reps)), make([]float64, len(rep.Reps))
	for i := range rep.Notes {
		n := &rep.Notes[i]
		if !n.Offset.Defined() || len(of[n.Note]) < 2 {
			continue
		}
		d := (float64(n.Offset) - middle[n.Note]) * widen[n.Note]
		all = append(all, pad.Time(math.Round(math.Abs(d))))
		squares[n.Rep] += d * d
		counts[n.Rep]++
	}
	for k := range rep.Reps {
		rep.Reps[k].Scatter = view.Number(math.Sqrt(squares[k] / counts[k])) // NaN of none
	}
	if len(all) > 0 {
		rep.Summary.Scatter = view.Number(judge.Summarise(all).Median)
	}
}
