package render_test

import (
	"fmt"
	"image/color"
	"math"
	"os"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/footing/pad"
	"heeltoe/render"
	"heeltoe/trainer/view"
)

// op is one call on a canvas, its corners or its box kept.
type op struct {
	kind           byte // 'r', 'p', 't'
	x0, y0, x1, y1 float32
	corners        []render.Point
	c              color.RGBA
	t              render.Type
	s              string
}

// tape is a canvas that keeps what is drawn.
type tape struct{ ops []op }

func (c *tape) Rect(x, y, w, h float32, col color.RGBA) {
	c.ops = append(c.ops, op{kind: 'r', x0: x, y0: y, x1: x + w, y1: y + h, c: col})
}

func (c *tape) Polygon(q []render.Point, col color.RGBA) {
	o := op{kind: 'p', c: col, x0: q[0].X, x1: q[0].X, y0: q[0].Y, y1: q[0].Y, corners: append([]render.Point(nil), q...)}
	for _, p := range q {
		o.x0, o.x1, o.y0, o.y1 = min(o.x0, p.X), max(o.x1, p.X), min(o.y0, p.Y), max(o.y1, p.Y)
	}
	c.ops = append(c.ops, o)
}

// The box of a text is as wide as its advances and as high as its ink.
func (c *tape) Text(x, y float32, t render.Type, col color.RGBA, s []byte) {
	o := op{kind: 't', x0: x, x1: x + render.TextWidth(t, s), y0: y, y1: y, c: col, t: t, s: string(s)}
	for _, r := range o.s {
		lo, hi := inkOf(t, r)
		o.y0, o.y1 = min(o.y0, y+lo), max(o.y1, y+hi)
	}
	c.ops = append(c.ops, o)
}

// inkOf gives how far a rune's ink reaches above the baseline, negative, and below.
func inkOf(t render.Type, r rune) (lo, hi float32) {
	k := inkKey{t.Face, r}
	v, ok := inks[k]
	if !ok {
		m, _, dy, _ := render.Glyph(render.Type{Face: t.Face, Size: 200}, r)
		v = [2]float32{float32(dy) / 200, float32(dy+m.Rect.Dy()) / 200}
		inks[k] = v
	}
	return v[0] * float32(t.Size), v[1] * float32(t.Size)
}

type inkKey struct {
	f render.Face
	r rune
}

var inks = map[inkKey][2]float32{}

// meets tells whether two ops come over each other by more than slack; of a
// polygon and a box by their shapes, not only by their bounds.
func (a op) meets(b op, slack float32) bool {
	if !(a.x0 < b.x1-slack && b.x0 < a.x1-slack && a.y0 < b.y1-slack && b.y0 < a.y1-slack) {
		return false
	}
	if a.kind == 'p' && b.kind != 'p' {
		a, b = b, a
	}
	return b.kind != 'p' || a.kind == 'p' || !parted(b.corners, a, slack)
}

// parted tells whether a side of a convex polygon has it all on one side and the box,
// less the slack, all on the other (the separating axis theorem; the box's own
// sides are compared by the bounds).
func parted(q []render.Point, a op, slack float32) bool {
	x0, y0, x1, y1 := a.x0+slack/2, a.y0+slack/2, a.x1-slack/2, a.y1-slack/2
	for i := range q {
		p, r := q[i], q[(i+1)%len(q)]
		side := func(x, y float32) float32 { return (r.X-p.X)*(y-p.Y) - (r.Y-p.Y)*(x-p.X) }
		lo, hi := float32(math.Inf(1)), float32(math.Inf(-1))
		for _, k := range q {
			lo, hi = min(lo, side(k.X, k.Y)), max(hi, side(k.X, k.Y))
		}
		box := [4]float32{side(x0, y0), side(x1, y0), side(x0, y1), side(x1, y1)}
		if min(box[0], box[1], box[2], box[3]) > hi-0.01 || max(box[0], box[1], box[2], box[3]) < lo+0.01 {
			return true
		}
	}
	return false
}

