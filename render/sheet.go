package render

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"heeltoe/footing/pad"
	"heeltoe/trainer/view"
)

// Width and height of a picture that fits a page of A4 laid across (ISO 216: 297 by
// 210 mm): two pixels for each point of a printer.
const (
	PageWidth  = 1684
	PageHeight = 1190
)

// Sizes of a sheet, in ems of its text.
const (
	sheetHead    = 5.9 // lines above the plans
	landingHead  = 1.7 // the line above a plan
	landingText  = 1.2 // each of the lines below it
	landingLines = 3
	smallestCell = 3.6 // side of a cell of the grid
	largestCell  = 8.0
	narrowest    = 14.0 // width of a plan with its texts
)

// tiling is how the landings of a sheet are laid out: columns of plans in rows,
// on one page or several.
type tiling struct {
	k             float32 // pixels a mm
	w, h          float32 // of a plan with its texts
	columns, rows int
	pages         int
}

// perPage gives the number of landings on a page.
func (f tiling) perPage() int { return f.columns * f.rows }

// tile finds the largest plans with which all landings fit on one page, or else
// those that can be read on the fewest pages.
func (s *Screen) tile(room area, v *view.Sheet) tiling {
	e := ground(v)
	wide, high := float32(e.X1-e.X0), float32(e.Y1-e.Y0)
	texts := s.u * (landingHead + landingText*landingLines)
	gap := s.gap * 2
	fit := func(columns, rows int) tiling {
		f := tiling{columns: columns, rows: rows, w: (room.w + gap) / float32(columns)}
		f.k = min((f.w-gap)/wide, ((room.h+gap)/float32(rows)-gap-texts)/high, s.u*largestCell/pad.CellMM)
		f.w = min(f.w, max(wide*f.k, s.u*narrowest)+gap)
		f.h = high*f.k + texts + gap
		f.pages = max(1, (len(v.Landings)+f.perPage()-1)/f.perPage())
		return f
	}
	best := fit(1, 1)
	for columns := 1; columns <= len(v.Landings) && (room.w+gap)/float32(columns) >= s.u*narrowest+gap; columns++ {
		for rows := 1; ; rows++ {
			f := fit(columns, rows)
			if f.k < s.u*smallestCell/pad.CellMM {
				if rows == 1 {
					return best
				}
				break
			}
			if f.pages < best.pages || f.pages == best.pages && f.k > best.k {
				best = f
			}
		}
	}
	return best
}

// ground gives the rectangle that holds the layout and every foot drawn on it, mm.
func ground(v *view.Sheet) pad.Rect {
	e := extent(v.Layout)
	m := floorplan{k: -1} // y grows as in the layout, x the other way
	var buf [mostCorners]Point
	grow := func(o *view.Outsole) {
		for part := range soleParts {
			for _, q := range m.solePart(buf[:0], o, part, 0) {
				e.X0, e.X1 = min(e.X0, int32(floor(-q.X))), max(e.X1, int32(ceil(-q.X)))
				e.Y0, e.Y1 = min(e.Y0, int32(floor(q.Y))), max(e.Y1, int32(ceil(q.Y)))
			}
		}
	}
	for i := range v.Landings {
		l := &v.Landings[i]
		for j := range l.Contacts {
			grow(&l.Contacts[j].Outsole)
		}
		for j := range l.Resting {
			grow(&l.Resting[j])
		}
	}
	return e
}

// sheetEm gives the em of plain text on paper: nine points on A4.
func sheetEm(w, h float32) float32 { return max(11, snap(min(w/92, h/64))) }

// sheetPage sets the measures of a sheet and cuts it into its parts. What the plans
// leave of their part goes to the strip below them.
func (s *Screen) sheetPage(w, h int, v *view.Sheet) (head, plans, foot area) {
	s.w, s.h = float32(w), float32(h)
	s.measure(sheetEm(s.w, s.h))
	page := area{0, 0, s.w, s.h}.inset(s.u * 1.6)
	head = page.top(s.u * sheetHead)
	if len(v.WhyNot) > 0 {
		head.h += page.top(s.u * 1.3).h
	}
	page.top(s.gap * 1.5)
	foot = page.foot(s.u * 1.2)
	page.foot(s.gap + stripHeight(v, s.u, lowestRow))
	return head, page, foot
}

