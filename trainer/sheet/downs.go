package sheet

import (
	"cmp"
	"math"
	"slices"
	"time"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
	"heeltoe/trainer/view"
)

// rollOverlap is for how long both panels of a roll are taken to be down
// (design value, no source).
const rollOverlap = 30 * pad.Millisecond

// downs gives how long each note's panel is down if every foot stays as long
// as it can: until it must leave for its next contact, or until the other foot comes for
// the panel. A roll's first panel goes up shortly after the second is down. A
// held note stays down to its end at least, drawn under the foot that began it.
func (w *walker) downs() (downs []view.Down) {
	for f := range w.feet {
		for k := range w.feet[f] {
			s := &w.feet[f][k]
			leave := w.leaves(f, k)
			for j, n := range s.contact.NoteIndices() {
				note := w.d.Notes[n]
				down := s.at
				up := leave
				if s.contact.Kind == drill.Roll {
					second := max(w.due(s.contact.Notes[1]), s.at)
					if j == 0 {
						up = min(up, second+rollOverlap)
					} else {
						down = second
					}
				}
				up = min(up, w.wanted(pad.Foot(f), note.Panel, down))
				up = max(up, down+span(w.body.Press))
				if note.Hold > 0 {
					up = max(up, w.grid.Due(0, int64(note.Slot)+int64(note.Hold)))
				}
				from := around(down, w.length)
				downs = append(downs, view.Down{Panel: note.Panel, Foot: pad.Foot(f), Note: int(n), From: from, Up: from + min(up-down, w.length)})
			}
		}
	}
	slices.SortStableFunc(downs, func(a, b view.Down) int { return cmp.Compare(a.From, b.From) })
	return downs
}

// leaves gives when a foot must leave its k-th contact for its next one, over the
// rep's edge where it is the last.
func (w *walker) leaves(f, k int) pad.Time {
	steps := w.feet[f]
	s, next := &steps[k], &steps[(k+1)%len(steps)]
	at := next.at
	if k+1 == len(steps) {
		at += w.length
	}
	way := math.Hypot(next.x-s.x, next.y-s.y) / 1000
	return at - span(w.body.Swing) - pad.Time(way*float64(span(w.body.SwingPerMetre)))
}

// wanted gives when foot f must be off a panel that it presses at down, because the
// other foot comes down there, or pad.Never.
func (w *walker) wanted(f pad.Foot, p pad.Panel, down pad.Time) pad.Time {
	first := pad.Never
	for i := range w.feet[f.Other()] {
		s := &w.feet[f.Other()][i]
		if !w.panels(s.contact).Has(p) {
			continue
		}
		at := s.at
		if at <= down {
			at += w.length
		}
		first = min(first, at-span(w.body.Swing))
	}
	return first
}

func span(d time.Duration) pad.Time { return pad.FromDuration(d) }

// around gives a moment in the loop, from 0 to below length.
func around(t, length pad.Time) pad.Time {
	t %= length
	if t < 0 {
		t += length
	}
	return t
}

// free gives the parts of the loop in which nothing is down, in order; the last one
// ends with the first press, a rep later.
func free(downs []view.Down, length pad.Time) (spans []view.Span) {
	if len(downs) == 0 {
		return nil
	}
	end := pad.Time(0) // up to which something is down, at first of the rep before
	for i := range downs {
		end = max(end, downs[i].Up-length)
	}
	for i := range downs {
		if from := downs[i].From; i > 0 && from > end {
			spans = append(spans, view.Span{From: end, To: from})
		}
		end = max(end, downs[i].Up)
	}
	if again := downs[0].From + length; again > end {
		from := around(end, length)
		spans = append(spans, view.Span{From: from, To: from + again - end})
	}
	return spans
}

// within tells whether one of the spans ends at t of the loop.
func within(spans []view.Span, t, length pad.Time) bool {
	return slices.ContainsFunc(spans, func(s view.Span) bool { return around(s.To, length) == t })
}
