package render

import (
	"math"
	"strconv"

	"heeltoe/footing/pad"
	"heeltoe/trainer/view"
)

// Heights of the strip's rows, in ems, and of what stands above them.
const (
	lowestRow  = 1.15
	highestRow = 2.0
	stripHead  = 2.4
)

// stripHeight gives the height in pixels of a strip, the rows in ems.
func stripHeight(v *view.Sheet, em, row float32) float32 {
	return em * (stripHead + row*float32(len(v.Layout.Panels)+1))
}

// downs draws which panels are down when, and under which foot, over the landings
// from first to before last: what overlaps what. The lowest row shows when none is.
func (s *Screen) downs(a area, v *view.Sheet, first, last int) {
	if first >= last || v.RepLength <= 0 {
		return
	}
	head := a.top(s.u * stripHead)
	row := float32(floor(min(s.u*highestRow, a.h/float32(len(v.Layout.Panels)+1))))
	a.h = row * float32(len(v.Layout.Panels)+1)
	ids := a.left(snap(max(s.width(s.small(), noneDown), s.u*3) + s.u*0.6))

	// The part of the rep: a whole turn where all landings are here.
	d := drum{length: v.RepLength, to: v.RepLength, x: a.x, w: a.w}
	if first > 0 {
		d.from = min(max(v.Landings[first].T, 0), v.RepLength)
	}
	if last < len(v.Landings) {
		d.to = min(max(v.Landings[last].T, 0), v.RepLength)
	}
	if d.to <= d.from {
		d.from, d.to = 0, v.RepLength
	}
	s.stripGround(ids, a, row, v, &d)
	s.stripLandings(head, ids, a, v, &d, first, last)
	s.stripBars(a, row, v, &d)
	s.frame(a, s.pen, s.th.Mark)
}

// noneDown is the name of the strip's lowest row.
const noneDown = "none down"

// stripGround draws the rows with their names, and the beats.
func (s *Screen) stripGround(ids, a area, row float32, v *view.Sheet, d *drum) {
	t := s.small()
	s.fill(a, s.th.Paper)
	for p := range len(v.Layout.Panels) + 1 {
		y := a.y + float32(p)*row
		name := noneDown
		if p < len(v.Layout.Panels) {
			name = v.Layout.Panels[p].ID
		}
		s.say(ids.x, base(area{ids.x, y, ids.w, row}, t), ids.w-s.u*0.3, t, s.th.Ink, atRight, name)
		if p > 0 {
			s.rect(a.x, y, a.w, s.pen, s.th.Beat)
		}
	}
	beat := 60e6 / v.BPM
	if n := float64(d.to-d.from) / beat; n > 0 && n < mostBeats {
		for k := math.Ceil(float64(d.from) / beat); k*beat <= float64(d.to); k++ {
			s.vline(d.at(pad.Time(k*beat)), a.y, a.bottom(), s.pen, s.th.Beat)
		}
	}
}

// mostBeats is above how many beats in view none is drawn.
const mostBeats = 200

// stripLandings draws a line for each landing, its number above.
func (s *Screen) stripLandings(head, ids, a area, v *view.Sheet, d *drum, first, last int) {
	t, strong := s.small(), Type{Bold, s.small().Size}
	s.say(a.x, head.y+s.u*0.9, a.w*0.6, t, s.th.Soft, atLeft, "panels down, if each foot stays as long as it can; the lines are landings, the pale ones beats")
	s.say(a.x+a.w*0.65, head.y+s.u*0.9, a.w*0.35, t, s.th.Soft, atRight, figure(d.from.Milliseconds(), 0), "–", figure(d.to.Milliseconds(), 0), " ms of the rep")
	line := head.foot(s.u * 1.2)
	y := base(line, t)
	s.say(ids.x, y, ids.w-s.u*0.3, t, s.th.Soft, atRight, "landing")
	after := a.x // of the numbers written
	for i := first; i < last; i++ {
		x, _, ok := d.on(v.Landings[i].T, v.Landings[i].T, floorDiv(v.Landings[i].T, d.length))
		if !ok {
			continue
		}
		s.vline(x, a.y, a.bottom(), s.pen, s.th.Mark)
		number := strconv.Itoa(i + 1)
		w := s.width(strong, number)
		if at := min(max(x-w/2, a.x), a.right()-w-1); at >= after {
			s.say(at, y, w+1, strong, s.th.Ink, atLeft, number)
			after = at + w + s.u*0.4
		}
	}
}

// stripBars draws what is down, the note's number where the bar begins, and below it
// when nothing is.
func (s *Screen) stripBars(a area, row float32, v *view.Sheet, d *drum) {
	bars := func(f func(b *view.Down, bar area, begins bool)) {
		for i := range v.Downs {
			b := &v.Downs[i]
			if int(b.Panel) < len(v.Layout.Panels) {
				d.each(b.From, b.Up, func(x0, x1 float32, begins bool) {
					f(b, area{x0, a.y + float32(b.Panel)*row + row*0.12, max(x1-x0, 1), row * 0.76}, begins)
				})
			}
		}
	}
	bars(func(b *view.Down, bar area, _ bool) { s.patch(bar, b.Foot, s.u*0.45) })
	number := Type{Bold, int(min(row*0.7, s.u*0.9))}
	var taken []area
	bars(func(b *view.Down, bar area, begins bool) {
		text := strconv.Itoa(b.Note + 1)
		w := snap(s.width(number, text) + float32(number.Size)*0.3)
		chip := area{snap(bar.x + s.pen), snap(bar.y + s.pen), w, snap(bar.h - 2*s.pen)}
		if !begins || w+2*s.pen >= bar.w || meetsAny(chip, taken) {
			return
		}
		s.fill(chip, s.th.Ground)
		s.say(chip.x, base(chip, number), chip.w, number, s.th.Ink, atMiddle, text)
		taken = append(taken, chip)
	})
	none := a.y + float32(len(v.Layout.Panels))*row
	for _, f := range v.Free {
		d.each(f.From, f.To, func(x0, x1 float32, _ bool) {
			s.patch(area{x0, none + row*0.2, x1 - x0, row * 0.6}, view.AnyFoot, 0)
		})
	}
}

// each calls f for each part in view of a span that may go round the end: its
// ends on the page, and whether it begins there.
func (d *drum) each(t0, t1 pad.Time, f func(x0, x1 float32, begins bool)) {
	first, last := d.turns(t0, t1)
	for turn := first; turn <= last; turn++ {
		if x0, x1, ok := d.on(t0, t1, turn); ok && x1 > x0 {
			from := t0 - pad.Time(turn)*d.length
			f(x0, x1, from >= d.from && from < d.to)
		}
	}
}
