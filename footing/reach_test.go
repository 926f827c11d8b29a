package footing

import (
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// stands puts an outsole down and tells which panels it covers, without polygons:
// an outsole is all points within half its width of a line, so it covers a panel
// if a point of the line is that near to the panel less its cover. more widens the foot.
func stands(l *pad.Layout, b *Body, x, y, deg, length, more float64) (covered pad.PanelSet) {
	sin, cos := math.Sincos(deg * math.Pi / 180)
	half := (length - b.ShoeWidthMM) / 2
	const points = 60
	for p, plate := range l.Panels {
		r := plate.Rect
		for i := range points + 1 {
			s := half * (2*float64(i)/points - 1)
			px, py := x-s*sin, y+s*cos
			dx := px - max(float64(r.X0)+b.CoverMM, min(float64(r.X1)-b.CoverMM, px))
			dy := py - max(float64(r.Y0)+b.CoverMM, min(float64(r.Y1)-b.CoverMM, py))
			if math.Hypot(dx, dy) <= b.ShoeWidthMM/2+more {
				covered = covered.With(pad.Panel(p))
				break
			}
		}
	}
	return covered
}

// Feet put down at random on a pad of which nothing else is known (Monte Carlo):
// where one covers two panels and no third, the reach says that it can; and where it says
// so, there is such a place among them. slack, in mm, is for the gaps between the tries
// and for the drawn arcs.
func TestLongReachAgainstRandomFeet(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	const slack = 3.0
	body := DefaultBody()
	reaches := map[*pad.Layout]*reach{pad.Single: newReach(pad.Single, &body, 400), pad.Double: newReach(pad.Double, &body, 400)}
	reached, not := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		l := rapid.SampledFrom([]*pad.Layout{pad.Single, pad.Double}).Draw(t, "layout")
		a := pad.Panel(rapid.IntRange(0, len(l.Panels)-1).Draw(t, "a"))
		b := pad.Panel(rapid.IntRange(0, len(l.Panels)-1).Draw(t, "b"))
		if a == b || gap(l, a, b, body.CoverMM) > 420 {
			return
		}
		deg := rapid.IntRange(0, 179).Draw(t, "deg")
		length := rapid.Float64Range(body.ShoeWidthMM+1, 400).Draw(t, "length")
		need := math.Inf(1)
		if n := reaches[l].need[[2]pad.Panel{min(a, b), max(a, b)}]; n != nil {
			need = n[deg]
		}
		ax, ay := l.Panels[a].Rect.Centre()
		bx, by := l.Panels[b].Rect.Centre()
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		both := pad.SetOf(a, b)
		surely, roughly := false, false
		for try := range 3000 {
			x, y := (ax+bx)/2+(rng.Float64()-.5)*400, (ay+by)/2+(rng.Float64()-.5)*400
			used := length // of the foot: half of the tries use a part of it
			if try%2 == 0 {
				used = body.ShoeWidthMM + 1 + rng.Float64()*(length-body.ShoeWidthMM-1)
			}
			tight := stands(l, &body, x, y, float64(deg), used, -slack)
			wide := stands(l, &body, x, y, float64(deg), used, slack)
			surely = surely || tight&both == both && wide == both
			roughly = roughly || wide&both == both && tight&^both == 0
		}
		switch {
		case surely && need > length:
			t.Fatalf("%s and %s at %d° by %.1f mm: a foot stands there, the reach says %.1f mm", l.ID(a), l.ID(b), deg, length, need)
		case !roughly && need <= length-2*slack:
			t.Fatalf("%s and %s at %d° by %.1f mm: no foot stands there, the reach says %.1f mm", l.ID(a), l.ID(b), deg, length, need)
		case need <= length:
			reached++
		default:
			not++
		}
	})
	if reached < 5 || not < 5 {
		t.Errorf("%d reached, %d not: too few of one to mean anything", reached, not)
	}
}

// Worked by hand. Two panels 280 mm apart and 10 mm of cover on each take 300 mm
// end on, 310 mm lie 15 mm on each; tilted by a, the straight part of 300 - 110 mm must
// make up for the rest: (length - 110) cos a = 190. Over the seam of 20 mm, and from a corner to
// its centre, the width of 110 mm is enough at any angle. Diagonally over the
// seam the way is √(40² + 300²) mm less a width, and straight ahead a third panel lies in the way.
func TestReachByHand(t *testing.T) {
	body := DefaultBody()
	r := newReach(pad.Double, &body, 400)
	need := func(a, b string, deg int) float64 {
		p, _ := pad.Double.Lookup(a)
		q, _ := pad.Double.Lookup(b)
		n := r.need[[2]pad.Panel{p, q}]
		if n == nil {
			return math.Inf(1)
		}
		return n[deg]
	}
	for _, c := range []struct {
		a, b string
		deg  int
		want float64
	}{
		{"1nw", "1sw", 0, 300}, {"1ne", "1se", 0, 300}, {"1sw", "1se", 90, 300}, {"2nw", "2ne", 90, 300},
		{"1nw", "1sw", 10, 110 + 190/math.Cos(10*math.Pi/180)}, {"1nw", "1sw", 170, 110 + 190/math.Cos(10*math.Pi/180)},
		{"1nw", "1sw", 90, math.Inf(1)},
		{"1se", "2sw", 0, 110}, {"1se", "2sw", 45, 110}, {"1ne", "2nw", 90, 110}, {"1ne", "2nw", 135, 110},
		{"1nw", "1c", 0, 110}, {"1c", "1se", 45, 110}, {"2sw", "2c", 135, 110}, {"2c", "2ne", 90, 110},
		{"1ne", "2sw", 0, math.Inf(1)}, {"1se", "2nw", 90, math.Inf(1)},
		{"1nw", "1ne", 0, math.Inf(1)}, {"1c", "2c", 90, math.Inf(1)}, {"1nw", "1se", 45, math.Inf(1)},
	} {
		if got := need(c.a, c.b, c.deg); math.Abs(got-c.want) > 1e-3 && got != c.want {
			t.Errorf("%s and %s at %d° take %v mm, want %v", c.a, c.b, c.deg, got, c.want)
		}
	}
	least := math.Inf(1)
	for deg := range 180 {
		least = min(least, need("1ne", "2sw", deg))
	}
	if want := math.Hypot(40, 300); least < want-1e-6 || least > want+.5 { // the grid of angles misses the best by some
		t.Errorf("1ne and 2sw take %v mm, want %v", least, want)
	}
	for _, shoe := range []struct {
		mm  float64
		can bool
	}{{299, false}, {299.99, false}, {300, true}, {310, true}} {
		b := DefaultBody()
		b.ShoeMM, b.PivotMM = shoe.mm, 0
		g := newGround(&drill.Drill{Layout: pad.Single}, &b, nil)
		_, ok := g.placeOf(drill.Bracket, pad.SetOf(0, 1))
		if ok != shoe.can {
			t.Errorf("a shoe of %g mm lies over nw and sw: %v", shoe.mm, ok)
		}
	}
}
