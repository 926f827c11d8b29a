package pad_test

import (
	"slices"
	"testing"
	"time"

	"heeltoe/footing/pad"
)

// The layouts are the contract's: ids in order, cells of 280 mm, the second pad
// 860 mm to the right, so that 20 mm lie between the two.
func TestBuiltInLayouts(t *testing.T) {
	ids := func(l *pad.Layout) (s []string) {
		for _, p := range l.Panels {
			s = append(s, p.ID)
		}
		return s
	}
	if got := ids(pad.Single); !slices.Equal(got, []string{"nw", "sw", "c", "ne", "se"}) {
		t.Errorf("single has %v", got)
	}
	if got := ids(pad.Double); !slices.Equal(got, []string{"1nw", "1sw", "1c", "1ne", "1se", "2nw", "2sw", "2c", "2ne", "2se"}) {
		t.Errorf("double has %v", got)
	}
	rect := func(id string) pad.Rect {
		p, ok := pad.Double.Lookup(id)
		if !ok {
			t.Fatalf("there is no %s", id)
		}
		return pad.Double.Panels[p].Rect
	}
	if seam := rect("2sw").X0 - rect("1se").X1; seam != 20 {
		t.Errorf("the seam is %d mm wide, want 20", seam)
	}
	if r := rect("1c"); r != (pad.Rect{X0: 280, Y0: 280, X1: 560, Y1: 560}) {
		t.Errorf("1c lies at %v", r)
	}
	if len(pad.Single.Dead) != 4 || len(pad.Double.Dead) != 8 {
		t.Errorf("%d and %d dead cells", len(pad.Single.Dead), len(pad.Double.Dead))
	}
	// Panels and dead cells of a pad cover its 3 × 3 grid once.
	area := func(rs []pad.Rect) (sum int32) {
		for _, r := range rs {
			sum += (r.X1 - r.X0) * (r.Y1 - r.Y0)
		}
		return sum
	}
	all := slices.Clone(pad.Single.Dead)
	for _, p := range pad.Single.Panels {
		all = append(all, p.Rect)
	}
	if got := area(all); got != 840*840 {
		t.Errorf("a pad covers %d mm², want %d", got, 840*840)
	}
}

func TestMirror(t *testing.T) {
	for l, pairs := range map[*pad.Layout]map[string]string{
		pad.Single: {"nw": "ne", "sw": "se", "c": "c"},
		pad.Double: {"1nw": "2ne", "1sw": "2se", "1c": "2c", "1ne": "2nw", "1se": "2sw"},
	} {
		for a, b := range pairs {
			p, _ := l.Lookup(a)
			q, ok := l.Mirror(p)
			back, _ := l.Mirror(q)
			if !ok || l.ID(q) != b || back != p {
				t.Errorf("%s: the mirror image of %s is %s, want %s", l.Name, a, l.ID(q), b)
			}
		}
	}
}

func TestNewLayoutRefuses(t *testing.T) {
	cell := pad.Rect{X1: 100, Y1: 100}
	for name, plates := range map[string][]pad.Plate{
		"none":     nil,
		"twice":    {{ID: "a", Rect: cell}, {ID: "a", Rect: cell}},
		"no area":  {{ID: "a"}},
		"no id":    {{Rect: cell}},
		"bad id":   {{ID: "a+b", Rect: cell}},
		"too many": slices.Repeat([]pad.Plate{{ID: "a", Rect: cell}}, 33),
	} {
		if _, err := pad.NewLayout("x", plates, nil); err == nil {
			t.Errorf("%s: taken", name)
		}
	}
	one, err := pad.NewLayout("x", []pad.Plate{{ID: "a", Rect: cell}, {ID: "b", Rect: pad.Rect{X0: 300, X1: 350, Y1: 100}}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if _, ok := one.Mirror(0); ok {
		t.Error("a lopsided layout has a mirror image")
	}
}

func TestPanelSet(t *testing.T) {
	s := pad.SetOf(3, 0, 31)
	if !slices.Equal(slices.Collect(s.All()), []pad.Panel{0, 3, 31}) || s.Len() != 3 || !s.Has(31) || s.Without(3).Has(3) || !s.With(5).Has(5) {
		t.Errorf("the set is %b", s)
	}
	if got := pad.Single.IDs(pad.SetOf(4, 1), "+"); got != "sw+se" {
		t.Errorf("ids are %q", got)
	}
}

func TestTime(t *testing.T) {
	if d := pad.Time(1500).Duration(); d != 1500*time.Microsecond {
		t.Errorf("1500 µs are %v", d)
	}
	if d := pad.Never.Duration(); d <= 0 {
		t.Errorf("never is %v: it must not wrap round", d)
	}
	if m := pad.FromDuration(2*time.Millisecond + 900*time.Nanosecond); m != 2000 {
		t.Errorf("2.0009 ms are %d µs", m)
	}
}

func TestBadInput(t *testing.T) {
	if got := (&pad.BadInput{File: "f", Msg: "m"}).Error(); got != "f:1:1: m" {
		t.Error(got)
	}
	for _, c := range []struct{ at, line, col int }{{0, 1, 1}, {2, 1, 3}, {3, 2, 1}, {5, 2, 3}, {99, 2, 3}, {-1, 1, 1}} {
		if l, k := pad.LineCol([]byte("ab\ncd"), c.at); l != c.line || k != c.col {
			t.Errorf("byte %d is at %d:%d, want %d:%d", c.at, l, k, c.line, c.col)
		}
	}
}
