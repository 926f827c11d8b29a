// Package padcheck judges a pad by what it reported while a player pressed what
// was asked: how often it reports, whether its contacts chatter, which panels are
// dead, stuck or fire with a neighbour, and what that means for the figures of
// a run. It reads no device.
package padcheck

import (
	"math"
	"slices"

	"heeltoe/footing/pad"
	"heeltoe/trainer/view"
)

// What a phase of the check asks for.
const (
	Rest     = "rest"     // nobody on the pad
	Press    = "press"    // one panel, slowly, alone
	Taps     = "taps"     // one panel, as quickly as can be
	Overlaps = "overlaps" // two panels by turns, each let go only after the other is down
	Seam     = "seam"     // one panel of each pad, struck at once
)

// Phase is a stretch of the check.
type Phase struct {
	Kind     string
	Panels   []pad.Panel // that were asked for
	Asked    int         // how often
	From, To pad.Time
}

// Level is what the value of an analogue panel was: while nobody stood on the
// pad, and at the peaks of its presses.
type Level struct {
	Up, Down [2]int32 // least and largest
	Seen     [2]bool  // up, down
}

// Take widens the level by a value at rest (down false) or at a press's peak.
func (l *Level) Take(v int32, down bool) {
	r, seen := &l.Up, &l.Seen[0]
	if down {
		r, seen = &l.Down, &l.Seen[1]
	}
	if !*seen {
		*r, *seen = [2]int32{v, v}, true
	}
	r[0], r[1] = min(r[0], v), max(r[1], v)
}

// Trace is all that was seen.
type Trace struct {
	Layout *pad.Layout
	// Intervals are the intervals of the devices as the system tells them, 0 where it does not.
	Intervals []pad.Time
	Reports   [][]pad.Time // when each report of a device was read
	Edges     []pad.Edge
	Phases    []Phase
	Levels    map[pad.Panel]Level // of analogue panels
}

// bounce is the longest time up that is taken for chatter of a contact: nobody
// lifts a foot and puts it down again within it (design value, no source).
const bounce = 40 * pad.Millisecond

// press is one press, chatter merged.
type press struct {
	panel    pad.Panel
	down, up pad.Time // up is pad.Never where it was not let go
}

// presses gives the presses that begin from from on and before to, by time; what was
// merged is counted by panel.
func presses(edges []pad.Edge, from, to pad.Time) (out []press, merged [pad.MaxPanels]int, longest [pad.MaxPanels]pad.Time) {
	last := map[pad.Panel]int{}
	for _, e := range edges {
		if e.T < from || e.T >= to {
			continue
		}
		switch i, ok := last[e.Panel]; {
		case e.Kind == pad.Gap:
			clear(last)
		case e.Kind == pad.Up && ok:
			out[i].up = e.T
		case e.Kind == pad.Down && ok && e.T-out[i].up <= bounce:
			merged[e.Panel]++
			longest[e.Panel] = max(longest[e.Panel], e.T-out[i].up)
			out[i].up = pad.Never
		case e.Kind == pad.Down:
			last[e.Panel] = len(out)
			out = append(out, press{e.Panel, e.T, pad.Never})
		}
	}
	return out, merged, longest
}

// Check judges a trace. The pad's name and the moment of the check are left to the caller.
func Check(t *Trace) *view.PadCheck {
	f := &view.PadCheck{Layout: t.Layout}
	for i := range t.Reports {
		f.Devices = append(f.Devices, device(t.Reports[i], t.Intervals[i]))
	}
	f.Panels = make([]view.PadPanel, len(t.Layout.Panels))
	for i := range f.Panels {
		p := &f.Panels[i]
		p.Panel, p.Fires = t.Layout.Panels[i].ID, []string{}
		if l, ok := t.Levels[pad.Panel(i)]; ok {
			p.Press, p.Release = thresholds(l)
		}
	}
	for i := range t.Phases {
		phase(f, t, &t.Phases[i])
	}
	longest := pad.Time(0)
	for i := range f.Panels {
		p := &f.Panels[i]
		p.Dead = p.Asked > 0 && p.Presses == 0
		longest = max(longest, p.Bounce)
	}
	if longest > 0 {
		// Half as long again, in whole milliseconds: chatter grows as contacts wear.
		f.Debounce = (longest*3/2 + pad.Millisecond - 1) / pad.Millisecond * pad.Millisecond
	}
	for _, d := range f.Devices {
		f.Finest = max(f.Finest, d.Interval)
	}
	verdict(f)
	return f
}

