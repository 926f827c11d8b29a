// Package pdf writes pictures as the pages of a file in the Portable Document
// Format, for print. It is the only importer of the library that does so.
package pdf

import (
	"image/color"
	"io"
	"math"

	"codeberg.org/go-pdf/fpdf"

	"heeltoe/render"
)

// A4 laid across, in points of 1/72 inch (ISO 216: 297 by 210 mm).
const (
	pageWidth  = 297 / 25.4 * 72
	pageHeight = 210 / 25.4 * 72
)

// Document is a file in the making, with pages of A4 laid across. Text stays
// text: it can be searched and copied. The faces that it uses are embedded, as far as
// their characters are used.
type Document struct {
	f       *fpdf.Fpdf
	corners []fpdf.PointType
}

// New makes a document without pages. The title is what a reader shows for it.
func New(title string) *Document {
	f := fpdf.NewCustom(&fpdf.InitType{OrientationStr: "L", UnitStr: "pt", SizeStr: "A4"})
	f.SetTitle(title, true)
	f.SetCreator("heeltoe", true)
	f.SetLang("en")
	f.SetMargins(0, 0, 0)
	f.SetAutoPageBreak(false, 0)
	f.SetCatalogSort(true) // the same pages give the same file but for its date
	return &Document{f: f}
}

// Page adds a page to draw on: w by h pixels, scaled to fill it as far as their
// shape lets them, in its middle. What was given for the page before is no longer drawn on.
func (d *Document) Page(w, h int) render.Canvas {
	d.f.AddPage()
	k := min(pageWidth/float64(w), pageHeight/float64(h))
	return &page{d: d, k: k, alpha: 1, x: (pageWidth - k*float64(w)) / 2, y: (pageHeight - k*float64(h)) / 2}
}

// WriteTo writes the file. It fails where something drawn could not be kept, or as w does.
func (d *Document) WriteTo(w io.Writer) (int64, error) {
	c := &counter{w: w}
	err := d.f.Output(c)
	return c.n, err
}

type counter struct {
	w io.Writer
	n int64
}

func (c *counter) Write(p []byte) (int, error) {
	n, err := c.w.Write(p)
	c.n += int64(n)
	return n, err
}

// page is a canvas: k points a pixel, its corner at x, y.
type page struct {
	d     *Document
	k     float64
	x, y  float64
	alpha float64 // opacity that is set
}

// at gives a place in points. What is no number fails the file.
func (p *page) at(x, y float32) (px, py float64) {
	px, py = p.x+float64(x)*p.k, p.y+float64(y)*p.k
	if s := px + py; math.IsNaN(s) || math.IsInf(s, 0) {
		p.d.f.SetErrorf("the drawing has a coordinate that is no number")
		return 0, 0
	}
	return px, py
}

// Rect implements render.Canvas.
func (p *page) Rect(x, y, w, h float32, c color.RGBA) {
	if !(w > 0 && h > 0) {
		return
	}
	p.fill(c)
	px, py := p.at(x, y)
	p.d.f.Rect(px, py, float64(w)*p.k, float64(h)*p.k, "F")
}

// Polygon implements render.Canvas.
func (p *page) Polygon(corners []render.Point, c color.RGBA) {
	p.fill(c)
	p.d.corners = p.d.corners[:0]
	for _, q := range corners {
		x, y := p.at(q.X, q.Y)
		p.d.corners = append(p.d.corners, fpdf.PointType{X: x, Y: y})
	}
	p.d.f.Polygon(p.d.corners, "F")
}

// styles by face: the library's name for a family and its style.
var styles = map[render.Face][2]string{
	render.Regular: {"go", ""},
	render.Bold:    {"go", "B"},
	render.Mono:    {"gomono", ""},
}

// Text implements render.Canvas.
func (p *page) Text(x, y float32, t render.Type, c color.RGBA, s []byte) {
	if len(s) == 0 {
		return
	}
	f, style := p.d.f, styles[t.Face]
	f.AddUTF8FontFromBytes(style[0], style[1], t.Face.TrueType()) // nothing if it is there
	f.SetFont(style[0], style[1], float64(t.Size)*p.k)
	n := p.opacity(c)
	f.SetTextColor(int(n.R), int(n.G), int(n.B))
	px, py := p.at(x, y)
	f.Text(px, py, string(s))
}

func (p *page) fill(c color.RGBA) {
	n := p.opacity(c)
	p.d.f.SetFillColor(int(n.R), int(n.G), int(n.B))
}

// opacity sets a colour's opacity, which Go keeps multiplied into it, and gives the rest.
func (p *page) opacity(c color.RGBA) color.NRGBA {
	n := color.NRGBAModel.Convert(c).(color.NRGBA)
	if alpha := float64(n.A) / 255; alpha != p.alpha {
		p.d.f.SetAlpha(alpha, "Normal")
		p.alpha = alpha
	}
	return n
}