// SheetPages gives how many pages of w by h pixels a sheet takes.
func (s *Screen) SheetPages(w, h int, v *view.Sheet) int {
	_, plans, _ := s.sheetPage(w, h, v)
	return s.tile(plans, v).pages
}

// Sheet draws a page, counted from 0, of a footing for somebody who is to play it:
// a plan of the pad for each landing, in rows, and below them what is down when.
// A page needs at least 1000 by 660 pixels.
func (s *Screen) Sheet(c Canvas, w, h int, v *view.Sheet, page int) {
	s.begin(c, w, h)
	head, plans, foot := s.sheetPage(w, h, v)
	s.stripes = 20 * maxStripes // paper waits
	f := s.tile(plans, v)
	s.sheetHead(head, v, page, f.pages)
	first := min(page*f.perPage(), len(v.Landings))
	last := min(first+f.perPage(), len(v.Landings))
	m := floorplan{k: f.k, e: ground(v)}
	for i := first; i < last; i++ {
		n := i - first
		a := area{plans.x + float32(n%f.columns)*f.w, plans.y + float32(n/f.columns)*f.h, f.w - s.gap*2, f.h}
		s.landing(a, v, i, m)
	}
	used := float32((last-first+f.columns-1)/f.columns) * f.h
	strip := area{plans.x, plans.y + used, plans.w, foot.y - s.gap - plans.y - used}
	s.downs(strip, v, first, last)
	s.say(foot.x, base(foot, s.small()), foot.w, s.small(), s.th.Soft, atLeft, view.Caution)
}

// sheetHead writes what is drawn, and at which tempi it works.
func (s *Screen) sheetHead(a area, v *view.Sheet, page, pages int) {
	big := Type{Bold, int(s.u * 1.4)}
	title := a.top(s.u * 1.8)
	which := v.Which
	if pages > 1 {
		if which != "" {
			which += " · "
		}
		which += "page " + strconv.Itoa(page+1) + " of " + strconv.Itoa(pages)
	}
	y := base(title, big)
	title.end(s.say(title.x+title.w/2, y, title.w/2, s.plain(), s.th.Ink, atRight, which) + s.u)
	s.say(title.x, y, title.w, big, s.th.Ink, atLeft, v.Drill)

	line := a.top(s.u * 1.3)
	line.left(s.say(line.x, base(line, s.strong()), line.w/2, s.strong(), s.th.Ink, atLeft, v.Technique) + s.u*0.6)
	s.say(line.x, base(line, s.plain()), line.w, s.plain(), s.th.Ink, atLeft, "at ", tempo(v.BPM), " bpm · ", count(v.Notes, "note"), " in ",
		count(len(v.Landings), "landing"), " · largest turn ", figure(v.MaxTurnDeg, 0), "° · effort about ", figure(v.EffortJ, 0), " J a rep (estimate)")

	line = a.top(s.u * 1.3)
	measured := "limits: defaults, none measured on the player"
	if v.Measured {
		measured = "limits: measured on the player"
	}
	line.end(s.say(line.x+line.w*0.6, base(line, s.small()), line.w*0.4, s.small(), s.th.Soft, atRight, measured) + s.u)
	s.say(line.x, base(line, s.plain()), line.w, s.plain(), s.th.Ink, atLeft, "tempo range: outer ", tempi(v.Tempo[2]), " · middle ", tempi(v.Tempo[1]),
		" · inner ", tempi(v.Tempo[0]))
	if len(v.WhyNot) > 0 {
		line = a.top(s.u * 1.3)
		s.say(line.x, base(line, s.strong()), line.w, s.strong(), s.th.Ink, atLeft, "does not work at ", tempo(v.BPM), " bpm: ", strings.Join(v.WhyNot, "; "))
	}
	s.sheetLegend(a)
}