// luminance and contrast are those of WCAG 2.2 ("relative luminance", "contrast ratio").
func luminance(c color.RGBA) float64 {
	lin := func(v uint8) float64 {
		f := float64(v) / 255
		if f <= 0.04045 {
			return f / 12.92
		}
		return math.Pow((f+0.055)/1.055, 2.4)
	}
	return 0.2126*lin(c.R) + 0.7152*lin(c.G) + 0.0722*lin(c.B)
}

func contrast(a, b color.RGBA) float64 {
	x, y := luminance(a), luminance(b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

// Published ratios: black on white is 21:1 by WCAG's own definition; #767676 on
// white 4.54:1, #777777 4.48:1 and #595959 7.00:1, as tables of WCAG's techniques
// and checkers commonly give (values from memory).
func TestContrastFormula(t *testing.T) {
	white := color.RGBA{255, 255, 255, 255}
	for _, k := range []struct {
		v    uint8
		want float64
	}{{0, 21}, {0x77, 4.48}, {0x76, 4.54}, {0x59, 7.00}} {
		if got := contrast(color.RGBA{k.v, k.v, k.v, 255}, white); math.Abs(got-k.want) > 0.005 {
			t.Errorf("#%02x on white is %.3f:1, want %.2f:1", k.v, got, k.want)
		}
	}
}

// What a theme promises of its colours.
func TestThemes(t *testing.T) {
	for _, th := range themes {
		at := func(what string, a, b color.RGBA, least float64) {
			if got := contrast(a, b); got < least {
				t.Errorf("%s: %s has %.2f:1, needs %.0f:1", th.Name, what, got, least)
			}
		}
		for _, ground := range []color.RGBA{th.Ground, th.Paper} {
			at("ink", th.Ink, ground, 7)
			at("soft", th.Soft, ground, 7)
			at("mark", th.Mark, ground, 3)
			for _, c := range th.Past {
				at("past", c, ground, 3)
			}
			for f := range th.Foot {
				at("foot", th.Foot[f], ground, 3)
				at("edge", th.Edge[f], ground, 3)
			}
		}
		for _, c := range []color.RGBA{th.Panel, th.Down, th.Focus} {
			at("ink on a panel", th.Ink, c, 7)
		}
		for _, c := range th.Window {
			at("ink on a window", th.Ink, c, 3)
		}
		// WCAG 2.2, "general flash": a pair of changes of a tenth of full luminance or more.
		if d := math.Abs(luminance(th.Down) - luminance(th.Panel)); d >= 0.1 && th != render.Print {
			t.Errorf("%s: a press changes the luminance by %.3f", th.Name, d)
		}
		// Nothing but feet has a hue.
		for _, c := range []color.RGBA{th.Ink, th.Soft, th.Mark, th.Panel, th.Down, th.Window[0], th.Past[0], th.Any, th.Focus} {
			if hi, lo := max(c.R, c.G, c.B), min(c.R, c.G, c.B); hi-lo > 20 {
				t.Errorf("%s: %v has a hue", th.Name, c)
			}
		}
	}
	// Bluish green and reddish purple of Okabe and Ito (2008).
	for _, th := range themes[:2] {
		if th.Foot != [2]color.RGBA{{0, 158, 115, 255}, {204, 121, 167, 255}} {
			t.Errorf("%s: feet are %v", th.Name, th.Foot)
		}
	}
}

// check looks at a page that was drawn: texts lie inside, apart from each
// other and on clean ground, zones do not overlap, stripes lie in their patch.
func check(t *rapid.T, c *tape, s *render.Screen, w, h int) {
	checkTexts(t, c, w, h)
	checkZones(t, s, w, h)
	stripes(t, c, s.Theme)
}

// checkTexts checks that all lies inside, and texts apart from each other and on clean ground.
func checkTexts(t *rapid.T, c *tape, w, h int) {
	var texts []int
	for i, o := range c.ops {
		if o.x0 < -0.5 || o.y0 < -0.5 || o.x1 > float32(w)+0.5 || o.y1 > float32(h)+0.5 {
			t.Fatalf("%c %q at %.1f,%.1f–%.1f,%.1f is not inside %d × %d", o.kind, o.s, o.x0, o.y0, o.x1, o.y1, w, h)
		}
		if math.IsNaN(float64(o.x0 + o.y0 + o.x1 + o.y1)) {
			t.Fatalf("%c has no place", o.kind)
		}
		if o.kind == 't' {
			texts = append(texts, i)
		}
	}
	for k, i := range texts {
		a := c.ops[i]
		for _, j := range texts[k+1:] {
			if a.meets(c.ops[j], 1) {
				t.Fatalf("%q and %q overlap at %.0f,%.0f in %d × %d", a.s, c.ops[j].s, a.x0, a.y0, w, h)
			}
		}
		// Under the text, down to the last fill that covers all of it.
		covered := false
		for j := i - 1; j >= 0 && !covered; j-- {
			b := c.ops[j]
			if b.kind == 't' || !b.meets(a, 0.5) {
				continue
			}
			if got := contrast(a.c, b.c); got < 7 {
				t.Fatalf("%q on %v has %.2f:1 in %d × %d at %.0f,%.0f", a.s, b.c, got, w, h, a.x0, a.y0)
			}
			covered = b.kind == 'r' && b.x0 <= a.x0 && b.x1 >= a.x1 && b.y0 <= a.y0+1 && b.y1 >= a.y1-1
		}
		if !covered {
			t.Fatalf("%q has no ground", a.s)
		}
		for _, b := range c.ops[i+1:] {
			if b.kind != 't' && b.meets(a, 1) {
				t.Fatalf("%q at %.0f,%.0f is drawn over by %v at %.0f,%.0f–%.0f,%.0f in %d × %d", a.s, a.x0, a.y0, b.c, b.x0, b.y0, b.x1, b.y1, w, h)
			}
		}
	}
}

// checkZones checks that what can be clicked on lies inside, apart, and is found.
func checkZones(t *rapid.T, s *render.Screen, w, h int) {
	for i, a := range s.Zones {
		if a.X < 0 || a.Y < 0 || a.X+a.W > float32(w)+0.5 || a.Y+a.H > float32(h)+0.5 || a.W <= 0 || a.H <= 0 || a.Act == render.NoAct {
			t.Fatalf("zone %+v in %d × %d", a, w, h)
		}
		for _, b := range s.Zones[i+1:] {
			if a.X < b.X+b.W-0.01 && b.X < a.X+a.W-0.01 && a.Y < b.Y+b.H-0.01 && b.Y < a.Y+a.H-0.01 {
				t.Fatalf("zones %+v and %+v overlap", a, b)
			}
		}
		if got, ok := s.Hit(a.X+a.W/2, a.Y+a.H/2); !ok || got != a {
			t.Fatalf("a click into %+v hits %+v", a, got)
		}
	}
}

// stripes checks the hatching: each polygon in a foot's colour lies within the
// tint drawn last, is convex, and rises for the left foot and falls for the right.
func stripes(t *rapid.T, c *tape, th *render.Theme) {
	var under op
	bars := 0
	for _, o := range c.ops {
		if o.kind == 'r' && (o.c == th.Tint[0] || o.c == th.Tint[1]) {
			under = o
		}
		if o.kind != 'p' {
			continue
		}
		f := -1
		for i := range th.Foot {
			if o.c == th.Foot[i] && under.c == th.Tint[i] {
				f = i
			}
		}
		if f < 0 || o.x0 < under.x0-0.01 || o.y0 < under.y0-0.01 || o.x1 > under.x1+0.01 || o.y1 > under.y1+0.01 {
			// Only the bars of two brackets are no stripes.
			if bars++; bars > 2 || len(o.corners) != 4 {
				t.Fatalf("a stripe at %v leaves its patch %v", o.corners, under)
			}
			continue
		}
		turn := float32(0)
		n := len(o.corners)
		for i := range o.corners {
			a, b, k := o.corners[i], o.corners[(i+1)%n], o.corners[(i+2)%n]
			cross := (b.X-a.X)*(k.Y-b.Y) - (b.Y-a.Y)*(k.X-b.X)
			if cross*turn < -0.01 {
				t.Fatalf("a stripe is not convex: %v", o.corners)
			}
			if turn == 0 && (cross > 0.01 || cross < -0.01) {
				turn = cross
			}
		}
		// Along a stripe of the left foot x + y changes less than x − y; of the
		// right foot it is the other way round.
		if th.Tint[0] == th.Tint[1] {
			continue
		}
		var lo, hi [2]float32
		for i, q := range o.corners {
			for k, u := range [2]float32{q.X + q.Y, q.X - q.Y} {
				if i == 0 {
					lo[k], hi[k] = u, u
				}
				lo[k], hi[k] = min(lo[k], u), max(hi[k], u)
			}
		}
		if own, other := hi[f]-lo[f], hi[1-f]-lo[1-f]; own > other+0.02 {
			t.Fatalf("a stripe of foot %d runs the wrong way: %v", f, o.corners)
		}
	}
}

var sizes = rapid.Custom(func(t *rapid.T) [2]int {
	return [2]int{rapid.IntRange(800, 3840).Draw(t, "w"), rapid.IntRange(600, 2160).Draw(t, "h")}
})

var anyNumber = rapid.OneOf(rapid.Just(math.NaN()), rapid.Float64Range(-200, 200), rapid.Float64Range(-1e6, 1e6), rapid.Float64())

var words = rapid.StringMatching(`[a-zäß0-9µ+ ]{0,70}`)

// someLive draws a live view at random, sense or not.
func someLive(t *rapid.T) *view.Live {
	v := rapid.SampledFrom([]func() *view.Live{single, double, dense, atRest, counting, held}).Draw(t, "base")()
	v.Phase = view.Phase(rapid.IntRange(0, 4).Draw(t, "phase"))
	v.Drill, v.Source, v.Sound, v.Notice = words.Draw(t, "drill"), words.Draw(t, "source"), words.Draw(t, "sound"), words.Draw(t, "notice")
	v.BPM = rapid.Float64Range(10, 1000).Draw(t, "bpm")
	v.Reps = rapid.Int64Range(0, 100_000).Draw(t, "reps")
	v.Rep = rapid.Int64Range(-1, 100_000).Draw(t, "rep")
	v.Count, v.CountOf = rapid.Int64Range(0, 64).Draw(t, "count"), rapid.Int64Range(0, 64).Draw(t, "of")
	v.InRep = pad.Time(rapid.Int64Range(-5_000_000, 5_000_000).Draw(t, "in"))
	v.Down = pad.PanelSet(rapid.Uint32Range(0, 1023).Draw(t, "down"))
	if rapid.Bool().Draw(t, "part") {
		v.From = pad.Time(rapid.Int64Range(0, int64(v.RepLength)/2).Draw(t, "from"))
		v.To = v.From + pad.Time(rapid.Int64Range(1000, int64(v.RepLength)/2).Draw(t, "span"))
	}
	v.Figures = nil
	for range rapid.IntRange(0, 24).Draw(t, "figures") {
		v.Figures = append(v.Figures, view.Figure{
			Name: words.Draw(t, "name"), Unit: rapid.SampledFrom([]string{"", "ms", "%", "beats a minute", "notes"}).Draw(t, "unit"),
			Value: view.Number(anyNumber.Draw(t, "value")), Of: view.Number(anyNumber.Draw(t, "of")),
			Decimals: rapid.IntRange(0, 4).Draw(t, "decimals"), Signed: rapid.Bool().Draw(t, "signed"), Main: rapid.IntRange(0, 3).Draw(t, "main") == 0,
		})
	}
	for i := range v.Lines {
		for j := range v.Lines[i].Panels {
			v.Lines[i].Panels[j] = view.Spread{N: rapid.IntRange(0, 3).Draw(t, "n"), Low: view.Number(anyNumber.Draw(t, "low")) * 1000,
				Median: view.Number(anyNumber.Draw(t, "median")) * 1000, High: view.Number(anyNumber.Draw(t, "high")) * 1000}
		}
	}
	for i := range v.Bars {
		b := &v.Bars[i]
		b.Rep = v.Rep - rapid.Int64Range(-1, 5).Draw(t, "age")
		b.Down += pad.Time(rapid.Int64Range(-3_000_000, 3_000_000).Draw(t, "shift"))
		if b.Up != pad.Never {
			b.Up = b.Down + pad.Time(rapid.Int64Range(0, 8_000_000).Draw(t, "length"))
		}
		b.Foot = rapid.SampledFrom([]pad.Foot{l, r, any}).Draw(t, "foot")
	}
	if rapid.Bool().Draw(t, "orders") {
		v.Orders = nil
		for p := range v.Layout.Panels {
			if rapid.Bool().Draw(t, "order") {
				v.Orders = append(v.Orders, view.Order{Panel: pad.Panel(p), Text: words.Draw(t, "text"), Share: rapid.Float64Range(-0.1, 1.2).Draw(t, "share")})
			}
		}
	}
	v.Next = nil
	for f := range rapid.IntRange(0, 2).Draw(t, "feet") {
		a := rapid.IntRange(0, len(v.Layout.Panels)-1).Draw(t, "a")
		b := rapid.IntRange(0, len(v.Layout.Panels)-1).Draw(t, "b")
		v.Next = append(v.Next, view.Print{Foot: pad.Foot(f), Panels: pad.SetOf(pad.Panel(a), pad.Panel(b))})
	}
	return v
}

func screen(t *rapid.T) *render.Screen {
	s := &render.Screen{Theme: rapid.SampledFrom(themes).Draw(t, "theme"), Scale: rapid.SampledFrom([]float32{0, 1, 1.25, 2, 3}).Draw(t, "scale")}
	for range rapid.IntRange(0, 8).Draw(t, "hints") {
		s.Hints = append(s.Hints, render.Hint{Key: rapid.StringMatching(`[A-Z]{1,6}`).Draw(t, "key"), Text: rapid.StringMatching(`[a-z ]{1,20}`).Draw(t, "does"), Act: render.Begin})
	}
	return s
}

func TestLiveAtAnySize(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size, s, v, c := sizes.Draw(t, "size"), screen(t), someLive(t), &tape{}
		s.Live(c, size[0], size[1], v)
		check(t, c, s, size[0], size[1])
		if len(c.ops) > 4000 {
			t.Fatalf("%d calls", len(c.ops))
		}
	})
}

