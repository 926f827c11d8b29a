package page

import (
	"fmt"
	"html"
	"html/template"
	"math"
	"strconv"
	"strings"
)

// plot is a drawing within the page: inline SVG whose colours are classes of the
// page's style, so that it follows light and dark. Lengths are in its own units,
// which are pixels where the page shows it at its size.
type plot struct {
	w, h        float64
	title, desc string
	body        strings.Builder
}

// Classes of what is drawn; the page's style gives them colours.
const (
	inkLine   = "ink"
	markLine  = "mark"
	gridLine  = "grid"
	beatLine  = "beat"
	leftFoot  = "left"
	rightFoot = "right"
	anyFoot   = "any"
)

// num writes a coordinate to a tenth of a unit.
func num(v float64) string { return strconv.FormatFloat(math.Round(v*10)/10, 'f', -1, 64) }

func (p *plot) line(class string, x1, y1, x2, y2 float64) {
	fmt.Fprintf(&p.body, `<path class="l %s" d="M%s %sL%s %s"/>`, class, num(x1), num(y1), num(x2), num(y2))
}

// fill fills an upright rectangle.
func (p *plot) fill(class string, x, y, w, h float64) {
	fmt.Fprintf(&p.body, `<rect class="f %s" x="%s" y="%s" width="%s" height="%s"/>`, class, num(x), num(y), num(max(w, 0)), num(max(h, 0)))
}

// strokes draws many lines of one class and width; d is a path of SVG.
func (p *plot) strokes(class string, width float64, d string) {
	if d != "" {
		fmt.Fprintf(&p.body, `<path class="l %s" style="stroke-width:%s" d="%s"/>`, class, num(width), d)
	}
}

// area fills what a path of SVG encloses.
func (p *plot) area(class, d string) {
	fmt.Fprintf(&p.body, `<path class="%s" d="%s"/>`, class, d)
}

// Places of a text about its point.
const (
	atStart  = "start"
	atMiddle = "middle"
	atEnd    = "end"
)

func (p *plot) text(at string, x, y float64, s string) {
	fmt.Fprintf(&p.body, `<text x="%s" y="%s" text-anchor="%s">%s</text>`, num(x), num(y), at, html.EscapeString(s))
}

// html gives the drawing for the page; id, of this drawing alone, ties it to its title.
func (p *plot) html(id int) template.HTML {
	return template.HTML(fmt.Sprintf(`<svg viewBox="0 0 %s %s" role="img" aria-labelledby="t%d d%d"><title id="t%d">%s</title><desc id="d%d">%s</desc>%s</svg>`,
		num(p.w), num(p.h), id, id, id, html.EscapeString(p.title), id, html.EscapeString(p.desc), p.body.String()))
}

// scale takes a range of values to a range of places.
type scale struct {
	from, to float64 // values
	a, b     float64 // their places
}

func (s scale) at(v float64) float64 {
	return s.a + (min(max(v, s.from), s.to)-s.from)/(s.to-s.from)*(s.b-s.a)
}

// ticks gives round values within a scale, about n of them: steps of 1, 2 or 5 and
// tens of these.
func (s scale) ticks(n int) []float64 {
	span := s.to - s.from
	step := math.Pow(10, math.Floor(math.Log10(span/float64(n))))
	for _, k := range []float64{1, 2, 5, 10} {
		if span/(k*step) <= float64(n) {
			step *= k
			break
		}
	}
	var out []float64
	for k := math.Ceil(s.from/step - 1e-9); k*step <= s.to+step*1e-9; k++ {
		out = append(out, k*step)
	}
	return out
}

// around gives a scale that holds values, with a little room; defined ones only.
func around(values []float64, least float64) (from, to float64) {
	from, to = math.Inf(1), math.Inf(-1)
	for _, v := range values {
		if !math.IsNaN(v) {
			from, to = min(from, v), max(to, v)
		}
	}
	if from > to {
		from, to = 0, least
	}
	if to-from < least {
		middle := (from + to) / 2
		from, to = middle-least/2, middle+least/2
	}
	room := (to - from) * 0.06
	return from - room, to + room
}
