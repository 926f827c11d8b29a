package render

import (
	"heeltoe/footing/pad"
	"heeltoe/trainer/view"
)

// pageTitle writes the name of a page.
func (s *Screen) pageTitle(a area, name string) {
	t := Type{Bold, int(s.u * 1.3)}
	s.say(a.x, base(a, t), a.w, t, s.th.Ink, atLeft, name)
}

// scroll gives the first of n rows to show so that the one at stays in view, in
// the middle where there are enough.
func scroll(at, n, shown int) int {
	return max(0, min(at-shown/2, n-shown))
}

// Desk draws what the player chooses between runs: the drills, the sheet of
// fields, and the drill chosen.
func (s *Screen) Desk(c Canvas, w, h int, v *view.Desk) {
	s.begin(c, w, h)
	page := area{0, 0, s.w, s.h}.inset(s.gap)
	s.pageTitle(page.top(s.u*1.9), "what to practise")
	s.hints(page.foot(s.u * 1.9))
	page.foot(s.gap / 2)
	s.caution(&page)
	page.top(s.gap / 2)

	still := page.foot(snap(page.h * 0.40))
	page.foot(s.gap)
	text := page.foot(s.u * 3.9)
	page.foot(s.gap / 2)
	drills := page.left(snap(page.w * 0.5))
	page.left(s.gap * 2)
	s.drills(drills, v)
	s.fields(page, v)

	// What the field in focus means, or what is wrong.
	if v.Fault != "" {
		bar := text.top(s.u * 1.7)
		s.notice(bar, v.Fault)
		text.top(s.gap / 3)
	}
	if v.Focus >= 0 && v.Focus < len(v.Fields) {
		step := snap(s.u * 1.25)
		s.wrap(text.x, text.y+s.u, text.w, step, max(1, int((text.h-s.u*0.3)/step)), s.plain(), s.th.Ink, v.Fields[v.Focus].Help)
	}

	if v.Live == nil || v.Live.Layout == nil {
		return
	}
	plan := still.end(s.planWidth(v.Live, still.w*0.4, still.h))
	still.end(s.gap * 2)
	s.strip(still, v.Live, true)
	s.plan(plan, v.Live, nil, -1)
}

// drills draws the list of drills round the one that is chosen.
func (s *Screen) drills(a area, v *view.Desk) {
	row := snap(s.u * 1.6)
	search := a.top(row)
	s.zone(search, FocusSearch, 0)
	s.fill(search, s.th.Paper)
	s.frame(search, s.pen, s.th.Mark)
	in := s.u * 0.4
	y := base(search, s.plain())
	if v.Search != "" {
		search.left(s.say(search.x+in, y, search.w*0.6, s.plain(), s.th.Ink, atLeft, "search: ", v.Search) + in)
	} else {
		search.left(s.say(search.x+in, y, search.w*0.6, s.plain(), s.th.Soft, atLeft, "search: type a part of a name") + in)
	}
	a.top(s.gap / 2)
	if len(v.Drills) == 0 {
		s.say(a.x+in, base(area{a.x, a.y, a.w, row}, s.plain()), a.w, s.plain(), s.th.Soft, atLeft, "no drill has this in its name")
		return
	}
	shown := max(1, int(a.h/row))
	first := scroll(v.Chosen, len(v.Drills), shown)
	last := min(len(v.Drills), first+shown)
	s.buf = appendInt(s.buf[:0], int64(first+1))
	s.buf = append(s.buf, "–"...)
	s.buf = appendInt(s.buf, int64(last))
	s.buf = append(s.buf, " of "...)
	s.buf = appendInt(s.buf, int64(len(v.Drills)))
	s.put(search.x, y, search.w-in*2, s.small(), s.th.Soft, atRight, s.buf)
	for i := first; i < last; i++ {
		d := &v.Drills[i]
		line := area{a.x, a.y + float32(i-first)*row, a.w, row}
		s.zone(line, PickDrill, i)
		t, soft := s.plain(), s.th.Soft
		if i == v.Chosen {
			s.fill(line, s.th.Focus)
			s.rect(line.x, line.y, max(3, 3*s.pen), line.h, s.th.Ink)
			t, soft = s.strong(), s.th.Ink
		}
		y := base(line, t)
		line.left(in * 1.5)
		line.end(s.say(line.x+line.w*0.8, y, line.w*0.2-in, s.small(), soft, atRight, d.Layout) + 2*in)
		line.left(max(s.say(line.x, y, line.w, t, s.th.Ink, atLeft, d.Name), min(line.w*0.42, s.u*10)) + s.u)
		s.say(line.x, y, line.w, s.small(), soft, atLeft, d.Purpose)
	}
}

