package read_test

import (
	"testing"

	"pgregory.net/rapid"

	"heeltoe/footing/pad"
	"heeltoe/footing/read"
	"heeltoe/judge"
)

// A collector that lets go of old presses has the same last ones as one that
// keeps all, whatever is pressed and judged.
func TestCollectorThatForgets(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		keep := rapid.IntRange(1, 8).Draw(t, "keep")
		all, some := &read.Collector{}, &read.Collector{Keep: keep}
		now := pad.Time(0)
		var down pad.PanelSet
		for range rapid.IntRange(1, 80).Draw(t, "steps") {
			now += pad.Time(rapid.IntRange(1, 1000).Draw(t, "wait"))
			p := pad.Panel(rapid.IntRange(0, 4).Draw(t, "panel"))
			e := pad.Edge{T: now, Panel: p, Kind: pad.Down}
			if down.Has(p) {
				e.Kind = pad.Up
			}
			down ^= pad.SetOf(p)
			all.Feed(e)
			some.Feed(e)
			if e.Kind == pad.Down && rapid.Bool().Draw(t, "a note's") {
				v := judge.Verdict{Panel: p, Press: now, Rep: 1, Note: int32(p)}
				all.Judged(&v)
				some.Judged(&v)
			}
			whole, last := all.Presses(), some.Presses()
			if len(last) > 2*keep || len(last) < min(keep, len(whole)) || some.Forgot() != (len(last) < len(whole)) {
				t.Fatalf("%d of %d presses are kept, %d must be; forgot: %v", len(last), len(whole), keep, some.Forgot())
			}
			for i, got := range last {
				if want := whole[len(whole)-len(last)+i]; got != want {
					t.Fatalf("press %d from the end is %+v, want %+v", len(last)-i, got, want)
				}
			}
			if since := some.Since(now); len(since) > 1 || e.Kind == pad.Down && len(since) != 1 {
				t.Fatalf("%d presses since now", len(since))
			}
		}
	})
}
