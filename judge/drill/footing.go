package drill

import (
	"fmt"
	"strings"

	"heeltoe/footing/pad"
)

// ContactKind is how one foot comes down.
type ContactKind uint8

// Kinds of contact.
const (
	Step    ContactKind = iota // one foot, one panel
	Bracket                    // one foot, two panels at once
	Roll                       // one foot, two panels in turn, without lifting the whole foot between them
)

func (k ContactKind) String() string {
	switch k {
	case Step:
		return "step"
	case Bracket:
		return "bracket"
	}
	return "roll"
}

// Contact is one foot coming down on one panel or, in a bracket or a roll, on two.
type Contact struct {
	Foot    pad.Foot
	Kind    ContactKind
	Landing int      // counted from 0 within the rep; contacts of one landing come down as one movement
	Notes   [2]int32 // indices into Drill.Notes; a step uses the first only
}

// NoteIndices gives the notes that c plays, one or two.
func (c *Contact) NoteIndices() []int32 {
	if c.Kind == Step {
		return c.Notes[:1]
	}
	return c.Notes[:]
}

// parseFooting reads contacts in order: foot, ":", panels joined by "&"
// (bracket) or ">" (roll); contacts of one landing in parentheses. Each note of
// the rep is played once; a contact takes the earliest note of its panel that
// none before it took; landings begin in due order. In a landing each foot
// comes down once and no panel is pressed twice.
func parseFooting(d *Drill, text string) ([]Contact, error) {
	bad := func(at int, format string, args ...any) error {
		return &Fault{Key: "footing", Offset: at, Msg: fmt.Sprintf(format, args...)}
	}
	next := make([][]int32, len(d.Layout.Panels)) // notes of each panel, not yet played
	for i, n := range d.Notes {
		next[n.Panel] = append(next[n.Panel], int32(i))
	}
	var contacts []Contact
	landing, open, inside := -1, false, 0
	began := int32(-1)     // first slot of the landing before
	start := int32(-1)     // first slot of this landing
	var feet [2]bool       // that come down in this landing
	var under pad.PanelSet // panels of this landing
	played := 0
	for i := 0; i < len(text); {
		switch c := text[i]; {
		case isBlank(c):
			i++
			continue
		case c == '(':
			if open {
				return nil, bad(i, "a landing stands within a landing")
			}
			open, inside = true, 0
			landing++
			began, start = max(began, start), -1
			feet, under = [2]bool{}, 0
			i++
			continue
		case c == ')':
			if !open || inside == 0 {
				return nil, bad(i, "this ) closes no landing")
			}
			open = false
			i++
			continue
		}
		at := i
		for i < len(text) && !isBlank(text[i]) && text[i] != '(' && text[i] != ')' {
			i++
		}
		token := text[at:i]
		if !open {
			landing++
			began, start = max(began, start), -1
			feet, under = [2]bool{}, 0
		}
		inside++
		c := Contact{Landing: landing}
		foot, panels, ok := strings.Cut(token, ":")
		switch {
		case ok && foot == "L":
			c.Foot = pad.Left
		case ok && foot == "R":
			c.Foot = pad.Right
		default:
			return nil, bad(at, "%s is not a contact: it begins with L: or R:", quote(token))
		}
		if feet[c.Foot] {
			return nil, bad(at, "foot %s comes down twice in one landing", c.Foot)
		}
		feet[c.Foot] = true
		ids := []string{panels}
		if a, b, ok := strings.Cut(panels, "&"); ok {
			c.Kind, ids = Bracket, []string{a, b}
		} else if a, b, ok := strings.Cut(panels, ">"); ok {
			c.Kind, ids = Roll, []string{a, b}
		}
		pos := at + 2
		for j, id := range ids {
			p, ok := d.Layout.Lookup(id)
			if !ok {
				return nil, bad(pos, "%s is not a panel of the layout %s", quote(id), d.Layout.Name)
			}
			if under.Has(p) {
				return nil, bad(pos, "panel %s stands twice in one landing", id)
			}
			under = under.With(p)
			if len(next[p]) == 0 {
				return nil, bad(pos, "the steps have no note on %s left to play here", id)
			}
			c.Notes[j] = next[p][0]
			next[p] = next[p][1:]
			played++
			slot := d.Notes[c.Notes[j]].Slot
			if start < 0 || slot < start {
				start = slot
			}
			pos += len(id) + 1
		}
		if c.Kind == Roll && d.Notes[c.Notes[0]].Slot > d.Notes[c.Notes[1]].Slot {
			return nil, bad(at, "this roll plays its second panel before its first")
		}
		if start < began {
			return nil, bad(at, "this landing begins at slot %d, the one before it at slot %d: write landings in due order", start, began)
		}
		contacts = append(contacts, c)
	}
	if open {
		return nil, bad(len(text), "a landing's ) is missing")
	}
	if played < len(d.Notes) {
		first := int32(len(d.Notes))
		for _, left := range next {
			if len(left) > 0 {
				first = min(first, left[0])
			}
		}
		n := d.Notes[first]
		return nil, bad(len(text), "note %d (%s in slot %d) is played by no contact", first, d.Layout.ID(n.Panel), n.Slot)
	}
	return contacts, nil
}

// FootingText writes contacts as the footing of a drill file.
func FootingText(d *Drill, contacts []Contact) string {
	var b strings.Builder
	for i := 0; i < len(contacts); {
		j := i
		for j < len(contacts) && contacts[j].Landing == contacts[i].Landing {
			j++
		}
		if i > 0 {
			b.WriteByte(' ')
		}
		if j-i > 1 {
			b.WriteByte('(')
		}
		for k := i; k < j; k++ {
			if k > i {
				b.WriteByte(' ')
			}
			c := &contacts[k]
			b.WriteString(c.Foot.String())
			b.WriteByte(':')
			b.WriteString(d.Layout.ID(d.Notes[c.Notes[0]].Panel))
			switch c.Kind {
			case Bracket:
				b.WriteByte('&')
			case Roll:
				b.WriteByte('>')
			default:
				continue
			}
			b.WriteString(d.Layout.ID(d.Notes[c.Notes[1]].Panel))
		}
		if j-i > 1 {
			b.WriteByte(')')
		}
		i = j
	}
	return b.String()
}
