package judge_test

import (
	"testing"

	"heeltoe/footing/pad"
	"heeltoe/judge"
	"heeltoe/judge/drill"
)

// A note held for 8 slots of 125 ms is due from 1 s to 2 s. Each case is worked
// by hand.
func TestHolds(t *testing.T) {
	d, err := drill.New(drill.Spec{Name: "hold", Layout: "single", BPM: 120, PerBeat: 4, Reps: 1, Steps: "sw=8 . . . . . . . . ."}, nil)
	if err != nil {
		t.Fatal(err)
	}
	sw, _ := d.Layout.Lookup("sw")
	const ms = pad.Millisecond
	base := judge.Hold{Panel: sw, Due: 1000 * ms, End: 2000 * ms, StartLate: pad.Never, Release: pad.Never}
	with := func(f func(h *judge.Hold)) judge.Hold {
		h := base
		f(&h)
		return h
	}
	type span [2]pad.Time // in ms; up 0: never
	for _, c := range []struct {
		name     string
		spans    []span
		debounce pad.Time
		gap      pad.Time
		want     judge.Hold
	}{
		{"never", nil, 0, 0, base},
		{"exact", []span{{1000, 2000}}, 0, 0, with(func(h *judge.Hold) { h.Cover, h.StartLate, h.Release = 1000*ms, 0, 0 })},
		{"early and long", []span{{950, 2060}}, 0, 0, with(func(h *judge.Hold) { h.Cover, h.StartLate, h.Release = 1000*ms, 0, 60*ms })},
		{"late start", []span{{1080, 1990}}, 0, 0, with(func(h *judge.Hold) { h.Cover, h.StartLate, h.Release = 910*ms, 80*ms, -10*ms })},
		{"dropped", []span{{1000, 1500}}, 0, 0, with(func(h *judge.Hold) { h.Cover, h.StartLate, h.Release, h.Drops = 500*ms, 0, -500*ms, 1 })},
		{"let go a little early", []span{{1000, 1900}}, 0, 0, with(func(h *judge.Hold) { h.Cover, h.StartLate, h.Release = 900*ms, 0, -100*ms })},
		{"dropped and regrabbed", []span{{1000, 1300}, {1400, 2010}}, 0, 0, with(func(h *judge.Hold) {
			h.Cover, h.StartLate, h.Release, h.Drops, h.Regrabs = 900*ms, 0, 10*ms, 1, 1
		})},
		{"chatter merged", []span{{1000, 1300}, {1310, 2000}}, 20 * ms, 0, with(func(h *judge.Hold) { h.Cover, h.StartLate, h.Release = 1000*ms, 0, 0 })},
		{"chatter not merged", []span{{1000, 1300}, {1310, 2000}}, 5 * ms, 0, with(func(h *judge.Hold) {
			h.Cover, h.StartLate, h.Release, h.Drops, h.Regrabs = 990*ms, 0, 0, 1, 1
		})},
		{"never let go", []span{{1000, 0}}, 0, 0, with(func(h *judge.Hold) { h.Cover, h.StartLate = 1000*ms, 0 })},
		{"let go long after", []span{{1000, 2200}}, 0, 0, with(func(h *judge.Hold) { h.Cover, h.StartLate = 1000*ms, 0 })},
		{"edges missing", []span{{1000, 0}}, 0, 1600, with(func(h *judge.Hold) { h.Cover, h.StartLate, h.Unknown = 600*ms, 0, true })},
		{"pressed only after", []span{{2005, 2100}}, 0, 0, base},
	} {
		t.Run(c.name, func(t *testing.T) {
			j := judge.New(d, judge.Options{Lead: 1000 * ms, Debounce: c.debounce})
			for _, s := range c.spans {
				j.Feed(pad.Edge{T: s[0] * ms, Panel: sw, Kind: pad.Down})
				if s[1] != 0 {
					j.Feed(pad.Edge{T: s[1] * ms, Panel: sw, Kind: pad.Up})
				}
			}
			if c.gap != 0 {
				j.Feed(pad.Edge{T: c.gap * ms, Panel: pad.NoPanel, Kind: pad.Gap})
			}
			got := append([]judge.Hold(nil), j.Holds()...)
			j.Finish()
			got = append(got, j.Holds()...)
			if len(got) != 1 || got[0] != c.want {
				t.Errorf("got  %+v\nwant %+v", got, c.want)
			}
		})
	}
}
