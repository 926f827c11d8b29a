package render

import (
	"heeltoe/footing/pad"
	"heeltoe/trainer/view"
)

// axis is the offsets of the timing chart: from early to late in µs, and where they lie.
type axis struct {
	from, to float64
	x, w     float32
}

// at gives the place of an offset in µs; what is off the paper is put on its edge.
func (d *axis) at(us float64) float32 {
	us = min(max(us, d.from), d.to)
	return d.x + float32((us-d.from)/(d.to-d.from))*d.w
}

// chart draws the timing of the last reps, the newest at the top: for each
// panel, in the layout's order, a bar from the lower to the upper quartile and a
// tick at the median, between the bounds of the windows.
func (s *Screen) chart(a area, v *view.Live) {
	n := len(v.Layout.Panels)
	if a.w < 8*s.u || a.h < 6*s.u || n == 0 {
		return
	}
	t := s.small()
	head := a.top(s.u * planHead)
	numbers := a.top(s.u * 1.2)
	// The newest line is high enough for the panels' ids, where that leaves
	// room for others.
	tall := snap(float32(t.Size) * 1.05)
	idBand := len(v.Lines) > 0 && tall*float32(n) < a.h*0.45
	numberWidth := s.width(t, "9999")
	idWidth := float32(0)
	for i := range v.Layout.Panels {
		if !idBand {
			break
		}
		idWidth = min(max(idWidth, s.width(t, v.Layout.Panels[i].ID)), a.w*0.1)
	}
	left := a.left(snap(numberWidth + idWidth + s.u))
	y := head.y + s.u*0.85
	s.say(left.x, numbers.y+s.u*0.8, numberWidth+1, t, s.th.Soft, atRight, "rep")

	outer := v.Windows[2]
	span := max(float64(outer.Late-outer.Early), 1000)
	d := axis{from: float64(outer.Early) - span*0.12, to: float64(outer.Late) + span*0.12, x: a.x, w: a.w}
	zero := d.at(0)

	// Above: what the axis is, then its bounds in ms, the outermost first, as
	// far as they fit.
	s.say(head.x, y, zero-s.u*0.5-head.x, t, s.th.Soft, atRight, "ms early")
	s.say(zero+s.u*0.5, y, a.right()-zero-s.u*0.5, t, s.th.Soft, atLeft, "ms late")
	s.vline(zero, head.y+s.u*0.15, head.bottom(), s.pen, s.th.Soft)

	var taken [7]area
	used := 0
	for i := range 7 {
		var at pad.Time
		if i > 0 {
			b := v.Windows[[3]int{2, 0, 1}[(i-1)/2]]
			if at = b.Early; i%2 == 0 {
				at = b.Late
			}
		}
		s.buf = appendMS(s.buf[:0], at, true)
		w := TextWidth(t, s.buf)
		x := snap(min(max(d.at(float64(at))-w/2, a.x), a.right()-w-1))
		free := true
		for _, b := range taken[:used] {
			if x < b.right()+s.u*0.35 && x+w+s.u*0.35 > b.x {
				free = false
			}
		}
		if !free {
			continue
		}
		taken[used] = area{x: x, w: w}
		used++
		s.put(x, numbers.y+s.u*0.8, w+1, t, s.th.Ink, atLeft, s.buf)
	}

	// The paper and the lines of the reps.
	s.fill(a, s.th.Paper)
	reps := float32(7)
	if n > 5 {
		reps = 4
	}
	sub := max(3, float32(floor(a.h/reps/(float32(n)+0.8))))
	between := max(2, snap(sub*0.8))
	band := sub*float32(n) + between
	first := sub
	if idBand {
		first = tall
	}
	more := first*float32(n) - sub*float32(n)
	shown := min(len(v.Lines), int((a.h-between-more)/band))
	every := ceil(s.u * 1.1 / band)
	for i := range shown {
		l := &v.Lines[len(v.Lines)-1-i]
		y, h := a.y+between+float32(i)*band, band-between
		if i == 0 {
			h += more
		} else {
			y += more
		}
		if i > 0 {
			s.rect(a.x, y-between/2, a.w, 1, s.th.Grid)
		}
		if i%every == 0 {
			s.buf = appendInt(s.buf[:0], l.Rep+1)
			s.put(left.x, base(area{0, y, 0, max(h, s.u*0.8)}, t), numberWidth, t, s.th.Ink, atRight, s.buf)
		}
		for j := range n {
			if idBand && i == 0 {
				s.say(left.x+numberWidth+s.u*0.5, base(area{0, y + float32(j)*first, 0, first}, t), idWidth+1, t, s.th.Soft, atLeft, v.Layout.Panels[j].ID)
			}
		}
	}
	for i := range v.Windows {
		pen := s.pen
		if i == 2 {
			pen = 2 * s.pen
		}
		s.vline(d.at(float64(v.Windows[i].Early)), a.y, a.bottom(), pen, s.th.Mark)
		s.vline(d.at(float64(v.Windows[i].Late)), a.y, a.bottom(), pen, s.th.Mark)
	}
	s.vline(zero, a.y, a.bottom(), s.pen, s.th.Ink)
	for i := range shown {
		l := &v.Lines[len(v.Lines)-1-i]
		y, sub := a.y+between+float32(i)*band, sub
		if i == 0 {
			sub = first
		} else {
			y += more
		}
		for j := range min(n, len(l.Panels)) {
			p := &l.Panels[j]
			if p.N == 0 || !p.Median.Defined() {
				continue
			}
			py := y + float32(j)*sub
			if p.Low.Defined() && p.High.Defined() {
				x0, x1 := d.at(float64(p.Low)), d.at(float64(p.High))
				s.rect(x0, py+sub*0.3, x1-x0, max(1, sub*0.4), s.th.Past[2])
			}
			s.vline(d.at(float64(p.Median)), py, py+max(2, sub-1), max(3, snap(2.5*s.pen)), s.th.Ink)
		}
	}
	s.frame(a, s.pen, s.th.Mark)
	if shown == 0 {
		msg := area{a.x, a.y + a.h/2 - s.u, a.w, 2 * s.u}
		text := "a line for each rep, once it is over"
		w := s.width(t, text)
		if w+s.u < a.w {
			box := area{a.x + (a.w-w)/2 - s.u/2, msg.y, w + s.u, msg.h}
			s.fill(box, s.th.Paper)
			s.say(box.x+s.u/2, base(msg, t), w+1, t, s.th.Soft, atLeft, text)
		}
	}
}
