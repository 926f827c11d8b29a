package pad

import (
	"fmt"
	"strings"
)

// Rect is an upright rectangle seen from above, in millimetres: X grows to the
// right and Y the way the player faces.
type Rect struct{ X0, Y0, X1, Y1 int32 }

// Centre gives the middle of r, in millimetres.
func (r Rect) Centre() (x, y float64) {
	return float64(r.X0+r.X1) / 2, float64(r.Y0+r.Y1) / 2
}

// Plate is one panel of a layout: its id and where it lies.
type Plate struct {
	ID   string
	Rect Rect
}

// Layout is the panels of a pad, or of two side by side, and where they lie.
// The order of Panels is the order in which they are listed everywhere.
// A Layout is not changed once made.
type Layout struct {
	Name   string
	Panels []Plate
	Dead   []Rect // cells where a foot can rest unseen

	byID   map[string]Panel
	mirror []Panel
}

// Sizes of the built-in layouts, in millimetres (common practice, no source).
const (
	CellMM   = 280 // side of a cell of the 3 × 3 grid
	SecondMM = 860 // from the left edge of the first pad to that of the second
)

// NewLayout makes a layout of the panels and dead cells given. It fails where
// there is no panel or more than MaxPanels, where an id is empty, used twice or
// holds a character that the drill format needs for itself, or where a
// rectangle has no area.
func NewLayout(name string, panels []Plate, dead []Rect) (*Layout, error) {
	if len(panels) == 0 || len(panels) > MaxPanels {
		return nil, fmt.Errorf("a layout has 1 to %d panels, this one has %d", MaxPanels, len(panels))
	}
	l := &Layout{Name: name, Panels: panels, Dead: dead, byID: make(map[string]Panel, len(panels))}
	for i, p := range panels {
		if p.ID == "" || len(p.ID) > 16 || strings.ContainsAny(p.ID, " \t\r\n.+=|&>():\"\\") {
			return nil, fmt.Errorf("%q cannot be a panel's id: it takes 1 to 16 characters, none of them blank or one of the signs that steps and footings use", p.ID)
		}
		if _, ok := l.byID[p.ID]; ok {
			return nil, fmt.Errorf("two panels are called %q", p.ID)
		}
		if p.Rect.X1 <= p.Rect.X0 || p.Rect.Y1 <= p.Rect.Y0 {
			return nil, fmt.Errorf("panel %q has no area", p.ID)
		}
		l.byID[p.ID] = Panel(i)
	}
	l.mirror = mirrorOf(panels)
	return l, nil
}

// mirrorOf pairs each panel with the one that lies where its mirror image
// would, left and right exchanged. It gives nil where a panel has no such partner.
func mirrorOf(panels []Plate) []Panel {
	x0, x1 := panels[0].Rect.X0, panels[0].Rect.X1
	at := make(map[Rect]Panel, len(panels))
	for i, p := range panels {
		x0, x1 = min(x0, p.Rect.X0), max(x1, p.Rect.X1)
		at[p.Rect] = Panel(i)
	}
	m := make([]Panel, len(panels))
	for i, p := range panels {
		r := p.Rect
		r.X0, r.X1 = x0+x1-p.Rect.X1, x0+x1-p.Rect.X0
		q, ok := at[r]
		if !ok {
			return nil
		}
		m[i] = q
	}
	return m
}

// Lookup gives the panel called id.
func (l *Layout) Lookup(id string) (Panel, bool) {
	p, ok := l.byID[id]
	return p, ok
}

// ID gives the id of p, or "?" where the layout has no such panel.
func (l *Layout) ID(p Panel) string {
	if int(p) >= len(l.Panels) {
		return "?"
	}
	return l.Panels[p].ID
}

// IDs gives the ids of the panels in s, joined by sep, in the layout's order.
func (l *Layout) IDs(s PanelSet, sep string) string {
	var b strings.Builder
	for p := range s.All() {
		if b.Len() > 0 {
			b.WriteString(sep)
		}
		b.WriteString(l.ID(p))
	}
	return b.String()
}

// Mirror gives the panel that lies where p would with left and right
// exchanged, and false where the layout is not symmetrical.
func (l *Layout) Mirror(p Panel) (Panel, bool) {
	if l.mirror == nil || int(p) >= len(l.mirror) {
		return NoPanel, false
	}
	return l.mirror[p], true
}

// onePad gives the five panels and four dead cells of a pad whose left edge is
// at x mm, ids begun with prefix, in the order nw sw c ne se.
func onePad(prefix string, x int32) ([]Plate, []Rect) {
	cell := func(col, row int32) Rect {
		return Rect{x + col*CellMM, row * CellMM, x + (col+1)*CellMM, (row + 1) * CellMM}
	}
	return []Plate{
			{prefix + "nw", cell(0, 2)},
			{prefix + "sw", cell(0, 0)},
			{prefix + "c", cell(1, 1)},
			{prefix + "ne", cell(2, 2)},
			{prefix + "se", cell(2, 0)},
		}, []Rect{
			cell(0, 1), cell(1, 0), cell(1, 2), cell(2, 1),
		}
}

func mustLayout(name string, panels []Plate, dead []Rect) *Layout {
	l, err := NewLayout(name, panels, dead)
	if err != nil {
		panic(err)
	}
	return l
}

// The built-in layouts: one pad of five panels, and two side by side.
var (
	Single = func() *Layout {
		p, d := onePad("", 0)
		return mustLayout("single", p, d)
	}()
	Double = func() *Layout {
		p1, d1 := onePad("1", 0)
		p2, d2 := onePad("2", SecondMM)
		return mustLayout("double", append(p1, p2...), append(d1, d2...))
	}()
)

// ByName gives the built-in layout called name.
func ByName(name string) (*Layout, bool) {
	switch name {
	case Single.Name:
		return Single, true
	case Double.Name:
		return Double, true
	}
	return nil, false
}