func TestDeskAtAnySize(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size, s, c := sizes.Draw(t, "size"), screen(t), &tape{}
		v := desk()
		v.Live = someLive(t)
		v.Search, v.Fault = words.Draw(t, "search"), words.Draw(t, "fault")
		v.Drills = v.Drills[:rapid.IntRange(0, len(v.Drills)).Draw(t, "drills")]
		v.Chosen = rapid.IntRange(-1, len(v.Drills)-1).Draw(t, "chosen")
		v.Fields = v.Fields[:rapid.IntRange(1, len(v.Fields)).Draw(t, "fields")]
		v.Focus = rapid.IntRange(-1, len(v.Fields)-1).Draw(t, "focus")
		for i := range v.Fields {
			f := &v.Fields[i]
			f.Name, f.Value, f.Unit, f.Help = words.Draw(t, "name"), words.Draw(t, "value"), words.Draw(t, "unit"), words.Draw(t, "help")
			f.Fixed = rapid.Bool().Draw(t, "fixed")
		}
		s.Desk(c, size[0], size[1], v)
		check(t, c, s, size[0], size[1])
		// What the keys act on can be seen and clicked.
		for act, n := range map[render.Act]int{render.FocusField: v.Focus, render.PickDrill: v.Chosen} {
			if n >= 0 && !has(s, act, n) {
				t.Fatalf("act %d has no zone for %d", act, n)
			}
		}
	})
}

