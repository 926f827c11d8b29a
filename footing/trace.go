package footing

import (
	"fmt"
	"math"
	"slices"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// trace collects what a walk meets, where somebody asks for it.
type trace struct {
	why    []string  // what cannot be done, in words
	bounds []bound   // what bounds the tempo from above
	effort float64   // J
	facing []float64 // degrees, of each landing; NaN where the feet do not tell
}

// bound is something that has some half slots and needs some time.
type bound struct {
	have2 int64
	need  float64 // µs; +Inf for what no tempo mends
}

// timeEps, in microseconds, is what sums of times may be off by rounding.
const timeEps = 1e-3

// Words for a foot that comes down in a row, by how often.
var (
	againAlone = [3]string{"twice", "a third time in a row", "more than three times in a row"}
	againBoth  = [3]string{"twice, with the other one,", "a third time in a row, with the other one,", "more than three times in a row, with the other one,"}
)

func footName(f pad.Foot) string {
	if f == pad.Left {
		return "left foot"
	}
	return "right foot"
}

func millis(us float64) string { return fmt.Sprintf("%.0f ms", max(us, 0)/1000) }

// fault keeps a fault in words, once.
func (t *trace) fault(why string) {
	if !slices.Contains(t.why, why) {
		t.why = append(t.why, why)
	}
}

// need counts a fault where what has some half slots needs more microseconds.
func (w *walk) need(t *trace, have2 int64, need float64, what string) int {
	if t != nil && need > 0 {
		t.bounds = append(t.bounds, bound{have2, need})
	}
	have := float64(have2) * w.half
	if have >= need-timeEps {
		return 0
	}
	if t != nil {
		t.fault(fmt.Sprintf("%s within %s, needs %s", what, millis(have), millis(need)))
	}
	return 1
}

// impossible counts a fault that no tempo mends.
func (w *walk) impossible(t *trace, why string) int {
	if t != nil {
		t.bounds = append(t.bounds, bound{0, math.Inf(1)})
		t.fault(why)
	}
	return 1
}

// unreached counts a foot that cannot be where it has to be.
func (w *walk) unreached(t *trace, f pad.Foot, p place, st *stance) int {
	if t == nil {
		return 1
	}
	s := &w.ground.spots[p]
	panels := w.ground.layout.IDs(s.panels, " and ")
	if can, measured := w.ground.body.Pairs.Has(w.ground.layout, f, s.panels); measured && !can && s.kind == drill.Bracket {
		return w.impossible(t, fmt.Sprintf("the %s was measured not to press %s at once", footName(f), panels))
	}
	if !s.feet[f].can {
		return w.impossible(t, fmt.Sprintf("the %s, %.0f mm long, cannot lie over %s", footName(f), w.ground.body.ShoeMM, panels))
	}
	return w.impossible(t, fmt.Sprintf("the %s cannot turn to lie over %s with the hips at %.0f°", footName(f), panels, math.Abs(st.facing)))
}

// tooWide counts feet that both press and are too far apart.
func (w *walk) tooWide(t *trace, st *stance) int {
	if t == nil {
		return 1
	}
	return w.impossible(t, fmt.Sprintf("the feet stand %.0f mm apart, they reach %.0f mm", st.apartMM, w.ground.body.StanceMM))
}

// gathered counts notes of a landing that lie further apart than the outer band is wide.
func (w *walk) gathered(t *trace, ln *landing) int {
	span := float64(ln.span) * 2 * w.half
	if span <= w.outer+timeEps {
		return 0
	}
	if t != nil {
		t.fault(fmt.Sprintf("notes struck at once span %s, the outer band %s", millis(span), millis(w.outer)))
	}
	return 1
}

// stands keeps how the feet stand after a landing.
func (t *trace) stands(st *stance) {
	facing := math.NaN()
	if st.faces {
		facing = st.facing
	}
	t.facing = append(t.facing, facing)
}
