package pdf_test

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"heeltoe/render"
	"heeltoe/render/pdf"
)

// w and h are of a page, two pixels a point.
const w, h = render.PageWidth, render.PageHeight

// drawPage draws every kind of call, with words on each page that the other one lacks.
func drawPage(c render.Canvas, page int) {
	black, gray := color.RGBA{A: 255}, color.RGBA{180, 180, 180, 255}
	c.Rect(0, 0, w, h, color.RGBA{255, 255, 255, 255})
	c.Rect(100, 100, 400, 240, gray)
	c.Rect(120, 120, 360, 200, color.RGBA{0, 158, 115, 255})
	c.Rect(300, 200, 400, 240, color.RGBA{64, 0, 0, 128}) // half a red over the others
	c.Polygon([]render.Point{{X: 900, Y: 200}, {X: 1300, Y: 320.5}, {X: 1180.25, Y: 700}, {X: 860, Y: 560}}, black)
	c.Polygon([]render.Point{{X: 960, Y: 260}, {X: 1220, Y: 340}, {X: 1100, Y: 620}}, color.RGBA{204, 121, 167, 255})
	for i, face := range []render.Face{render.Regular, render.Bold, render.Mono} {
		for j, size := range []int{15, 18, 26, 60} {
			c.Text(100, float32(500+i*200+j*40), render.Type{Face: face, Size: size}, black, fmt.Appendf(nil, "page%d face%d size%d ±12 ms −3 · 45°", page, i, size))
		}
	}
}

func file(t *testing.T, pages int) []byte {
	t.Helper()
	d := pdf.New("a title ± with signs")
	for i := range pages {
		drawPage(d.Page(w, h), i)
	}
	var b bytes.Buffer
	n, err := d.WriteTo(&b)
	if err != nil || n != int64(b.Len()) {
		t.Fatalf("%d of %d bytes, %v", n, b.Len(), err)
	}
	return b.Bytes()
}

// tool runs a tool of poppler, a PDF reader of its own (Debian poppler-utils), on a file.
func tool(t *testing.T, pdf []byte, name string, args ...string) (dir, out string) {
	t.Helper()
	if _, err := exec.LookPath(name); err != nil {
		if os.Getenv("HEELTOE_STRICT") != "" {
			t.Fatalf("%s is missing: install poppler-utils", name)
		}
		t.Skipf("%s is missing: install poppler-utils", name)
	}
	dir = t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "file.pdf"), pdf, 0o644); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(name, args...)
	cmd.Dir = dir
	text, err := cmd.CombinedOutput()
	if err != nil {
		t.Fatalf("%s: %v: %s", name, err, text)
	}
	return dir, string(text)
}

func TestPopplerFindsPagesAndWords(t *testing.T) {
	b := file(t, 3)
	_, info := tool(t, b, "pdfinfo", "file.pdf")
	for _, want := range []string{"Title:           a title ± with signs", "Pages:           3", "(A4)"} {
		if !strings.Contains(info, want) {
			t.Errorf("%q is missing in\n%s", want, info)
		}
	}
	for page := range 3 {
		n := fmt.Sprint(page + 1)
		_, text := tool(t, b, "pdftotext", "-layout", "-f", n, "-l", n, "file.pdf", "-")
		for face := range 3 {
			for _, size := range []int{15, 18, 26, 60} {
				if want := fmt.Sprintf("page%d face%d size%d ±12 ms −3 · 45°", page, face, size); !strings.Contains(text, want) {
					t.Errorf("%q is missing on page %d:\n%s", want, page, text)
				}
			}
		}
		if other := fmt.Sprintf("page%d", (page+1)%3); strings.Contains(text, other) {
			t.Errorf("page %d has words of another", page)
		}
	}
}

// finer is how much finer poppler renders than is compared: it puts glyphs at whole
// pixels of its own.
const finer = 3

// Rendered by poppler a page is what the picture in memory has.
func TestPopplerRendersThePicture(t *testing.T) {
	dir, _ := tool(t, file(t, 2), "pdftoppm", "-png", "-f", "2", "-scale-to-x", fmt.Sprint(w*finer), "-scale-to-y", fmt.Sprint(h*finer), "file.pdf", "page")
	f, err := os.Open(filepath.Join(dir, "page-2.png"))
	if err != nil {
		t.Fatal(err)
	}
	got, err := png.Decode(f)
	f.Close()
	if err != nil {
		t.Fatal(err)
	}
	if size := got.Bounds().Size(); size != image.Pt(w*finer, h*finer) {
		t.Fatalf("the page is %v", size)
	}
	theirs := coarser(got)
	pic := render.NewPicture(w, h)
	drawPage(pic, 1)
	ours := pic.Image()
	// Glyphs are placed at whole pixels here; a picture shifted by four pixels
	// differs by far more.
	mean, far := differ(ours, theirs, 0)
	moved, _ := differ(ours, theirs, 4)
	t.Logf("mean difference %.3f of 255, %.3f %% of pixels far off; if moved %.3f", mean, far*100, moved)
	if mean > moved/4 || far > 0.003 {
		t.Errorf("mean difference %.3f of 255, %.3f %% of pixels far off; moved %.3f", mean, far*100, moved)
	}
}

// coarser gives a picture with the mean of finer × finer pixels for each.
func coarser(p image.Image) *image.RGBA {
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	fine := image.NewRGBA(p.Bounds())
	draw.Draw(fine, fine.Rect, p, image.Point{}, draw.Src)
	for y := range h {
		for x := range w {
			var sum [4]int
			for dy := range finer {
				at := fine.PixOffset(x*finer, y*finer+dy)
				for i, v := range fine.Pix[at : at+4*finer] {
					sum[i%4] += int(v)
				}
			}
			for i := range sum {
				out.Pix[out.PixOffset(x, y)+i] = uint8(sum[i] / (finer * finer))
			}
		}
	}
	return out
}

// differ gives the mean difference of two pictures, of 255, and the share of pixels
// that are more than 128 apart, with the second moved to the right.
func differ(a, b *image.RGBA, move int) (mean, far float64) {
	for y := range h {
		for x := range w - move {
			p, q := a.RGBAAt(x, y), b.RGBAAt(x+move, y)
			d := max(apart(p.R, q.R), apart(p.G, q.G), apart(p.B, q.B))
			mean += float64(d)
			if d > 128 {
				far++
			}
		}
	}
	n := float64(h * (w - move))
	return mean / n, far / n
}

func apart(a, b uint8) int { return max(int(a), int(b)) - min(int(a), int(b)) }

func TestRefusesWhatIsNoNumber(t *testing.T) {
	d := pdf.New("t")
	d.Page(w, h).Rect(float32(math.NaN()), 0, 10, 10, color.RGBA{A: 255})
	if n, err := d.WriteTo(&bytes.Buffer{}); err == nil || n != 0 {
		t.Errorf("%d bytes of a drawing with a place that is no number were written", n)
	}
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("no room") }

func TestSaysWhereItCannotWrite(t *testing.T) {
	d := pdf.New("t")
	drawPage(d.Page(w, h), 0)
	if _, err := d.WriteTo(full{}); err == nil {
		t.Error("no error where nothing could be written")
	}
}
