package render

import (
	"encoding/xml"
	"fmt"
	"image/color"
	"io"
	"math"
	"strconv"
	"strings"
)

// SVG is a canvas that becomes a file of the Scalable Vector Graphics format,
// version 1.1 (W3C): fills and text, with a title and a description for those who
// do not see it. Text stays text, in the Go family or what the reader has instead.
type SVG struct {
	w, h  int
	title string
	desc  string
	body  []byte
	err   error
}

// NewSVG makes a drawing of w by h pixels.
func NewSVG(w, h int, title, desc string) *SVG {
	return &SVG{w: w, h: h, title: title, desc: desc}
}

// families by face, with what to take where the Go family is not there.
var families = [faces]string{
	Regular: ` font-family="Go,Helvetica,Arial,sans-serif"`,
	Bold:    ` font-family="Go,Helvetica,Arial,sans-serif" font-weight="bold"`,
	Mono:    ` font-family="Go Mono,monospace"`,
}

// Rect implements Canvas.
func (v *SVG) Rect(x, y, w, h float32, c color.RGBA) {
	if !(w > 0 && h > 0) {
		return
	}
	v.body = append(v.body, `<path d="M`...)
	v.point(x, y)
	v.body = append(v.body, 'H')
	v.number(x + w)
	v.body = append(v.body, 'V')
	v.number(y + h)
	v.body = append(v.body, 'H')
	v.number(x)
	v.body = append(v.body, `Z"`...)
	v.fill(c)
	v.body = append(v.body, "/>\n"...)
}

// Polygon implements Canvas.
func (v *SVG) Polygon(corners []Point, c color.RGBA) {
	v.body = append(v.body, `<path d="M`...)
	for i, q := range corners {
		if i > 0 {
			v.body = append(v.body, 'L')
		}
		v.point(q.X, q.Y)
	}
	v.body = append(v.body, `Z"`...)
	v.fill(c)
	v.body = append(v.body, "/>\n"...)
}

// Text implements Canvas.
func (v *SVG) Text(x, y float32, t Type, c color.RGBA, s []byte) {
	if len(s) == 0 {
		return
	}
	v.body = append(v.body, `<text x="`...)
	v.number(x)
	v.body = append(v.body, `" y="`...)
	v.number(y)
	v.body = append(v.body, `" font-size="`...)
	v.body = strconv.AppendInt(v.body, int64(t.Size), 10)
	v.body = append(v.body, '"')
	v.body = append(v.body, families[t.Face]...)
	v.fill(c)
	v.body = append(v.body, ` xml:space="preserve">`...)
	v.body = append(v.body, escape(string(s))...)
	v.body = append(v.body, "</text>\n"...)
}

func (v *SVG) point(x, y float32) {
	v.number(x)
	v.body = append(v.body, ' ')
	v.number(y)
}

// number writes f to a hundredth of a pixel. What is no number fails the file.
func (v *SVG) number(f float32) {
	if math.IsNaN(float64(f)) || math.IsInf(float64(f), 0) {
		v.err = fmt.Errorf("the drawing has a coordinate that is no number")
		f = 0
	}
	v.body = strconv.AppendFloat(v.body, math.Round(float64(f)*100)/100, 'f', -1, 64)
}

// fill writes a colour, which Go keeps multiplied by its opacity and SVG does not.
func (v *SVG) fill(c color.RGBA) {
	n := color.NRGBAModel.Convert(c).(color.NRGBA)
	v.body = fmt.Appendf(v.body, ` fill="#%02x%02x%02x"`, n.R, n.G, n.B)
	if n.A != 255 {
		v.body = append(v.body, ` fill-opacity="`...)
		v.body = strconv.AppendFloat(v.body, math.Round(float64(n.A)/255*1000)/1000, 'f', -1, 64)
		v.body = append(v.body, '"')
	}
}

func escape(s string) string {
	var b strings.Builder
	xml.EscapeText(&b, []byte(s)) // a Builder does not fail
	return b.String()
}

// WriteTo writes the file. It fails where the drawing holds a coordinate that is
// no number, or as w does.
func (v *SVG) WriteTo(w io.Writer) (int64, error) {
	if v.err != nil {
		return 0, v.err
	}
	head := fmt.Sprintf(`<?xml version="1.0" encoding="UTF-8"?>
<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="%d" height="%d" viewBox="0 0 %d %d" role="img" aria-labelledby="title desc">
<title id="title">%s</title>
<desc id="desc">%s</desc>
`, v.w, v.h, v.w, v.h, escape(v.title), escape(v.desc))
	n, err := io.WriteString(w, head+string(v.body)+"</svg>\n")
	return int64(n), err
}
