package window

import (
	"image/color"
	"math"
	"slices"
	"unicode/utf8"

	"github.com/hajimehoshi/ebiten/v2"

	"heeltoe/render"
)

// batch is a render.Canvas on the screen. A frame is gathered as a list of
// strokes and compared with that of the frame before: only the parts of the
// screen on which the two differ are drawn again, as triangles over one texture
// that holds the glyphs and a white patch. Once its buffers have grown and the
// glyphs are there it does not allocate.
type batch struct {
	atlas    *atlas
	now, old list
	whole    box // of the frame before
	parts    [maxParts]box
	vertices []ebiten.Vertex
	indices  []uint16
	options  ebiten.DrawTrianglesOptions
	clipped  [2][]render.Point
}

// list is the strokes of a frame, in the order in which they cover each other.
type list struct {
	strokes []stroke
	corners []render.Point // of the polygons
}

// stroke is one thing drawn: a piece of the atlas put into a box, or a polygon.
type stroke struct {
	box   box     // where it is, with the soft edge of a polygon
	u, v  float32 // top left corner of the piece in the atlas
	white bool    // the piece is the white patch
	color color.RGBA
	first int32 // of the corners, of a polygon
	n     int32 // number of corners; 0: no polygon
}

// box is an upright rectangle in pixels.
type box struct{ x0, y0, x1, y1 float32 }

func (b box) empty() bool   { return b.x0 >= b.x1 || b.y0 >= b.y1 }
func (b box) area() float32 { return (b.x1 - b.x0) * (b.y1 - b.y0) }
func (b box) meet(o box) box {
	return box{max(b.x0, o.x0), max(b.y0, o.y0), min(b.x1, o.x1), min(b.y1, o.y1)}
}
func (b box) join(o box) box {
	return box{min(b.x0, o.x0), min(b.y0, o.y0), max(b.x1, o.x1), max(b.y1, o.y1)}
}

const (
	maxParts    = 4          // parts of the screen that are drawn again in one frame
	lookAhead   = 48         // strokes that two frames may differ by before they are alike again
	maxVertices = 1<<16 - 64 // of one call, since an index has 16 bits
	soft        = 0.7        // how far beside a slanted edge the colour fades, in pixels
)

func newBatch() *batch {
	b := &batch{atlas: newAtlas(2048), vertices: make([]ebiten.Vertex, 0, 1<<13), indices: make([]uint16, 0, 1<<14)}
	b.options.ColorScaleMode = ebiten.ColorScaleModePremultipliedAlpha
	return b
}

// Rect implements render.Canvas.
func (b *batch) Rect(x, y, w, h float32, c color.RGBA) {
	b.now.strokes = append(b.now.strokes, stroke{box: box{x, y, x + w, y + h}, white: true, color: c})
}

// Polygon implements render.Canvas. Beside each slanted edge the colour fades
// out, which smooths it.
func (b *batch) Polygon(p []render.Point, c color.RGBA) {
	s := stroke{white: true, color: c, first: int32(len(b.now.corners)), n: int32(len(p)), box: box{p[0].X, p[0].Y, p[0].X, p[0].Y}}
	for _, q := range p {
		s.box = s.box.join(box{q.X - soft, q.Y - soft, q.X + soft, q.Y + soft})
	}
	b.now.corners = append(b.now.corners, p...)
	b.now.strokes = append(b.now.strokes, s)
}

// Text implements render.Canvas. Each glyph stands on whole pixels.
func (b *batch) Text(x, y float32, t render.Type, c color.RGBA, s []byte) {
	y = round(y)
	for len(s) > 0 {
		r, n := utf8.DecodeRune(s)
		s = s[n:]
		g := b.atlas.glyph(t, r)
		if g.w > 0 {
			gx, gy := round(x)+g.dx, y+g.dy
			b.now.strokes = append(b.now.strokes, stroke{box: box{gx, gy, gx + g.w, gy + g.h}, u: g.x, v: g.y, color: c})
		}
		x += g.advance
	}
}

func round(f float32) float32 { return float32(math.Floor(float64(f) + 0.5)) }

// forget drops what was gathered, and has all of the screen drawn again.
func (b *batch) forget() {
	b.now.strokes, b.now.corners = b.now.strokes[:0], b.now.corners[:0]
	b.whole = box{}
}

