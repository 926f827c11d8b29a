package read

import (
	"slices"

	"heeltoe/footing/pad"
	"heeltoe/judge"
)

// Collector gathers the presses of a run from its edges and from what was judged. It is
// for one goroutine; it keeps 40 bytes a press and does not allocate otherwise. Its
// zero value is ready, for runs that are not debounced.
type Collector struct {
	// Debounce is the judge's: a press so soon after a release of its panel is the same press.
	Debounce pad.Time

	// Keep, where it is above 0, bounds what is kept: so many of the last presses at
	// least, and twice as many at most, for which there is room from the first edge on.
	Keep int

	presses []linked
	forgot  bool
	last    [pad.MaxPanels]int32 // of each panel's presses, by place plus one
}

// linked is a press with the place of the one before on its panel, plus one.
type linked struct {
	Press
	before int32
}

// unseen marks a release that a gap has swallowed.
const unseen = -pad.Never

// Feed takes the next edge.
func (c *Collector) Feed(e pad.Edge) {
	if e.Kind == pad.Gap {
		for _, at := range c.last {
			if at > 0 && c.presses[at-1].Up == pad.Never {
				c.presses[at-1].Up = unseen
			}
		}
		return
	}
	if int(e.Panel) >= len(c.last) {
		return
	}
	at := c.last[e.Panel]
	if e.Kind == pad.Up {
		if at > 0 && c.presses[at-1].Up == pad.Never {
			c.presses[at-1].Up = e.T
		}
		return
	}
	if at > 0 && c.Debounce > 0 {
		if p := &c.presses[at-1]; p.Up != pad.Never && p.Up != unseen && e.T-p.Up <= c.Debounce {
			p.Up = pad.Never
			return
		}
	}
	if c.Keep > 0 && len(c.presses) == cap(c.presses) {
		c.forget()
	}
	c.presses = append(c.presses, linked{Press{pad.Press{Panel: e.Panel, Down: e.T, Up: pad.Never}, None, None}, at})
	c.last[e.Panel] = int32(len(c.presses))
}

// forget makes room, by letting go of all but the last presses.
func (c *Collector) forget() {
	if c.presses == nil {
		c.presses = make([]linked, 0, 2*c.Keep)
		return
	}
	gone := int32(len(c.presses) - c.Keep)
	c.presses = c.presses[:copy(c.presses, c.presses[gone:])]
	c.forgot = true
	for i := range c.presses {
		c.presses[i].before = max(0, c.presses[i].before-gone)
	}
	for p := range c.last {
		c.last[p] = max(0, c.last[p]-gone)
	}
}

// Forgot tells whether presses were let go of.
func (c *Collector) Forgot() bool { return c.forgot }

// Judged takes what was decided of a press.
func (c *Collector) Judged(v *judge.Verdict) {
	if v.Stray || v.Press == pad.Never || int(v.Panel) >= len(c.last) {
		return
	}
	for at := c.last[v.Panel]; at > 0; at = c.presses[at-1].before {
		if p := &c.presses[at-1]; p.Down <= v.Press {
			if p.Down == v.Press {
				p.Rep, p.Note = v.Rep, v.Note
			}
			return
		}
	}
}

// Presses gives the presses in order of their moments; the slice is the caller's.
func (c *Collector) Presses() []Press { return c.Since(-pad.Never) }

// Since is Presses from a moment on. The work is in proportion to what it gives.
func (c *Collector) Since(from pad.Time) []Press {
	first := len(c.presses)
	for first > 0 && c.presses[first-1].Down >= from {
		first--
	}
	presses := make([]Press, len(c.presses)-first)
	for i := range presses {
		presses[i] = c.presses[first+i].Press
		if presses[i].Up == unseen {
			presses[i].Up = pad.Never
		}
	}
	slices.SortStableFunc(presses, func(a, b Press) int { return int(max(-1, min(1, a.Down-b.Down))) })
	return presses
}
