package drill_test

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// The contract's table, in ms, and its rule that a bound belongs to its band.
func TestDefaultWindows(t *testing.T) {
	w := drill.DefaultWindows
	for _, c := range []struct {
		offset pad.Time
		want   string
	}{
		{0, "inner"}, {-40_000, "inner"}, {-40_001, "middle"}, {50_000, "inner"}, {50_001, "middle"},
		{-70_000, "middle"}, {-70_001, "outer"}, {90_000, "middle"}, {90_001, "outer"},
		{-105_000, "outer"}, {-105_001, "absent"}, {135_000, "outer"}, {135_001, "absent"},
		{-pad.Never, "absent"}, {pad.Never, "absent"},
	} {
		if got := w.Band(c.offset).String(); got != c.want {
			t.Errorf("an offset of %d µs is %s, want %s", c.offset, got, c.want)
		}
	}
	if err := w.Check(); err != nil {
		t.Error(err)
	}
}

func TestWindowsCheck(t *testing.T) {
	const limit = drill.MaxWindow
	for _, c := range []struct {
		w    drill.Windows
		says string // "" where it is sound
	}{
		{drill.Windows{}, ""},
		{drill.Windows{{-1, 1}, {-1, 1}, {-1, 1}}, ""},
		{drill.Windows{{0, 0}, {0, 0}, {-limit, limit}}, ""},
		{drill.Windows{{1, 2}, {-3, 3}, {-4, 4}}, "inner"},
		{drill.Windows{{-2, -1}, {-3, 3}, {-4, 4}}, "inner"},
		{drill.Windows{{-2, 2}, {-1, 3}, {-4, 4}}, "middle is narrower"},
		{drill.Windows{{-2, 2}, {-3, 3}, {-4, 2}}, "outer is narrower"},
		{drill.Windows{{0, 0}, {0, 0}, {-limit - 1, 0}}, "outer"},
		{drill.Windows{{0, 0}, {0, 0}, {0, limit + 1}}, "outer"},
		{drill.Windows{{0, pad.Never}, {0, pad.Never}, {0, pad.Never}}, "inner"},
	} {
		err := c.w.Check()
		if (err == nil) != (c.says == "") || err != nil && !strings.Contains(err.Error(), c.says) {
			t.Errorf("%v: %v, want %q", c.w, err, c.says)
		}
	}
}

// In sound windows a press further off, on the same side, is never in a tighter band.
func TestBandsAreNested(t *testing.T) {
	span := rapid.Int64Range(0, int64(drill.MaxWindow))
	rapid.Check(t, func(t *rapid.T) {
		var w drill.Windows
		var early, late pad.Time
		for i := range w {
			early = max(early, pad.Time(span.Draw(t, "early")))
			late = max(late, pad.Time(span.Draw(t, "late")))
			w[i] = drill.Bound{Early: -early, Late: late}
		}
		if err := w.Check(); err != nil {
			t.Fatal(err)
		}
		sign := rapid.SampledFrom([]pad.Time{-1, 1}).Draw(t, "side")
		a, b := sign*pad.Time(span.Draw(t, "a")), sign*pad.Time(span.Draw(t, "b"))
		if a.Abs() > b.Abs() {
			a, b = b, a
		}
		if w.Band(a) > w.Band(b) {
			t.Fatalf("%v: %d is %v, %d is %v", w, a, w.Band(a), b, w.Band(b))
		}
	})
}