// show draws what was gathered since the show before on target, which must
// still hold what that one drew.
func (b *batch) show(target *ebiten.Image) {
	size := target.Bounds()
	whole := box{0, 0, float32(size.Dx()), float32(size.Dy())}
	var parts []box
	if whole != b.whole {
		parts = append(b.parts[:0], whole)
	} else {
		parts = b.differences(b.parts[:0])
	}
	b.whole = whole
	for _, part := range parts {
		part = part.meet(whole)
		part = box{floor(part.x0), floor(part.y0), ceil(part.x1), ceil(part.y1)}
		for i := range b.now.strokes {
			b.draw(target, &b.now.strokes[i], part)
		}
	}
	b.flush(target)
	b.now, b.old = b.old, b.now
	b.now.strokes, b.now.corners = b.now.strokes[:0], b.now.corners[:0]
}

func floor(f float32) float32 { return float32(math.Floor(float64(f))) }
func ceil(f float32) float32  { return float32(math.Ceil(float64(f))) }

// same tells whether stroke i of the frame is stroke j of the frame before.
func (b *batch) same(i, j int) bool {
	p, q := &b.now.strokes[i], &b.old.strokes[j]
	if p.box != q.box || p.color != q.color || p.u != q.u || p.v != q.v || p.white != q.white || p.n != q.n {
		return false
	}
	return slices.Equal(b.now.corners[p.first:p.first+p.n], b.old.corners[q.first:q.first+q.n])
}

// differences appends the parts of the screen on which the frame differs from
// the frame before. It walks through both lists side by side; where they part it
// looks for the nearest strokes that are alike again, and what lies between
// counts as changed. Strokes that only changed places are found, too, since
// they are alike out of order.
func (b *batch) differences(parts []box) []box {
	now, old := b.now.strokes, b.old.strokes
	for i, j := 0, 0; i < len(now) || j < len(old); {
		if i < len(now) && j < len(old) && b.same(i, j) {
			i++
			j++
			continue
		}
		di, dj := b.meeting(i, j)
		for _, s := range now[i : i+di] {
			parts = add(parts, s.box)
		}
		for _, s := range old[j : j+dj] {
			parts = add(parts, s.box)
		}
		i, j = i+di, j+dj
	}
	return parts
}

// meeting gives how many strokes of the frame, after i, and of the one before,
// after j, to leave behind until the two are alike again, as few as can be.
func (b *batch) meeting(i, j int) (di, dj int) {
	restI, restJ := len(b.now.strokes)-i, len(b.old.strokes)-j
	for sum := 1; sum <= min(lookAhead, restI+restJ); sum++ {
		for di := max(0, sum-restJ); di <= min(sum, restI); di++ {
			dj := sum - di
			if di < restI && dj < restJ && b.same(i+di, j+dj) {
				return di, dj
			}
		}
	}
	return min(restI, lookAhead), min(restJ, lookAhead)
}

// add adds a box to the parts. Where there are too many it is joined to the one
// that grows the least.
func add(parts []box, s box) []box {
	if s.empty() {
		return parts
	}
	best, least := -1, float32(math.Inf(1))
	for i, p := range parts {
		if grown := p.join(s).area() - p.area(); grown < least {
			best, least = i, grown
		}
	}
	if best >= 0 && (least <= s.area()/2 || len(parts) == maxParts) {
		parts[best] = parts[best].join(s)
		return parts
	}
	return append(parts, s)
}

// draw adds the triangles of what lies of a stroke within part.
func (b *batch) draw(target *ebiten.Image, s *stroke, part box) {
	in := s.box.meet(part)
	if in.empty() {
		return
	}
	if s.n > 0 {
		b.polygon(target, s, part)
		return
	}
	b.room(target, 4)
	k := uint16(len(b.vertices))
	u0, v0, u1, v1 := float32(1), float32(1), float32(2), float32(2)
	if !s.white {
		u0, v0 = s.u+in.x0-s.box.x0, s.v+in.y0-s.box.y0
		u1, v1 = u0+in.x1-in.x0, v0+in.y1-in.y0
	}
	b.vertex(in.x0, in.y0, u0, v0, s.color, 1)
	b.vertex(in.x1, in.y0, u1, v0, s.color, 1)
	b.vertex(in.x0, in.y1, u0, v1, s.color, 1)
	b.vertex(in.x1, in.y1, u1, v1, s.color, 1)
	b.indices = append(b.indices, k, k+1, k+2, k+1, k+3, k+2)
}