func has(s *render.Screen, act render.Act, n int) bool {
	for _, z := range s.Zones {
		if z.Act == act && z.N == n {
			return true
		}
	}
	return false
}

func TestTeachAtAnySize(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size, s, v, c := sizes.Draw(t, "size"), screen(t), teach(), &tape{}
		v.Live = someLive(t)
		v.Live.Next, v.Live.Orders = nil, nil
		v.Say, v.Limits = words.Draw(t, "say")+words.Draw(t, "more"), words.Draw(t, "limits")
		v.Keys = v.Keys[:len(v.Live.Layout.Panels)]
		for i := range v.Keys {
			v.Keys[i] = rapid.StringMatching(`[A-Za-z0-9 ]{0,14}`).Draw(t, "key")
		}
		v.Asked = rapid.IntRange(-1, len(v.Keys)-1).Draw(t, "asked")
		s.Teach(c, size[0], size[1], v)
		check(t, c, s, size[0], size[1])
		if v.Asked >= 0 && !has(s, render.AskPanel, v.Asked) {
			t.Fatal("the panel asked for has no zone")
		}
	})
}

// Every topic can be reached by scrolling on, and none is shown twice.
func TestHelpAtAnySize(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size, s := sizes.Draw(t, "size"), screen(t)
		s.Hints = nil
		v := help()
		for range rapid.IntRange(0, 40).Draw(t, "more") {
			v.Topics = append(v.Topics, view.Topic{Name: "topic", Text: words.Draw(t, "text") + " " + words.Draw(t, "text")})
		}
		for i := range v.Topics {
			v.Topics[i].Name = fmt.Sprintf("topic %d", i)
		}
		seen := 0
		for range len(v.Topics) + 1 {
			c := &tape{}
			s.Help(c, size[0], size[1], v)
			check(t, c, s, size[0], size[1])
			last := -1
			for _, o := range c.ops {
				var n int
				if _, err := fmt.Sscanf(o.s, "topic %d", &n); o.kind == 't' && err == nil {
					last = max(last, n)
					if n == seen {
						seen++
					}
				}
			}
			if !has(s, render.Later, 0) {
				break
			}
			v.Top = last + 1
		}
		if seen != len(v.Topics) {
			t.Fatalf("%d of %d topics are shown", seen, len(v.Topics))
		}
	})
}

