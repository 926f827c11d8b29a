package footing

import (
	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// landing is contacts that come down as one movement, prepared for walking.
// Moments are in half slots from the start of the rep, since a landing of two slots
// comes down between them.
type landing struct {
	contacts [2]drill.Contact // by foot, where feet has it
	feet     footSet
	place    [2]place
	end2     [2]int64 // moment of the foot's last press: for a roll that of its second panel
	at2      int64    // moment of the landing: midway between its first note and its last
	to       int32    // slot of its last note, a roll's second one included
	span     int32    // slots between the first and the last note that are struck together
	from     int32    // slot of the first note
	panels   pad.PanelSet
	hold     bool // some note is to be held

	load   float64 // what it adds to the load whatever came before
	faults int     // and what is wrong with it by itself
}

// footSet is a set of feet: bit f is foot f.
type footSet uint8

const bothFeet footSet = 3

func (s footSet) has(f pad.Foot) bool { return s>>f&1 == 1 }

// rolls tells whether a foot rolls in the landing.
func (ln *landing) rolls() bool {
	return ln.contacts[pad.Left].Kind == drill.Roll || ln.contacts[pad.Right].Kind == drill.Roll
}

// newLanding prepares the contacts of one landing, one or two. It reports
// what is wrong with the landing by itself to t.
func (w *walk) newLanding(contacts []drill.Contact, t *trace) landing {
	ln := landing{from: -1}
	last := int32(-1)
	strike := func(slot int32) {
		if ln.from < 0 || slot < ln.from {
			ln.from = slot
		}
		last = max(last, slot)
	}
	for i := range contacts {
		c := &contacts[i]
		f := c.Foot
		ln.contacts[f] = *c
		ln.feet |= 1 << f
		var panels pad.PanelSet
		for _, n := range c.NoteIndices() {
			note := w.d.Notes[n]
			panels = panels.With(note.Panel)
			ln.to = max(ln.to, note.Slot)
			ln.hold = ln.hold || note.Hold > 0
		}
		ln.panels |= panels
		strike(w.d.Notes[c.Notes[0]].Slot)
		if c.Kind == drill.Bracket {
			strike(w.d.Notes[c.Notes[1]].Slot)
		}
		p, _ := w.ground.placeOf(c.Kind, panels)
		ln.place[f] = p
		s := &w.ground.spots[p]
		switch c.Kind {
		case drill.Bracket:
			ln.load += weightBracket
		case drill.Roll:
			ln.load += weightRoll
		}
		if s.long {
			ln.load += weightLong
		}
		if c.Kind == drill.Roll {
			lag := w.d.Notes[c.Notes[1]].Slot - w.d.Notes[c.Notes[0]].Slot
			ln.faults += w.need(t, 2*int64(lag), w.rollLag, "a roll")
		}
	}
	ln.span = last - ln.from
	ln.at2 = int64(ln.from) + int64(last)
	for i := range contacts {
		c := &contacts[i]
		ln.end2[c.Foot] = ln.at2
		if c.Kind == drill.Roll {
			ln.end2[c.Foot] = max(ln.at2, 2*int64(w.d.Notes[c.Notes[1]].Slot))
		}
	}
	if ln.feet == bothFeet {
		ln.load += weightBoth
	}
	if ln.span > 0 {
		ratio := float64(ln.span) * 2 * w.half / w.outer
		if w.outer == 0 {
			ratio = mostHaste
		}
		ln.load += weightGather * min(ratio, mostHaste) * min(ratio, mostHaste)
		ln.faults += w.gathered(t, &ln)
	}
	return ln
}
