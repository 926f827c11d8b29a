package footing

import (
	"cmp"
	"errors"
	"math"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// Footing is one way to play a drill, with what it asks.
type Footing struct {
	Contacts  []drill.Contact
	Technique string
	Landings  int

	// Feasible is at the drill's tempo with the outer band; WhyNot says in words
	// what fails.
	Feasible bool
	WhyNot   []string

	// Tempo has for each band the tempi at which the footing works and all notes
	// can be in the band.
	Tempo [3]Range

	// Aims has an entry for each landing that gathers notes of different slots.
	Aims []Aim

	// FacingDeg is how the player faces after each landing, in degrees anticlockwise
	// from straight ahead, -180 to 180; NaN where the feet do not tell.
	// MaxTurnDeg is the largest of them without its sign, 0 to 180.
	FacingDeg  []float64
	MaxTurnDeg float64

	// Load orders footings: the lower, the easier at the drill's tempo. It has no unit.
	Load float64

	// EffortJ is a rough estimate of the work of moving the legs for one rep, in
	// joules: see the package's comment.
	EffortJ float64

	faults int // how many things fail
}

// Compare orders footings of one drill: below 0 where a is better. Of two, the one
// of which fewer things fail is better, of equals the one with less load.
func Compare(a, b *Footing) int {
	return cmp.Or(cmp.Compare(a.faults, b.faults), cmp.Compare(a.Load, b.Load))
}

// Check says what a footing written by hand asks of a body: contacts as in
// Drill.Footing, in order of their landings, each note of d played once.
func Check(d *drill.Drill, contacts []drill.Contact, body Body, windows drill.Windows) (*Footing, error) {
	if err := body.Check(); err != nil {
		return nil, err
	}
	if err := windows.Check(); err != nil {
		return nil, err
	}
	if err := whole(d, contacts); err != nil {
		return nil, err
	}
	w := newWalk(d, groundOf(d, &body, contacts), windows)
	return w.check(contacts, windows), nil
}

// whole tells what keeps contacts from being a footing of d.
func whole(d *drill.Drill, contacts []drill.Contact) error {
	played := make([]bool, len(d.Notes))
	landing := -1
	var feet footSet
	for i := range contacts {
		c := &contacts[i]
		if c.Foot > pad.Right || c.Kind > drill.Roll || c.Landing < landing {
			return errors.New("a contact has no such foot or kind, or landings are out of order")
		}
		if c.Landing != landing {
			feet = 0
		}
		if feet.has(c.Foot) {
			return errors.New("a foot comes down twice in one landing")
		}
		feet |= 1 << c.Foot
		landing = c.Landing
		for _, n := range c.NoteIndices() {
			if int(n) >= len(played) || n < 0 || played[n] {
				return errors.New("a note is played twice, or there is none")
			}
			played[n] = true
		}
		if c.Kind != drill.Step && d.Notes[c.Notes[0]].Panel == d.Notes[c.Notes[1]].Panel {
			return errors.New("a bracket or roll takes two panels")
		}
	}
	for _, p := range played {
		if !p {
			return errors.New("a note is played by no contact")
		}
	}
	return nil
}

// mostReps is how many reps a walk takes at most until the feet stand at the end
// as they stood at the start.
const mostReps = 6

// check walks contacts round the loop and sums up what was met.
func (w *walk) check(contacts []drill.Contact, windows drill.Windows) *Footing {
	t := &trace{}
	var lns []landing
	load, faults := 0.0, 0
	for c := range landingsOf(contacts) {
		lns = append(lns, w.newLanding(c, t))
	}
	s := start()
	from := int32(0)
	for i := range lns {
		from = max(from, lns[i].to)
	}
	from -= int32(w.d.RepSlots())
	for range mostReps {
		was := s
		at := from
		for i := range lns {
			before := s
			w.advance(&before, &s, at, &lns[i], nil)
			at = max(at, lns[i].to)
		}
		if s = w.nextRep(s); s == was {
			break
		}
	}
	for i := range lns {
		before := s
		l, n, _ := w.advance(&before, &s, from, &lns[i], t)
		load, faults = load+l, faults+n
		from = max(from, lns[i].to)
	}
	f := &Footing{Contacts: contacts, Technique: Technique(w.d, contacts), Landings: len(lns),
		Feasible: faults == 0, WhyNot: t.why, FacingDeg: t.facing, Load: load, EffortJ: t.effort, faults: faults}
	for _, a := range t.facing {
		if !math.IsNaN(a) {
			f.MaxTurnDeg = max(f.MaxTurnDeg, math.Abs(a))
		}
	}
	f.Tempo = w.tempi(lns, t.bounds, windows)
	for i := range lns {
		if lns[i].span > 0 {
			f.Aims = append(f.Aims, aimOf(i, spanUS(w.d, lns[i].span), windows))
		}
	}
	return f
}
