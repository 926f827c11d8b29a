package footing

import (
	"encoding/binary"
	"slices"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// Technique labels contacts that play the notes of d by the first of these that holds:
//
//   - foot-switch: every landing is a bracket on the same two panels, each by the
//     other foot than the last; or one panel struck by the feet in turn;
//   - hop: a landing gathers notes of different slots;
//   - roll: a contact is a roll;
//   - double-step: one foot makes two contacts in a row, not over the rep's edge;
//   - jump: a landing takes both feet;
//   - alternate.
//
// A landing of both feet stands between two contacts of one of them: they are not in a row.
func Technique(d *drill.Drill, contacts []drill.Contact) string {
	switched := len(contacts) > 1
	var hop, roll, double, jump bool
	was := footSet(0)
	for c := range landingsOf(contacts) {
		var feet footSet
		first, last := int32(-1), int32(-1)
		for i := range c {
			feet |= 1 << c[i].Foot
			roll = roll || c[i].Kind == drill.Roll
			for j, n := range c[i].NoteIndices() {
				if c[i].Kind == drill.Roll && j == 1 {
					continue
				}
				slot := d.Notes[n].Slot
				if first < 0 || slot < first {
					first = slot
				}
				last = max(last, slot)
			}
		}
		hop = hop || first != last
		jump = jump || feet == bothFeet
		double = double || feet == was && feet != bothFeet
		switched = switched && feet != bothFeet && feet != was && c[0].Kind != drill.Roll && panelsOf(d, &c[0]) == panelsOf(d, &contacts[0])
		was = feet
	}
	switch {
	case switched:
		return "foot-switch"
	case hop:
		return "hop"
	case roll:
		return "roll"
	case double:
		return "double-step"
	case jump:
		return "jump"
	}
	return "alternate"
}

// SameKind tells whether two footings of d are one way to play it: the same
// landings of the same notes by the same kinds of contact, and where one foot
// after one foot comes down, the same one or the other one in both. So these are no
// different ways: left and right exchanged all through, or the two feet of one
// landing exchanged, and what follows with them up to the next such landing.
func SameKind(a, b []drill.Contact) bool { return kindOf(a) == kindOf(b) }

// kindOf gives equal strings for footings of one kind.
func kindOf(contacts []drill.Contact) string {
	var key []byte
	was := footSet(0)
	for c := range landingsOf(contacts) {
		var feet footSet
		parts := make([][]byte, 0, 2)
		for i := range c {
			feet |= 1 << c[i].Foot
			notes := slices.Clone(c[i].NoteIndices())
			if c[i].Kind == drill.Bracket {
				slices.Sort(notes)
			}
			part := []byte{byte(c[i].Kind), byte(len(notes))}
			for _, n := range notes {
				part = binary.BigEndian.AppendUint32(part, uint32(n))
			}
			parts = append(parts, part)
		}
		slices.SortFunc(parts, slices.Compare)
		key = append(key, byte(len(parts)), byte(relation(was, feet)))
		for _, p := range parts {
			key = append(key, p...)
		}
		was = feet
	}
	return string(key)
}

// How the feet of a landing follow those of the one before.
const (
	withBoth  = iota // one of the landings takes both, or there is none before
	sameFoot         // the same foot alone
	otherFoot        // the other foot alone
)

// relation gives which of them it is.
func relation(was, now footSet) uint32 {
	switch {
	case was == 0 || was == bothFeet || now == bothFeet:
		return withBoth
	case was == now:
		return sameFoot
	}
	return otherFoot
}

// landingsOf yields the contacts of each landing.
func landingsOf(contacts []drill.Contact) func(yield func([]drill.Contact) bool) {
	return func(yield func([]drill.Contact) bool) {
		for i := 0; i < len(contacts); {
			j := i
			for j < len(contacts) && contacts[j].Landing == contacts[i].Landing {
				j++
			}
			if !yield(contacts[i:j]) {
				return
			}
			i = j
		}
	}
}

func panelsOf(d *drill.Drill, c *drill.Contact) (s pad.PanelSet) {
	for _, n := range c.NoteIndices() {
		s = s.With(d.Notes[n].Panel)
	}
	return s
}
