package footing

import (
	"slices"

	"heeltoe/judge/drill"
)

// image says how a drill's steps look the same from elsewhere: note i stands where
// note (i + by) mod n stood, its panel the same or its mirror image.
type image struct {
	by       int
	mirrored bool
}

// mostImages limits the work for steps that look the same from very many places.
const mostImages = 64

// imagesOf gives the ways in which the steps of d look the same from elsewhere, in
// space or in the loop.
func imagesOf(d *drill.Drill) (images []image) {
	for by := range d.Notes {
		for _, mirrored := range []bool{false, true} {
			if m := (image{by, mirrored}); m != (image{}) && len(images) < mostImages && m.holds(d) {
				images = append(images, m)
			}
		}
	}
	return images
}

// holds tells whether d looks so.
func (m image) holds(d *drill.Drill) bool {
	n := len(d.Notes)
	rep := d.RepSlots()
	shift := int64(d.Notes[m.by].Slot) - int64(d.Notes[0].Slot)
	for i := range d.Notes {
		a, b := d.Notes[i], d.Notes[(i+m.by)%n]
		slot := int64(a.Slot) + shift
		if i+m.by >= n {
			slot -= rep
		}
		p := a.Panel
		if m.mirrored {
			q, ok := d.Layout.Mirror(p)
			if !ok {
				return false
			}
			p = q
		}
		if slot != int64(b.Slot) || a.Hold != b.Hold || p != b.Panel {
			return false
		}
	}
	return true
}

// of gives the image of a footing, or nil where a landing of it would reach over
// the rep's edge.
func (m image) of(d *drill.Drill, contacts []drill.Contact) []drill.Contact {
	n := int32(len(d.Notes))
	all := slices.Clone(contacts)
	first := 0 // contact of the landing that comes first
	for i := range all {
		c := &all[i]
		over := false
		for k := range c.NoteIndices() {
			c.Notes[k] += int32(m.by)
			if over = c.Notes[k] >= n; over {
				c.Notes[k] -= n
			}
		}
		if m.mirrored {
			c.Foot = c.Foot.Other()
		}
		if i > 0 && first == 0 && over {
			first = i
		}
	}
	all = append(all[first:], all[:first]...)
	landing, was := -1, -1
	for i := range all {
		c := &all[i]
		if c.Landing != was {
			landing, was = landing+1, c.Landing
		}
		c.Landing = landing
	}
	if !inOrder(all) {
		return nil
	}
	return all
}

// inOrder tells whether every landing's notes come after those of the landing before.
func inOrder(contacts []drill.Contact) bool {
	last := int32(-1)
	for c := range landingsOf(contacts) {
		high := last
		for i := range c {
			for _, n := range c[i].NoteIndices() {
				if n <= last {
					return false
				}
				high = max(high, n)
			}
		}
		last = high
	}
	return true
}

// shorter gives the shortest pattern that the rep of d repeats, as a drill, and how often;
// nil where it repeats none.
func shorter(d *drill.Drill) (s *drill.Drill, times int) {
	n := len(d.Notes)
	for by := 1; by <= n/2; by++ {
		if n%by != 0 || !(image{by, false}).holds(d) {
			continue
		}
		slots := int64(d.Notes[by].Slot - d.Notes[0].Slot)
		notes := slices.Clone(d.Notes[:by])
		if int64(notes[by-1].Slot) >= slots { // it does not begin in the rep's first slot
			first := notes[0].Slot
			for i := range notes {
				notes[i].Slot -= first
			}
		}
		spec := drill.Spec{Name: d.Name, Layout: d.Spec.Layout, BPM: d.BPM, PerBeat: d.PerBeat, Reps: 2, Steps: drill.StepsText(d.Layout, notes, slots)}
		s, err := drill.New(spec, d.Layout)
		if err != nil {
			return nil, 0
		}
		return s, n / by
	}
	return nil, 0
}

// repeated gives contacts for a pattern of n notes that comes several times.
func repeated(contacts []drill.Contact, n, times int) (all []drill.Contact) {
	landings := contacts[len(contacts)-1].Landing + 1
	for k := range times {
		for _, c := range contacts {
			c.Landing += k * landings
			for i := range c.NoteIndices() {
				c.Notes[i] += int32(k * n)
			}
			all = append(all, c)
		}
	}
	return all
}