// A bar's place is linear in time over the whole strip: on the paper from x0 to
// x1, moment t of a rep of length L lies at x0 + t/L × (x1 − x0).
func TestStripIsLinear(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size := sizes.Draw(t, "size")
		v := single()
		v.Next, v.Notes, v.Rep = nil, nil, 3
		length := v.RepLength
		down := pad.Time(rapid.Int64Range(0, int64(length)-1).Draw(t, "down"))
		up := down + pad.Time(rapid.Int64Range(1, int64(length)).Draw(t, "length"))
		p := pad.Panel(rapid.IntRange(0, 3).Draw(t, "panel"))
		v.Bars = []view.Bar{{Rep: 3, Down: down, Up: up, Panel: p, Foot: any}, {Rep: 2, Down: down, Up: up, Panel: p, Foot: any}}
		c := &tape{}
		s := render.Screen{Theme: render.Dark}
		s.Live(c, size[0], size[1], v)
		var papers []op
		for _, o := range c.ops {
			if o.kind == 'r' && o.c == render.Dark.Paper && len(papers) < 5 {
				papers = append(papers, o)
			}
		}
		row := papers[p]
		at := func(m pad.Time) float32 {
			return row.x0 + float32(float64(m)/float64(length))*(row.x1-row.x0)
		}
		want := [][2]float32{{at(down), at(min(up, length))}}
		past := [][2]float32{{at(down), at(min(up, length))}}
		if up > length { // goes on at the beginning: of this turn for the rep before, of the next for this one
			want = append(want, [2]float32{at(0), at(up - length)})
		}
		match := func(what string, want [][2]float32, col color.RGBA, line float32) {
			var got [][2]float32
			for _, o := range c.ops {
				if o.kind == 'r' && o.c == col && o.y0 >= row.y0 && o.y1 <= row.y1 && o.y0 >= line {
					got = append(got, [2]float32{o.x0, o.x1})
				}
			}
			for _, g := range got {
				ok := false
				for _, w := range want {
					ok = ok || abs(g[0]-w[0]) <= 1 && (abs(g[1]-w[1]) <= 1 || g[1]-g[0] <= 12 && g[1] >= w[1]-1)
				}
				if !ok {
					t.Fatalf("%s: a bar lies at %v, want one of %v", what, g, want)
				}
			}
			if len(got) != len(want) {
				t.Fatalf("%s: %v, want %v", what, got, want)
			}
		}
		match("this rep", want, render.Dark.Any, 0)
		match("the rep before", past, render.Dark.Past[0], row.y0+(row.y1-row.y0)*0.8)
	})
}

