package render

import (
	"heeltoe/trainer/view"
)

// figureEms is how wide a figure is, in ems of its digits: a sign, four digits
// and a point, and its unit.
const figureEms = 3.9

// figures draws the numbers: the main ones large, the others as lines of text
// below, as far as there is room. em is the size of the large ones in pixels.
func (s *Screen) figures(a area, em int, v *view.Live) {
	if v.Phase == view.CountIn {
		s.countIn(&a, em, v)
	}
	columns := max(1, int(a.w/(float32(em)*figureEms)))
	each := a.w / float32(columns)
	name := s.small()
	high := snap(s.u*1.5 + float32(em)*capHeight + s.u*0.7)
	at := 0
	for i := range v.Figures {
		if f := &v.Figures[i]; f.Main {
			row := float32(at / columns)
			if (row+1)*high > a.h {
				break
			}
			cell := area{a.x + float32(at%columns)*each, a.y + row*high, each - s.u*0.5, high}
			s.figure(cell, em, name, f)
			s.zone(cell, Explain, i)
			at++
		}
	}
	rows := (at + columns - 1) / columns
	a.top(float32(rows) * high)
	if rows > 0 && a.h > s.u*2 {
		rule := a.top(s.u * 0.7)
		s.rect(rule.x, rule.y, rule.w, s.pen, s.th.Beat)
	}

	columns = max(1, int(a.w/(s.u*17)))
	each = a.w / float32(columns)
	high = snap(s.u * 1.55)
	at = 0
	for i := range v.Figures {
		f := &v.Figures[i]
		if f.Main {
			continue
		}
		row := float32(at / columns)
		if (row+1)*high > a.h {
			break
		}
		cell := area{a.x + float32(at%columns)*each, a.y + row*high, each - s.u*0.5, high}
		s.zone(cell, Explain, i)
		at++
		if s.buf = append(s.buf[:0], f.Text...); f.Text == "" {
			s.buf = appendNumber(s.buf, f.Value, f.Decimals, f.Signed)
		}
		if f.Of.Defined() {
			s.buf = append(s.buf, " of "...)
			s.buf = appendNumber(s.buf, f.Of, 0, false)
		}
		if f.Unit != "" {
			s.buf = append(s.buf, ' ')
			s.buf = append(s.buf, f.Unit...)
		}
		y := base(cell, s.plain())
		c := s.th.Ink
		if f.Faint {
			c = s.th.Soft
		}
		cell.end(s.put(cell.x+cell.w*0.4, y, cell.w*0.6, s.strong(), c, atRight, s.buf) + s.u*0.5)
		s.say(cell.x, y, cell.w, s.plain(), s.th.Soft, atLeft, f.Name)
	}
}

// figure draws a name, a large number and, beside it, its unit.
func (s *Screen) figure(a area, em int, name Type, f *view.Figure) {
	s.say(a.x, a.y+s.u*0.85, a.w, name, s.th.Soft, atLeft, f.Name)
	y := a.y + s.u*1.5 + float32(em)*capHeight
	t, c := Type{Bold, em}, s.th.Ink
	if !f.Value.Defined() || f.Faint {
		t.Face, c = Regular, s.th.Soft
	}
	unit := Type{Regular, max(name.Size, em*3/10)}
	b := s.tail[:0]
	if f.Of.Defined() {
		b = append(b, "of "...)
		b = appendNumber(b, f.Of, 0, false)
		b = append(b, ' ')
	}
	b = append(b, f.Unit...)
	s.tail = b
	room := a.w - min(TextWidth(unit, b), a.w*0.4)
	if len(b) > 0 {
		room -= float32(em) * 0.18
	}
	decimals := f.Decimals
	for {
		s.buf = appendNumber(s.buf[:0], f.Value, decimals, f.Signed)
		if decimals <= 0 || TextWidth(t, s.buf) < room {
			break
		}
		decimals--
	}
	a.left(s.put(a.x, y, room, t, c, atLeft, s.buf) + float32(em)*0.18)
	s.put(a.x, y, a.w, unit, s.th.Soft, atLeft, b)
}

// countIn draws the beat that sounds, larger than any figure.
func (s *Screen) countIn(a *area, em int, v *view.Live) {
	big := Type{Bold, em * 9 / 5}
	b := a.top(s.u*1.5 + float32(big.Size)*capHeight + s.u*1.2)
	s.say(b.x, b.y+s.u*0.85, b.w, s.strong(), s.th.Ink, atLeft, "beats before the first note")
	y := b.y + s.u*1.5 + float32(big.Size)*capHeight
	s.buf = appendInt(s.buf[:0], v.Count)
	b.left(s.put(b.x, y, b.w*0.6, big, s.th.Ink, atLeft, s.buf) + float32(em)*0.25)
	s.buf = append(s.buf[:0], "of "...)
	s.buf = appendInt(s.buf, v.CountOf)
	s.put(b.x, y, b.w, Type{Regular, em * 6 / 10}, s.th.Soft, atLeft, s.buf)
}
