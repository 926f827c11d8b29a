package footing

import (
	"slices"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// The space of footings that is searched. The notes of a rep are taken slot by slot; a
// slot of more than four notes, which two feet cannot press at once, is cut
// after each four. A landing plays all notes of one or of a few such groups in a
// row, at most four notes on as many panels, and in one of these ways:
//
//   - one foot or both press them all at once, each foot one panel or two (a bracket);
//     groups of different slots are gathered so only if they span no more
//     than twice the outer band at the drill's tempo;
//   - of two groups, one foot or each rolls from a note of the first to one of the
//     second, and the other foot presses what else the first has.
//
// So landings do not interleave, and none reaches over the rep's edge. A pair of panels is
// bracketed or rolled only if a foot can lie over it, unless joined notes leave no other
// way. One foot comes down at most mostRunFree times in a row while the other one could play,
// unless the filters leave no other way.
const mostRunFree = 3

// most notes and groups of a landing.
const mostNotes = 4

// vocabulary is a part of the space.
type vocabulary uint8

const (
	everything vocabulary = iota
	ungathered            // no landing gathers notes of different slots
	stepped               // nor is any contact a roll
	inTurn                // nor does a foot come down twice in a row within the rep
)

// plainer are the vocabularies that are less than everything.
var plainer = []vocabulary{ungathered, stepped, inTurn}

// has tells whether a landing belongs to v.
func (v vocabulary) has(ln *landing) bool {
	return v == everything || ln.span == 0 && (v == ungathered || !ln.rolls())
}

// option is a landing that can come next.
type option struct {
	landing
	next int32  // group after it
	comp uint32 // the same for landings at this group that differ only in which foot does what
}

// groupsOf cuts the notes of d into groups: those of a slot, at most four in one.
func groupsOf(d *drill.Drill) (groups [][]int32) {
	for i := range d.Notes {
		n := len(groups)
		if n > 0 && len(groups[n-1]) < mostNotes && d.Notes[groups[n-1][0]].Slot == d.Notes[i].Slot {
			groups[n-1] = append(groups[n-1], int32(i))
		} else {
			groups = append(groups, []int32{int32(i)})
		}
	}
	return groups
}

// part is what one foot does in a landing, whichever foot it is.
type part struct {
	kind  drill.ContactKind
	notes [2]int32
}

func partOf(notes []int32) part {
	p := part{notes: [2]int32{notes[0], 0}}
	if len(notes) == 2 {
		p.kind, p.notes[1] = drill.Bracket, notes[1]
	}
	return p
}

// splits gives the ways to press notes at once by one foot or by two: a way has one part or two.
func splits(notes []int32) (ways [][]part) {
	if len(notes) <= 2 {
		ways = append(ways, []part{partOf(notes)})
	}
	// The first note's foot takes it alone or with one other; the rest is the other foot's.
	for with := range notes {
		a, b := []int32{notes[0]}, slices.Clone(notes[1:])
		if with > 0 {
			a = append(a, notes[with])
			b = slices.Delete(b, with-1, with)
		}
		if len(b) == 1 || len(b) == 2 {
			ways = append(ways, []part{partOf(a), partOf(b)})
		}
	}
	return ways
}

// rolls gives the ways in which every note of the second group ends a roll from
// the first, and the rest of the first is pressed by a foot that is left.
func rolls(first, second []int32) (ways [][]part) {
	roll := func(a, b int32) part { return part{drill.Roll, [2]int32{a, b}} }
	switch {
	case len(second) == 1 && len(first) <= 3:
		for i, n := range first {
			way := []part{roll(n, second[0])}
			if rest := slices.Delete(slices.Clone(first), i, i+1); len(rest) > 0 {
				way = append(way, partOf(rest))
			}
			ways = append(ways, way)
		}
	case len(second) == 2 && len(first) == 2:
		ways = append(ways, []part{roll(first[0], second[0]), roll(first[1], second[1])},
			[]part{roll(first[0], second[1]), roll(first[1], second[0])})
	}
	return ways
}

// optionsAt gives the landings that can begin with a group.
func (w *walk) optionsAt(groups [][]int32, at int, filter *Filter) (options []option) {
	var notes []int32
	var panels pad.PanelSet
	comp := uint32(0)
	add := func(ways [][]part, next int, anyhow bool) {
		for _, way := range ways {
			if filter.NoLongShoe && w.long(way) || !anyhow && !w.reached(way) {
				continue
			}
			comp++
			for f := range pad.Foot(2) {
				if o, ok := w.option(way, f, filter); ok {
					o.next, o.comp = int32(next), comp
					options = append(options, o)
				}
			}
		}
	}
	for next := at + 1; next <= len(groups) && next-at <= mostNotes; next++ {
		group := groups[next-1]
		for _, n := range group {
			p := w.d.Notes[n].Panel
			if panels.Has(p) {
				return options
			}
			panels = panels.With(p)
		}
		if next == at+2 && w.d.Notes[group[0]].Slot > w.d.Notes[groups[at][0]].Slot {
			add(rolls(groups[at], group), next, false)
		}
		notes = append(notes, group...)
		if len(notes) > mostNotes {
			return options
		}
		if span := w.d.Notes[group[0]].Slot - w.d.Notes[notes[0]].Slot; float64(span)*2*w.half <= 2*w.outer+timeEps {
			ways := splits(notes)
			add(ways, next, next == at+1 && !w.anyReached(ways))
		}
	}
	return options
}

// over gives the place of a bracket or a roll, and false where it is none of the ground's.
func (w *walk) over(p part) (*spot, bool) {
	at, ok := w.ground.placeOf(p.kind, pad.SetOf(w.d.Notes[p.notes[0]].Panel, w.d.Notes[p.notes[1]].Panel))
	if !ok {
		return nil, false
	}
	return &w.ground.spots[at], true
}

// reached tells whether a foot can be over the panels of each part.
func (w *walk) reached(way []part) bool {
	for _, p := range way {
		if p.kind != drill.Step {
			if s, ok := w.over(p); !ok || !s.can {
				return false
			}
		}
	}
	return true
}

// long tells whether some part asks for a long foot.
func (w *walk) long(way []part) bool {
	for _, p := range way {
		if p.kind != drill.Step {
			if s, ok := w.over(p); ok && s.long {
				return true
			}
		}
	}
	return false
}

// anyReached tells whether feet can do one of the ways.
func (w *walk) anyReached(ways [][]part) bool { return slices.ContainsFunc(ways, w.reached) }

// option gives the landing whose first part foot f does, and false where the
// filter wants another foot on a panel.
func (w *walk) option(way []part, f pad.Foot, filter *Filter) (o option, ok bool) {
	contacts := make([]drill.Contact, 0, 2)
	for i, p := range way {
		c := drill.Contact{Foot: f ^ pad.Foot(i), Kind: p.kind, Notes: p.notes}
		for _, n := range c.NoteIndices() {
			if want, ok := filter.Foot[w.d.Notes[n].Panel]; ok && want != c.Foot {
				return o, false
			}
		}
		contacts = append(contacts, c)
	}
	slices.SortFunc(contacts, func(a, b drill.Contact) int { return int(a.Foot) - int(b.Foot) })
	o.landing = w.newLanding(contacts, nil)
	return o, true
}

// lastResorts gives brackets that no foot can do, for joined notes that two
// feet cannot press in any other way: so that every drill has a footing, and the reason why
// it fails can be said.
func lastResorts(d *drill.Drill, g *ground, groups [][]int32) (contacts []drill.Contact) {
	w := &walk{d: d, ground: g}
	for _, group := range groups {
		if w.anyReached(splits(group)) {
			continue
		}
		for i, a := range group {
			for _, b := range group[:i] {
				contacts = append(contacts, drill.Contact{Kind: drill.Bracket, Notes: [2]int32{b, a}})
			}
		}
	}
	return contacts
}
