package desk_test

import (
	"slices"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/footing/pad"
	"heeltoe/trainer/desk"
)

const ms = pad.Millisecond

// frames advances o in frames of 16 ms from a moment to another and gives what
// was ordered; each edge is fed in the frame that it falls into.
func frames(o *desk.Orders, from, to pad.Time, edges ...pad.Edge) (given []desk.Command) {
	for t := from; t < to; t += 16 * ms {
		for len(edges) > 0 && edges[0].T <= t {
			o.Feed(edges[0])
			edges = edges[1:]
		}
		if c := o.Advance(t); c != desk.NoCommand {
			given = append(given, c)
		}
	}
	return given
}

func press(id string, l *pad.Layout, down, up pad.Time) []pad.Edge {
	p, ok := l.Lookup(id)
	if !ok {
		panic(id)
	}
	return []pad.Edge{{T: down, Panel: p, Kind: pad.Down}, {T: up, Panel: p, Kind: pad.Up}}
}

// Each panel, held alone, gives its order once, on one pad and on either of two.
func TestEachOrder(t *testing.T) {
	for id, want := range map[string]desk.Command{"nw": desk.Mirror, "sw": desk.Stop, "c": desk.Repeat, "ne": desk.Faster, "se": desk.Slower} {
		for _, c := range []struct {
			l  *pad.Layout
			id string
		}{{pad.Single, id}, {pad.Double, "1" + id}, {pad.Double, "2" + id}} {
			o := desk.NewOrders(c.l, 0)
			got := frames(o, 0, 8000*ms, press(c.id, c.l, 2000*ms, 6000*ms)...)
			if !slices.Equal(got, []desk.Command{want}) {
				t.Errorf("%s held for 4 s ordered %v, want %v once", c.id, got, want)
			}
		}
	}
}

// What must order nothing.
func TestNoOrderByAccident(t *testing.T) {
	l := pad.Single
	join := func(a ...[]pad.Edge) []pad.Edge {
		e := slices.Concat(a...)
		slices.SortStableFunc(e, func(a, b pad.Edge) int { return int(a.T - b.T) })
		return e
	}
	for name, edges := range map[string][]pad.Edge{
		"too short":                      press("c", l, 2000*ms, 3190*ms),
		"down since the run":             press("c", l, 100*ms, 6000*ms),
		"two panels":                     join(press("c", l, 2000*ms, 6000*ms), press("se", l, 2100*ms, 6000*ms)),
		"second let go, first stays":     join(press("c", l, 2000*ms, 6000*ms), press("se", l, 2100*ms, 2200*ms)),
		"tapping":                        join(press("c", l, 2000*ms, 2900*ms), press("c", l, 3000*ms, 3900*ms), press("c", l, 4000*ms, 4900*ms)),
		"a gap while held":               join(press("c", l, 2000*ms, 6000*ms), []pad.Edge{{T: 2500 * ms, Kind: pad.Gap, Panel: pad.NoPanel}}),
		"resting foot when it gets late": join(press("sw", l, 50*ms, 7000*ms)),
	} {
		if got := frames(desk.NewOrders(l, 0), 0, 8000*ms, edges...); got != nil {
			t.Errorf("%s: ordered %v", name, got)
		}
	}
}

// Whatever is pressed: an order is given only while its panel alone has been
// down for HoldFor at least, Settle after the run's end at the earliest, and
// with every panel up once in between. The reference looks at the edges alone.
func TestOrdersOfAny(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		o := desk.NewOrders(pad.Single, 0)
		var down pad.PanelSet
		alone := pad.Time(0) // since when what is down has been down unchanged
		free := pad.Time(-1) // last moment, from Settle on, at which no panel was down
		last := pad.Time(-1) // last order
		now := pad.Time(0)
		byPanel := []desk.Command{desk.Mirror, desk.Stop, desk.Repeat, desk.Faster, desk.Slower}
		for range rapid.IntRange(1, 40).Draw(t, "steps") {
			if rapid.Bool().Draw(t, "edge") {
				p := pad.Panel(rapid.IntRange(0, 4).Draw(t, "panel"))
				kind := pad.Down
				if down.Has(p) {
					kind = pad.Up
				}
				o.Feed(pad.Edge{T: now, Panel: p, Kind: kind})
				down ^= pad.SetOf(p)
				alone = now
			}
			if down == 0 && now >= desk.Settle {
				free = now
			}
			c := o.Advance(now)
			if c != desk.NoCommand {
				if down.Len() != 1 || !down.Has(pad.Panel(slices.Index(byPanel, c))) || now-alone < desk.HoldFor || free < 0 || free < last {
					t.Fatalf("at %d µs %v was ordered: down %b since %d, free at %d, last order %d", now, c, down, alone, free, last)
				}
				last = now
			}
			now += pad.Time(rapid.IntRange(1, 900).Draw(t, "wait")) * ms
			if down == 0 && now >= desk.Settle {
				free = now
			}
		}
	})
}