func abs(f float32) float32 { return max(f, -f) }

// The main figures are at least a twelfth of the page high, all four of them, on
// every page that is not narrower than it is high.
func TestMainFiguresAreLarge(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size := sizes.Draw(t, "size")
		c, s := &tape{}, screen(t)
		s.Live(c, size[0], size[1], single())
		found := map[string]bool{}
		for _, o := range c.ops {
			if o.kind == 't' && o.t.Face == render.Bold && o.t.Size*12 >= size[1] {
				found[o.s] = true
			}
		}
		for _, want := range []string{"−12.4", "93", "18", "7"} {
			if !found[want] && size[0] >= size[1] {
				t.Fatalf("%q is not there in large, only %v, at %v", want, found, size)
			}
		}
	})
}

// Presses are no flashes, however fast: what changes by a tenth of full
// luminance or more when every panel goes down at once is smaller than a quarter of
// 341 × 256 pixels of 1024 × 768 (WCAG 2.2, "general flash and red flash thresholds").
func TestLongPressesAreNoFlash(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	const most = 0.25 * 341 * 256 / (1024 * 768)
	for _, th := range themes[:2] {
		for _, make := range []func() *view.Live{single, double} {
			for _, size := range [][2]int{{800, 600}, {1280, 720}, {1920, 1080}} {
				var pics [2]*render.Picture
				for i, down := range []pad.PanelSet{0, 1023} {
					v := make()
					v.Down = down
					pics[i] = render.NewPicture(size[0], size[1])
					(&render.Screen{Theme: th}).Live(pics[i], size[0], size[1], v)
				}
				n := 0
				for y := range size[1] {
					for x := range size[0] {
						a, b := luminance(pics[0].Image().RGBAAt(x, y)), luminance(pics[1].Image().RGBAAt(x, y))
						if math.Abs(a-b) >= 0.1 && min(a, b) < 0.8 {
							n++
						}
					}
				}
				if share := float64(n) / float64(size[0]*size[1]); share >= most || n == 0 {
					t.Errorf("%s, %v: %.4f of the page changes, may be %.4f", th.Name, size, share, most)
				}
			}
		}
	}
}

