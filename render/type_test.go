package render_test

import (
	"image"
	"math"
	"testing"
	"unicode/utf8"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/gomono"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"pgregory.net/rapid"

	"heeltoe/render"
)

// fontFiles are the faces by render.Face.
var fontFiles = [][]byte{goregular.TTF, gobold.TTF, gomono.TTF}

// The table of advances gives what the font library gives for the whole text,
// without kerning, at any size.
func TestTextWidthAgainstTheFontLibrary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ty := render.Type{Face: render.Face(rapid.IntRange(0, 2).Draw(t, "face")), Size: rapid.IntRange(8, 300).Draw(t, "size")}
		f, err := opentype.Parse(fontFiles[ty.Face])
		if err != nil {
			t.Fatal(err)
		}
		face, err := opentype.NewFace(f, &opentype.FaceOptions{Size: float64(ty.Size), DPI: 72, Hinting: font.HintingNone})
		if err != nil {
			t.Fatal(err)
		}
		s := rapid.StringOf(rapid.RuneFrom([]rune("abcXYZ 0123456789+−-.,:;·…µ±äöüßЖЯλΩ"))).Draw(t, "text")
		var want float64
		for _, r := range s {
			a, ok := face.GlyphAdvance(r)
			if !ok {
				t.Fatalf("no advance for %q", r)
			}
			want += float64(a) / 64
		}
		got := render.TextWidth(ty, []byte(s))
		// The library rounds each advance to 1/64 of a pixel.
		if math.Abs(float64(got)-want) > float64(utf8.RuneCountInString(s))/64+0.01 {
			t.Fatalf("%q at %d is %.3f wide, the library says %.3f", s, ty.Size, got, want)
		}
	})
}

// Figures that change must not jump: every digit and both signs are as wide as
// their like.
func TestDigitsAreOfOneWidth(t *testing.T) {
	for f := range fontFiles {
		ty := render.Type{Face: render.Face(f), Size: 64}
		for _, set := range []string{"0123456789", "+−"} {
			for _, r := range set {
				if a, b := render.Advance(ty, r), render.Advance(ty, rune(set[0])); a != b {
					t.Errorf("face %d: %q is %v wide, %q %v", f, r, a, set[0], b)
				}
			}
		}
	}
}

func TestGlyph(t *testing.T) {
	ty := render.Type{Face: render.Bold, Size: 40}
	ink := func(m *image.Alpha) (n int) {
		for _, a := range m.Pix {
			if a > 127 {
				n++
			}
		}
		return n
	}
	m, dx, dy, adv := render.Glyph(ty, 'L')
	if dy >= 0 || dy+m.Rect.Dy() < -1 || dy+m.Rect.Dy() > 1 || dx < 0 || float32(dx+m.Rect.Dx()) > adv+1 || ink(m) < 100 {
		t.Errorf("L lies at %d,%d, %v, %d pixels of ink, advance %v", dx, dy, m.Rect, ink(m), adv)
	}
	if m, _, _, adv := render.Glyph(ty, ' '); ink(m) != 0 || adv <= 0 {
		t.Errorf("a blank has ink, or no width")
	}
	lack, _, _, adv := render.Glyph(ty, '\u4e2d')
	other, _, _, _ := render.Glyph(ty, '\u4e8c')
	if ink(lack) == 0 || adv <= 0 || string(lack.Pix) != string(other.Pix) {
		t.Errorf("a rune that the face lacks is not the box")
	}
}

func TestTextWidthDoesNotAllocate(t *testing.T) {
	s := []byte("offset −12.3 ms · µ…")
	if n := testing.AllocsPerRun(100, func() { render.TextWidth(render.Type{Size: 14}, s) }); n != 0 {
		t.Errorf("%v allocations", n)
	}
}
