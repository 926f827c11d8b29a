package walker

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
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
	all      [mostCauses]cause
	n        int
	earliest float64 // and up to settling later, evenly
}

const mostCauses = 5

func (d *departure) add(c cause) {
	d.all[d.n] = c
	d.n++
}

func (d *departure) causes() []cause { return d.all[:d.n] }

// settling is how much the time varies that a foot needs to come down, in ms.
const settling = 10

// calls are the steps for which a step's foot may have to leave, as far as they depend on whose the
// steps are; nil where there is none.
type calls struct {
	s       *step
	same    *step   // the foot's next
	octaves float64 // and how often the way to it doubles
	other   *step   // the other foot's next
	jump    *step   // the next landing that is jumped to
	joined  *step   // and the next that a foot that may rest jumps to too
	taken   float64 // when the other foot comes to a panel that it is on, 0 for never
}

// calls gives what calls step i's foot when the steps are made by the feet given.
func (w *walk) calls(i int, feet []pad.Foot) calls {
	s := w.steps[i]
	c := calls{s: s}
	for k, n := range w.steps[i+1:] {
		if mine := feet[i+1+k] == feet[i]; mine && c.same == nil {
			c.same = n
			c.octaves = math.Log2(1 + w.way(s, n)/.1)
		} else if !mine && c.other == nil && n.down > s.end()+20 {
			c.other = n
		}
		if c.same != nil && c.other != nil {
			break
		}
	}
	for k, n := range w.steps[i+1:] {
		if n.down > s.end()+600 || c.joined != nil {
			break
		}
		if n.jumped && n.down > s.end()+20 {
			if c.jump == nil {
				c.jump = n
			}
			if n.both || feet[i+1+k] == feet[i] {
				c.joined = n
			}
		}
	}
	for k, n := range w.steps[i+1:] {
		if common := w.panels(n) & w.panels(s); feet[i+1+k] != feet[i] && common != 0 {
			c.taken = w.comes(n, common)
			break
		}
	}
	return c
}

// comes gives when a step comes to the first of some of its panels: in a roll it is on the
// second panel later than on the first.
func (w *walk) comes(s *step, panels pad.PanelSet) float64 {
	if s.c.Kind == drill.Roll && !panels.Has(w.d.Notes[s.c.Notes[0]].Panel) {
		return s.second
	}
	return s.down
}

// departure gives when a step's foot leaves that is called so.
func (w *walk) departure(c *calls) departure {
	h, s := &w.h, c.s
	d := departure{earliest: s.end() + h.RiseMS + 5}
	after := func(moment, mean, shape float64) { d.add(cause{moment, mean, shape, false}) }
	ahead := func(moment, mean, shape float64) { d.add(cause{moment, mean, shape, true}) }
	switch {
	case s.hold > 0:
		after(s.hold, 0, 0)
	case h.Style == Walk:
		after(s.end(), 500, 8)
		if c.other != nil {
			after(c.other.down, h.StayMS, 4)
		}
	default:
		after(s.end(), h.StayMS*w.shareOf[w.d.Notes[s.c.Notes[0]].Panel], h.StayShape)
	}
	// It must leave in time for its next place, and for a jump.
	if c.same != nil {
		ahead(c.same.down-.5*h.FallMS, h.SwingMS+h.SwingLogMS*c.octaves, 30)
	}
	jump := c.jump
	if h.RestInHop {
		jump = c.joined
	}
	if jump != nil {
		ahead(jump.down-.5*h.FallMS, h.FlightMS, 40)
	}
	// Two feet cannot be on one panel: it leaves before the other comes.
	if c.taken > 0 {
		ahead(c.taken-.8*h.FallMS, 30, 10)
	}
	return d
}

// draw leaves it to chance.
func (d *departure) draw(w *walk) float64 {
	first := math.Inf(1)
	for _, c := range d.causes() {
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
func (d *departure) log(t float64) float64 {
	density, later := 0.0, 1.0 // of the first of the causes so far
	for _, c := range d.causes() {
		p, above := c.law(t)
		if c.shape == 0 && t == c.moment {
			p, above = 0, 1
		}
		density, later = density*above+later*p, later*above
	}
	down := min(max((t-d.earliest)/settling, 0), 1)
	for _, c := range d.causes() {
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
