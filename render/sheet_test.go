package render_test

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/footing/pad"
	"heeltoe/render"
	"heeltoe/trainer/view"
)

var paperSizes = rapid.Custom(func(t *rapid.T) [2]int {
	w := rapid.IntRange(1000, 3400).Draw(t, "w")
	return [2]int{w, w * rapid.IntRange(66, 90).Draw(t, "shape") / 100}
})

// someSheet draws a footing at random, sense or not.
func someSheet(t *rapid.T) *view.Sheet {
	v := rapid.SampledFrom([]func() *view.Sheet{sheetSingle, sheetDouble, func() *view.Sheet { return sheetLong(40) }}).Draw(t, "base")()
	v.Drill, v.Technique = words.Draw(t, "drill"), words.Draw(t, "technique")
	v.BPM = rapid.Float64Range(10, 1000).Draw(t, "bpm")
	v.EffortJ = rapid.Float64Range(0, 1e6).Draw(t, "effort")
	v.Which = words.Draw(t, "which")
	v.WhyNot = rapid.SliceOfN(words, 0, 4).Draw(t, "why")
	for b := range v.Tempo {
		v.Tempo[b] = view.Tempi{Slowest: rapid.Float64Range(10, 1000).Draw(t, "slow"), Fastest: rapid.Float64Range(10, 1000).Draw(t, "fast")}
	}
	v.Landings = v.Landings[:rapid.IntRange(0, len(v.Landings)).Draw(t, "landings")]
	length := rapid.Float64Range(120, 500).Draw(t, "length")
	width := rapid.Float64Range(30, length).Draw(t, "width")
	move := func(o *view.Outsole) {
		o.X += rapid.Float64Range(-200, 200).Draw(t, "x")
		o.Y += rapid.Float64Range(-200, 200).Draw(t, "y")
		o.TurnDeg = rapid.Float64Range(-360, 360).Draw(t, "turn")
		o.LengthMM, o.WidthMM = length, width
	}
	for i := range v.Landings {
		k := &v.Landings[i]
		k.T += pad.Time(rapid.Int64Range(-300_000, 300_000).Draw(t, "t"))
		k.Free = rapid.Bool().Draw(t, "free")
		for j := range k.Contacts {
			move(&k.Contacts[j].Outsole)
		}
		for j := range k.Resting {
			move(&k.Resting[j])
		}
	}
	for i := range v.Downs {
		v.Downs[i].From = pad.Time(rapid.Int64Range(0, int64(v.RepLength)-1).Draw(t, "from"))
		v.Downs[i].Up = v.Downs[i].From + pad.Time(rapid.Int64Range(0, int64(v.RepLength)).Draw(t, "up"))
	}
	return v
}

var moment = regexp.MustCompile(`^−?[0-9]+ ms$`)

// landingNumbers gives the numbers of the landings on a page in reading order, from
// the moments beside them.
func landingNumbers(t *rapid.T, c *tape) (numbers []int) {
	for i, o := range c.ops {
		if o.kind == 't' && moment.MatchString(o.s) {
			for j := i - 1; j >= 0; j-- {
				if n, err := strconv.Atoi(c.ops[j].s); err == nil && c.ops[j].kind == 't' && c.ops[j].t.Face == render.Bold {
					numbers = append(numbers, n)
					break
				}
			}
		}
	}
	return numbers
}

// At any size, whatever the footing, texts are apart and on clean ground, all is
// inside, and the pages hold every landing once, in order.
func TestSheetAtAnySize(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size, v := paperSizes.Draw(t, "size"), someSheet(t)
		s := &render.Screen{Theme: rapid.SampledFrom(themes).Draw(t, "theme")}
		pages := s.SheetPages(size[0], size[1], v)
		next := 1
		for page := range pages {
			c := &tape{}
			s.Sheet(c, size[0], size[1], v, page)
			checkTexts(t, c, size[0], size[1])
			numbers := landingNumbers(t, c)
			for _, n := range numbers {
				if n != next {
					t.Fatalf("page %d has landing %d where %d should be", page, n, next)
				}
				next++
			}
			if len(numbers) == 0 && len(v.Landings) > 0 {
				t.Fatalf("page %d of %d is empty", page, pages)
			}
		}
		if next != len(v.Landings)+1 {
			t.Fatalf("%d of %d landings are drawn", next-1, len(v.Landings))
		}
	})
}

func TestRangesAtAnySize(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size, v := paperSizes.Draw(t, "size"), ranges()
		tempi := rapid.Custom(func(t *rapid.T) view.Tempi {
			return view.Tempi{Slowest: rapid.Float64Range(0, 1000).Draw(t, "slow"), Fastest: rapid.Float64Range(0, 1000).Draw(t, "fast")}
		})
		v.From = rapid.Float64Range(10, 900).Draw(t, "from")
		v.To = v.From + rapid.Float64Range(0, 900).Draw(t, "span")
		v.Rows = nil
		for i := range rapid.IntRange(0, 60).Draw(t, "rows") {
			r := view.RangeRow{Number: i + 1, Technique: words.Draw(t, "technique"), Text: words.Draw(t, "text")}
			for b := range r.Tempo {
				r.Tempo[b] = tempi.Draw(t, "tempo")
			}
			r.Easiest = rapid.SliceOfN(tempi, 0, 3).Draw(t, "easiest")
			v.Rows = append(v.Rows, r)
		}
		s := &render.Screen{Theme: rapid.SampledFrom(themes).Draw(t, "theme")}
		for page := range s.RangesPages(size[0], size[1], v) {
			c := &tape{}
			s.Ranges(c, size[0], size[1], v, page)
			checkTexts(t, c, size[0], size[1])
		}
	})
}

