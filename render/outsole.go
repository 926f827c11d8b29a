package render

import (
	"image/color"
	"math"

	"heeltoe/footing/pad"
	"heeltoe/trainer/view"
)

// A foot is drawn as its sole's two parts, ball and heel, so that one sees which
// way it points. The corners are of a right foot, in shares of the width from the
// middle and of the length from the middle to the toes, anticlockwise; both are convex.
var soleParts = [2][]Point{
	{{-0.34, -0.07}, {0.30, -0.07}, {0.43, 0.06}, {0.49, 0.20}, {0.45, 0.33}, {0.32, 0.43}, {0.14, 0.48},
		{-0.06, 0.50}, {-0.24, 0.48}, {-0.38, 0.42}, {-0.46, 0.32}, {-0.49, 0.18}, {-0.44, 0.03}},
	{{0.30, -0.16}, {-0.30, -0.16}, {-0.36, -0.27}, {-0.33, -0.38}, {-0.22, -0.46}, {-0.08, -0.50}, {0.08, -0.50},
		{0.22, -0.46}, {0.33, -0.38}, {0.36, -0.27}},
}

// ballAt is the middle of the ball's part, as a share of the length from the middle.
const ballAt = 0.21

// most corners of a part, and of what a stripe leaves of it.
const mostCorners = 20

// floorplan places millimetres of a layout on the page.
type floorplan struct {
	x, y float32 // of the layout's lower left corner
	k    float32 // pixels a mm
	e    pad.Rect
}

func (m *floorplan) at(x, y float64) Point {
	return Point{m.x + float32(x-float64(m.e.X0))*m.k, m.y - float32(y-float64(m.e.Y0))*m.k}
}

func (m *floorplan) rect(r pad.Rect) area {
	p, q := m.at(float64(r.X0), float64(r.Y1)), m.at(float64(r.X1), float64(r.Y0))
	x, y := snap(p.X), snap(p.Y)
	return area{x, y, snap(q.X) - x, snap(q.Y) - y}
}

// solePart gives the corners of a part of an outsole, appended to into, less d pixels all round.
func (m *floorplan) solePart(into []Point, o *view.Outsole, part int, d float32) []Point {
	sin, cos := math.Sincos(o.TurnDeg * math.Pi / 180)
	mx, my := float32(0), float32(0) // the part's middle
	for _, q := range soleParts[part] {
		mx, my = mx+q.X/float32(len(soleParts[part])), my+q.Y/float32(len(soleParts[part]))
	}
	// Half the part's sizes in pixels, from which d is taken.
	half := [2]Point{{0.49, 0.285}, {0.36, 0.17}}[part]
	kx := max(0, 1-d/(half.X*float32(o.WidthMM)*m.k))
	ky := max(0, 1-d/(half.Y*float32(o.LengthMM)*m.k))
	for _, q := range soleParts[part] {
		u := float64(mx+(q.X-mx)*kx) * o.WidthMM
		v := float64(my+(q.Y-my)*ky) * o.LengthMM
		if o.Foot == pad.Left {
			u = -u
		}
		into = append(into, m.at(o.X+u*cos-v*sin, o.Y+u*sin+v*cos))
	}
	return into
}

// along gives a place on an outsole, a share of its length from the middle.
func (m *floorplan) along(o *view.Outsole, share float64) Point {
	sin, cos := math.Sincos(o.TurnDeg * math.Pi / 180)
	return m.at(o.X-sin*o.LengthMM*share, o.Y+cos*o.LengthMM*share)
}

// sole draws a foot: hatched where it comes down, an outline where it last stood.
func (s *Screen) sole(m *floorplan, o *view.Outsole, down bool, pitch float32) {
	if o.Foot > pad.Right {
		return
	}
	var buf [mostCorners]Point
	for part := range soleParts {
		pen := s.pen
		if down {
			pen *= 1.5
		}
		s.c.Polygon(m.solePart(buf[:0], o, part, 0), s.th.Edge[o.Foot])
		inner := m.solePart(buf[:0], o, part, pen)
		if !down {
			s.c.Polygon(inner, s.th.Ground)
			continue
		}
		s.c.Polygon(inner, s.th.Tint[o.Foot])
		s.hatchWithin(inner, o.Foot, pitch)
	}
}

// hatchWithin covers a convex polygon with the stripes of a foot, as hatch does a
// rectangle. Stripes of one page lie on one grid.
func (s *Screen) hatchWithin(corners []Point, f pad.Foot, pitch float32) {
	sign := float32(1)
	if f == pad.Right {
		sign = -1
	}
	lo, hi := float32(math.Inf(1)), float32(math.Inf(-1))
	for _, q := range corners {
		lo, hi = min(lo, q.X+sign*q.Y), max(hi, q.X+sign*q.Y)
	}
	var one, two [mostCorners]Point
	thick := pitch * 0.45
	for u := pitch * float32(floor(lo/pitch)); u < hi && s.stripes > 0; u += pitch {
		p := beyond(one[:0], corners, 1, sign, u)
		p = beyond(two[:0], p, -1, -sign, -(u + thick))
		if len(p) >= 3 {
			s.stripes--
			s.c.Polygon(p, s.th.Foot[f])
		}
	}
}

// beyond gives the part of a convex polygon where a·x + b·y is at least u, appended to into.
func beyond(into, corners []Point, a, b, u float32) []Point {
	for i, q := range corners {
		next := corners[(i+1)%len(corners)]
		d, e := a*q.X+b*q.Y-u, a*next.X+b*next.Y-u
		if d >= 0 {
			into = append(into, q)
		}
		if d > 0 && e < 0 || d < 0 && e > 0 {
			t := d / (d - e)
			into = append(into, Point{q.X + t*(next.X-q.X), q.Y + t*(next.Y-q.Y)})
		}
	}
	return into
}

// touches tells whether a part of the outsole comes into a.
func (m *floorplan) touches(o *view.Outsole, a area) bool {
	var one, two [mostCorners]Point
	for part := range soleParts {
		p := m.solePart(one[:0], o, part, 0)
		p = beyond(two[:0], p, 1, 0, a.x)
		p = beyond(one[:0], p, -1, 0, -a.right())
		p = beyond(two[:0], p, 0, 1, a.y)
		p = beyond(one[:0], p, 0, -1, -a.bottom())
		if len(p) >= 3 {
			return true
		}
	}
	return false
}

// chip writes a text on a ground of its own, in the middle of a.
func (s *Screen) chip(a area, t Type, edge color.RGBA, text string) {
	s.fill(a, s.th.Ground)
	s.frame(a, max(1, s.pen), edge)
	s.say(a.x, base(a, t), a.w, t, s.th.Ink, atMiddle, text)
}
