package padcheck

import (
	"math"
	"slices"

	"heeltoe/footing/pad"
)

// Reach is how one foot pressed two panels at once, as often as it was asked to.
type Reach struct {
	Tried  int
	Both   int      // both panels went down
	First  int      // of those, how often the pair's first panel led
	Spread pad.Time // median time between the two; 0 where Both is 0
}

// Pairs gives what one foot can be asked for on a layout: the pairs of panels of
// one pad, and of the seam, in panel order.
func Pairs(l *pad.Layout) [][2]pad.Panel {
	var out [][2]pad.Panel
	for a := range l.Panels {
		for b := a + 1; b < len(l.Panels); b++ {
			ax, ay := l.Panels[a].Rect.Centre()
			bx, by := l.Panels[b].Rect.Centre()
			if math.Hypot(ax-bx, ay-by) <= maxReach {
				out = append(out, [2]pad.Panel{pad.Panel(a), pad.Panel(b)})
			}
		}
	}
	return out
}

// maxReach is how far the centres of two panels may be apart, in mm, for one foot
// to be asked for both: two corners on one side are 560 mm apart, and a foot that
// lies over the dead cell between them reaches both; no foot reaches farther.
const maxReach = 2.1 * pad.CellMM

// OfReach judges the presses of a pair that a foot was asked for so many times:
// each press of one of them, with one of the other within pairTime of it, is both.
func OfReach(edges []pad.Edge, pair [2]pad.Panel, asked int, from, to pad.Time) Reach {
	ps, _, _ := presses(edges, from, to)
	r := Reach{Tried: asked}
	var spreads []pad.Time
	used := make([]bool, len(ps))
	for i, p := range ps {
		if used[i] || !slices.Contains(pair[:], p.panel) {
			continue
		}
		for j := i + 1; j < len(ps) && ps[j].down-p.down <= pairTime; j++ {
			if q := ps[j]; !used[j] && q.panel != p.panel && slices.Contains(pair[:], q.panel) {
				used[j] = true
				r.Both++
				if p.panel == pair[0] {
					r.First++
				}
				spreads = append(spreads, q.down-p.down)
				break
			}
		}
	}
	r.Both = min(r.Both, asked)
	r.First = min(r.First, r.Both)
	if len(spreads) > 0 {
		r.Spread = median(spreads)
	}
	return r
}
