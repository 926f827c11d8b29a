package render

import (
	"image/color"
	"math"
	"strconv"
	"unicode/utf8"

	"heeltoe/footing/pad"
	"heeltoe/trainer/view"
)

// Screen draws pages. It keeps what it needs from frame to frame, so that
// drawing does not allocate once its buffers have grown. It belongs to one goroutine.
type Screen struct {
	Theme *Theme  // Dark where nil
	Scale float32 // pixels of the device for one of a plain display; 1 where 0
	Hints []Hint  // the keys of the page, shown on its last line

	// Zones are what a click means, of the page drawn last. They do not overlap.
	Zones []Zone

	c    Canvas
	th   *Theme
	w, h float32
	u    float32 // em of plain text, whole pixels
	pen  float32 // of a thin line, whole pixels
	gap  float32

	buf     []byte // text being put together
	line    []byte // text being cut to fit
	tail    []byte // a second text, measured before the first is written
	corners [6]Point
	stripes int  // that may still be drawn for hatching in this frame
	many    bool // more notes in view than are drawn with all their bounds
}

// Hint is a key and what it does, named for the player.
type Hint struct {
	Key, Text string
	Act       Act
}

// Zone is a part of the page that means Act when clicked, of the N-th thing.
type Zone struct {
	X, Y, W, H float32
	Act        Act
	N          int
}

// Act is what a click means.
type Act uint8

// Acts. Those with an N say of what it is the index.
const (
	NoAct       Act = iota
	Begin           // begin the run
	Stop            // end it
	Pause           // hold it, or go on
	GoDesk          // choose a drill
	GoTeach         // give panels their keys or sensors
	GoHelp          // what figures and marks mean
	Back            // to the page before
	PickDrill       // N: of Desk.Drills
	FocusField      // N: of Desk.Fields
	Less            // N: of Desk.Fields
	More            // N: of Desk.Fields
	FocusSearch     // type to narrow the list
	AskPanel        // N: of the layout's panels
	Explain         // N: of Live.Figures
	Earlier         // scroll back
	Later           // scroll on
	FullScreen
	SwapTheme
)

// Hit gives the zone that holds the point, and false where none does.
func (s *Screen) Hit(x, y float32) (Zone, bool) {
	for _, z := range s.Zones {
		if x >= z.X && x < z.X+z.W && y >= z.Y && y < z.Y+z.H {
			return z, true
		}
	}
	return Zone{}, false
}

// maxStripes bounds the hatching of a frame; where a page asks for more, the
// rest keeps its tint and its frame.
const maxStripes = 550

// begin clears the page and sets its measures.
func (s *Screen) begin(c Canvas, w, h int) {
	s.c, s.th = c, s.Theme
	if s.th == nil {
		s.th = Dark
	}
	scale := s.Scale
	if !(scale > 0) {
		scale = 1
	}
	s.w, s.h = float32(w), float32(h)
	s.measure(snap(max(11, min(max(s.h/42, 13*scale), s.h/32, s.w/54))))
	s.Zones = s.Zones[:0]
	s.stripes = maxStripes
	s.many = false
	s.rect(0, 0, s.w, s.h, s.th.Ground)
}

// measure sets the page's measures by the em of plain text, whole pixels.
func (s *Screen) measure(em float32) {
	s.u = em
	s.pen = max(1, snap(em/15))
	s.gap = snap(em * 0.6)
}

// area is an upright part of the page.
type area struct{ x, y, w, h float32 }

func (a area) right() float32  { return a.x + a.w }
func (a area) bottom() float32 { return a.y + a.h }

// inset gives a less d on every side.
func (a area) inset(d float32) area { return area{a.x + d, a.y + d, a.w - 2*d, a.h - 2*d} }

// top cuts off the upper h of a; bottom, left and right do so on their sides.
func (a *area) top(h float32) area {
	t := area{a.x, a.y, a.w, h}
	a.y += h
	a.h -= h
	return t
}

func (a *area) foot(h float32) area {
	a.h -= h
	return area{a.x, a.y + a.h, a.w, h}
}

func (a *area) left(w float32) area {
	l := area{a.x, a.y, w, a.h}
	a.x += w
	a.w -= w
	return l
}

func (a *area) end(w float32) area {
	a.w -= w
	return area{a.x + a.w, a.y, w, a.h}
}

// snap gives the nearest whole pixel.
func snap(f float32) float32 { return float32(math.Floor(float64(f) + 0.5)) }

func (s *Screen) zone(a area, act Act, n int) {
	s.Zones = append(s.Zones, Zone{a.x, a.y, a.w, a.h, act, n})
}

