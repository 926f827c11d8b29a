package render

import (
	"math"

	"heeltoe/footing/pad"
	"heeltoe/trainer/view"
)

// parts divide a row of the strip, as shares of its height from above: the flag
// of the foot, the window, the trace of the press, the traces of earlier reps.
type parts struct {
	flagTop, flagEnd   float32
	dueTop, dueEnd     float32
	traceTop, traceEnd float32
	pastTop, pastStep  float32
	pastHeight         float32
}

// A run's rows have room for traces; those of a still have larger flags instead.
var (
	runParts   = parts{0.04, 0.21, 0.23, 0.44, 0.47, 0.78, 0.82, 0.06, 0.045}
	stillParts = parts{0.08, 0.52, 0.58, 0.88, 0.88, 0.88, 0.9, 0.03, 0.02}
)

// fullNotes is up to how many notes in view are drawn with all their bounds.
const fullNotes = 40

// bareNotes is from how many notes in view on only the due moments are drawn.
const bareNotes = 160

// drum is the time axis of the strip: the part of a rep in view, and where it lies.
type drum struct {
	from, to, length pad.Time
	x, w             float32
}

// at gives the place of moment t of the rep.
func (d *drum) at(t pad.Time) float32 {
	return d.x + float32(float64(t-d.from)/float64(d.to-d.from)*float64(d.w))
}

// turns gives the first and the last turn of the drum that the span touches, at
// most four.
func (d *drum) turns(t0, t1 pad.Time) (first, last int64) {
	first = floorDiv(t0, d.length)
	last = max(first, floorDiv(t1-1, d.length))
	return max(first, last-3), last
}

// on gives the part of a span that lies in view on one turn, and false where
// there is none.
func (d *drum) on(t0, t1 pad.Time, turn int64) (x0, x1 float32, ok bool) {
	off := pad.Time(turn) * d.length
	t0, t1 = max(t0-off, 0, d.from), min(t1-off, d.length, d.to)
	if t1 < t0 {
		return 0, 0, false
	}
	return d.at(t0), d.at(t1), true
}

func floorDiv(a, b pad.Time) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return int64(q)
}

// rows is where the rows of the strip lie.
type rows struct {
	y, h float32 // of the first
	gap  float32 // before the second pad's rows, where there are two
	half int     // rows before the gap
	parts
}

func (r *rows) top(p pad.Panel) float32 {
	y := r.y + float32(p)*r.h
	if int(p) >= r.half {
		y += r.gap
	}
	return y
}

// strip draws one rep from left to right, a row a panel, as a recorder's drum
// would: what passes the end goes on at the beginning, and the traces of
// earlier turns stay below. A still has neither traces nor a time line.
func (s *Screen) strip(a area, v *view.Live, still bool) {
	n := len(v.Layout.Panels)
	if n == 0 || v.RepLength <= 0 || a.w < 4*s.u || a.h < 4*s.u {
		return
	}
	head := a.top(s.u * 1.25)
	r := rows{y: a.y, half: n, parts: runParts}
	if still {
		r.parts = stillParts
	}
	if half := secondPad(v.Layout); half > 0 {
		r.half, r.gap = half, snap(s.u*0.4)
	}
	r.h = float32(math.Floor(float64((a.h - r.gap) / float32(n))))
	a.h = r.h*float32(n) + r.gap

	// Ids at the left.
	id := Type{Bold, int(min(r.h*0.62, s.u*1.5))}
	wide := s.width(s.small(), "beat")
	for _, p := range v.Layout.Panels {
		wide = max(wide, min(s.width(id, p.ID), a.w*0.15))
	}
	ids := a.left(snap(wide + s.u*0.9))
	for p := range v.Layout.Panels {
		y := r.top(pad.Panel(p))
		s.say(ids.x, base(area{ids.x, y, ids.w, r.h}, id), wide+1, id, s.th.Ink, atLeft, v.Layout.Panels[p].ID)
	}
	s.say(ids.x, head.y+s.u*0.9, wide+1, s.small(), s.th.Soft, atLeft, "beat")

	d := drum{from: v.From, to: v.To, length: v.RepLength, x: a.x, w: a.w}
	if d.to <= d.from {
		d.from, d.to = 0, d.length
	}

	// Paper, grid and beats.
	for p := range n {
		y := r.top(pad.Panel(p))
		s.rect(a.x, y, a.w, r.h, s.th.Paper)
	}
	s.grid(a, &r, &d, v.Slots, s.u*0.7, s.pen, false)
	s.beats(head, a, &r, &d, v.Beats)
	for p := range n {
		y := r.top(pad.Panel(p))
		s.rect(a.x, y+r.h-s.pen, a.w, s.pen, s.th.Beat)
		s.rect(a.x, y+r.h*r.traceEnd-s.pen, a.w, s.pen, s.th.Beat)
	}
	s.frame(area{a.x, r.y, a.w, r.top(pad.Panel(r.half-1)) + r.h - r.y}, s.pen, s.th.Mark)
	if r.half < n {
		y := r.top(pad.Panel(r.half))
		s.frame(area{a.x, y, a.w, a.bottom() - y}, s.pen, s.th.Mark)
	}

	s.dues(&r, &d, v)
	if !still {
		s.traces(&r, &d, v)
	}
	s.flags(&r, &d, v, still)

	s.many = false
	if still {
		return
	}
	if v.Phase == view.Playing || v.Phase == view.Held || v.Phase == view.CountIn {
		t := v.InRep - pad.Time(floorDiv(v.InRep, d.length))*d.length
		if t >= d.from && t <= d.to {
			x := d.at(t)
			s.vline(x, head.bottom()-s.u*0.12, a.bottom(), max(2, 2*s.pen), s.th.Ink)
		}
	}
}

