package render

import (
	"math"
	"strconv"

	"heeltoe/trainer/view"
)

// Sizes of the plot of ranges, in ems of its text.
const (
	rangesHead    = 5.9 // lines above the plot
	rangeRowLow   = 3.4
	rangeRowHigh  = 5.0
	rangeRowNames = 22.0 // width of what stands before the plot
)

// rangesPage sets the measures of a plot of ranges and cuts its page into parts.
func (s *Screen) rangesPage(w, h int) (head, plot, foot area) {
	s.w, s.h = float32(w), float32(h)
	s.measure(sheetEm(s.w, s.h))
	page := area{0, 0, s.w, s.h}.inset(s.u * 1.6)
	head = page.top(s.u * rangesHead)
	foot = page.foot(s.u * 1.2)
	page.foot(s.gap)
	return head, page, foot
}

// rangeRows gives the number of footings on a page of the plot.
func (s *Screen) rangeRows(plot area) int {
	return max(1, int((plot.h-s.u*1.5)/(s.u*rangeRowLow)))
}

// RangesPages gives how many pages of w by h pixels a plot of ranges takes.
func (s *Screen) RangesPages(w, h int, v *view.Ranges) int {
	_, plot, _ := s.rangesPage(w, h)
	n := s.rangeRows(plot)
	return max(1, (len(v.Rows)+n-1)/n)
}

// Ranges draws a page, counted from 0, of which footing works at which tempo and
// which is the easiest: a row a footing, tempi from left to right. A page needs at
// least 1000 by 660 pixels.
func (s *Screen) Ranges(c Canvas, w, h int, v *view.Ranges, page int) {
	s.begin(c, w, h)
	head, plot, foot := s.rangesPage(w, h)
	each := s.rangeRows(plot)
	first := min(page*each, len(v.Rows))
	rows := v.Rows[first:min(first+each, len(v.Rows))]
	s.rangesHead(head, v, page, s.RangesPages(w, h, v))

	row := float32(floor(min(s.u*rangeRowHigh, (plot.h-s.u*1.5)/float32(max(len(rows), 1)))))
	names := plot.left(snap(s.u * rangeRowNames))
	scale := plot.top(s.u * 1.5)
	plot.h = row * float32(len(rows))
	names.top(s.u * 1.5)
	d := tempoScale{v.From, max(v.To, v.From+1), plot.x, plot.w}
	s.fill(plot, s.th.Paper)
	s.tempoLines(scale, plot, &d)
	for i := range rows {
		r := &rows[i]
		y := plot.y + float32(i)*row
		if i > 0 {
			s.rect(names.x, y, names.w+plot.w, s.pen, s.th.Beat)
		}
		s.rangeName(area{names.x, y, names.w - s.u, row}, r)
		for b := len(r.Tempo) - 1; b >= 0; b-- {
			if x0, x1, ok := d.span(r.Tempo[b]); ok {
				in := row * (0.16 + 0.05*float32(2-b))
				bar := area{x0, y + in, x1 - x0, row*0.6 - 2*(in-row*0.16)}
				s.fill(bar, s.th.Window[b])
				s.frame(bar, s.pen, s.th.Mark)
			}
		}
		for _, e := range r.Easiest {
			if x0, x1, ok := d.span(e); ok {
				s.rect(x0, y+row*0.8, x1-x0, row*0.1, s.th.Ink)
			}
		}
	}
	s.frame(plot, s.pen, s.th.Mark)
	s.say(foot.x, base(foot, s.small()), foot.w, s.small(), s.th.Soft, atLeft, view.Caution)
}

// rangesHead writes what the plot shows and what its marks are.
func (s *Screen) rangesHead(a area, v *view.Ranges, page, pages int) {
	title := a.top(s.u * 1.8)
	if pages > 1 {
		title.end(s.say(title.x+title.w*0.7, base(title, s.plain()), title.w*0.3, s.plain(), s.th.Ink, atRight,
			"page ", strconv.Itoa(page+1), " of ", strconv.Itoa(pages)) + s.u)
	}
	s.pageTitle(title, v.Drill)
	line := a.top(s.u * 1.3)
	s.say(line.x, base(line, s.plain()), line.w, s.plain(), s.th.Ink, atLeft, "the easiest footings that work from ", tempo(v.From), " to ", tempo(v.To), " bpm, and where each works")
	line = a.top(s.u * 1.3)
	measured := "measured: limits of the player's own stand behind it"
	if !v.Measured {
		measured = "not measured: only the default limits speak, not the player's own"
	}
	s.say(line.x, base(line, s.strong()), line.w, s.strong(), s.th.Ink, atLeft, measured)

	t := s.small()
	y := base(a, t)
	mark := area{0, a.y + a.h*0.22, snap(s.u * 1.5), a.h * 0.56}
	for i, text := range [...]string{"works, all notes inner", "middle", "outer", "the easiest of those that work"} {
		mark.x = a.left(mark.w + s.u*0.4).x
		if i < 3 {
			s.fill(mark, s.th.Window[i])
			s.frame(mark, s.pen, s.th.Mark)
		} else {
			s.rect(mark.x, mark.y+mark.h*0.4, mark.w, mark.h*0.3, s.th.Ink)
		}
		a.left(s.say(a.x, y, a.w, t, s.th.Soft, atLeft, text) + s.u)
	}
}

// rangeName writes what a row is: its number, its technique and, below, its contacts.
func (s *Screen) rangeName(a area, r *view.RangeRow) {
	number := Type{Bold, int(s.u * 1.2)}
	wide, step := s.u*2.2, s.u*1.05
	lines := s.wrap(0, 0, a.w-wide, step, 2, s.small(), nothing, r.Text)
	y := a.y + (a.h-step*float32(lines+1))/2 + s.u*0.85
	s.say(a.x, y, wide, number, s.th.Ink, atLeft, strconv.Itoa(r.Number))
	a.left(wide)
	s.say(a.x, y, a.w, s.strong(), s.th.Ink, atLeft, r.Technique)
	s.wrap(a.x, y+step, a.w, step, 2, s.small(), s.th.Soft, r.Text)
}

// tempoScale is the tempi from left to right, and where they lie.
type tempoScale struct {
	from, to float64
	x, w     float32
}

func (d *tempoScale) at(bpm float64) float32 {
	return d.x + float32((bpm-d.from)/(d.to-d.from))*d.w
}

// span gives the part of a range in view, and false where there is none.
func (d *tempoScale) span(t view.Tempi) (x0, x1 float32, ok bool) {
	if t == (view.Tempi{}) || t.Fastest < d.from || t.Slowest > d.to {
		return 0, 0, false
	}
	x0, x1 = d.at(max(t.Slowest, d.from)), d.at(min(t.Fastest, d.to))
	return x0, max(x1, x0+2), true
}

// tempoLines draws lines at round tempi, with their numbers above.
func (s *Screen) tempoLines(head, plot area, d *tempoScale) {
	t := s.small()
	step := 1.0
	for k := 0; (d.to-d.from)/step > float64(plot.w/(s.u*4)); k++ {
		step *= [3]float64{2, 2.5, 2}[k%3]
	}
	s.say(head.x-s.u*4, base(head, t), s.u*3, t, s.th.Soft, atRight, "bpm")
	for n := math.Ceil(d.from / step); n*step <= d.to; n++ {
		x := d.at(n * step)
		s.vline(x, plot.y, plot.bottom(), s.pen, s.th.Beat)
		text := tempo(n * step)
		w := s.width(t, text)
		s.say(min(max(x-w/2, plot.x), plot.right()-w-1), base(head, t), w+1, t, s.th.Ink, atLeft, text)
	}
}