// rect fills a rectangle whose edges are snapped to whole pixels.
func (s *Screen) rect(x, y, w, h float32, c color.RGBA) {
	x0, y0, x1, y1 := snap(x), snap(y), snap(x+w), snap(y+h)
	if x1 > x0 && y1 > y0 {
		s.c.Rect(x0, y0, x1-x0, y1-y0, c)
	}
}

func (s *Screen) fill(a area, c color.RGBA) { s.rect(a.x, a.y, a.w, a.h, c) }

// vline draws an upright line of width w with x in its middle.
func (s *Screen) vline(x, y0, y1, w float32, c color.RGBA) {
	x0 := snap(x - w/2)
	s.rect(x0, y0, w, y1-y0, c)
}

// frame draws the edge of a, pen wide, inside it.
func (s *Screen) frame(a area, pen float32, c color.RGBA) {
	x0, y0, x1, y1 := snap(a.x), snap(a.y), snap(a.right()), snap(a.bottom())
	pen = min(pen, (x1-x0)/2, (y1-y0)/2)
	if pen < 1 {
		return
	}
	s.rect(x0, y0, x1-x0, pen, c)
	s.rect(x0, y1-pen, x1-x0, pen, c)
	s.rect(x0, y0+pen, pen, y1-y0-2*pen, c)
	s.rect(x1-pen, y0+pen, pen, y1-y0-2*pen, c)
}

// hatch covers a, snapped to whole pixels, with the stripes of a foot: those of
// the left foot rise to the right, those of the right foot fall. pitch is the
// way from stripe to stripe along x. Stripes start at the left edge, so those
// of a bar that grows to the right stay where they are.
func (s *Screen) hatch(a area, f pad.Foot, pitch float32) {
	if f > pad.Right {
		return
	}
	x, y := snap(a.x), snap(a.y)
	w, h := snap(a.right())-x, snap(a.bottom())-y
	if w < 1 || h < 1 {
		return
	}
	pitch = max(pitch, 3)
	thick := pitch * 0.45
	for u0 := float32(0); u0 < w+h && s.stripes > 0; u0 += pitch {
		u1 := min(u0+thick, w+h)
		s.stripes--
		n := 0
		add := func(px, py float32) {
			if f == pad.Right {
				py = h - py
			}
			s.corners[n] = Point{x + px, y + py}
			n++
		}
		// Where x + y is u the stripe's edge runs from the left or lower side …
		low := func(u float32) {
			if u <= h {
				add(0, u)
			} else {
				add(u-h, h)
			}
		}
		// … to the upper or right side.
		high := func(u float32) {
			if u <= w {
				add(u, 0)
			} else {
				add(w, u-w)
			}
		}
		low(u0)
		if u0 < h && h < u1 {
			add(0, h)
		}
		low(u1)
		high(u1)
		if u0 < w && w < u1 {
			add(w, 0)
		}
		if u0 > 0 {
			high(u0)
		}
		if n >= 3 {
			s.c.Polygon(s.corners[:n], s.th.Foot[f])
		}
	}
}

// patch draws a small area for a foot: tint, hatching and edge, or plain where
// the foot is not known. In a crowd it has no edge.
func (s *Screen) patch(a area, f pad.Foot, pitch float32) {
	if f > pad.Right {
		s.fill(a, s.th.Any)
		if !s.many {
			s.frame(a, s.pen, s.th.Mark)
		}
		return
	}
	s.fill(a, s.th.Tint[f])
	s.hatch(a, f, pitch)
	if !s.many {
		s.frame(a, s.pen, s.th.Edge[f])
	}
}

// How text lies in the width it is given.
type align uint8

const (
	atLeft align = iota
	atMiddle
	atRight
)

// nothing is the colour with which text is only measured.
var nothing color.RGBA

var ellipsis = []byte("…")

// say writes the parts as one text with its baseline at y in the width w from
// x, cut with an ellipsis where it does not fit. It gives the width of what was
// written: 0 where not even the ellipsis fits.
func (s *Screen) say(x, y, w float32, t Type, c color.RGBA, how align, parts ...string) float32 {
	s.buf = s.buf[:0]
	for _, p := range parts {
		s.buf = append(s.buf, p...)
	}
	return s.put(x, y, w, t, c, how, s.buf)
}

func (s *Screen) put(x, y, w float32, t Type, c color.RGBA, how align, b []byte) float32 {
	b = s.cut(b, t, w)
	if len(b) == 0 {
		return 0
	}
	tw := TextWidth(t, b)
	switch how {
	case atMiddle:
		x += (w - tw) / 2
	case atRight:
		x += w - tw
	}
	s.c.Text(snap(x), snap(y), t, c, b)
	return tw
}

