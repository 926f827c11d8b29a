package footing

import (
	"math"

	"heeltoe/footing/pad"
)

// Pairs says of pairs of panels whether a foot was measured to press both at once, on the
// pad and in the shoes that it was measured with. What was not measured is left
// to the model of the foot. Once a Body has them they must not change.
type Pairs struct {
	layout *pad.Layout
	can    map[footPair]bool
}

// footPair is a foot and what it is to press at once.
type footPair struct {
	foot   pad.Foot
	panels pad.PanelSet
}

// NewPairs gives pairs on a layout, of which none is measured.
func NewPairs(l *pad.Layout) *Pairs { return &Pairs{l, make(map[footPair]bool)} }

// Set says whether foot f presses panels a and b at once.
func (p *Pairs) Set(f pad.Foot, a, b pad.Panel, can bool) { p.can[footPair{f, pad.SetOf(a, b)}] = can }

// Has tells whether a pair on l was measured with foot f, and what that gave.
func (p *Pairs) Has(l *pad.Layout, f pad.Foot, panels pad.PanelSet) (can, measured bool) {
	if p == nil || p.layout.Name != l.Name {
		return false, false
	}
	can, measured = p.can[footPair{f, panels}]
	return can, measured
}

// reached gives the pairs on l that some foot was measured to press, as a reach has its pairs.
func (p *Pairs) reached(l *pad.Layout) (pairs [][2]pad.Panel) {
	if p == nil || p.layout.Name != l.Name {
		return nil
	}
	for a := range pad.Panel(len(l.Panels)) {
		for b := a + 1; b < pad.Panel(len(l.Panels)); b++ {
			both := pad.SetOf(a, b)
			if p.can[footPair{pad.Left, both}] || p.can[footPair{pad.Right, both}] {
				pairs = append(pairs, [2]pad.Panel{a, b})
			}
		}
	}
	return pairs
}

// over is how one foot gets to a place.
type over struct {
	can    bool
	angles *[180]bool // at which toes (or heel) can point; nil: at all
}

// overAt gives how an outsole of the length given gets over two panels that need so
// much at each angle.
func overAt(need *[180]float64, length float64) over {
	o := over{angles: new([180]bool)}
	all := true
	for deg, n := range need {
		o.angles[deg] = n <= length
		o.can = o.can || o.angles[deg]
		all = all && o.angles[deg]
	}
	if all {
		o.angles = nil
	}
	return o
}

// aboutMM is how much longer than just long enough a foot is taken to be that was
// measured to press a pair for which the model finds it too short: so that it can
// turn a little (design value).
const aboutMM = 10

// overMeasured is overAt for a foot that was measured to press both: where the
// model finds it too short it is taken to be about as long as it takes, and
// where the model finds no place for any foot, any angle will do.
func overMeasured(need *[180]float64, length float64) over {
	least := math.Inf(1)
	if need != nil {
		for _, n := range need {
			least = min(least, n)
		}
	}
	if math.IsInf(least, 1) {
		return over{can: true}
	}
	return overAt(need, max(length, least+aboutMM))
}