// secondPad gives the index of the first panel of the second pad, or 0: where
// the first sign of the ids changes from 1 to 2.
func secondPad(l *pad.Layout) int {
	for i := 1; i < len(l.Panels); i++ {
		if l.Panels[i-1].ID[0] == '1' && l.Panels[i].ID[0] == '2' {
			return i
		}
	}
	return 0
}

// grid draws upright lines over all rows where they lie least apart or more.
func (s *Screen) grid(a area, r *rows, d *drum, at []pad.Time, least, pen float32, beat bool) {
	if len(at) == 0 {
		return
	}
	c := s.th.Grid
	if beat {
		c = s.th.Beat
	}
	last := float32(math.Inf(-1))
	if !beat && len(at) > 1 && d.at(at[1])-d.at(at[0]) < least {
		return // every second slot alone would deceive
	}
	for _, t := range at {
		if t < d.from || t > d.to {
			continue
		}
		x := d.at(t)
		if x-last < least || x < a.x+1 || x > a.right()-pen {
			continue
		}
		last = x
		s.vline(x, a.y, r.top(pad.Panel(r.half-1))+r.h, pen, c)
		if r.gap > 0 {
			s.vline(x, r.top(pad.Panel(r.half)), a.bottom(), pen, c)
		}
	}
}

// beats draws the heavier lines and their numbers above, as many as fit.
func (s *Screen) beats(head, a area, r *rows, d *drum, at []pad.Time) {
	s.grid(a, r, d, at, s.u*0.6, max(2, 2*s.pen), true)
	t := s.small()
	free := a.x - s.u*0.8
	for i, m := range at {
		if m < d.from || m > d.to {
			continue
		}
		s.buf = appendInt(s.buf[:0], int64(i+1))
		w := TextWidth(t, s.buf)
		x := d.at(m) - w/2
		if x < free || x+w > a.right() {
			continue
		}
		s.put(x, head.y+s.u*0.9, w+1, t, s.th.Soft, atLeft, s.buf)
		free = x + w + s.u*0.6
	}
}

// dues draws the windows of the notes in view as stepped mounds, the inner
// highest, each with its bounds, then the spans to be held and the due moments.
func (s *Screen) dues(r *rows, d *drum, v *view.Live) {
	inView := 0
	for i := range v.Notes {
		if t := v.Notes[i].T; t >= d.from && t <= d.to {
			inView++
		}
	}
	s.many = inView > fullNotes
	if inView > bareNotes {
		return
	}
	for band := 2; band >= 0; band-- {
		if s.many && band == 1 {
			continue
		}
		b := v.Windows[band]
		for i := range v.Notes {
			n := &v.Notes[i]
			y, h := r.mound(n.Panel, band)
			t0, t1 := n.T+b.Early, n.T+b.Late
			first, last := d.turns(t0, t1)
			for k := first; k <= last; k++ {
				if x0, x1, ok := d.on(t0, t1, k); ok {
					s.rect(x0, y, x1-x0, h, s.th.Window[band])
				}
			}
		}
	}
	if !s.many {
		for band := 2; band >= 0; band-- {
			b := v.Windows[band]
			for i := range v.Notes {
				n := &v.Notes[i]
				y, h := r.mound(n.Panel, band)
				s.bound(d, n.T+b.Early, y, h)
				s.bound(d, n.T+b.Late, y, h)
			}
		}
	}
	for i := range v.Notes {
		n := &v.Notes[i]
		y := r.top(n.Panel)
		if n.Hold > 0 {
			first, last := d.turns(n.T, n.T+n.Hold)
			for k := first; k <= last; k++ {
				if x0, x1, ok := d.on(n.T, n.T+n.Hold, k); ok {
					s.frame(area{x0, y + r.h*(r.dueEnd-0.1), x1 - x0, r.h * 0.1}, s.pen, s.th.Ink)
				}
			}
		}
	}
}

