package drills

import (
	"errors"
	"math"
	"strings"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// leadNotes is how many plain notes come before the pattern, and at least how
// many come after it.
const leadNotes = 4

// Within gives d inside a stream of plain notes: rests at the ends of its rep
// are dropped and Leads's notes put in their place. It fails where the layout
// has too few panels for a stream that repeats none.
func Within(d *drill.Drill) (*drill.Drill, error) {
	in, out, err := Leads(d)
	if err != nil {
		return nil, err
	}
	c, err := trimmed(d)
	if err != nil {
		return nil, err
	}
	return c.Within(in, out)
}

// Leads gives steps that lead into d's pattern and out of it: single notes that
// alternate between two panels, as far apart in time as most of the pattern's
// own notes are. No note is on a panel of the note or notes before or after it,
// over the loop's edge too, nor on one that the pattern still holds. The
// lead-out has as many notes as make the rep whole beats, where that is possible.
// The rests at the ends of d's own steps are not counted: see Within.
func Leads(d *drill.Drill) (in, out string, err error) {
	gap := spacing(d)
	first, last := d.Notes[0].Slot, d.Notes[len(d.Notes)-1].Slot
	var open, close, held pad.PanelSet
	for _, n := range d.Notes {
		if n.Slot == first {
			open = open.With(n.Panel)
		}
		if n.Slot == last {
			close = close.With(n.Panel)
		}
		if int64(n.Slot)+int64(n.Hold) > int64(last)+gap {
			held = held.With(n.Panel)
		}
	}
	core := int64(last-first) + gap
	count := int64(leadNotes)
	for k := count; k < count+d.PerBeat; k++ {
		if (core+(leadNotes+k)*gap)%d.PerBeat == 0 {
			count = k
			break
		}
	}
	// a b a b … | the pattern | c e c e …: b must differ from what opens the
	// pattern, c from what closes it, the last of the lead-out from a.
	a, b, ok := pair(d.Layout, held, 0, open)
	if !ok {
		return "", "", errNoStream
	}
	var c, e pad.Panel
	if count%2 == 0 {
		c, e, ok = pair(d.Layout, held, close, pad.SetOf(a))
	} else {
		c, e, ok = pair(d.Layout, held, close.With(a), 0)
	}
	if !ok {
		return "", "", errNoStream
	}
	rests := strings.Repeat(" .", int(gap-1))
	write := func(x, y pad.Panel, n int64) string {
		tokens := make([]string, n)
		for i := range tokens {
			p := x
			if i%2 == 1 {
				p = y
			}
			tokens[i] = d.Layout.ID(p) + rests
		}
		return strings.Join(tokens, " ")
	}
	return write(a, b, leadNotes), write(c, e, count), nil
}

var errNoStream = errors.New("the layout has too few free panels for a stream round this drill")

// pair gives two panels next to each other, of different sides, the first none
// of notFirst, the second none of notSecond, both none of held; the closest to
// what they must differ from, so that the stream stays where the pattern is.
func pair(l *pad.Layout, held, notFirst, notSecond pad.PanelSet) (x, y pad.Panel, ok bool) {
	distance := func(p, q pad.Panel) float64 {
		px, py := l.Panels[p].Rect.Centre()
		qx, qy := l.Panels[q].Rect.Centre()
		return math.Hypot(px-qx, py-qy)
	}
	best := math.Inf(1)
	for i := range l.Panels {
		for j := range l.Panels {
			p, q := pad.Panel(i), pad.Panel(j)
			if p == q || held.Has(p) || held.Has(q) || notFirst.Has(p) || notSecond.Has(q) {
				continue
			}
			cost := distance(p, q)
			if l.Panels[p].Rect.X0 == l.Panels[q].Rect.X0 {
				cost += 2000 // one above the other: no left and right
			}
			for r := range notFirst.All() {
				cost += distance(p, r)
			}
			for r := range notSecond.All() {
				cost += distance(q, r)
			}
			if cost < best {
				best, x, y, ok = cost, p, q, true
			}
		}
	}
	return x, y, ok
}

// spacing gives the commonest distance in slots between one due moment and the
// next of the rep, the smallest of equals, 1 where there is one moment only.
func spacing(d *drill.Drill) int64 {
	count := make(map[int64]int)
	for i := 1; i < len(d.Notes); i++ {
		if gap := int64(d.Notes[i].Slot - d.Notes[i-1].Slot); gap > 0 {
			count[gap]++
		}
	}
	best := int64(1)
	for gap, n := range count {
		if n > count[best] || n == count[best] && gap < best {
			best = gap
		}
	}
	return best
}

// trimmed gives d from its first note to one spacing after its last.
func trimmed(d *drill.Drill) (*drill.Drill, error) {
	first, last := d.Notes[0].Slot, d.Notes[len(d.Notes)-1].Slot
	notes := make([]drill.Note, len(d.Notes))
	for i, n := range d.Notes {
		n.Slot -= first
		notes[i] = n
	}
	s := d.Spec
	s.Steps = drill.StepsText(d.Layout, notes, int64(last-first)+spacing(d))
	s.Reps = 1 // a shorter rep could clash with its own holds; the stream makes it long again
	c, err := drill.New(s, d.Layout)
	if err != nil {
		return nil, err
	}
	c.Reps = d.Reps
	return c, nil
}
