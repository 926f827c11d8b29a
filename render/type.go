package render

import (
	"image"
	"image/draw"
	"sync"
	"unicode/utf8"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/gomono"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// The faces, of the Go family. Their digits are all of one width, so figures
// that change do not jump.
const (
	Regular Face = iota
	Bold
	Mono
	faces
)

// fontFiles are the faces as TrueType.
var fontFiles = [faces][]byte{Regular: goregular.TTF, Bold: gobold.TTF, Mono: gomono.TTF}

// TrueType gives the face as a TrueType file, which is not to be changed.
func (f Face) TrueType() []byte { return fontFiles[f] }

// A typeface is parsed once. Its advances are those of the font's design, in
// units of which an em has upem, so text has the same width at every size but
// for its scale, on every canvas.
type typeface struct {
	font     *sfnt.Font
	upem     float32
	advances []uint16 // by rune, up to the last one the family has
	lacking  uint16   // of a rune that the face lacks
}

// runes is past the last rune of WGL4, the set that the family covers.
const runes = 0x266c

var typefaces [faces]func() *typeface

func init() {
	for i := range typefaces {
		typefaces[i] = sync.OnceValue(func() *typeface { return parse(fontFiles[i]) })
	}
}

// parse reads a face that is embedded in the program: a fault is the program's.
func parse(ttf []byte) *typeface {
	f, err := sfnt.Parse(ttf)
	if err != nil {
		panic(err)
	}
	var b sfnt.Buffer
	upem := f.UnitsPerEm()
	ppem := fixed.I(int(upem))
	tf := &typeface{font: f, upem: float32(upem), advances: make([]uint16, runes)}
	advance := func(g sfnt.GlyphIndex) uint16 {
		a, err := f.GlyphAdvance(&b, g, ppem, font.HintingNone)
		if err != nil {
			panic(err)
		}
		return uint16(a.Round())
	}
	tf.lacking = advance(0)
	for r := range tf.advances {
		g, err := f.GlyphIndex(&b, rune(r))
		if err != nil {
			panic(err)
		}
		tf.advances[r] = advance(g)
	}
	return tf
}

func (tf *typeface) advance(r rune) uint16 {
	if r >= 0 && int(r) < len(tf.advances) {
		return tf.advances[r]
	}
	return tf.lacking
}

// Advance gives how far the pen moves for r, in pixels. It does not allocate.
func Advance(t Type, r rune) float32 {
	tf := typefaces[t.Face]()
	return float32(tf.advance(r)) * float32(t.Size) / tf.upem
}

// TextWidth gives the sum of the advances of s, UTF-8, in pixels. Pairs are not
// kerned. It does not allocate.
func TextWidth(t Type, s []byte) float32 {
	tf := typefaces[t.Face]()
	var units int
	for i := 0; i < len(s); {
		r, n := rune(s[i]), 1
		if r >= utf8.RuneSelf {
			r, n = utf8.DecodeRune(s[i:])
		}
		units += int(tf.advance(r))
		i += n
	}
	return float32(units) * float32(t.Size) / tf.upem
}

// raster has the faces at the sizes that were asked for; opentype's faces are
// not safe for use by several goroutines.
var raster = struct {
	sync.Mutex
	faces map[Type]font.Face
}{faces: map[Type]font.Face{}}

// Glyph gives the coverage of r, to be placed with its top left corner dx and
// dy pixels from the pen, which a canvas rounds to whole pixels, and the
// advance in pixels, as Advance does. A rune without ink has an empty mask. A
// rune that the face lacks is a box. It allocates: callers keep what they get.
func Glyph(t Type, r rune) (mask *image.Alpha, dx, dy int, advance float32) {
	raster.Lock()
	defer raster.Unlock()
	f := raster.faces[t]
	if f == nil {
		var err error
		f, err = opentype.NewFace(typefaces[t.Face]().font, &opentype.FaceOptions{Size: float64(t.Size), DPI: 72, Hinting: font.HintingNone})
		if err != nil {
			panic(err) // of an embedded font: the program's fault
		}
		raster.faces[t] = f
	}
	advance = Advance(t, r)
	dr, m, mp, _, ok := f.Glyph(fixed.Point26_6{}, r)
	if !ok {
		mask, dx, dy = box(t, advance)
		return mask, dx, dy, advance
	}
	mask = image.NewAlpha(image.Rect(0, 0, dr.Dx(), dr.Dy()))
	draw.Draw(mask, mask.Bounds(), m, mp, draw.Src)
	return mask, dr.Min.X, dr.Min.Y, advance
}

// box stands for a rune that the face lacks: an upright frame on the baseline.
func box(t Type, advance float32) (mask *image.Alpha, dx, dy int) {
	dx = max(1, t.Size/12)
	pen := max(1, t.Size/16)
	w, h := max(3, int(advance)-2*dx), max(3, t.Size*7/10)
	mask = image.NewAlpha(image.Rect(0, 0, w, h))
	draw.Draw(mask, mask.Rect, image.Opaque, image.Point{}, draw.Src)
	draw.Draw(mask, mask.Rect.Inset(pen), image.Transparent, image.Point{}, draw.Src)
	return mask, dx, -h
}