// What the demonstrations say is on A4 in full: no text is cut, and none is
// smaller than 6 points.
func TestSheetsAreReadableOnPaper(t *testing.T) {
	for name, draw := range papers {
		c := &tape{}
		draw(&render.Screen{Theme: render.Print}, c, render.PageWidth, render.PageHeight)
		for _, o := range c.ops {
			if o.kind != 't' {
				continue
			}
			if strings.Contains(o.s, "…") {
				t.Errorf("%s: %q is cut", name, o.s)
			}
			if o.t.Size < 12 { // two pixels a point
				t.Errorf("%s: %q is %d pixels high", name, o.s, o.t.Size)
			}
		}
	}
	c := &tape{}
	(&render.Screen{}).Sheet(c, render.PageWidth, render.PageHeight, sheetSingle(), 0)
	all := ""
	for _, o := range c.ops {
		all += o.s + "\n"
	}
	for _, want := range []string{"corner hook", "hop", "tempo range: outer 93.8–310 bpm · middle 140.6–310 bpm · inner none", "R roll c>se, notes 1>2",
		"L bracket nw&c, notes 3&4", "aim +72 ms ±18, middle", "panel-free", "L step nw, note 7, holds sw", "limits: defaults, none measured on the player", view.Caution} {
		if !strings.Contains(all, want+"\n") {
			t.Errorf("%q is missing in:\n%s", want, all)
		}
	}
}

// A foot is drawn to the scale of the pad, where it stands and as it is turned,
// with the stripes of its side.
func TestFeetAreToScale(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		o := sole(pad.Foot(rapid.IntRange(0, 1).Draw(t, "foot")), rapid.Float64Range(140, 700).Draw(t, "x"), rapid.Float64Range(140, 700).Draw(t, "y"),
			float64(rapid.IntRange(-180, 180).Draw(t, "turn")))
		v := sheetSingle()
		v.Downs, v.Landings = nil, []view.SheetLanding{{Contacts: []view.SheetContact{on("step", o, panels(2), 0)}}}
		c := &tape{}
		th := render.Dark
		(&render.Screen{Theme: th}).Sheet(c, render.PageWidth, render.PageHeight, v, 0)

		// The scale and the origin from the panels drawn: sw and ne of the layout.
		var cells []op
		for _, q := range c.ops {
			if q.kind == 'r' && (q.c == th.Panel || q.c == th.Down) && q.x1-q.x0 > 60 {
				cells = append(cells, q)
			}
		}
		if len(cells) != 5 {
			t.Fatalf("%d panels are drawn", len(cells))
		}
		sw, ne := cells[1], cells[3]
		k := float64(ne.x1-sw.x0) / (3 * pad.CellMM)
		toMM := func(p render.Point) (x, y float64) { return float64(p.X-sw.x0) / k, float64(sw.y1-p.Y) / k }

		// Turned back, the outline fills its length and no more than its width.
		sin, cos := math.Sincos(-o.TurnDeg * math.Pi / 180)
		lo, hi := [2]float64{1e9, 1e9}, [2]float64{-1e9, -1e9}
		tip := [2]float64{0, -1e9} // furthest towards the toes
		outlines, striped := 0, 0
		for _, q := range c.ops {
			if q.kind != 'p' || q.y1 < cells[0].y0-30 { // above: what the marks are
				continue
			}
			switch q.c {
			case th.Edge[o.Foot]:
				if len(q.corners) < 8 { // a stripe: they have the edge's colour
					striped++
					alongOwn(t, q, o.Foot)
					continue
				}
				outlines++
				for _, p := range q.corners {
					x, y := toMM(p)
					x, y = x-o.X, y-o.Y
					u := [2]float64{x*cos - y*sin, x*sin + y*cos}
					if u[1] > tip[1] {
						tip = u
					}
					for i := range u {
						lo[i], hi[i] = min(lo[i], u[i]), max(hi[i], u[i])
					}
				}
			case th.Tint[o.Foot]:
			default:
				t.Fatalf("a polygon of %v", q.c)
			}
		}
		const off = 6 // mm: a pixel or two
		if outlines != 2 || math.Abs(hi[1]-155) > off || math.Abs(lo[1]+155) > off || hi[0] > 55+off || lo[0] < -55-off || hi[0]-lo[0] < 100 {
			t.Fatalf("%d outlines reach from %v to %v mm about the foot's middle", outlines, lo, hi)
		}
		// The great toe, on the side of the other foot, is in front.
		if inner := tip[0] > 0; inner != (o.Foot == pad.Left) {
			t.Fatalf("foot %v has its tip %.0f mm to the right of its middle", o.Foot, tip[0])
		}
		if striped < 8 {
			t.Fatalf("only %d stripes", striped)
		}
	})
}

// alongOwn checks that a stripe rises to the right for the left foot and falls for the right.
func alongOwn(t *rapid.T, q op, f pad.Foot) {
	var lo, hi [2]float32
	for i, p := range q.corners {
		for k, u := range [2]float32{p.X + p.Y, p.X - p.Y} {
			if i == 0 {
				lo[k], hi[k] = u, u
			}
			lo[k], hi[k] = min(lo[k], u), max(hi[k], u)
		}
	}
	if thick := hi[f] - lo[f]; thick > 5 {
		t.Fatalf("a stripe of foot %d is %.1f pixels across: %v", f, thick, fmt.Sprint(q.corners))
	}
}