// polygon adds the triangles of a polygon, with its soft edges.
func (b *batch) polygon(target *ebiten.Image, s *stroke, part box) {
	p := b.now.corners[s.first : s.first+s.n]
	b.convex(target, p, [4]float32{1, 1, 1, 1}, s.color, part)
	turn := float32(0)
	for i, q := range p {
		r := p[(i+1)%len(p)]
		turn += q.X*r.Y - r.X*q.Y
	}
	out := float32(soft)
	if turn < 0 {
		out = -soft
	}
	for i, q := range p {
		r := p[(i+1)%len(p)]
		dx, dy := r.X-q.X, r.Y-q.Y
		if dx == 0 || dy == 0 {
			continue
		}
		l := out / float32(math.Hypot(float64(dx), float64(dy)))
		nx, ny := dy*l, -dx*l // outwards
		edge := [4]render.Point{q, r, {X: r.X + nx, Y: r.Y + ny}, {X: q.X + nx, Y: q.Y + ny}}
		b.convex(target, edge[:], [4]float32{1, 1, 0, 0}, s.color, part)
	}
}

// convex adds a convex polygon, cut to part. cover is how much each of the first
// four corners is covered; with more corners all are covered.
func (b *batch) convex(target *ebiten.Image, p []render.Point, cover [4]float32, c color.RGBA, part box) {
	faded := cover != [4]float32{1, 1, 1, 1}
	// How much is covered falls off evenly from the edge p0 p1: recomputed where cut.
	at := func(render.Point) float32 { return 1 }
	if faded {
		nx, ny := p[3].X-p[0].X, p[3].Y-p[0].Y
		l := nx*nx + ny*ny
		o := p[0]
		at = func(q render.Point) float32 { return min(1, max(0, 1-((q.X-o.X)*nx+(q.Y-o.Y)*ny)/l)) }
	}
	q := b.cut(p, part)
	if len(q) < 3 {
		return
	}
	b.room(target, len(q))
	k := uint16(len(b.vertices))
	for _, v := range q {
		b.vertex(v.X, v.Y, 1.5, 1.5, c, at(v))
	}
	for i := 2; i < len(q); i++ {
		b.indices = append(b.indices, k, k+uint16(i-1), k+uint16(i))
	}
}

// cut gives what of a convex polygon lies in part (Sutherland and Hodgman
// 1974), in a buffer that the next call uses again.
func (b *batch) cut(p []render.Point, part box) []render.Point {
	in := append(b.clipped[0][:0], p...)
	out := b.clipped[1][:0]
	for side := range 4 {
		out = out[:0]
		depth := func(q render.Point) float32 {
			switch side {
			case 0:
				return q.X - part.x0
			case 1:
				return part.x1 - q.X
			case 2:
				return q.Y - part.y0
			}
			return part.y1 - q.Y
		}
		for i, q := range in {
			r := in[(i+1)%len(in)]
			dq, dr := depth(q), depth(r)
			if dq >= 0 {
				out = append(out, q)
			}
			if dq < 0 != (dr < 0) {
				f := dq / (dq - dr)
				out = append(out, render.Point{X: q.X + f*(r.X-q.X), Y: q.Y + f*(r.Y-q.Y)})
			}
		}
		in, out = out, in
	}
	b.clipped[0], b.clipped[1] = in, out
	return in
}

// room draws what was added where so many more vertices would not fit into one call.
func (b *batch) room(target *ebiten.Image, vertices int) {
	if len(b.vertices)+vertices > maxVertices {
		b.flush(target)
	}
}

// vertex adds a corner; u and v are its place in the atlas.
func (b *batch) vertex(x, y, u, v float32, c color.RGBA, cover float32) {
	k := cover / 255
	b.vertices = append(b.vertices, ebiten.Vertex{DstX: x, DstY: y, SrcX: u, SrcY: v,
		ColorR: float32(c.R) * k, ColorG: float32(c.G) * k, ColorB: float32(c.B) * k, ColorA: float32(c.A) * k})
}

// flush draws what was added.
func (b *batch) flush(target *ebiten.Image) {
	if len(b.indices) > 0 {
		target.DrawTriangles(b.vertices, b.indices, b.atlas.image, &b.options)
		b.vertices, b.indices = b.vertices[:0], b.indices[:0]
	}
}
