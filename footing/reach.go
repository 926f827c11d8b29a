package footing

import (
	"math"

	"heeltoe/footing/pad"
)

// point is a place on the floor in mm, or a way between two.
type point struct{ x, y float64 }

func (a point) minus(b point) point { return point{a.x - b.x, a.y - b.y} }
func (a point) cross(b point) float64 {
	return a.x*b.y - a.y*b.x
}

// polygon is convex, its corners anticlockwise.
type polygon []point

// endSides is the number of sides by which each round end of an outsole is
// drawn, about the arc: at a radius of 55 mm at most 0.7 mm outside it.
const endSides = 10

// outsole gives a foot's outline about its middle, toes at deg anticlockwise
// from straight ahead. The length must be above the width.
func outsole(length, width, deg float64) polygon {
	sin, cos := math.Sincos(deg * math.Pi / 180)
	y := (length - width) / 2
	r := width / 2 / math.Cos(math.Pi/2/endSides)
	p := make(polygon, 0, 2*endSides+2)
	for end := range 2 {
		for i := range endSides + 1 {
			a := math.Pi * (float64(end) + float64(i)/endSides)
			q := point{r * math.Cos(a), r * math.Sin(a)}
			if end == 0 {
				q.y += y
			} else {
				q.y -= y
			}
			p = append(p, point{q.x*cos - q.y*sin, q.x*sin + q.y*cos})
		}
	}
	return p
}

// placesOver gives where the middle of a foot with the outline given can be so
// that it presses the panel: the panel less its cover, widened by the outline
// (their Minkowski sum; the outline is symmetrical about its middle).
func placesOver(r pad.Rect, cover float64, outline polygon) polygon {
	x0, y0 := float64(r.X0)+cover, float64(r.Y0)+cover
	x1, y1 := float64(r.X1)-cover, float64(r.Y1)-cover
	sum := make(polygon, 0, len(outline)+4)
	n := len(outline)
	start := 0 // the outline's lowest corner, of those the leftmost
	for i, p := range outline {
		if p.y < outline[start].y || p.y == outline[start].y && p.x < outline[start].x {
			start = i
		}
	}
	// The sides of the sum are those of both, in order of their direction.
	rect := polygon{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}}
	for i, j := 0, 0; i < n || j < 4; {
		p, q := outline[(start+i)%n], rect[j%4]
		sum = append(sum, point{p.x + q.x, p.y + q.y})
		turn := outline[(start+i+1)%n].minus(p).cross(rect[(j+1)%4].minus(q))
		switch {
		case j == 4 || i < n && turn > 0:
			i++
		case i == n || turn < 0:
			j++
		default:
			i, j = i+1, j+1
		}
	}
	return sum
}

// clip gives the part of p to the left of the line from a to b, appended to into.
func clip(into, p polygon, a, b point) polygon {
	side := func(q point) float64 { return b.minus(a).cross(q.minus(a)) }
	for i, q := range p {
		next := p[(i+1)%len(p)]
		s, t := side(q), side(next)
		if s >= 0 {
			into = append(into, q)
		}
		if s > 0 && t < 0 || s < 0 && t > 0 {
			k := s / (s - t)
			into = append(into, point{q.x + k*(next.x-q.x), q.y + k*(next.y-q.y)})
		}
	}
	return into
}

// intersect gives what two convex polygons share; fewer than three corners are nothing.
func intersect(p, q polygon) polygon {
	for i := range q {
		if len(p) < 3 {
			return nil
		}
		p = clip(nil, p, q[i], q[(i+1)%len(q)])
	}
	return p
}

// subtract gives the parts of p outside q, as convex polygons.
func subtract(p, q polygon) (parts []polygon) {
	for i := range q {
		a, b := q[i], q[(i+1)%len(q)]
		if len(p) < 3 {
			break
		}
		if out := clip(nil, p, b, a); out.area() > areaEps {
			parts = append(parts, out)
		}
		p = clip(nil, p, a, b)
	}
	return parts
}

func (p polygon) area() float64 {
	sum := 0.0
	for i := range p {
		sum += p[i].cross(p[(i+1)%len(p)])
	}
	return sum / 2
}

// areaEps is the area, in mm², above which a polygon is more than a rounding error.
const areaEps = 1e-9

// reach says for each pair of panels how long an outsole must be to press
// both at once: need[a][b][deg] in mm with toes (or heel) at deg
// anticlockwise from straight ahead, +Inf where no foot can. The grid of one
// degree is finer than any figure of the body is known.
//
// A foot need not use its whole length, since it can stand on heel or ball. So what a
// short outsole reaches without pressing a third panel a longer one does too.
type reach struct {
	need map[[2]pad.Panel]*[180]float64 // by panels in order; pairs out of any foot's reach are left out
}

