package drill

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"heeltoe/footing/pad"
)

// StepsText writes notes as the steps of a drill file with the number of slots given.
func StepsText(l *pad.Layout, notes []Note, slots int64) string {
	tokens := make([]string, slots)
	for _, n := range notes {
		t := &tokens[n.Slot]
		if *t != "" {
			*t += "+"
		}
		*t += l.ID(n.Panel)
		if n.Hold > 0 {
			*t += "=" + strconv.Itoa(int(n.Hold))
		}
	}
	for i, t := range tokens {
		if t == "" {
			tokens[i] = "."
		}
	}
	return strings.Join(tokens, " ")
}

// The marks that changes leave at the end of a drill's name, in this order.
var nameMarks = []string{", mirrored", ", reversed", ", within a stream"}

// rename gives name with mark at its end, or without it where it was there and
// twice undoes the change. A name that would be too long is cut before its marks.
func rename(name, mark string, twiceUndoes bool) string {
	has := make(map[string]bool)
	for cut := true; cut; {
		cut = false
		for _, m := range nameMarks {
			if rest, ok := strings.CutSuffix(name, m); ok && strings.TrimSpace(rest) != "" {
				name, has[m], cut = rest, true, true
			}
		}
	}
	has[mark] = !has[mark] || !twiceUndoes
	tail := ""
	for _, m := range nameMarks {
		if has[m] {
			tail += m
		}
	}
	for len(name)+len(tail) > MaxNameBytes {
		_, size := utf8.DecodeLastRuneInString(name)
		name = name[:len(name)-size]
	}
	return name + tail
}

// Mirror gives the drill with left and right exchanged, feet too. It fails
// where the layout is not symmetrical.
func (d *Drill) Mirror() (*Drill, error) {
	notes := slices.Clone(d.Notes)
	for i := range notes {
		p, ok := d.Layout.Mirror(notes[i].Panel)
		if !ok {
			return nil, fmt.Errorf("the layout %s is not symmetrical: it has no mirror image", d.Layout.Name)
		}
		notes[i].Panel = p
	}
	s := d.Spec
	s.Name = rename(s.Name, ", mirrored", true)
	s.Steps = StepsText(d.Layout, notes, d.Slots)
	if d.Footing != nil {
		contacts := slices.Clone(d.Footing)
		for i := range contacts {
			contacts[i].Foot = contacts[i].Foot.Other()
		}
		m := *d
		m.Notes = notes
		s.Footing = FootingText(&m, contacts)
	}
	return New(s, d.Layout)
}

// Reverse gives the drill played from its end to its start. A held panel goes
// down where it came up before; a roll goes the other way. It fails where a
// hold reaches past the rep's end, and where landings interleave on one panel
// so that their reverse cannot be written.
func (d *Drill) Reverse() (*Drill, error) {
	notes := make([]Note, len(d.Notes))
	for i, n := range d.Notes {
		last := int64(n.Slot) + int64(max(n.Hold, 1)) - 1
		if last >= d.Slots {
			return nil, fmt.Errorf("panel %s is held past the end of the rep: the drill cannot be reversed", d.Layout.ID(n.Panel))
		}
		n.Slot = int32(d.Slots - 1 - last)
		notes[i] = n
	}
	order := make([]int, len(notes)) // new index to old
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return int(notes[a].Slot - notes[b].Slot) })
	place := make([]int32, len(notes)) // old index to new
	sorted := make([]Note, len(notes))
	for i, o := range order {
		place[o], sorted[i] = int32(i), notes[o]
	}
	s := d.Spec
	s.Name = rename(s.Name, ", reversed", true)
	s.Steps = StepsText(d.Layout, sorted, d.Slots)
	if d.Footing != nil {
		r := *d
		r.Notes = sorted
		contacts := reverseContacts(d.Footing, place, sorted)
		s.Footing = FootingText(&r, contacts)
		// A footing names panels, not notes: make sure that it is read as it was meant.
		if back, err := parseFooting(&r, s.Footing); err != nil || !slices.Equal(back, contacts) {
			return nil, errors.New("landings of the footing interleave on one panel: their reverse cannot be written")
		}
	}
	return New(s, d.Layout)
}

func reverseContacts(old []Contact, place []int32, notes []Note) []Contact {
	contacts := slices.Clone(old)
	for i := range contacts {
		c := &contacts[i]
		switch c.Kind {
		case Step:
			c.Notes[0] = place[c.Notes[0]]
		case Roll:
			a, b := place[c.Notes[1]], place[c.Notes[0]]
			if notes[a].Slot > notes[b].Slot { // held notes: the last to come up goes down first
				a, b = b, a
			}
			c.Notes = [2]int32{a, b}
		case Bracket:
			c.Notes = [2]int32{place[c.Notes[0]], place[c.Notes[1]]}
		}
	}
	// Landings in the order of their first slots.
	first := make(map[int]int32)
	for _, c := range contacts {
		for _, n := range c.NoteIndices() {
			if f, ok := first[c.Landing]; !ok || notes[n].Slot < f {
				first[c.Landing] = notes[n].Slot
			}
		}
	}
	slices.SortStableFunc(contacts, func(a, b Contact) int {
		if f := int(first[a.Landing] - first[b.Landing]); f != 0 {
			return f
		}
		return a.Landing - b.Landing
	})
	landing, was := -1, -1
	for i := range contacts {
		if contacts[i].Landing != was {
			was = contacts[i].Landing
			landing++
		}
		contacts[i].Landing = landing
	}
	return contacts
}

// Within gives the drill with each rep wrapped in notes that lead in and out,
// since a pattern that works in a loop may fail inside a stream. Both are steps
// as in a drill file. The footing is dropped, since it does not name the new notes.
func (d *Drill) Within(leadIn, leadOut string) (*Drill, error) {
	s := d.Spec
	s.Name = rename(s.Name, ", within a stream", false)
	s.Steps = strings.Join([]string{leadIn, d.Steps, leadOut}, " | ")
	s.Footing = ""
	return New(s, d.Layout)
}

// WithReps gives the drill with another number of reps.
func (d *Drill) WithReps(reps int64) (*Drill, error) {
	s := d.Spec
	s.Reps = reps
	return New(s, d.Layout)
}

// WithTempo gives the drill at another tempo in beats a minute.
func (d *Drill) WithTempo(bpm float64) (*Drill, error) {
	s := d.Spec
	s.BPM = bpm
	return New(s, d.Layout)
}

// WithFooting gives the drill with contacts that play its notes as the footing to
// practise, and the technique that they are.
func (d *Drill) WithFooting(contacts []Contact, technique string) (*Drill, error) {
	s := d.Spec
	s.Footing, s.Technique = FootingText(d, contacts), technique
	return New(s, d.Layout)
}
