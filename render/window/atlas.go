package window

import (
	"image"
	"image/color"

	"github.com/hajimehoshi/ebiten/v2"

	"heeltoe/render"
)

// atlas is one texture that holds the glyphs in use and, in its corner, a white patch.
type atlas struct {
	image   *ebiten.Image
	size    int // pixels square
	glyphs  map[glyphKey]glyph
	x, y, h int  // where the next glyph goes: shelf by shelf
	full    bool // there was no room: it is begun anew
}

type glyphKey struct {
	t render.Type
	r rune
}

// glyph is where a rune lies in the atlas, and where it goes about the pen.
type glyph struct {
	x, y, w, h float32
	dx, dy     float32
	advance    float32
}

func newAtlas(size int) *atlas {
	a := &atlas{size: size}
	a.clear()
	return a
}

// clear begins the atlas anew.
func (a *atlas) clear() {
	if a.image != nil {
		a.image.Deallocate()
	}
	a.image = ebiten.NewImageWithOptions(image.Rect(0, 0, a.size, a.size), &ebiten.NewImageOptions{Unmanaged: true})
	a.image.SubImage(image.Rect(0, 0, 4, 4)).(*ebiten.Image).Fill(color.White)
	a.glyphs = map[glyphKey]glyph{}
	a.x, a.y, a.h, a.full = 8, 0, 8, false
}

// settle begins the atlas anew where it was full, and tells whether it was: then
// every place that was given out has lost its glyph, and what was gathered is
// to be gathered again.
func (a *atlas) settle() (fresh bool) {
	if a.full {
		a.clear()
		return true
	}
	return false
}

// glyph gives the place of a rune, which is put there first where it is new.
func (a *atlas) glyph(t render.Type, r rune) glyph {
	g, ok := a.glyphs[glyphKey{t, r}]
	if ok {
		return g
	}
	mask, dx, dy, advance := render.Glyph(t, r)
	w, h := mask.Rect.Dx(), mask.Rect.Dy()
	g = glyph{dx: float32(dx), dy: float32(dy), advance: advance}
	if w > 0 && h > 0 {
		if a.x+w+1 > a.size {
			a.x, a.y, a.h = 0, a.y+a.h+1, 0
		}
		if a.y+h+1 > a.size || w+1 > a.size {
			a.full = true
			return g // left out of this frame
		}
		a.image.SubImage(image.Rect(a.x, a.y, a.x+w, a.y+h)).(*ebiten.Image).WritePixels(pixels(mask))
		g.x, g.y, g.w, g.h = float32(a.x), float32(a.y), float32(w), float32(h)
		a.x += w + 1
		a.h = max(a.h, h)
	}
	a.glyphs[glyphKey{t, r}] = g
	return g
}

// pixels gives a mask as white pixels, premultiplied.
func pixels(mask *image.Alpha) []byte {
	w, h := mask.Rect.Dx(), mask.Rect.Dy()
	pix := make([]byte, 0, 4*w*h)
	for y := range h {
		for _, v := range mask.Pix[y*mask.Stride : y*mask.Stride+w] {
			pix = append(pix, v, v, v, v)
		}
	}
	return pix
}
