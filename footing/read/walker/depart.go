package walker

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"heeltoe/footing/pad"
)

// cause is one reason for a foot to leave, at a moment that is left to chance: a gamma time
// after some moment, or before it. Times are in ms.
type cause struct {
	moment      float64
	mean, shape float64 // of the gamma; a shape of 0 is no chance at all
	before      bool
}

// departure is when a foot leaves: for the first of its causes, but not before it has
// come down with all its weight.
type departure struct {
	causes   []cause
	earliest float64 // and up to settling later, evenly
}

// settling is how much the time varies that a foot needs to come down, in ms.
const settling = 10

// departure gives why step i leaves when the steps are made by the feet given.
func (w *walk) departure(i int, feet []pad.Foot) departure {
	h, s := &w.h, w.steps[i]
	var same, other *step
	for k, n := range w.steps[i+1:] {
		if mine := feet[i+1+k] == feet[i]; mine && same == nil {
			same = n
		} else if !mine && other == nil && n.down > s.end()+20 {
			other = n
		}
		if same != nil && other != nil {
			break
		}
	}
	d := departure{earliest: s.end() + h.RiseMS + 5}
	after := func(moment, mean, shape float64) { d.causes = append(d.causes, cause{moment, mean, shape, false}) }
	ahead := func(moment, mean, shape float64) { d.causes = append(d.causes, cause{moment, mean, shape, true}) }
	switch {
	case s.hold > 0:
		after(s.hold, 0, 0)
	case h.Style == Walk:
		after(s.end(), 500, 8)
		if other != nil {
			after(other.down, h.StayMS, 4)
		}
	default:
		after(s.end(), h.StayMS*w.shareOf[w.d.Notes[s.c.Notes[0]].Panel], h.StayShape)
	}
	// It must leave in time for its next place, and for a jump.
	if same != nil {
		ahead(same.down-.5*h.FallMS, h.SwingMS+h.SwingLogMS*math.Log2(1+w.way(s, same)/.1), 30)
	}
	for k, n := range w.steps[i+1:] {
		if n.down > s.end()+600 {
			break
		}
		if n.jumped && n.down > s.end()+20 && (n.both || !h.RestInHop || feet[i+1+k] == feet[i]) {
			ahead(n.down-.5*h.FallMS, h.FlightMS, 40)
			break
		}
	}
	// Two feet cannot be on one panel: it leaves before the other comes.
	for k, n := range w.steps[i+1:] {
		if feet[i+1+k] != feet[i] && w.panels(n)&w.panels(s) != 0 {
			ahead(n.down-.8*h.FallMS, 30, 10)
			break
		}
	}
	return d
}

// draw leaves it to chance.
func (d departure) draw(w *walk) float64 {
	first := math.Inf(1)
	for _, c := range d.causes {
		at := c.moment
		switch {
		case c.shape == 0:
		case c.before:
			at -= w.gamma(c.mean, c.shape)
		default:
			at += w.gamma(c.mean, c.shape)
		}
		first = min(first, at)
	}
	return max(first, d.earliest+settling*w.r.Float64())
}

// law gives the density of the cause's moment at t, in 1/ms, and the probability that it
// comes later. What is no chance has no density.
func (c cause) law(t float64) (density, later float64) {
	if c.shape == 0 {
		if t < c.moment {
			later = 1
		}
		return 0, later
	}
	g := distuv.Gamma{Alpha: c.shape, Beta: c.shape / c.mean}
	x := t - c.moment
	if c.before {
		x = -x
	}
	if x <= 0 {
		if !c.before {
			later = 1
		}
		return 0, later
	}
	density, later = g.Prob(x), g.Survival(x)
	if c.before {
		later = g.CDF(x)
	}
	return density, later
}

// log gives the logarithm of the density of leaving at t, in 1/ms; at the moment of a cause
// without chance, that of the probability.
func (d departure) log(t float64) float64 {
	density, later := 0.0, 1.0 // of the first of the causes so far
	for _, c := range d.causes {
		p, above := c.law(t)
		if c.shape == 0 && t == c.moment {
			p, above = 0, 1
		}
		density, later = density*above+later*p, later*above
	}
	down := min(max((t-d.earliest)/settling, 0), 1)
	for _, c := range d.causes {
		if c.shape == 0 && t == c.moment {
			return math.Log(later * down)
		}
	}
	density *= down
	if down > 0 && down < 1 {
		density += (1 - later) / settling
	}
	return math.Log(density)
}
