package footing

import (
	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// Stances tells how a body stands and steps on a layout, for whoever has presses and no drill: the
// same places, turns and times by which footings are judged. It is read only.
type Stances struct{ g *ground }

// Place is where a foot can be: over one panel, or over two in a bracket or in a roll.
type Place uint16

// Nowhere is the place of a foot that has pressed nothing yet.
const Nowhere = Place(nowhere)

// NewStances works out all places and stances of a body on a layout.
func NewStances(l *pad.Layout, b Body) *Stances {
	return &Stances{newGround(&drill.Drill{Layout: l}, &b, nil)}
}

// Place gives the place of a contact over the panels given, false where no foot gets there.
func (s *Stances) Place(kind drill.ContactKind, panels pad.PanelSet) (Place, bool) {
	p, ok := s.g.placeOf(kind, panels)
	return Place(p), ok
}

// Stand gives what the turn of the hips adds to the load of a landing after which the feet are at
// these places, in the unit of Footing.Load; which feet can turn as their places ask; and whether
// they are further apart than feet that both press can be.
func (s *Stances) Stand(left, right Place) (load float64, can [2]bool, wide bool) {
	st := s.g.stance([2]place{place(left), place(right)})
	return st.load, st.can, st.apartMM > s.g.body.StanceMM
}

// Contact gives what a contact at a place, which is not Nowhere, adds to the load by its kind.
func (s *Stances) Contact(at Place) (load float64) {
	spot := &s.g.spots[at]
	switch spot.kind {
	case drill.Bracket:
		load = weightBracket
	case drill.Roll:
		load = weightRoll
	}
	if spot.long {
		load += weightLong
	}
	return load
}

// Haste gives what a contact adds to the load by how little time a foot has for its way, and whether
// that is less than the body needs. The foot was not at Nowhere; haveUS is the time since its last
// press in microseconds, and row how many times it has come down alone in a row before, 0 where the
// other foot has come down since.
func (s *Stances) Haste(from, to Place, haveUS float64, row int) (load float64, late bool) {
	b := s.g.body
	limit := b.Cycle
	if row > 0 {
		limit = b.Alone[min(row, len(b.Alone))-1]
	}
	way := s.g.distance(place(from), place(to)) / 1000
	need := max(microseconds(limit), microseconds(b.Press+b.Swing)+microseconds(b.SwingPerMetre)*way)
	haste := min(need/max(min(haveUS, restedUS), 1), mostHaste)
	return weightHaste * haste * haste, haveUS < need-timeEps
}