// newReach works out the reach over a layout of a foot of the body's width and
// cover, for outsoles of up to the longest given, in mm.
func newReach(l *pad.Layout, body *Body, longest float64) *reach {
	r := &reach{need: make(map[[2]pad.Panel]*[180]float64)}
	for a := range pad.Panel(len(l.Panels)) {
		for b := a + 1; b < pad.Panel(len(l.Panels)); b++ {
			if gap(l, a, b, body.CoverMM) > longest { // an outsole is nowhere longer than its length
				continue
			}
			need := new([180]float64)
			for deg := range need {
				need[deg] = shortest(l, a, b, float64(deg), longest, body)
				if need[deg] > longest || !clearOfOthers(l, a, b, need[deg], float64(deg), body) {
					need[deg] = math.Inf(1)
				}
			}
			r.need[[2]pad.Panel{a, b}] = need
		}
	}
	return r
}

// shortest gives the shortest outsole that presses both panels at an angle, in
// mm, +Inf where it is longer than the longest.
//
// An outsole is the points within half its width of a line in its middle. There
// is a place for it over both panels if and only if some way between a point of
// the one and a point of the other, each less its cover, lies within a whole
// width of a line twice as long. Those ways make a rectangle; so the line must
// come within a width of it.
func shortest(l *pad.Layout, a, b pad.Panel, deg, longest float64, body *Body) float64 {
	p, q := l.Panels[a].Rect, l.Panels[b].Rect
	x0, x1 := float64(q.X0-p.X1)+2*body.CoverMM, float64(q.X1-p.X0)-2*body.CoverMM
	y0, y1 := float64(q.Y0-p.Y1)+2*body.CoverMM, float64(q.Y1-p.Y0)-2*body.CoverMM
	sin, cos := math.Sincos(deg * math.Pi / 180)
	away := func(s float64) float64 { // of the point s mm along the line from the rectangle
		x, y := -s*sin, s*cos
		return math.Hypot(x-max(x0, min(x1, x)), y-max(y0, min(y1, y)))
	}
	best := math.Inf(1)
	for _, end := range [2]float64{-longest, longest} {
		// The distance is convex along the line: find where it is least, then the
		// first point, from the middle, at which it is small enough.
		low, high := 0.0, end
		for range 60 {
			third := (high - low) / 3
			if away(low+third) <= away(high-third) {
				high -= third
			} else {
				low += third
			}
		}
		low, high = 0, low
		const eps = 1e-6 // mm: a panel covered by just enough is pressed
		if away(high) > body.ShoeWidthMM+eps {
			continue
		}
		for range 60 {
			if mid := (low + high) / 2; away(mid) <= body.ShoeWidthMM+eps {
				high = mid
			} else {
				low = mid
			}
		}
		best = min(best, body.ShoeWidthMM+math.Abs(high))
	}
	return best
}

// clearOfOthers tells whether an outsole of the length that just reaches both
// panels can lie so that it presses no third one.
func clearOfOthers(l *pad.Layout, a, b pad.Panel, length, deg float64, body *Body) bool {
	const room = 0.1 // mm: leaves an area to lie in
	outline := outsole(length+room, body.ShoeWidthMM, deg)
	var places []polygon
	for i, third := range l.Panels {
		c := pad.Panel(i)
		if c == a || c == b || gap(l, a, c, body.CoverMM) > length {
			continue
		}
		if places == nil {
			places = []polygon{intersect(placesOver(l.Panels[a].Rect, body.CoverMM, outline), placesOver(l.Panels[b].Rect, body.CoverMM, outline))}
		}
		over := placesOver(third.Rect, body.CoverMM, outline)
		var left []polygon
		for _, p := range places {
			left = append(left, subtract(p, over)...)
		}
		if places = left; len(places) == 0 {
			return false
		}
	}
	return true
}

// gap gives the distance between what must be reached of two panels, in mm.
func gap(l *pad.Layout, a, b pad.Panel, cover float64) float64 {
	p, q := l.Panels[a].Rect, l.Panels[b].Rect
	dx := max(float64(q.X0-p.X1)+2*cover, float64(p.X0-q.X1)+2*cover, 0)
	dy := max(float64(q.Y0-p.Y1)+2*cover, float64(p.Y0-q.Y1)+2*cover, 0)
	return math.Hypot(dx, dy)
}
