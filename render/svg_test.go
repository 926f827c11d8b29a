package render_test

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"

	"heeltoe/render"
)

// drawSVG gives a page as SVG.
func drawSVG(t *testing.T, page string, th *render.Theme, w, h int) []byte {
	t.Helper()
	c := render.NewSVG(w, h, "a page <"+page+">", "Drawn & checked")
	pages[page](&render.Screen{Theme: th}, c, w, h)
	var b bytes.Buffer
	if _, err := c.WriteTo(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// Every page is well-formed XML with a title and a description first (SVG 1.1,
// 5.4), every text that was drawn is in it, and nothing but what a still needs.
func TestSVGIsWellFormed(t *testing.T) {
	for page := range pages {
		for _, th := range themes {
			svg := drawSVG(t, page, th, 1280, 720)
			tp := &tape{}
			pages[page](&render.Screen{Theme: th}, tp, 1280, 720)
			var want []string
			for _, o := range tp.ops {
				if o.kind == 't' {
					want = append(want, o.s)
				}
			}
			var names, texts []string
			title, desc := "", ""
			in := ""
			for d := xml.NewDecoder(bytes.NewReader(svg)); ; {
				tok, err := d.Token()
				if errors.Is(err, io.EOF) {
					break
				} else if err != nil {
					t.Fatalf("%s: %v", page, err)
				}
				switch e := tok.(type) {
				case xml.StartElement:
					in = e.Name.Local
					names = append(names, in)
					if in == "svg" && e.Name.Space != "http://www.w3.org/2000/svg" {
						t.Errorf("the root is of %q", e.Name.Space)
					}
				case xml.EndElement:
					in = ""
				case xml.CharData:
					switch in {
					case "text":
						texts = append(texts, string(e))
					case "title":
						title = string(e)
					case "desc":
						desc = string(e)
					}
				}
			}
			if len(names) < 10 || !slices.Equal(names[:3], []string{"svg", "title", "desc"}) || title != "a page <"+page+">" || desc != "Drawn & checked" {
				t.Errorf("%s begins with %v, %q, %q", page, names[:3], title, desc)
			}
			for _, n := range names[3:] {
				if n != "path" && n != "text" {
					t.Errorf("%s has a %s", page, n)
				}
			}
			if !slices.Equal(texts, want) {
				t.Errorf("%s: texts are %q, want %q", page, texts, want)
			}
		}
	}
}

func TestSVGRefusesWhatIsNoNumber(t *testing.T) {
	c := render.NewSVG(10, 10, "t", "d")
	c.Rect(1, float32(math.NaN()), 2, 2, color.RGBA{A: 255})
	if n, err := c.WriteTo(io.Discard); err == nil || n != 0 {
		t.Error("a drawing with a place that is no number was written")
	}
}

// librsvg, an SVG renderer of its own (Debian librsvg2-bin), draws the SVG as the
// picture in memory has it: the same fills and the same glyphs at the same places.
func TestSVGAgainstLibrsvg(t *testing.T) {
	tool, err := exec.LookPath("rsvg-convert")
	if err != nil {
		if os.Getenv("HEELTOE_STRICT") != "" {
			t.Fatal("rsvg-convert is missing: install librsvg2-bin")
		}
		t.Skip("rsvg-convert is missing: install librsvg2-bin")
	}
	// The Go family, which a system need not have.
	dir := t.TempDir()
	for i, ttf := range fontFiles {
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("go%d.ttf", i)), ttf, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	conf := filepath.Join(dir, "fonts.conf")
	if err := os.WriteFile(conf, fmt.Appendf(nil, `<?xml version="1.0"?><!DOCTYPE fontconfig SYSTEM "fonts.dtd"><fontconfig><dir>%s</dir><cachedir>%s/cache</cachedir></fontconfig>`, dir, dir), 0o644); err != nil {
		t.Fatal(err)
	}
	for page := range pages {
		for _, th := range themes {
			const w, h = 1280, 720
			cmd := exec.Command(tool)
			cmd.Env = append(os.Environ(), "FONTCONFIG_FILE="+conf)
			cmd.Stdin = bytes.NewReader(drawSVG(t, page, th, w, h))
			var out, fault bytes.Buffer
			cmd.Stdout, cmd.Stderr = &out, &fault
			if err := cmd.Run(); err != nil {
				t.Fatalf("%s: %v: %s", page, err, &fault)
			}
			got, err := png.Decode(&out)
			if err != nil {
				t.Fatal(err)
			}
			theirs := image.NewRGBA(got.Bounds())
			draw.Draw(theirs, theirs.Rect, got, image.Point{}, draw.Src)
			ours := shot{page, th, image.Pt(w, h)}.draw().Image()
			if theirs.Rect != ours.Rect {
				t.Fatalf("%s is %v", page, theirs.Rect)
			}
			// Glyphs are placed at whole pixels here and at parts of one there, so
			// single pixels differ at their edges; a picture shifted by four pixels
			// differs by far more.
			mean, far := differ(ours, theirs, 0)
			moved, _ := differ(ours, theirs, 4)
			t.Logf("%s %s: mean %.3f, %.3f %% of pixels far off, mean if moved %.3f", page, th.Name, mean, far*100, moved)
			if mean > moved/4 || far > 0.001 {
				t.Errorf("%s %s: mean difference %.3f of 255, %.3f %% of pixels far off; moved %.3f", page, th.Name, mean, far*100, moved)
			}
		}
	}
}

// differ gives the mean difference of two pictures, of 255, and the share of
// pixels that are more than 128 apart, with the second moved to the right.
func differ(a, b *image.RGBA, move int) (mean, far float64) {
	n := 0
	for y := a.Rect.Min.Y; y < a.Rect.Max.Y; y++ {
		for x := a.Rect.Min.X; x < a.Rect.Max.X-move; x++ {
			d := apart(a.RGBAAt(x, y), b.RGBAAt(x+move, y))
			mean += float64(d)
			if d > 128 {
				far++
			}
			n++
		}
	}
	return mean / float64(n), far / float64(n)
}