// fields draws the sheet of things to choose, round the one in focus.
func (s *Screen) fields(a area, v *view.Desk) {
	row := snap(s.u * 1.6)
	shown := max(1, int(a.h/row))
	first := scroll(v.Focus, len(v.Fields), shown)
	last := min(len(v.Fields), first+shown)
	in := s.u * 0.4
	knob := snap(row)
	for i := first; i < last; i++ {
		f := &v.Fields[i]
		line := area{a.x, a.y + float32(i-first)*row, a.w, row}
		t, soft := s.plain(), s.th.Soft
		if i == v.Focus {
			s.fill(line, s.th.Focus)
			s.rect(line.x, line.y, max(3, 3*s.pen), line.h, s.th.Ink)
			t, soft = s.strong(), s.th.Ink
		}
		y := base(line, t)
		if f.Fixed {
			line.end(knob)
		} else {
			s.knob(line.end(knob), "+", More, i)
		}
		name := line.left(snap(line.w * 0.4))
		less := line.left(knob)
		if !f.Fixed {
			s.knob(less, "−", Less, i)
		}
		s.zone(name, FocusField, i)
		name.left(in * 1.5)
		s.say(name.x, y, name.w-in, t, soft, atLeft, f.Name)
		line = line.inset(0)
		line.left(in)
		unit := float32(0)
		if f.Unit != "" {
			unit = min(s.width(s.small(), f.Unit)+in, line.w*0.4)
		}
		line.left(s.say(line.x, y, line.w-unit-in, t, s.th.Ink, atLeft, f.Value) + in)
		s.say(line.x, y, line.w-in, s.small(), soft, atLeft, f.Unit)
	}
}

// knob draws a small field to click on.
func (s *Screen) knob(a area, sign string, act Act, n int) {
	s.zone(a, act, n)
	k := a.inset(snap(a.h * 0.14))
	s.fill(k, s.th.Panel)
	s.frame(k, s.pen, s.th.Mark)
	s.say(k.x, base(k, s.strong()), k.w, s.strong(), s.th.Ink, atMiddle, sign)
}

