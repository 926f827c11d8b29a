package evening

import (
	"heeltoe/trainer/stamina"
	"heeltoe/trainer/view"
)

// surely is the probability of chance below which feet count as tired. It is smaller than
// for one run, since an evening asks after every set.
const surely = 0.02

// Watch looks over the sets of an evening for feet that tire: for each drill at its tempo
// over all of its reps so far.
type Watch struct {
	of map[watched]*course
}

type watched struct {
	name string
	bpm  float64
}

// course is a figure for each rep so far.
type course struct{ spread, inner []float64 }

// Tired takes the reps of a set that was played, as the report has them, and tells
// whether the scatter has risen or the share of inner notes has fallen over the evening.
func (w *Watch) Tired(name string, bpm float64, reps []view.Rep) bool {
	if w.of == nil {
		w.of = map[watched]*course{}
	}
	k := watched{name, bpm}
	c := w.of[k]
	if c == nil {
		c = &course{}
		w.of[k] = c
	}
	for i := range reps {
		c.spread = append(c.spread, float64(reps[i].Scatter))
		c.inner = append(c.inner, float64(reps[i].Inner)/float64(max(1, reps[i].Notes)))
	}
	// A course of too few reps shows nothing.
	spread, _ := stamina.CourseOf(c.spread)
	inner, _ := stamina.CourseOf(c.inner)
	return spread.Rising && spread.P < surely || inner.Falls && inner.P < surely
}