// counter is a canvas that only counts.
type counter struct{ ops int }

func (c *counter) Rect(x, y, w, h float32, col color.RGBA)                    { c.ops++ }
func (c *counter) Polygon(q []render.Point, col color.RGBA)                   { c.ops++ }
func (c *counter) Text(x, y float32, t render.Type, col color.RGBA, s []byte) { c.ops++ }

// Drawing a page again does not allocate, and stays within the calls that the
// screen draws in 0.5 ms: about 1,500.
func TestPagesDoNotAllocate(t *testing.T) {
	for name, draw := range quickPages() {
		for _, size := range [][2]int{{800, 600}, {1280, 720}, {3840, 2160}} {
			s, c := &render.Screen{}, &counter{}
			draw(s, c, size[0], size[1])
			if c.ops > 1500 {
				t.Errorf("%s: %d calls at %v", name, c.ops, size)
			}
			if n := testing.AllocsPerRun(20, func() { draw(s, c, size[0], size[1]) }); n != 0 {
				t.Errorf("%s: %v allocations at %v", name, n, size)
			}
		}
	}
}

// quickPages are pages whose values are made once.
func quickPages() map[string]func(s *render.Screen, c render.Canvas, w, h int) {
	v1, v2, v3, v4, v5, d, te, he := single(), double(), atRest(), counting(), dense(), desk(), teach(), help()
	return map[string]func(s *render.Screen, c render.Canvas, w, h int){
		"live-single": func(s *render.Screen, c render.Canvas, w, h int) { s.Hints = playHints; s.Live(c, w, h, v1) },
		"live-double": func(s *render.Screen, c render.Canvas, w, h int) { s.Hints = playHints; s.Live(c, w, h, v2) },
		"live-rest":   func(s *render.Screen, c render.Canvas, w, h int) { s.Hints = restHints; s.Live(c, w, h, v3) },
		"live-count":  func(s *render.Screen, c render.Canvas, w, h int) { s.Hints = playHints; s.Live(c, w, h, v4) },
		"live-dense":  func(s *render.Screen, c render.Canvas, w, h int) { s.Hints = playHints; s.Live(c, w, h, v5) },
		"desk":        func(s *render.Screen, c render.Canvas, w, h int) { s.Hints = restHints; s.Desk(c, w, h, d) },
		"teach":       func(s *render.Screen, c render.Canvas, w, h int) { s.Teach(c, w, h, te) },
		"help":        func(s *render.Screen, c render.Canvas, w, h int) { s.Help(c, w, h, he) },
	}
}

