package render

import (
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"io"
	"math"
	"unicode/utf8"

	"golang.org/x/image/vector"
)

// Picture is a canvas in memory, with smooth edges. It is slower than the
// screen and the same on every machine.
type Picture struct {
	img    *image.RGBA
	raster vector.Rasterizer
	ink    image.Uniform
	glyphs map[glyphKey]glyph
}

type glyphKey struct {
	t Type
	r rune
}

type glyph struct {
	mask    *image.Alpha
	dx, dy  int
	advance float32
}

// NewPicture makes a picture of w by h pixels, transparent at first.
func NewPicture(w, h int) *Picture {
	return &Picture{img: image.NewRGBA(image.Rect(0, 0, w, h)), glyphs: map[glyphKey]glyph{}}
}

// Image gives what was drawn. It belongs to the picture and changes with it.
func (p *Picture) Image() *image.RGBA { return p.img }

// PNG writes the picture, packed as small as the standard library can.
func (p *Picture) PNG(w io.Writer) error {
	return (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(w, p.img)
}

// Rect implements Canvas.
func (p *Picture) Rect(x, y, w, h float32, c color.RGBA) {
	if !(w > 0 && h > 0) {
		return
	}
	p.fill(c, Point{x, y}, Point{x + w, y}, Point{x + w, y + h}, Point{x, y + h})
}

// Polygon implements Canvas.
func (p *Picture) Polygon(corners []Point, c color.RGBA) { p.fill(c, corners...) }

// fill covers a polygon by the share of each pixel that lies in it.
func (p *Picture) fill(c color.RGBA, corners ...Point) {
	lo, hi := corners[0], corners[0]
	for _, q := range corners[1:] {
		lo.X, lo.Y = min(lo.X, q.X), min(lo.Y, q.Y)
		hi.X, hi.Y = max(hi.X, q.X), max(hi.Y, q.Y)
	}
	box := image.Rect(floor(lo.X), floor(lo.Y), ceil(hi.X), ceil(hi.Y)).Intersect(p.img.Rect)
	if box.Empty() {
		return
	}
	p.ink.C = c
	if whole(lo) && whole(hi) && upright(corners) {
		draw.Draw(p.img, box, &p.ink, image.Point{}, draw.Over)
		return
	}
	p.raster.Reset(box.Dx(), box.Dy())
	ox, oy := float32(box.Min.X), float32(box.Min.Y)
	p.raster.MoveTo(corners[0].X-ox, corners[0].Y-oy)
	for _, q := range corners[1:] {
		p.raster.LineTo(q.X-ox, q.Y-oy)
	}
	p.raster.ClosePath()
	p.raster.Draw(p.img, box, &p.ink, image.Point{})
}

func floor(f float32) int { return int(math.Floor(float64(f))) }
func ceil(f float32) int  { return int(math.Ceil(float64(f))) }
func round(f float32) int { return int(math.Floor(float64(f) + 0.5)) }

// whole tells whether q is a corner of a pixel.
func whole(q Point) bool {
	return q.X == float32(floor(q.X)) && q.Y == float32(floor(q.Y))
}

// upright tells whether the corners are those of an upright rectangle in order.
func upright(c []Point) bool {
	return len(c) == 4 && c[0].Y == c[1].Y && c[1].X == c[2].X && c[2].Y == c[3].Y && c[3].X == c[0].X
}

// Text implements Canvas.
func (p *Picture) Text(x, y float32, t Type, c color.RGBA, s []byte) {
	p.ink.C = c
	by := round(y)
	for len(s) > 0 {
		r, n := utf8.DecodeRune(s)
		s = s[n:]
		k := glyphKey{t, r}
		g, ok := p.glyphs[k]
		if !ok {
			g.mask, g.dx, g.dy, g.advance = Glyph(t, r)
			p.glyphs[k] = g
		}
		at := image.Pt(round(x)+g.dx, by+g.dy)
		draw.DrawMask(p.img, g.mask.Rect.Add(at), &p.ink, image.Point{}, g.mask, image.Point{}, draw.Over)
		x += g.advance
	}
}
