package render

import (
	"image/color"
	"math"

	"heeltoe/footing/pad"
	"heeltoe/trainer/view"
)

// extent gives the rectangle that holds all panels and dead cells of a layout, mm.
func extent(l *pad.Layout) pad.Rect {
	e := l.Panels[0].Rect
	grow := func(r pad.Rect) {
		e.X0, e.Y0 = min(e.X0, r.X0), min(e.Y0, r.Y0)
		e.X1, e.Y1 = max(e.X1, r.X1), max(e.Y1, r.Y1)
	}
	for i := range l.Panels {
		grow(l.Panels[i].Rect)
	}
	for _, r := range l.Dead {
		grow(r)
	}
	return e
}

// planHead is the height of the line above the plan, in ems.
const planHead = 1.3

// flat gives the height of a layout by its width.
func (s *Screen) flat(l *pad.Layout) float32 {
	e := extent(l)
	return float32(e.Y1-e.Y0) / float32(e.X1-e.X0)
}

// planWidth gives how wide a plan of the height h is, at most most.
func (s *Screen) planWidth(v *view.Live, most, h float32) float32 {
	return snap(min(most, (h-s.u*planHead)/s.flat(v.Layout)))
}

// plan draws the pad from above, to scale: the panels, those that are pressed,
// the dead cells, where the next landing is to come down, and at rest what
// holding a panel does. keys, where given, are written into the panels, of
// which asked is marked.
func (s *Screen) plan(a area, v *view.Live, keys []string, asked int) {
	s.say(a.x, a.y+s.u*0.85, a.w, s.small(), s.th.Soft, atLeft, "pad from above, facing up")
	a.top(s.u * planHead)
	e := extent(v.Layout)
	k := min(a.w/float32(e.X1-e.X0), a.h/float32(e.Y1-e.Y0))
	if k <= 0 {
		return
	}
	place := func(r pad.Rect) area {
		x0, y0 := a.x+float32(r.X0-e.X0)*k, a.y+float32(e.Y1-r.Y1)*k
		return area{snap(x0), snap(y0), snap(x0+float32(r.X1-r.X0)*k) - snap(x0), snap(y0+float32(r.Y1-r.Y0)*k) - snap(y0)}
	}
	seam := max(1, s.pen)
	for _, r := range v.Layout.Dead {
		c := place(r)
		c.w -= seam
		c.h -= seam
		s.fill(c, s.th.Dead)
		s.frame(c, s.pen, s.th.Beat)
	}
	for i := range v.Layout.Panels {
		p := pad.Panel(i)
		c := place(v.Layout.Panels[i].Rect)
		c.w -= seam
		c.h -= seam
		m := min(c.w, c.h)
		if v.Down.Has(p) {
			s.fill(c, s.th.Down)
			s.frame(c, max(2*s.pen, snap(m*0.06)), s.th.Ink)
		} else {
			s.fill(c, s.th.Panel)
			s.frame(c, s.pen, s.th.Mark)
		}
		if i == asked {
			s.frame(c.inset(snap(m*0.06)), max(2*s.pen, snap(m*0.05)), s.th.Ink)
		}
		s.prints(c, m, p, v)
		s.cell(c, m, p, v, keys, i == asked)
	}
	// A foot on two panels: a bar from one to the other.
	for i := range v.Next {
		n := &v.Next[i]
		if n.Foot > pad.Right || n.Panels.Len() != 2 {
			continue
		}
		var at [2]area
		j := 0
		for p := range n.Panels.All() {
			if int(p) < len(v.Layout.Panels) {
				at[j] = place(v.Layout.Panels[p].Rect)
				j++
			}
		}
		if j == 2 {
			s.link(at[0], at[1], s.th.Edge[n.Foot])
		}
	}
}

// prints draws a foot's hatching along the inner edge of a panel that it is to
// come down on.
func (s *Screen) prints(c area, m float32, p pad.Panel, v *view.Live) {
	b := c.inset(snap(m * 0.07))
	for i := range v.Next {
		n := &v.Next[i]
		if !n.Panels.Has(p) || n.Foot > pad.Right {
			continue
		}
		t := snap(m * 0.1)
		pitch := m * 0.075
		s.footBand(area{b.x, b.y, b.w, t}, n.Foot, pitch)
		s.footBand(area{b.x, b.bottom() - t, b.w, t}, n.Foot, pitch)
		s.footBand(area{b.x, b.y + t, t, b.h - 2*t}, n.Foot, pitch)
		s.footBand(area{b.right() - t, b.y + t, t, b.h - 2*t}, n.Foot, pitch)
		s.frame(b, s.pen, s.th.Edge[n.Foot])
		b = b.inset(t)
		s.frame(b, s.pen, s.th.Edge[n.Foot])
	}
}

func (s *Screen) footBand(a area, f pad.Foot, pitch float32) {
	s.fill(a, s.th.Tint[f])
	s.hatch(a, f, pitch)
}