// phase takes in what one phase showed.
func phase(f *view.PadCheck, t *Trace, ph *Phase) {
	ps, merged, longest := presses(t.Edges, ph.From, ph.To)
	for i := range f.Panels {
		f.Panels[i].Chatter += merged[i]
		f.Panels[i].Bounce = max(f.Panels[i].Bounce, longest[i])
	}
	switch ph.Kind {
	case Rest:
		for _, p := range ps {
			f.Panels[p.panel].Stuck = true
		}
	case Press:
		own := &f.Panels[ph.Panels[0]]
		own.Asked += ph.Asked
		for _, p := range ps {
			if id := t.Layout.ID(p.panel); p.panel == ph.Panels[0] {
				own.Presses++
			} else if !slices.Contains(own.Fires, id) {
				own.Fires = append(own.Fires, id)
			}
		}
	case Taps:
		f.Tapped += ph.Asked
		for _, p := range ps {
			if p.panel == ph.Panels[0] {
				f.Taps++
			}
		}
	case Overlaps:
		if seen := overlaps(ps); len(seen) > 0 {
			f.Overlaps = spread(seen)
			f.Overlap = &seen[0]
		}
	case Seam:
		f.Seam = seam(t.Layout, ph, ps)
	}
}

// overlaps gives for how long two panels were down together, of each pair of presses that
// were, sorted.
func overlaps(ps []press) (seen []pad.Time) {
	for i := range ps {
		for j := range i {
			until := min(ps[i].up, ps[j].up)
			if o := until - ps[i].down; ps[i].panel != ps[j].panel && o > 0 && until != pad.Never {
				seen = append(seen, o)
			}
		}
	}
	slices.Sort(seen)
	return seen
}

// device gives how a device reports, from when its reports were read.
func device(at []pad.Time, told pad.Time) view.PadDevice {
	var gaps []pad.Time
	for i := 1; i < len(at); i++ {
		gaps = append(gaps, at[i]-at[i-1])
	}
	slices.Sort(gaps)
	d := view.PadDevice{Interval: told, Told: true, Reports: len(at)}
	// One that repeats has reports of which most follow each other at once.
	if n := len(gaps); n >= 100 && gaps[n/2] <= 20*pad.Millisecond {
		d = view.PadDevice{Interval: gaps[n/2], Jitter: (gaps[n*95/100] - gaps[n*5/100]) / 2, Worst: gaps[n-1], Reports: len(at)}
		for p := range 101 {
			d.Percentiles = append(d.Percentiles, gaps[min(n*p/100, n-1)])
		}
	}
	d.Quantisation = pad.Time(math.Round(pad.Fineness(d.Interval).SD()))
	return d
}

// thresholds gives where an analogue panel should go down and up: at two and at
// one fifths of the way from its noise to its press; nil where the two are not apart.
func thresholds(l Level) (press, release *int32) {
	if !l.Seen[0] || !l.Seen[1] {
		return nil, nil
	}
	from, to := l.Up[1], l.Down[0]
	if l.Up[0] > l.Down[1] { // its value falls under a foot
		from, to = l.Up[0], l.Down[1]
	} else if from >= to {
		return nil, nil
	}
	p, r := from+(to-from)*2/5, from+(to-from)/5
	return &p, &r
}

// pairTime is within which two presses are one strike (design value, no source).
const pairTime = 100 * pad.Millisecond

// seam gives the delay of one pad against the other from strikes on a panel of each.
func seam(l *pad.Layout, ph *Phase, ps []press) *view.SeamDelay {
	a, b := ph.Panels[0], ph.Panels[1]
	var diffs []pad.Time
	for _, p := range ps {
		if p.panel != a {
			continue
		}
		best := pad.Never
		for _, q := range ps {
			if d := q.down - p.down; q.panel == b && d.Abs() < best.Abs() {
				best = d
			}
		}
		if best.Abs() <= pairTime {
			diffs = append(diffs, best)
		}
	}
	s := &view.SeamDelay{Panels: [2]string{l.ID(a), l.ID(b)}, Strikes: len(diffs)}
	if len(diffs) == 0 {
		return s
	}
	s.Delay = median(diffs)
	s.Delays = spread(diffs)
	for i := range diffs {
		diffs[i] = (diffs[i] - s.Delay).Abs()
	}
	s.Spread = median(diffs)
	return s
}

// spread gives the quartiles of v, which is sorted and not empty: between two values in proportion.
func spread(v []pad.Time) view.Spread {
	at := func(quarter int) view.Number {
		i, part := (len(v)-1)*quarter/4, (len(v)-1)*quarter%4
		next := v[min(i+1, len(v)-1)]
		return view.Number(v[i]) + view.Number(next-v[i])*view.Number(part)/4
	}
	return view.Spread{N: len(v), Low: at(1), Median: at(2), High: at(3)}
}

// median sorts v and gives the middle one, of an even number the later.
func median(v []pad.Time) pad.Time {
	slices.Sort(v)
	return v[len(v)/2]
}
