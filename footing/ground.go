package footing

import (
	"math"
	"slices"
	"sync"
	"sync/atomic"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// place is where a foot can be: over one panel, over two at once, or over two in
// turn. It is an index into ground.places.
type place uint16

// nowhere is the place of a foot that has pressed nothing yet: it rests on some dead cell.
const nowhere place = math.MaxUint16

// spot is what is known of a place. The foot stands in the middle between its
// panels' centres.
type spot struct {
	kind   drill.ContactKind
	panels pad.PanelSet
	x, y   float64 // mm
	long   bool    // only a long foot gets there
	can    bool    // some foot gets there at some angle
	feet   [2]over // how each foot gets there
}

// stance is what follows from where the two feet are.
type stance struct {
	facing  float64 // degrees anticlockwise from straight ahead, -180 to 180
	faces   bool    // false where the feet are at one point or nowhere: then it faces anywhere
	can     [2]bool // each foot can turn as its place asks
	apartMM float64
	load    float64 // of the turn
}

// ground is every place of a layout that a body's feet can reach, and every stance on them.
type ground struct {
	layout  *pad.Layout
	body    *Body
	spots   []spot
	stances []stance // by left place × len(spots) + right place
	alone   []stance // by the place of a foot while the other one is nowhere; the last for both nowhere
	index   map[spotKey]place
}

type spotKey struct {
	kind   drill.ContactKind
	panels pad.PanelSet
}

// reachKey is all that a reach depends on.
type reachKey struct {
	layout                *pad.Layout
	longest, width, cover float64
}

var reaches sync.Map // reachKey to *reach: the same for every drill and for shoes of about one length

func reachOf(l *pad.Layout, b *Body) *reach {
	const step = 50 // mm: shoes of about one length share what was worked out
	key := reachKey{l, math.Ceil((b.ShoeMM+b.PivotMM)/step) * step, b.ShoeWidthMM, b.CoverMM}
	if r, ok := reaches.Load(key); ok {
		return r.(*reach)
	}
	r, _ := reaches.LoadOrStore(key, newReach(l, b, key.longest))
	return r.(*reach)
}

// latest is the ground that was made last, since most plans are for one body.
var latest atomic.Pointer[ground]

// groundOf gives the places that can be reached and, beside them, those of the
// contacts given, whether they can or not.
func groundOf(d *drill.Drill, body *Body, contacts []drill.Contact) *ground {
	if g := latest.Load(); g != nil && g.layout == d.Layout && *g.body == *body && g.has(d, contacts) {
		return g
	}
	g := newGround(d, body, contacts)
	if contacts == nil {
		latest.Store(g)
	}
	return g
}

// has tells whether the ground has a place for each contact.
func (g *ground) has(d *drill.Drill, contacts []drill.Contact) bool {
	for i := range contacts {
		if _, ok := g.placeOf(contacts[i].Kind, panelsOf(d, &contacts[i])); !ok {
			return false
		}
	}
	return true
}

func newGround(d *drill.Drill, body *Body, contacts []drill.Contact) *ground {
	l, own := d.Layout, *body
	body = &own
	g := &ground{layout: l, body: body, index: make(map[spotKey]place)}
	for p, plate := range l.Panels {
		x, y := plate.Rect.Centre()
		g.add(spot{kind: drill.Step, panels: pad.SetOf(pad.Panel(p)), x: x, y: y, can: true, feet: [2]over{{can: true}, {can: true}}})
	}
	r := reachOf(l, body)
	pairs := make([][2]pad.Panel, 0, len(r.need))
	for pair := range r.need {
		pairs = append(pairs, pair)
	}
	pairs = append(pairs, body.Pairs.reached(l)...)
	slices.SortFunc(pairs, func(a, b [2]pad.Panel) int { return (int(a[0])-int(b[0]))*pad.MaxPanels + int(a[1]) - int(b[1]) })
	pairs = slices.Compact(pairs)
	for _, pair := range pairs {
		for _, kind := range []drill.ContactKind{drill.Bracket, drill.Roll} {
			if s := g.pair(r, kind, pair[0], pair[1]); s.can {
				g.add(s)
			}
		}
	}
	for i := range contacts {
		if !g.has(d, contacts[i:i+1]) {
			c := &contacts[i]
			a, b := d.Notes[c.Notes[0]].Panel, d.Notes[c.Notes[1]].Panel
			g.add(g.pair(r, c.Kind, min(a, b), max(a, b)))
		}
	}
	g.stances = make([]stance, len(g.spots)*len(g.spots))
	for i := range g.spots {
		for j := range g.spots {
			g.stances[i*len(g.spots)+j] = g.newStance(&g.spots[i], &g.spots[j])
		}
	}
	g.alone = make([]stance, len(g.spots)+1)
	for i := range g.spots {
		g.alone[i].can = [2]bool{g.spots[i].feet[pad.Left].can, g.spots[i].feet[pad.Right].can}
	}
	return g
}

func (g *ground) add(s spot) {
	g.index[spotKey{s.kind, s.panels}] = place(len(g.spots))
	g.spots = append(g.spots, s)
}

// pair gives the spot over two panels, in a bracket or in a roll.
func (g *ground) pair(r *reach, kind drill.ContactKind, a, b pad.Panel) spot {
	ax, ay := g.layout.Panels[a].Rect.Centre()
	bx, by := g.layout.Panels[b].Rect.Centre()
	s := spot{kind: kind, panels: pad.SetOf(a, b), x: (ax + bx) / 2, y: (ay + by) / 2,
		long: gap(g.layout, a, b, 0) > g.body.LongGapMM}
	need := r.need[[2]pad.Panel{a, b}]
	length := g.body.ShoeMM
	if kind == drill.Roll {
		length += g.body.PivotMM
	}
	for f := range pad.Foot(2) {
		can, measured := g.body.Pairs.Has(g.layout, f, s.panels)
		switch {
		case measured && can:
			s.feet[f] = overMeasured(need, length)
		case measured && kind == drill.Bracket: // that a roll gets no further is not said by that
		case need != nil:
			s.feet[f] = overAt(need, length)
		}
		s.can = s.can || s.feet[f].can
	}
	return s
}

func (g *ground) newStance(l, r *spot) stance {
	dx, dy := r.x-l.x, r.y-l.y
	st := stance{apartMM: math.Hypot(dx, dy), can: [2]bool{l.feet[pad.Left].can, r.feet[pad.Right].can}}
	if st.apartMM == 0 {
		return st
	}
	// The player faces square to the line from the left foot to the right one.
	st.facing, st.faces = math.Atan2(dy, dx)*180/math.Pi, true
	st.load = weightTurn * (st.facing / 90) * (st.facing / 90)
	b := g.body
	st.can[pad.Left] = l.feet[pad.Left].canTurn(st.facing-b.ToeInDeg, st.facing+b.ToeOutDeg)
	st.can[pad.Right] = r.feet[pad.Right].canTurn(st.facing-b.ToeOutDeg, st.facing+b.ToeInDeg)
	return st
}

// canTurn tells whether toes can point somewhere from one angle to another.
func (o *over) canTurn(from, to float64) bool {
	if !o.can || o.angles == nil {
		return o.can
	}
	for a := int(math.Ceil(from)); a <= int(math.Floor(to)); a++ {
		if o.angles[((a%180)+180)%180] {
			return true
		}
	}
	return false
}

// stance gives what follows from the feet's places.
func (g *ground) stance(at [2]place) *stance {
	l, r := at[pad.Left], at[pad.Right]
	switch {
	case l == nowhere && r == nowhere:
		return &g.alone[len(g.spots)]
	case l == nowhere:
		return &g.alone[r]
	case r == nowhere:
		return &g.alone[l]
	}
	return &g.stances[int(l)*len(g.spots)+int(r)]
}

// distance gives the way between two places, in mm.
func (g *ground) distance(a, b place) float64 {
	if a == nowhere {
		return 0
	}
	return g.stances[int(a)*len(g.spots)+int(b)].apartMM
}

// placeOf gives the place of a contact of notes on the panels given.
func (g *ground) placeOf(kind drill.ContactKind, panels pad.PanelSet) (place, bool) {
	p, ok := g.index[spotKey{kind, panels}]
	return p, ok
}