// The calls of a frame, without the screen's own work: 0.1 ms or less, and 0
// allocations, so that with the screen's batch of triangles, measured where it
// is, a frame stays within 0.5 ms.
func BenchmarkLive(b *testing.B) {
	for name, draw := range quickPages() {
		b.Run(name, func(b *testing.B) {
			s, c := &render.Screen{}, &counter{}
			draw(s, c, 1280, 720)
			c.ops = 0
			b.ReportAllocs()
			for b.Loop() {
				draw(s, c, 1280, 720)
			}
			b.ReportMetric(float64(c.ops)/float64(b.N), "calls/frame")
		})
	}
}

// What holding a panel does is read from two metres: on every panel whole, and at
// least a fiftieth of the page high.
func TestOrdersAreWhole(t *testing.T) {
	texts := []string{"tempo down", "mirror", "again", "tempo up", "stop"}
	for _, make := range []func() *view.Live{single, double} {
		for _, size := range [][2]int{{800, 600}, {1024, 768}, {1280, 720}, {1920, 1080}} {
			v := make()
			v.Phase, v.Next, v.Orders = view.Over, nil, nil
			for p := range v.Layout.Panels {
				v.Orders = append(v.Orders, view.Order{Panel: pad.Panel(p), Text: texts[p%5], Share: 0.5})
			}
			c := &tape{}
			(&render.Screen{Hints: restHints}).Live(c, size[0], size[1], v)
			found := map[string]int{}
			for _, o := range c.ops {
				if o.kind == 't' && o.t.Face == render.Bold && o.t.Size*50 >= size[1] {
					found[o.s]++
				}
			}
			// Of two words each stands on a line of its own, or both on one.
			pads := len(v.Layout.Panels) / 5
			for _, want := range []string{"mirror", "again", "stop", "up", "down", "tempo"} {
				n := found[want] + found["tempo "+want]
				if want == "tempo" {
					n = (n + found["tempo up"] + found["tempo down"]) / 2
				}
				if n != pads {
					t.Errorf("%v: %q is there %d times, want %d: %v", size, want, n, pads, found)
				}
			}
		}
	}
}