// cut gives b, or as much of its beginning as fits in w together with an
// ellipsis, or nothing. Half a pixel is left for the rounding of places.
func (s *Screen) cut(b []byte, t Type, w float32) []byte {
	w -= 0.5
	if TextWidth(t, b) <= w {
		return b
	}
	room := w - TextWidth(t, ellipsis)
	if room < 0 {
		return nil
	}
	n := 0
	for n < len(b) {
		r, k := utf8.DecodeRune(b[n:])
		a := Advance(t, r)
		if a > room {
			break
		}
		room -= a
		n += k
	}
	for n > 0 && b[n-1] == ' ' {
		n--
	}
	s.line = append(append(s.line[:0], b[:n]...), ellipsis...)
	return s.line
}

// wrap writes text in lines of width w at most, the first baseline at y, most
// lines or fewer, step apart; what is too much is cut. It gives the number of lines.
// With a colour of no opacity it only counts.
func (s *Screen) wrap(x, y, w, step float32, most int, t Type, c color.RGBA, text string) int {
	lines := 0
	for i := 0; i < len(text) && lines < most; {
		for i < len(text) && blank(text[i]) {
			i++
		}
		if i == len(text) {
			break
		}
		s.buf = s.buf[:0]
		j := i
		for j < len(text) {
			k := j
			for k < len(text) && blank(text[k]) {
				k++
			}
			e := k
			for e < len(text) && !blank(text[e]) {
				e++
			}
			if e == k {
				j = e
				break
			}
			had := len(s.buf)
			if had > 0 {
				s.buf = append(s.buf, ' ')
			}
			s.buf = append(s.buf, text[k:e]...)
			if had > 0 && lines < most-1 && TextWidth(t, s.buf) > w-0.5 {
				s.buf = s.buf[:had]
				break
			}
			j = e
			if lines == most-1 && TextWidth(t, s.buf) > w-0.5 {
				j = len(text)
				break
			}
		}
		i = j
		if c.A != 0 {
			s.put(x, y+float32(lines)*step, w, t, c, atLeft, s.buf)
		}
		lines++
	}
	return lines
}

func blank(b byte) bool { return b == ' ' || b == '\n' || b == '\t' }

// base gives the baseline that puts text of type t in the middle of a, by the
// height of its capitals.
func base(a area, t Type) float32 { return a.y + (a.h+capHeight*float32(t.Size))/2 }

// capHeight is the height of the family's capitals and digits in ems.
const capHeight = 0.72

// plain, small and strong are the types of running text.
func (s *Screen) plain() Type  { return Type{Regular, int(s.u)} }
func (s *Screen) strong() Type { return Type{Bold, int(s.u)} }
func (s *Screen) small() Type  { return Type{Regular, int(snap(max(11, s.u*0.86)))} }

// fit gives the largest type of the face, from most down to least, at which the
// text is no wider than w.
func fit(f Face, most, least int, w float32, text string, buf []byte) (Type, []byte) {
	buf = append(buf[:0], text...)
	t := Type{f, most}
	if tw := TextWidth(t, buf); tw > w && tw > 0 {
		t.Size = max(least, int(float32(most)*w/tw))
	}
	return t, buf
}

// appendNumber writes n with its decimals, a minus sign where it is below 0 and,
// where signed is set, a plus sign where it is above; a dash for what is
// undefined. What rounds to 0 has no sign.
func appendNumber(b []byte, n view.Number, decimals int, signed bool) []byte {
	f := float64(n)
	if math.IsNaN(f) || math.IsInf(f, 0) {
		return append(b, "–"...)
	}
	decimals = min(max(decimals, 0), 6)
	start := len(b)
	if f < 0 {
		b = append(b, "−"...)
	} else if signed {
		b = append(b, '+')
	}
	digits := len(b)
	if math.Abs(f) >= 1e7 {
		return strconv.AppendFloat(b, math.Abs(f), 'g', 3, 64)
	}
	b = strconv.AppendFloat(b, math.Abs(f), 'f', decimals, 64)
	for _, d := range b[digits:] {
		if d != '0' && d != '.' {
			return b
		}
	}
	return append(b[:start], b[digits:]...)
}

// appendMS writes t in whole milliseconds with its sign.
func appendMS(b []byte, t pad.Time, signed bool) []byte {
	return appendNumber(b, view.Number(t.Milliseconds()), 0, signed)
}

// appendTempo writes beats a minute with a decimal where there is one.
func appendTempo(b []byte, bpm float64) []byte {
	if bpm == math.Trunc(bpm) {
		return appendNumber(b, view.Number(bpm), 0, false)
	}
	return appendNumber(b, view.Number(bpm), 1, false)
}

func appendInt(b []byte, n int64) []byte { return strconv.AppendInt(b, n, 10) }