// Teach draws the page on which panels are given their keys or sensors.
func (s *Screen) Teach(c Canvas, w, h int, v *view.Teach) {
	s.begin(c, w, h)
	page := area{0, 0, s.w, s.h}.inset(s.gap)
	s.pageTitle(page.top(s.u*1.9), "which key or sensor is which panel")
	s.hints(page.foot(s.u * 1.9))
	page.foot(s.gap)

	page.top(s.gap)
	say := Type{Bold, int(s.u * 1.5)}
	step := float32(say.Size) * 1.25
	top := page.top(step*2 + s.u*0.6)
	s.wrap(top.x, top.y+float32(say.Size), top.w, step, 2, say, s.th.Ink, v.Say)

	small := snap(s.u * 1.3)
	lines := s.wrap(0, 0, page.w, small, 4, s.plain(), nothing, v.Limits)
	limits := page.foot(small * float32(lines))
	s.wrap(limits.x, limits.y+s.u, limits.w, small, 4, s.plain(), s.th.Soft, v.Limits)
	page.foot(s.gap)
	if v.Live == nil || v.Live.Layout == nil {
		return
	}
	l := v.Live.Layout
	plan := page.left(s.planWidth(v.Live, page.w*0.66, page.h))
	page.left(s.gap * 3)
	s.plan(plan, v.Live, v.Keys, v.Asked)

	row := min(snap(s.u*1.8), float32(floor((page.h-s.u*planHead)/float32(len(l.Panels)))))
	for i := range l.Panels {
		line := area{page.x, page.y + s.u*planHead + float32(i)*row, page.w, row}
		s.zone(line, AskPanel, i)
		t := s.plain()
		if i == v.Asked {
			s.fill(line, s.th.Focus)
			s.rect(line.x, line.y, max(3, 3*s.pen), line.h, s.th.Ink)
			t = s.strong()
		}
		y := base(line, t)
		line.left(s.u * 0.7)
		s.say(line.x, y, s.u*4.5, s.strong(), s.th.Ink, atLeft, l.Panels[i].ID)
		line.left(s.u * 5)
		key := "none yet"
		col := s.th.Soft
		if i < len(v.Keys) && v.Keys[i] != "" {
			key, col = v.Keys[i], s.th.Ink
		}
		if i == v.Asked {
			col = s.th.Ink
		}
		if v.Live.Down.Has(pad.Panel(i)) {
			line.end(s.say(line.x+line.w/2, y, line.w/2-s.u*0.3, s.strong(), s.th.Ink, atRight, "down") + s.u)
		}
		s.say(line.x, y, line.w, t, col, atLeft, key)
	}
}

// Help draws topics from the one at the top on, in columns that are not too
// wide to read.
func (s *Screen) Help(c Canvas, w, h int, v *view.Help) {
	s.begin(c, w, h)
	page := area{0, 0, s.w, s.h}.inset(s.gap)
	head := page.top(s.u * 1.9)
	s.hints(page.foot(s.u * 1.9))
	page.foot(s.gap)
	page.top(s.gap)
	columns := max(1, min(3, int(page.w/(s.u*34))))
	gap := s.u * 2
	each := (page.w - gap*float32(columns-1)) / float32(columns)
	step := snap(s.u * 1.3)
	first := max(0, min(v.Top, len(v.Topics)-1))
	next := first
	for k := range columns {
		y := page.y
		x := page.x + float32(k)*(each+gap)
		for next < len(v.Topics) {
			t := &v.Topics[next]
			most := int((page.bottom() - y - step*1.6) / step)
			need := s.wrap(0, 0, each, step, 60, s.plain(), nothing, t.Text)
			// A topic that does not fit into what is left goes to the next
			// column; one that fits nowhere is cut.
			if most < 1 || need > most && y > page.y {
				break
			}
			s.say(x, y+s.u, each, s.strong(), s.th.Ink, atLeft, t.Name)
			n := s.wrap(x, y+s.u+step, each, step, most, s.plain(), s.th.Ink, t.Text)
			y += step*float32(n+1) + s.u*0.7
			next++
		}
	}
	if first > 0 {
		s.zone(head.end(s.fold(&head, "earlier")), Earlier, 0)
	}
	if next < len(v.Topics) {
		s.zone(head.end(s.fold(&head, "more")), Later, 0)
	}
	s.buf = append(s.buf[:0], "topics "...)
	s.buf = appendInt(s.buf, int64(first+1))
	s.buf = append(s.buf, "–"...)
	s.buf = appendInt(s.buf, int64(next))
	s.buf = append(s.buf, " of "...)
	s.buf = appendInt(s.buf, int64(len(v.Topics)))
	head.end(s.put(head.x+head.w*0.6, base(head, s.plain()), head.w*0.4, s.plain(), s.th.Soft, atRight, s.buf) + s.u)
	s.pageTitle(head, "what figures and marks mean")
}

// fold writes a word at the right end of a line and gives the width it takes.
func (s *Screen) fold(a *area, text string) float32 {
	t := s.strong()
	return s.say(a.x+a.w*0.6, base(*a, t), a.w*0.4, t, s.th.Ink, atRight, text) + s.u
}
