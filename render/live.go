package render

import (
	"heeltoe/footing/pad"
	"heeltoe/trainer/view"
)

// Live draws the screen of a run: the loop strip, the pad plan, the timing
// chart and the figures. In steady state it does not allocate.
func (s *Screen) Live(c Canvas, w, h int, v *view.Live) {
	s.begin(c, w, h)
	page := area{0, 0, s.w, s.h}.inset(s.gap)
	s.runTitle(page.top(s.u*1.9), v)
	s.hints(page.foot(s.u * 1.9))
	page.foot(s.gap / 2)
	if v.Phase != view.Playing && v.Phase != view.CountIn {
		s.caution(&page)
	}
	top := page.top(s.u * 1.7)
	if v.Notice != "" {
		s.notice(top, v.Notice)
	} else {
		s.legend(top, v)
	}
	page.top(s.gap / 2)

	// The figures stand in a column at the right, or below where the page is
	// too narrow for their size.
	em := ceil(s.h / 12)
	var column area
	if wide := snap(float32(em) * figureEms); wide <= page.w*0.36 {
		column = page.end(wide)
		page.end(s.gap * 2)
	} else {
		column = page.foot(snap(page.h * 0.42))
		page.foot(s.gap * 2)
	}
	s.figures(column, em, v)
	if v.Layout == nil {
		return
	}

	// The plan of two pads is wide and low; what it leaves goes to the strip.
	// At rest it has words to be read from two metres, and gets more.
	wide, high := float32(0.5), float32(0.41)
	if len(v.Orders) > 0 {
		wide, high = 0.64, 0.5
	}
	need := s.u*planHead + page.w*wide*s.flat(v.Layout)
	lower := page.foot(snap(min(page.h*high, max(page.h*0.33, need))))
	page.foot(s.gap)
	s.strip(page, v, false)

	plan := lower.left(s.planWidth(v, lower.w*wide, lower.h))
	lower.left(s.gap * 2)
	s.plan(plan, v, nil, -1)
	s.chart(lower, v)
}

// phases are the words for view.Phase.
var phases = [...]string{"at rest", "count-in", "running", "held", "over"}

// runTitle writes the drill, its tempo and how far the run is, and at the right
// its phase and where presses come from.
func (s *Screen) runTitle(a area, v *view.Live) {
	big := Type{Bold, int(s.u * 1.3)}
	y := base(a, big)
	if v.Source != "" {
		a.end(s.say(a.x+a.w*0.74, y, a.w*0.26, s.plain(), s.th.Soft, atRight, v.Source) + s.u)
	}
	phase := phases[min(int(v.Phase), len(phases)-1)]
	a.end(s.say(a.x+a.w/2, y, a.w/2, s.strong(), s.th.Ink, atRight, phase) + s.u)

	s.buf = append(s.buf[:0], v.Drill...)
	b := append(s.tail[:0], "   "...)
	b = appendTempo(b, v.BPM)
	b = append(b, " bpm"...)
	if v.Reps > 0 {
		b = append(b, " · "...)
		if v.Rep >= 0 {
			b = append(b, "rep "...)
			b = appendInt(b, min(v.Rep+1, v.Reps))
			b = append(b, " of "...)
			b = appendInt(b, v.Reps)
		} else {
			b = appendInt(b, v.Reps)
			b = append(b, " reps"...)
		}
	}
	s.tail = b
	rest := min(TextWidth(s.plain(), b), a.w*0.6)
	a.left(s.put(a.x, y, a.w-rest-1, big, s.th.Ink, atLeft, s.buf))
	s.put(a.x, y, a.w, s.plain(), s.th.Ink, atLeft, b)
}

// hints writes the keys and what they do; a click on one does it too.
func (s *Screen) hints(a area) {
	key, text := Type{Bold, s.small().Size}, s.small()
	y := base(a, text)
	in := s.u * 0.35
	for _, h := range s.Hints {
		kw, tw := s.width(key, h.Key), s.width(text, h.Text)
		w := kw + tw + in*3
		if w > a.w {
			return
		}
		b := a.left(w + s.u)
		b.w = w
		cap := area{b.x, b.y + s.u*0.2, kw + 2*in, b.h - s.u*0.4}
		s.fill(cap, s.th.Focus)
		s.frame(cap, s.pen, s.th.Mark)
		s.say(cap.x+in, y, kw+1, key, s.th.Ink, atLeft, h.Key)
		s.say(cap.right()+in, y, tw+1, text, s.th.Ink, atLeft, h.Text)
		if h.Act != NoAct {
			s.zone(b, h.Act, 0)
		}
	}
}

// width gives the width of a text.
func (s *Screen) width(t Type, text string) float32 {
	s.buf = append(s.buf[:0], text...)
	return TextWidth(t, s.buf)
}

// caution takes what it needs from the foot of the page.
func (s *Screen) caution(page *area) {
	t, step := s.small(), snap(s.u*1.2)
	n := s.wrap(0, 0, page.w, step, 3, t, nothing, view.Caution)
	a := page.foot(step*float32(n) + s.gap/2)
	s.wrap(a.x, a.y+s.u, a.w, step, 3, t, s.th.Soft, view.Caution)
}

// notice writes what the player has to know now.
func (s *Screen) notice(a area, text string) {
	s.fill(a, s.th.Ink)
	s.say(a.x+s.u*0.5, base(a, s.strong()), a.w-s.u, s.strong(), s.th.Ground, atLeft, text)
}

// legend says what the marks of the strip are.
func (s *Screen) legend(a area, v *view.Live) {
	t := s.small()
	y := base(a, t)
	if v.Sound != "" {
		a.end(s.say(a.x+a.w*0.6, y, a.w*0.4, t, s.th.Ink, atRight, "click: ", v.Sound) + s.u)
	}
	mark := area{0, a.y + a.h*0.22, snap(s.u * 1.5), a.h * 0.56}
	for i, text := range [...]string{"due, with its three bounds", "left foot", "right foot", "foot not known", "earlier reps, the last with its feet: left whole, right broken"} {
		w := mark.w + s.u*0.4 + s.width(t, text)
		if w > a.w {
			return
		}
		b := a.left(w + s.u)
		mark.x = b.x
		switch i {
		case 0:
			for j := range 3 {
				k := float32(3 - j)
				s.rect(mark.x+s.u*(0.75-0.22*k), mark.bottom()-mark.h*(1-0.3*(k-1)), s.u*0.47*k, mark.h*(1-0.3*(k-1)), s.th.Window[2-j])
			}
			s.vline(mark.x+s.u*0.75, mark.y-s.u*0.15, mark.bottom(), 2*s.pen, s.th.Ink)
		case 1, 2:
			s.patch(mark, pad.Foot(i-1), s.u*0.45)
		case 3:
			s.patch(mark, view.AnyFoot, 0)
		case 4:
			for j := range 3 {
				s.rect(mark.x, mark.y+mark.h*0.34*float32(j), mark.w, mark.h*0.2, s.th.Past[j])
			}
		}
		s.say(mark.right()+s.u*0.4, y, w, t, s.th.Soft, atLeft, text)
	}
}