// sheetLegend says what the marks are.
func (s *Screen) sheetLegend(a area) {
	t := s.small()
	y := base(a, t)
	mark := area{0, a.y + a.h*0.22, snap(s.u * 1.5), a.h * 0.56}
	for i, text := range [...]string{"left foot", "right foot", "where the other foot last stood", "panel-free: no panel is down just before",
		"1&2 at once, 1>2 in turn", "aim: from the first note, ± what it may stray"} {
		if i < 4 {
			mark.x = a.left(mark.w + s.u*0.4).x
		}
		switch i {
		case 0, 1:
			s.patch(mark, pad.Foot(i), s.u*0.45)
		case 2:
			s.frame(mark, s.pen, s.th.Mark)
		case 3:
			s.patch(mark, view.AnyFoot, 0)
		}
		a.left(s.say(a.x, y, a.w, t, s.th.Soft, atLeft, text) + s.u)
	}
}

// landing draws one landing: its number and moment, the pad with the feet, and
// what each foot does.
func (s *Screen) landing(a area, v *view.Sheet, i int, m floorplan) {
	l := &v.Landings[i]
	high := float32(m.e.Y1-m.e.Y0) * m.k
	head := a.top(s.u * landingHead)
	number := Type{Bold, int(s.u * 1.3)}
	y := base(head, number)
	head.left(s.say(head.x, y, head.w, number, s.th.Ink, atLeft, strconv.Itoa(i+1)) + s.u*0.4)
	if l.Free {
		head.end(s.say(head.x, y, head.w, s.small(), s.th.Ink, atRight, "panel-free") + s.u*0.4)
		mark := head.end(snap(s.u * 1.5))
		s.patch(area{mark.x, y - s.u*0.72, mark.w, s.u * 0.8}, view.AnyFoot, 0)
		head.end(s.u * 0.3)
	}
	s.say(head.x, y, head.w, s.small(), s.th.Soft, atLeft, figure(l.T.Milliseconds(), 0), " ms")

	plan := a.top(high)
	m.x, m.y = snap(plan.x), snap(plan.bottom())
	s.stance(&m, v.Layout, l)

	t := s.small()
	a.top(s.u * 0.3)
	write := func(parts ...string) {
		line := a.top(s.u * landingText)
		s.say(line.x, base(line, t), line.w, t, s.th.Ink, atLeft, parts...)
	}
	for j := range l.Contacts {
		c := &l.Contacts[j]
		ids, notes := make([]string, len(c.Panels)), make([]string, len(c.Notes))
		for p := range c.Panels {
			ids[p] = v.Layout.ID(c.Panels[p])
		}
		for n := range c.Notes {
			notes[n] = strconv.Itoa(c.Notes[n] + 1)
		}
		sep := joiner(c.Kind)
		what := "note "
		if len(notes) > 1 {
			what = "notes "
		}
		keeps := ""
		for _, p := range c.Keeps {
			keeps += ", holds " + v.Layout.ID(p)
		}
		write(footLetters[c.Foot&1], " ", c.Kind, " ", strings.Join(ids, sep), ", ", what, strings.Join(notes, sep), keeps)
	}
	if l.Aim != nil {
		write("aim ", signed(l.Aim.T.Milliseconds()), " ms ±", figure(l.Aim.Slack.Milliseconds(), 0), ", ", l.Aim.Band)
	}
}

// joiner is what stands between two panels or notes of one foot.
func joiner(kind string) string {
	if kind == "roll" {
		return ">"
	}
	return "&"
}