// mound gives the upper edge and the height of a band's part of a window.
func (r *rows) mound(p pad.Panel, band int) (y, h float32) {
	h = r.h * (r.dueEnd - r.dueTop) * (1 - 0.27*float32(band))
	return r.top(p) + r.h*r.dueEnd - h, h
}

// bound draws the bound of a window at moment t, which may lie a turn away.
func (s *Screen) bound(d *drum, t pad.Time, y, h float32) {
	t -= pad.Time(floorDiv(t, d.length)) * d.length
	if t >= d.from && t <= d.to {
		s.vline(d.at(t), y, y+h, s.pen, s.th.Mark)
	}
}

// flags draws the due moments, over the traces so that both can be compared,
// and at each the foot that the drill's footing has for it.
func (s *Screen) flags(r *rows, d *drum, v *view.Live, still bool) {
	for i := range v.Notes {
		n := &v.Notes[i]
		if n.T < d.from || n.T > d.to {
			continue
		}
		x, y := d.at(n.T), r.top(n.Panel)
		s.vline(x, y+r.h*r.flagTop, y+r.h*r.traceEnd, max(2, snap(1.5*s.pen)), s.th.Ink)
		if n.Foot <= pad.Right && len(v.Notes) <= bareNotes {
			high := snap(r.h * (r.flagEnd - r.flagTop))
			w := snap(max(high*1.6, s.u*0.7))
			flag := area{snap(x), snap(y + r.h*r.flagTop), min(w, d.x+d.w-x, s.free(d, v, i)), high}
			pitch := max(4, high*0.45)
			if s.many {
				pitch = max(6, high)
			}
			s.patch(flag, n.Foot, pitch)
			// With room for it, its letter too.
			t := Type{Bold, int(high * 0.7)}
			chip := area{flag.x + (flag.w-high*0.8)/2, flag.y + 2*s.pen, high * 0.8, flag.h - 4*s.pen}
			if still && t.Size >= 9 && flag.w >= high*1.3 && chip.h > float32(t.Size)*capHeight+2 {
				s.fill(chip, s.th.Ground)
				s.say(chip.x, base(chip, t), chip.w+0.5, t, s.th.Ink, atMiddle, footLetters[n.Foot])
			}
		}
	}
}

// free gives the way from note i to the next on its panel, or in a crowd
// the width of a small flag.
func (s *Screen) free(d *drum, v *view.Live, i int) float32 {
	if s.many {
		return s.u * 0.6
	}
	n := &v.Notes[i]
	way := float32(math.Inf(1))
	for j := range v.Notes {
		if m := &v.Notes[j]; m.Panel == n.Panel && m.T > n.T {
			way = min(way, d.at(m.T)-d.at(n.T)-s.pen)
		}
	}
	return snap(way - 0.5)
}

// traces draws the presses: those of this rep as pulses that stand on the row's
// line, those of the last reps as thin lines below it, older ones lower.
func (s *Screen) traces(r *rows, d *drum, v *view.Live) {
	oldest := int64(3)
	if s.many {
		oldest = 1
	}
	for pass := range 2 {
		for i := range v.Bars {
			b := &v.Bars[i]
			if int(b.Panel) >= len(v.Layout.Panels) {
				continue
			}
			t0, t1 := b.Down, b.Up
			if t1 == pad.Never {
				t1 = v.InRep + pad.Time(v.Rep-b.Rep)*d.length
			}
			if t1 < t0 {
				continue
			}
			first, last := d.turns(t0, t1)
			for k := first; k <= last; k++ {
				age := v.Rep - (b.Rep + k)
				if age < 0 || age > oldest || (age == 0) != (pass == 1) {
					continue
				}
				x0, x1, ok := d.on(t0, t1, k)
				if !ok {
					continue
				}
				y := r.top(b.Panel)
				w := max(x1-x0, 2*s.pen)
				if age > 0 {
					h := max(1, snap(r.h*r.pastHeight))
					s.past(x0, snap(y+r.h*(r.pastTop+r.pastStep*float32(age-1))), w, h, int(age), b.Foot)
					continue
				}
				s.patch(area{x0, y + r.h*r.traceTop, w, r.h * (r.traceEnd - r.traceTop)}, b.Foot, s.u*0.6)
			}
		}
	}
}

// past draws the trace of an earlier rep. That of the last rep shows the foot
// that was read, where there is room for it: a whole line for the left foot, a
// broken one for the right.
func (s *Screen) past(x, y, w, h float32, age int, f pad.Foot) {
	if age > 1 || f > pad.Right || s.many {
		s.rect(x, y, w, h, s.th.Past[age-1])
		return
	}
	dash, step := w, w+1
	if f == pad.Right {
		dash, step = snap(s.u*0.5), snap(s.u*0.75)
	}
	for at := float32(0); at < w; at += step {
		s.rect(x+at, y, min(dash, w-at), h, s.th.Edge[f])
	}
}
