package render_test

import (
	"bytes"
	"flag"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"sort"
	"testing"

	"heeltoe/render"
)

var update = flag.Bool("update", false, "write the golden pictures anew")

// pages by name: each draws one page.
var pages = map[string]func(s *render.Screen, c render.Canvas, w, h int){
	"live-single": func(s *render.Screen, c render.Canvas, w, h int) { s.Hints = playHints; s.Live(c, w, h, single()) },
	"live-double": func(s *render.Screen, c render.Canvas, w, h int) { s.Hints = playHints; s.Live(c, w, h, double()) },
	"live-dense":  func(s *render.Screen, c render.Canvas, w, h int) { s.Hints = playHints; s.Live(c, w, h, dense()) },
	"live-rest":   func(s *render.Screen, c render.Canvas, w, h int) { s.Hints = restHints; s.Live(c, w, h, atRest()) },
	"live-count":  func(s *render.Screen, c render.Canvas, w, h int) { s.Hints = playHints; s.Live(c, w, h, counting()) },
	"live-held":   func(s *render.Screen, c render.Canvas, w, h int) { s.Hints = playHints; s.Live(c, w, h, held()) },
	"desk":        func(s *render.Screen, c render.Canvas, w, h int) { s.Hints = restHints; s.Desk(c, w, h, desk()) },
	"desk-fault":  func(s *render.Screen, c render.Canvas, w, h int) { s.Hints = restHints; s.Desk(c, w, h, deskFault()) },
	"teach":       func(s *render.Screen, c render.Canvas, w, h int) { s.Hints = restHints; s.Teach(c, w, h, teach()) },
	"help":        func(s *render.Screen, c render.Canvas, w, h int) { s.Hints = restHints; s.Help(c, w, h, help()) },
}

func init() {
	for name, draw := range papers {
		pages[name] = draw
	}
}

var themes = []*render.Theme{render.Dark, render.Light, render.Print}

// shots are the pictures kept: page, theme and size.
func shots() (out []shot) {
	names := make([]string, 0, len(pages))
	for n := range pages {
		names = append(names, n)
	}
	sort.Strings(names)
	for _, n := range names {
		if papers[n] != nil {
			out = append(out, shot{n, render.Print, image.Pt(render.PageWidth, render.PageHeight)})
			if n == "sheet-single" {
				out = append(out, shot{n, render.Dark, image.Pt(1123, 794)}, shot{n, render.Light, image.Pt(1123, 794)})
			}
			continue
		}
		for _, th := range themes[:2] {
			for _, size := range []image.Point{{800, 600}, {1280, 720}, {3840, 2160}} {
				// The states of the live screen need the largest size no more than once a layout.
				if size.X > 3000 && (n == "live-rest" || n == "live-dense" || n == "live-count" || n == "live-held" || n == "desk-fault") {
					continue
				}
				out = append(out, shot{n, th, size})
			}
		}
	}
	return out
}

type shot struct {
	page  string
	theme *render.Theme
	size  image.Point
}

func (k shot) file() string {
	return fmt.Sprintf("%s-%s-%dx%d.png", k.page, k.theme.Name, k.size.X, k.size.Y)
}

func (k shot) draw() *render.Picture {
	p := render.NewPicture(k.size.X, k.size.Y)
	s := render.Screen{Theme: k.theme}
	pages[k.page](&s, p, k.size.X, k.size.Y)
	return p
}

// few gives the picture with at most 256 colours, so that the files stay small:
// every step of smooth edges is rounded to the nearest that is kept.
func few(img *image.RGBA) *image.Paletted {
	count := map[color.RGBA]int{}
	for i := 0; i < len(img.Pix); i += 4 {
		count[color.RGBA{img.Pix[i], img.Pix[i+1], img.Pix[i+2], img.Pix[i+3]}]++
	}
	all := make([]color.RGBA, 0, len(count))
	for c := range count {
		all = append(all, c)
	}
	sort.Slice(all, func(i, j int) bool {
		a, b := all[i], all[j]
		if count[a] != count[b] {
			return count[a] > count[b]
		}
		return uint32(a.R)<<16|uint32(a.G)<<8|uint32(a.B) < uint32(b.R)<<16|uint32(b.G)<<8|uint32(b.B)
	})
	var pal color.Palette
	for _, c := range all[:min(256, len(all))] {
		pal = append(pal, c)
	}
	out := image.NewPaletted(img.Rect, pal)
	index := map[color.RGBA]uint8{}
	for i := 0; i < len(img.Pix); i += 4 {
		c := color.RGBA{img.Pix[i], img.Pix[i+1], img.Pix[i+2], img.Pix[i+3]}
		k, ok := index[c]
		if !ok {
			k = uint8(pal.Index(c))
			index[c] = k
		}
		out.Pix[i/4] = k
	}
	return out
}

// The goldens are this drawing's own earlier output, each looked at when it was
// written: they tell of change, not of truth.
func TestLongGoldens(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" && !*update {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	dir := filepath.Join("testdata", "golden")
	known := map[string]bool{}
	for _, k := range shots() {
		known[k.file()] = true
		t.Run(k.file(), func(t *testing.T) {
			t.Parallel()
			got := few(k.draw().Image())
			file := filepath.Join(dir, k.file())
			if *update {
				var b bytes.Buffer
				if err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&b, got); err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(file, b.Bytes(), 0o644); err != nil {
					t.Fatal(err)
				}
				return
			}
			b, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			want, err := png.Decode(bytes.NewReader(b))
			if err != nil {
				t.Fatal(err)
			}
			if want.Bounds() != got.Bounds() {
				t.Fatalf("the picture is %v, the golden %v", got.Bounds(), want.Bounds())
			}
			off, worst := 0, 0
			var first image.Point
			for y := range k.size.Y {
				for x := range k.size.X {
					if d := apart(got.At(x, y), want.At(x, y)); d > 2 {
						if off == 0 {
							first = image.Pt(x, y)
						}
						off++
						worst = max(worst, d)
					}
				}
			}
			if off > 0 {
				t.Errorf("%d pixels differ, by up to %d, the first at %v; look at what changed, then use -update", off, worst, first)
			}
		})
	}
	files, err := filepath.Glob(filepath.Join(dir, "*"))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if !known[filepath.Base(f)] {
			t.Errorf("%s belongs to no picture: remove it", f)
		}
	}
}

// apart gives the largest difference of two colours in a channel, of 255.
func apart(a, b color.Color) int {
	r0, g0, b0, a0 := a.RGBA()
	r1, g1, b1, a1 := b.RGBA()
	d := 0
	for _, p := range [][2]uint32{{r0, r1}, {g0, g1}, {b0, b1}, {a0, a1}} {
		d = max(d, int(p[0]>>8)-int(p[1]>>8), int(p[1]>>8)-int(p[0]>>8))
	}
	return d
}
