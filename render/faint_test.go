package render_test

import (
	"image/color"
	"testing"

	"heeltoe/render"
)

// written keeps the colour of each text.
type written map[string]color.RGBA

func (written) Rect(_, _, _, _ float32, _ color.RGBA)                      {}
func (written) Polygon(_ []render.Point, _ color.RGBA)                     {}
func (w written) Text(_, _ float32, _ render.Type, c color.RGBA, s []byte) { w[string(s)] = c }

// A figure that is finer than the pad can tell is written in the softer ink, large or not.
func TestFaintFigures(t *testing.T) {
	for _, faint := range []bool{false, true} {
		v := single()
		for i := range v.Figures {
			v.Figures[i].Faint = faint
		}
		got := written{}
		var s render.Screen
		s.Live(got, 1920, 1080, v)
		want := render.Dark.Ink
		if faint {
			want = render.Dark.Soft
		}
		for _, text := range []string{"18", "+7 ms"} { // of the spread and of the best shift
			if c, ok := got[text]; !ok || c != want {
				t.Errorf("faint %v: %q is written in %v, %v", faint, text, c, ok)
			}
		}
	}
}
