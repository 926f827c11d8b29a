package read

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/footing"
	"heeltoe/footing/pad"
)

// drawPresses gives a few presses in a row, some of them at once.
func drawPresses(t *rapid.T) (presses []pad.Press) {
	at := pad.Time(0)
	for range rapid.IntRange(1, 5).Draw(t, "presses") {
		at += rapid.SampledFrom([]pad.Time{4, 15, 70, 150, 160, 400}).Draw(t, "gap") * pad.Millisecond
		up := at + pad.Time(rapid.IntRange(10, 400).Draw(t, "stay"))*pad.Millisecond
		if rapid.IntRange(0, 9).Draw(t, "kept down") == 0 {
			up = pad.Never
		}
		presses = append(presses, pad.Press{Panel: pad.Panel(rapid.IntRange(0, 4).Draw(t, "panel")), Down: at, Up: up})
	}
	return presses
}

// The density and the probabilities are those of all ways through the lattice, one by one, and no way
// adds up to more than the one that is decided for.
func TestLatticeEqualsItsWays(t *testing.T) {
	l, _ := pad.ByName("single")
	stances := footing.NewStances(l, footing.DefaultBody())
	rapid.Check(t, func(t *rapid.T) {
		f := newLattice(l, stances, drawPresses(t))
		for k, p := range usualShares[0] {
			f.moves[k] = math.Log(p)
		}
		m := newMarginals(len(f.down))
		f.pass(drawValues(t), false, m, 1)
		calls := f.decide(m)

		// The ends count as backward has them, from which the states before are worked out anew.
		played, total, best := make([]moves, len(f.down)), 0.0, math.Inf(-1)
		way := make([]*freeEdge, len(f.down))
		var walk func(i int, at int32, p, sum float64)
		walk = func(i int, at int32, p, sum float64) {
			if i == len(way) {
				p *= f.states[at].beta
				total += p
				best = max(best, sum)
				for i, e := range way {
					played[i][e.kind][e.foot] += p
				}
				return
			}
			for k := f.layers[i+1].edges[0]; k < f.layers[i+1].edges[1]; k++ {
				if e := &f.edges[k]; e.from == at {
					way[i] = e
					walk(i+1, e.to, p*e.weight, sum+m.worth(int32(i), e)+freeWhole*math.Log(e.weight))
				}
			}
		}
		walk(0, 0, 1, 0)
		if math.Abs(total-1) > 1e-9 {
			t.Fatalf("the ways' probabilities add up to %v", total)
		}
		for i := range played {
			for k := range moveKinds {
				for x := range 2 {
					if got, want := f.played[i][k][x], played[i][k][x]; math.Abs(got-want) > 1e-7 {
						t.Fatalf("press %d: move %d of foot %d has p %v, over all ways %v", i, k, x, got, want)
					}
				}
			}
		}
		// What was decided, as a way.
		found := false
		var follow func(i int, at int32, sum float64)
		follow = func(i int, at int32, sum float64) {
			if i == len(way) {
				found = found || sum >= best-1e-9
				return
			}
			for k := f.layers[i+1].edges[0]; k < f.layers[i+1].edges[1]; k++ {
				e := &f.edges[k]
				c := &calls[i]
				fits := e.from == at && c.stray == (e.kind == strayMove)
				if second := e.kind == bracketMove || e.kind == rollMove; fits && !c.stray {
					fits = e.foot == c.foot && second == (c.with != None && int(c.with) < i) && (!second || e.with == c.with && e.kind.contact() == c.kind)
				}
				if fits {
					follow(i+1, e.to, sum+m.worth(int32(i), e)+freeWhole*math.Log(e.weight))
				}
			}
		}
		follow(0, 0, 0)
		if !found {
			t.Fatalf("%+v is not the way whose probabilities add up to the most", calls)
		}
	})
}
