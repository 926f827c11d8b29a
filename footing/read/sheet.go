package read

import (
	"math"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// sheet is what there is to score in a rep of a drill, whatever was pressed: every term
// that some candidate has, each once. Candidates share most of theirs, so that a
// rep is scored by all of them in little more time than by one.
type sheet struct {
	d        *drill.Drill
	cands    []candidate
	contacts []contact    // each that some candidate has, whichever foot makes it
	centres  [][2]float64 // metres: where the foot of each stands, midway between its panels
	terms    []termSpec

	// between[e][h][x] has the terms over a rep's edge, of a candidate whose tail is of class e before
	// one whose head is of class h, x 1 where the feet exchange; the last h is for nothing after it:
	// of each foot's release, and of the middle of the first landing after it.
	between [][][2][3]int32

	// aim[span] is how long after its first due moment a landing is aimed that gathers
	// notes so many slots apart.
	aim map[int32]pad.Time

	panelDwell [pad.MaxPanels]Param // of each panel that the drill uses, below PanelDwell where it has none

	contactAt map[contact]int32
	termAt    map[termSpec]int32
}

// contact is a drill.Contact whichever foot makes it.
type contact struct {
	kind  drill.ContactKind
	notes [2]int32
}

func (c *contact) noteIndices() []int32 {
	if c.kind == drill.Step {
		return c.notes[:1]
	}
	return c.notes[:]
}

// termSpec says what a term is about: contacts of the sheet, or none.
type termSpec struct {
	kind        termKind
	a, b        int32    // of a release b is the next of the same foot
	across      bool     // b is in the next rep; of a landing's middle a and b are, and before is not
	other       int32    // of a release: the next of the other foot, where it comes before b
	otherAcross bool     // which is in the next rep
	before      [2]int32 // of a landing's middle: the contacts of the landing before, or none
}

// about is the spec of a term about one or two contacts of a rep.
func about(kind termKind, a, b int32) termSpec {
	return termSpec{kind: kind, a: a, b: b, other: none, before: [2]int32{none, none}}
}

// missTerm is a constTerm about a contact's notes without a press.
const missTerm = constTerm

// newSheet prepares the terms of all candidates.
func newSheet(d *drill.Drill, cands []candidate) *sheet {
	used := PanelDwell
	s := &sheet{d: d, cands: cands, aim: make(map[int32]pad.Time), contactAt: make(map[contact]int32), termAt: make(map[termSpec]int32)}
	for i := range d.Notes {
		if at := &s.panelDwell[d.Notes[i].Panel]; *at == 0 && used < params {
			*at = used
			used++
		}
	}
	tails, heads := make(map[edge]int32), make(map[edge]int32)
	var tailOf, headOf []edge
	class := func(of map[edge]int32, list *[]edge, p edge) int32 {
		i, ok := of[p]
		if !ok {
			i = int32(len(*list))
			of[p] = i
			*list = append(*list, p)
		}
		return i
	}
	for i := range cands {
		c := &cands[i]
		s.add(c)
		c.ends = class(tails, &tailOf, c.tail)
		c.heads = class(heads, &headOf, c.head)
	}
	headOf = append(headOf, edge{[2]int32{none, none}, [2]int32{none, none}, [2]int32{none, none}})
	s.between = make([][][2][3]int32, len(tailOf))
	for e := range tailOf {
		s.between[e] = make([][2][3]int32, len(headOf))
		for h := range headOf {
			for x := range 2 {
				for f := range 2 {
					s.between[e][h][x][f] = s.over(&tailOf[e], &headOf[h], f, x)
				}
				s.between[e][h][x][2] = s.first(&headOf[h], tailOf[e].landing, true)
			}
		}
	}
	return s
}

// edge is how a rep begins or ends: by foot the contact next to the rep's edge, or
// none, and of a beginning its place in the rep, of an end the contact of the
// other foot that comes after it in the rep, or none.
// landing has the contacts of its first landing, or of its last.
type edge struct{ contact, beside, landing [2]int32 }

// first gives the term of the middle of a beginning's landing, none where there is no landing; where across it
// is that of the rep after, and before has the contacts of the landing before it.
func (s *sheet) first(head *edge, before [2]int32, across bool) int32 {
	if head.landing[0] == none {
		return none
	}
	t := s.middle(head.landing)
	t.before, t.across = before, across
	return s.term(t)
}

// middle is the spec of the middle of a landing of one contact or two.
func (s *sheet) middle(of [2]int32) termSpec {
	if low, high := s.span(of[0], of[1]); low != high {
		return about(gatherTerm, of[0], of[1])
	}
	return about(middleTerm, of[0], of[1])
}

// over gives the term of the release of foot f over a rep's edge, none where it has no contact
// before it; the feet exchange where x is 1.
func (s *sheet) over(tail, head *edge, f, x int) int32 {
	if tail.contact[f] == none {
		return none
	}
	same, other := f^x, f^x^1
	t := about(releaseTerm, tail.contact[f], head.contact[same])
	t.across, t.other = true, tail.beside[f]
	if t.other == none && head.contact[other] != none && (t.b == none || head.beside[other] < head.beside[same]) {
		t.other, t.otherAcross = head.contact[other], true
	}
	return s.term(t)
}

// after gives the class of heads that stands for nothing after a rep.
func (s *sheet) after() int32 { return int32(len(s.between[0])) - 1 }

func (s *sheet) contact(c *drill.Contact) int32 {
	k := contact{c.Kind, c.Notes}
	switch {
	case k.kind == drill.Step:
		k.notes[1] = 0
	case k.kind == drill.Bracket && k.notes[0] > k.notes[1]:
		k.notes[0], k.notes[1] = k.notes[1], k.notes[0]
	}
	i, ok := s.contactAt[k]
	if !ok {
		i = int32(len(s.contacts))
		s.contactAt[k] = i
		s.contacts = append(s.contacts, k)
		s.centres = append(s.centres, s.centre(&k))
	}
	return i
}

func (s *sheet) term(t termSpec) int32 {
	i, ok := s.termAt[t]
	if !ok {
		i = int32(len(s.terms))
		s.termAt[t] = i
		s.terms = append(s.terms, t)
	}
	return i
}

// add puts a candidate's terms on the sheet.
func (s *sheet) add(c *candidate) {
	ids := make([]int32, len(c.contacts))
	for i := range c.contacts {
		ids[i] = s.contact(&c.contacts[i])
	}
	c.ids = ids
	c.head, c.tail = edgesOf(c.contacts, ids)
	put := func(t termSpec) { c.terms = append(c.terms, s.term(t)) }
	for i := 0; i < len(ids); {
		k := i + 1 // past the landing's last contact
		for k < len(ids) && c.contacts[k].Landing == c.contacts[i].Landing {
			k++
		}
		a, b := ids[i], int32(none)
		if k == i+2 {
			b = ids[i+1]
			put(about(feetTerm, a, b))
		}
		landing := [2]int32{a, b}
		middle := s.middle(landing)
		if middle.kind == gatherTerm {
			low, high := s.span(a, b)
			for _, aim := range c.aims {
				if aim.Landing == c.contacts[i].Landing {
					s.aim[high-low] = aim.Aim
				}
			}
		}
		if i == 0 {
			c.head.landing = landing
			c.first = s.first(&c.head, [2]int32{none, none}, false)
		} else {
			middle.before = c.tail.landing
			put(middle)
		}
		c.tail.landing = landing
		for ; i < k; i++ {
			put(about(missTerm, ids[i], none))
			switch c.contacts[i].Kind {
			case drill.Bracket:
				put(about(bracketTerm, ids[i], none))
				put(about(partTerm, ids[i], none))
			case drill.Roll:
				put(about(lagTerm, ids[i], none))
				put(about(overlapTerm, ids[i], none))
			}
			t := about(releaseTerm, ids[i], none)
			for n := k; n < len(ids); n++ {
				if c.contacts[n].Foot == c.contacts[i].Foot {
					t.b = ids[n]
					break
				}
				if t.other == none && (n+1 == len(ids) || c.contacts[n+1].Landing != c.contacts[n].Landing || c.contacts[n+1].Foot != c.contacts[i].Foot) {
					t.other = ids[n]
				}
			}
			if t.b != none { // else it is one over the rep's edge
				put(t)
			}
		}
	}
}

// struck gives the notes of a contact that come down with its landing: of a roll
// the first alone.
func (s *sheet) struck(c int32) []int32 {
	if k := &s.contacts[c]; k.kind != drill.Roll {
		return k.noteIndices()
	}
	return s.contacts[c].notes[:1]
}

// span gives the slots of the first and the last note that a landing strikes.
func (s *sheet) span(a, b int32) (low, high int32) {
	low = math.MaxInt32
	for _, c := range [2]int32{a, b} {
		if c == none {
			continue
		}
		for _, n := range s.struck(c) {
			low, high = min(low, s.d.Notes[n].Slot), max(high, s.d.Notes[n].Slot)
		}
	}
	return low, high
}

// ownDwell gives the parameters of the dwell on the panels that a contact leaves last.
func (s *sheet) ownDwell(k *contact) (of [2]Param) {
	notes := k.noteIndices()
	if k.kind == drill.Roll {
		notes = notes[1:]
	}
	for i := range of {
		at := s.d.Notes[notes[i%len(notes)]].Panel
		of[i] = s.panelDwell[at]
	}
	if of[0] < PanelDwell || of[1] < PanelDwell {
		return [2]Param{}
	}
	return of
}

// way gives how far it is from contact a to contact b, in metres.
func (s *sheet) way(a, b int32) float64 {
	return math.Hypot(s.centres[a][0]-s.centres[b][0], s.centres[a][1]-s.centres[b][1])
}

// centre gives where the foot of a contact stands, in metres.
func (s *sheet) centre(k *contact) (at [2]float64) {
	notes := k.noteIndices()
	for _, n := range notes {
		x, y := s.d.Layout.Panels[s.d.Notes[n].Panel].Rect.Centre()
		at[0], at[1] = at[0]+x/1000/float64(len(notes)), at[1]+y/1000/float64(len(notes))
	}
	return at
}