// cell writes into a panel: its id, the feet to come, its key, or what holding it does.
func (s *Screen) cell(c area, m float32, p pad.Panel, v *view.Live, keys []string, asked bool) {
	in := c.inset(snap(m * 0.1))
	if asked {
		in = in.inset(snap(m * 0.05))
	}
	count := 0
	for i := range v.Next {
		if v.Next[i].Panels.Has(p) && v.Next[i].Foot <= pad.Right {
			count++
			in = in.inset(snap(m * 0.11))
		}
	}
	for i := range v.Orders {
		if o := &v.Orders[i]; o.Panel == p {
			s.order(in, m, o)
			return
		}
	}
	// Both feet on one panel leave no room for its id.
	if count < 2 {
		s.id(&in, m, p, v)
	}
	if int(p) < len(keys) {
		text := keys[p]
		if text == "" {
			text = "–"
		}
		t, b := fit(Bold, int(min(m*0.3, in.h*0.8)), 9, in.w-m*0.06, text, s.buf)
		s.buf = b
		s.put(in.x, base(in, t), in.w, t, s.th.Ink, atMiddle, s.buf)
		return
	}

	if count == 0 {
		return
	}
	each := in.w / float32(count)
	side := snap(min(each*0.9, in.h, m*0.4))
	if side < 8 {
		return
	}
	j := 0
	for i := range v.Next {
		n := &v.Next[i]
		if !n.Panels.Has(p) || n.Foot > pad.Right {
			continue
		}
		chip := area{snap(in.x + each*(float32(j)+0.5) - side/2), snap(in.y + (in.h-side)/2), side, side}
		s.fill(chip, s.th.Ground)
		s.frame(chip, max(1, s.pen), s.th.Edge[n.Foot])
		t := Type{Bold, int(side * 0.8)}
		s.say(chip.x, base(chip, t), chip.w, t, s.th.Ink, atMiddle, footLetters[n.Foot])
		j++
	}
}

// id writes the id of a panel and takes its height from the area.
func (s *Screen) id(in *area, m float32, p pad.Panel, v *view.Live) {
	id, b := fit(Regular, int(max(10, min(m*0.19, s.u*1.2))), 9, in.w-1, v.Layout.Panels[p].ID, s.buf)
	s.buf = b
	s.put(in.x, in.y+float32(id.Size)*0.8, in.w, id, s.th.Ink, atLeft, s.buf)
	in.top(float32(id.Size) * 1.1)
}

var footLetters = [2]string{"L", "R"}

// order writes what holding a panel does, as large as it goes, in place of the
// panel's id, and how much of the hold has passed.
func (s *Screen) order(in area, m float32, o *view.Order) {
	bar := in.foot(max(3, snap(m*0.09)))
	s.frame(bar, s.pen, s.th.Mark)
	if share := float32(min(max(o.Share, 0), 1)); share > 0 {
		s.rect(bar.x, bar.y, bar.w*share, bar.h, s.th.Ink)
	}
	in.foot(snap(m * 0.03))
	t, lines := s.fitLines(in, int(max(9, min(m*0.3, s.u*2))), o.Text)
	if lines > 0 {
		s.wrap(in.x, in.y+float32(t.Size)*0.9, in.w, float32(t.Size)*lineStep, lines, t, s.th.Ink, o.Text)
	}
}

// lineStep is from line to line of a few words, in ems.
const lineStep = 1.1

// fitLines gives the largest bold type, from most down, at which the words of a text
// fit into a in lines, and how many lines these are: where none does, as many
// lines of the smallest as fit.
func (s *Screen) fitLines(a area, most int, text string) (t Type, lines int) {
	const least = 9
	for t = (Type{Bold, most}); ; t.Size-- {
		room := int((a.h-float32(t.Size)*0.1)/(float32(t.Size)*lineStep) + 0.01)
		lines = s.wrap(0, 0, a.w, float32(t.Size), 5, t, nothing, text)
		if t.Size <= least {
			return t, max(0, min(lines, room))
		}
		if lines <= room && lines < 5 && s.widest(t, text) <= a.w-1 {
			return t, lines
		}
	}
}

// widest gives the width of the widest word of a text.
func (s *Screen) widest(t Type, text string) (w float32) {
	for i := 0; i < len(text); {
		j := i
		for j < len(text) && !blank(text[j]) {
			j++
		}
		w = max(w, s.width(t, text[i:j]))
		i = j + 1
	}
	return w
}

// link draws a bar between two panels, from inside the edge of one to inside
// the edge of the other, where no third panel lies between, so that it crosses
// no text.
func (s *Screen) link(a, b area, c color.RGBA) {
	ax, ay := a.x+a.w/2, a.y+a.h/2
	bx, by := b.x+b.w/2, b.y+b.h/2
	dx, dy := bx-ax, by-ay
	far, near := max(dx, -dx), max(dy, -dy)
	if near > far {
		far, near = near, far
	}
	m := min(a.w, a.h)
	if far < 1 || far > 1.2*m && (near > 0.2*m || far > 2.3*m) {
		return
	}
	k := 0.33 * m / far
	ax, ay, bx, by = ax+dx*k, ay+dy*k, bx-dx*k, by-dy*k
	length := float32(math.Hypot(float64(dx), float64(dy)))
	nx, ny := -dy/length*m*0.045, dx/length*m*0.045
	s.corners[0] = Point{ax + nx, ay + ny}
	s.corners[1] = Point{bx + nx, by + ny}
	s.corners[2] = Point{bx - nx, by - ny}
	s.corners[3] = Point{ax - nx, ay - ny}
	s.c.Polygon(s.corners[:4], c)
}
