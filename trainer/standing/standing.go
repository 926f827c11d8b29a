// Package standing tells from a run's presses whether the player drifts over the
// pad: who has moved back reaches farther for the front panels, so presses there
// come later and are left sooner than behind, and brackets miss their
// front panel more often. The pad does not see the body, so it is never more than "probably".
package standing

import (
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
	"heeltoe/trainer/trend"
	"heeltoe/trainer/view"
)

// Design values.
const (
	leastReps = 8   // fewer say nothing of a trend
	mostParts = 200 // a longer run is taken in so many parts
	surely    = .02 // probability, on either way, of what is told of a player who stands still
)

// axis is a direction of the floor: what a player who has drifted along it, or against it, has done.
type axis struct {
	along, against string
	of             func(x, y float64) float64
}

var axes = [...]axis{
	{"back", "forward", func(_, y float64) float64 { return -y }},
	{"left", "right", func(x, _ float64) float64 { return -x }},
}

// Of tells whether the player of a report, with landings, drifted over the layout's panels.
func Of(r *view.Report, l *pad.Layout) *view.Standing {
	reps := min(len(r.Reps), r.Summary.RepsBegun)
	out := &view.Standing{Reps: reps, Back: unknown(), Left: unknown()}
	if reps < leastReps {
		out.WhyNot = "takes at least 8 reps"
		return out
	}
	signs := signsOf(r, reps)
	for i, to := range [...]*view.Lean{&out.Back, &out.Left} {
		*to = axes[i].lean(signs, side(l, axes[i].of), min(reps, mostParts))
		if p := float64(to.P); to.P.Defined() && p < surely {
			way := axes[i].along
			if to.Z < 0 {
				way = axes[i].against
			}
			out.Probably = append(out.Probably, way)
		}
	}
	return out
}

func unknown() view.Lean { return view.Lean{Z: view.Undefined, P: view.Undefined} }

// side gives for each panel's id how far it lies against the axis, from the middle of all: above
// 0 is what a player who drifts along the axis moves away from.
func side(l *pad.Layout, of func(x, y float64) float64) map[string]float64 {
	at, mean := make(map[string]float64), 0.0
	for _, p := range l.Panels {
		at[p.ID] = -of(p.Rect.Centre())
		mean += at[p.ID] / float64(len(l.Panels))
	}
	for id := range at {
		at[id] -= mean
	}
	return at
}

// sign is one thing that was seen of a panel in a part of the run, larger where the panel was
// farther off, by its note's own usual value.
type sign struct {
	part  int
	panel string
	x     float64
}

// signsOf gives what is seen of reaching: how late presses come, how soon they are left (less the
// logarithm of how long they last), and brackets' panels without a press.
func signsOf(r *view.Report, reps int) (of [3][]sign) {
	parts := min(reps, mostParts)
	notes := len(r.Notes) / max(1, len(r.Reps))
	usual := [2][]float64{make([]float64, notes), make([]float64, notes)} // sums, at first
	count := [2][]float64{make([]float64, notes), make([]float64, notes)}
	value := func(n *view.Note) (late, short float64) {
		late, short = math.NaN(), math.NaN()
		if n.Offset.Defined() {
			late = float64(n.Offset)
			if n.Hold == nil && n.Up.Defined() && n.Up > n.Press {
				short = -math.Log(float64(n.Up - n.Press))
			}
		}
		return late, short
	}
	each := func(do func(kind int, n *view.Note, x float64)) {
		for i := range r.Notes {
			n := &r.Notes[i]
			late, short := value(n)
			for kind, x := range [2]float64{late, short} {
				if n.Rep < reps && !math.IsNaN(x) {
					do(kind, n, x)
				}
			}
		}
	}
	each(func(kind int, n *view.Note, x float64) { usual[kind][n.Note] += x; count[kind][n.Note]++ })
	each(func(kind int, n *view.Note, x float64) {
		of[kind] = append(of[kind], sign{n.Rep * parts / reps, n.Panel, x - usual[kind][n.Note]/count[kind][n.Note]})
	})
	for i := range r.Landings {
		l := &r.Landings[i]
		for _, c := range l.Contacts {
			if c.Kind != "bracket" || l.Rep >= reps {
				continue
			}
			for _, n := range c.Notes {
				note, missed := &r.Notes[l.Rep*notes+n], 0.0
				if note.Band == drill.Absent.String() {
					missed = 1
				}
				of[2] = append(of[2], sign{l.Rep * parts / reps, note.Panel, missed})
			}
		}
	}
	return of
}

// lean tells whether the panels on one side of the axis come to be reached for more than the
// others. Each sign has its own trend, by Kendall's S, of the difference between the
// sides; their scores are added, weighed by how much they say the same (Strube 1985, after
// Stouffer), since a press that comes late is also a short one.
func (a *axis) lean(signs [3][]sign, side map[string]float64, parts int) view.Lean {
	var scores []float64
	var courses [][]float64
	for _, s := range signs {
		y := difference(s, side, parts)
		if y == nil {
			continue
		}
		t, err := trend.MannKendall(y)
		if err != nil {
			continue // too short
		}
		scores, courses = append(scores, t.Z), append(courses, y)
	}
	if len(scores) == 0 {
		return unknown()
	}
	sum, variance := 0.0, 0.0
	for i := range scores {
		sum += scores[i]
		variance++
		for j := range i {
			variance += 2 * max(0, alike(courses[i], courses[j]))
		}
	}
	z := sum / math.Sqrt(variance)
	return view.Lean{Signs: len(scores), Z: view.Number(z), P: view.Number(2 * distuv.UnitNormal.CDF(-math.Abs(z)))}
}

// difference gives for each part of the run the mean of a sign on the far side less that on the near
// side, of those that have both. It is nil where too few parts have both, or all
// are the same.
func difference(s []sign, side map[string]float64, parts int) []float64 {
	sum, n := make([][2]float64, parts), make([][2]float64, parts)
	for _, v := range s {
		at := side[v.panel]
		if math.Abs(at) < 1 {
			continue // in the middle, mm
		}
		k := 0
		if at < 0 {
			k = 1
		}
		sum[v.part][k] += v.x
		n[v.part][k]++
	}
	var y []float64
	same := true
	for p := range sum {
		if n[p][0] > 0 && n[p][1] > 0 {
			y = append(y, sum[p][0]/n[p][0]-sum[p][1]/n[p][1])
			same = same && y[len(y)-1] == y[0]
		}
	}
	if len(y) < leastReps || same {
		return nil
	}
	return y
}

// alike gives how much two courses say the same from part to part, -1 to 1, whatever their
// trends: the correlation of their steps. Courses of different length are taken to say different things.
func alike(a, b []float64) float64 {
	if len(a) != len(b) {
		return 0
	}
	step := func(y []float64) []float64 {
		d := make([]float64, len(y)-1)
		for i := range d {
			d[i] = y[i+1] - y[i]
		}
		return d
	}
	if c := stat.Correlation(step(a), step(b), nil); !math.IsNaN(c) {
		return c
	}
	return 0
}