// stance draws the pad with the feet of a landing. Numbers and ids take corners of
// their panel where no foot is.
func (s *Screen) stance(m *floorplan, layout *pad.Layout, l *view.SheetLanding) {
	var pressed pad.PanelSet
	for i := range l.Contacts {
		for _, p := range l.Contacts[i].Panels {
			pressed = pressed.With(p)
		}
	}
	for _, r := range layout.Dead {
		c := m.rect(r)
		s.fill(c, s.th.Dead)
		s.frame(c, s.pen, s.th.Beat)
	}
	for i := range layout.Panels {
		c := m.rect(layout.Panels[i].Rect)
		fill, pen := s.th.Panel, s.pen
		if pressed.Has(pad.Panel(i)) {
			fill, pen = s.th.Down, 2*s.pen
		}
		s.fill(c, fill)
		s.frame(c, pen, s.th.Mark)
	}
	feet := make([]*view.Outsole, 0, 4)
	for i := range l.Resting {
		s.sole(m, &l.Resting[i], false, 0)
		feet = append(feet, &l.Resting[i])
	}
	for i := range l.Contacts {
		s.sole(m, &l.Contacts[i].Outsole, true, s.u*0.42)
		feet = append(feet, &l.Contacts[i].Outsole)
	}
	var taken []area
	for _, o := range feet {
		t := Type{Bold, int(s.u * min(0.95, max(0.7, float32(o.WidthMM)*m.k*0.5/s.u)))}
		side := snap(float32(t.Size) * 1.25)
		q := m.along(o, ballAt)
		a := area{snap(q.X - side/2), snap(q.Y - side/2), side, side}
		if o.Foot > pad.Right || meetsAny(a, taken) {
			continue
		}
		s.chip(a, t, s.th.Edge[o.Foot], footLetters[o.Foot])
		taken = append(taken, a)
	}
	for i := range layout.Panels {
		c := m.rect(layout.Panels[i].Rect)
		for j := range l.Contacts {
			for n, p := range l.Contacts[j].Panels {
				if p == pad.Panel(i) {
					t := Type{Bold, int(s.u)}
					taken = s.inCorner(m, c, t, strconv.Itoa(l.Contacts[j].Notes[n]+1), true, feet, taken)
				}
			}
		}
		taken = s.inCorner(m, c, Type{Regular, int(s.u * 0.72)}, layout.Panels[i].ID, false, feet, taken)
	}
}

// inCorner writes a text into a corner of a panel that no foot and no other text has, or
// else, where it must be there, over a foot. It gives what is taken with it.
func (s *Screen) inCorner(m *floorplan, c area, t Type, text string, must bool, feet []*view.Outsole, taken []area) []area {
	w, h := snap(s.width(t, text)+float32(t.Size)*0.4), snap(float32(t.Size)*1.15)
	in := 2*s.pen + 1
	if w > c.w-2*in || h > c.h-2*in {
		return taken
	}
	left, right, top, low := c.x+in, c.right()-in-w, c.y+in, c.bottom()-in-h
	corners := [4]area{{left, top, w, h}, {right, top, w, h}, {left, low, w, h}, {right, low, w, h}}
	var last *area
	for i, a := range corners {
		if meetsAny(a, taken) {
			continue
		}
		if !slices.ContainsFunc(feet, func(o *view.Outsole) bool { return m.touches(o, a) }) {
			s.say(a.x, base(a, t), a.w, t, s.th.Ink, atMiddle, text)
			return append(taken, a)
		}
		last = &corners[i]
	}
	if !must || last == nil {
		return taken
	}
	s.fill(*last, s.th.Ground)
	s.say(last.x, base(*last, t), last.w, t, s.th.Ink, atMiddle, text)
	return append(taken, *last)
}

func meetsAny(a area, taken []area) bool {
	for _, b := range taken {
		if a.x < b.right() && b.x < a.right() && a.y < b.bottom() && b.y < a.bottom() {
			return true
		}
	}
	return false
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return strconv.Itoa(n) + " " + what + "s"
}

func figure(f float64, decimals int) string {
	return string(appendNumber(nil, view.Number(f), decimals, false))
}
func signed(f float64) string { return string(appendNumber(nil, view.Number(f), 0, true)) }

// tempo writes beats a minute to a tenth, without a zero that says nothing.
func tempo(bpm float64) string { return string(appendTempo(nil, math.Round(bpm*10)/10)) }

// tempi writes a range of tempi.
func tempi(t view.Tempi) string {
	if t == (view.Tempi{}) {
		return "none"
	}
	return tempo(t.Slowest) + "–" + tempo(t.Fastest) + " bpm"
}
