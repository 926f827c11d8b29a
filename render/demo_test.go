package render_test

import (
	"heeltoe/footing/pad"
	"heeltoe/render"
	"heeltoe/trainer/view"
)

// Invented runs to draw.

const ms = pad.Millisecond

var windows = [3]view.Bound{{Early: -40 * ms, Late: 50 * ms}, {Early: -70 * ms, Late: 90 * ms}, {Early: -105 * ms, Late: 135 * ms}}

var playHints = []render.Hint{
	{Key: "Esc", Text: "end the run", Act: render.Stop},
	{Key: "H", Text: "hold", Act: render.Pause},
	{Key: "F1", Text: "help", Act: render.GoHelp},
}

var restHints = []render.Hint{
	{Key: "Enter", Text: "begin", Act: render.Begin},
	{Key: "D", Text: "drills", Act: render.GoDesk},
	{Key: "K", Text: "keys", Act: render.GoTeach},
	{Key: "F1", Text: "help", Act: render.GoHelp},
	{Key: "F11", Text: "full screen", Act: render.FullScreen},
	{Key: "T", Text: "light or dark", Act: render.SwapTheme},
}

// figures of a run, the main ones first.
func figures() []view.Figure {
	return []view.Figure{
		{Name: "offset, this rep", Unit: "ms", Value: -12.4, Decimals: 1, Signed: true, Main: true, Of: view.Undefined, Help: "The median of press minus due over the rep. Below 0 is early."},
		{Name: "steadiness", Unit: "%", Value: 93, Main: true, Of: view.Undefined, Help: "The share of presses that would be inner after one shift."},
		{Name: "spread of the landing", Unit: "ms", Value: 18, Main: true, Of: view.Undefined},
		{Name: "reps", Value: 7, Of: 16, Main: true},
		{Name: "inner", Value: 41, Of: 48},
		{Name: "middle", Value: 5, Of: 48},
		{Name: "outer", Value: 1, Of: 48},
		{Name: "absent", Value: 1, Of: 48},
		{Name: "stray", Value: 2, Of: view.Undefined},
		{Name: "best shift", Unit: "ms", Value: 7, Signed: true, Of: view.Undefined},
		{Name: "half-pressed brackets", Value: view.Undefined, Of: view.Undefined},
	}
}

// note writes one due note in slots.
type note struct {
	panel pad.Panel
	slot  int
	foot  pad.Foot
	hold  int
}

func live(l *pad.Layout, bpm float64, perBeat, slots int, notes []note) *view.Live {
	slot := pad.Time(60e6 / (bpm * float64(perBeat)))
	v := &view.Live{Layout: l, BPM: bpm, PerBeat: int64(perBeat), Windows: windows, Source: "USB pad, 1 ms",
		Reps: 16, RepLength: slot * pad.Time(slots), Figures: figures()}
	v.To = v.RepLength
	for i := range slots {
		v.Slots = append(v.Slots, slot*pad.Time(i))
		if i%perBeat == 0 {
			v.Beats = append(v.Beats, slot*pad.Time(i))
		}
	}
	for _, n := range notes {
		v.Notes = append(v.Notes, view.Due{Panel: n.panel, Foot: n.foot, T: slot * pad.Time(n.slot), Hold: slot * pad.Time(n.hold)})
	}
	return v
}

// jitter gives small offsets that look like a player's and are the same every time.
func jitter(i, rep int) pad.Time {
	x := uint32(i*7919+rep*104729) * 2654435761
	return pad.Time(x>>16%64)%64*ms - 26*ms
}

// play adds presses of the reps 3 to 6, the last of them up to its third part.
func play(v *view.Live, known bool) {
	v.Phase, v.Rep, v.InRep = view.Playing, 6, v.RepLength*64/100
	for rep := int64(3); rep <= 6; rep++ {
		line := view.Line{Rep: rep, Panels: make([]view.Spread, len(v.Layout.Panels))}
		for i, n := range v.Notes {
			down := n.T + jitter(i, int(rep))
			if rep == 6 && down > v.InRep {
				break
			}
			up := down + 150*ms + jitter(i+5, int(rep))*2 + n.Hold
			if rep == 6 && up > v.InRep {
				up = pad.Never
				v.Down = v.Down.With(n.Panel)
			}
			f := view.AnyFoot
			if known {
				f = n.Foot
			}
			v.Bars = append(v.Bars, view.Bar{Rep: rep, Down: down, Up: up, Panel: n.Panel, Foot: f})
		}
		_ = line
	}
	for rep := int64(0); rep < 6; rep++ {
		line := view.Line{Rep: rep, Panels: make([]view.Spread, len(v.Layout.Panels))}
		for p := range line.Panels {
			m := float64(jitter(p, int(rep)))
			line.Panels[p] = view.Spread{N: 2, Low: view.Number(m - 14000 - float64(p)*900), Median: view.Number(m), High: view.Number(m + 17000)}
		}
		v.Lines = append(v.Lines, line)
	}
}

const l, r, any = pad.Left, pad.Right, view.AnyFoot

// single is a run on one pad: rolls and a held note. Panels: nw sw c ne se.
func single() *view.Live {
	v := live(pad.Single, 130, 4, 16, []note{
		{4, 0, r, 0}, {3, 1, r, 0}, {2, 2, l, 0}, {1, 3, l, 0}, {0, 5, l, 0}, {4, 8, r, 0}, {2, 9, l, 0}, {1, 10, l, 3}, {3, 12, r, 0}, {4, 13, r, 0}, {2, 15, r, 0},
	})
	v.Drill = "corner hook"
	play(v, true)
	v.Next = []view.Print{{Foot: l, Panels: pad.SetOf(0)}, {Foot: r, Panels: pad.SetOf(2, 4)}}
	return v
}

// double is a fast run over two pads, whose feet are not known.
func double() *view.Live {
	var ns []note
	for i := range 16 {
		f := pad.Foot(i % 2)
		ns = append(ns, note{pad.Panel((i * 3) % 10), i, f, 0})
		if i%4 == 3 {
			ns = append(ns, note{pad.Panel((i*3 + 5) % 10), i, f.Other(), 0})
		}
	}
	v := live(pad.Double, 172.5, 4, 16, ns)
	v.Drill = "long way across both pads and back again, with a turn in the middle"
	v.Source = "two USB pads"
	play(v, false)
	v.Next = []view.Print{{Foot: l, Panels: pad.SetOf(3, 5)}, {Foot: r, Panels: pad.SetOf(8)}}
	return v
}

// dense is a long drill with a note on every slot of many beats, all feet known.
func dense() *view.Live {
	var ns []note
	for i := range 96 {
		ns = append(ns, note{pad.Panel((i * 7) % 10), i, pad.Foot(i % 2), 0})
	}
	v := live(pad.Double, 150, 6, 96, ns)
	v.Drill = "long stair"
	play(v, true)
	return v
}

func atRest() *view.Live {
	v := single()
	v.Phase, v.Down, v.Next = view.Over, pad.SetOf(4), nil
	v.Orders = []view.Order{
		{Panel: 0, Text: "tempo down"}, {Panel: 1, Text: "mirror"}, {Panel: 2, Text: "repeat"}, {Panel: 3, Text: "tempo up"}, {Panel: 4, Text: "stop", Share: 0.6},
	}
	return v
}

func counting() *view.Live {
	v := double()
	v.Phase, v.Rep, v.InRep, v.Bars, v.Lines, v.Down = view.CountIn, -1, -700*ms, nil, nil, 0
	v.Count, v.CountOf = 2, 4
	for i := range v.Figures {
		v.Figures[i].Value = view.Undefined
	}
	v.Sound = "no device, goes on silent"
	return v
}

func held() *view.Live {
	v := single()
	v.Phase = view.Held
	v.Notice = "12 edges were lost: this rep is not judged"
	return v
}

func desk() *view.Desk {
	v := &view.Desk{Chosen: 2, Focus: 1, Live: single()}
	v.Live.Phase, v.Live.Bars, v.Live.Lines, v.Live.Down, v.Live.Next = view.AtRest, nil, nil, 0, nil
	v.Fields = []view.Field{
		{Name: "drill", Value: "corner hook", Help: "The drill to practise."},
		{Name: "tempo", Value: "130", Unit: "bpm", Help: "Beats a minute, 10 to 1000. Begin where every landing is clean and go up by a few beats at a time; the figures tell where the technique breaks."},
		{Name: "reps", Value: "16", Unit: "reps"},
		{Name: "rest between reps", Value: "0", Unit: "beats"},
		{Name: "source", Value: "USB pad on port 2, taught", Help: "Where presses come from."},
		{Name: "inner window", Value: "−40 … +50", Unit: "ms"},
		{Name: "shift", Value: "+4", Unit: "ms"},
		{Name: "click", Value: "wood", Unit: ""},
		{Name: "loudness", Value: "60", Unit: "%"},
		{Name: "bar", Value: "held"},
		{Name: "shoe", Value: "310", Unit: "mm"},
		{Name: "layout", Value: "single", Fixed: true},
	}
	for i, n := range []string{"slow square", "heel to toe, right", "corner hook", "corner hook, mirrored", "two in one", "centre returns", "long stair", "switch on the centre",
		"a name that is much longer than any list is wide, as people give them when they number their versions, third try", "brackets, low", "brackets, high", "turn and back"} {
		v.Drills = append(v.Drills, view.Entry{ID: n, Name: n, Layout: []string{"single", "double"}[i/8], Purpose: "one foot rolls over two panels while the other waits"})
	}
	return v
}

func deskFault() *view.Desk {
	v := desk()
	v.Fault = "the pad on port 2 does not answer: plug it in again"
	v.Search, v.Chosen, v.Focus = "brack", 9, 11
	v.Live = double()
	v.Live.Phase, v.Live.Bars, v.Live.Down, v.Live.Next = view.AtRest, nil, 0, nil
	return v
}

func teach() *view.Teach {
	v := &view.Teach{Live: double(), Asked: 3, Keys: []string{"R", "F", "Space", "", "", "", "", "", "", ""},
		Say:    "Press the key for 1ne, the far right panel of the left pad.",
		Limits: "A keyboard is exact to one frame of the window only, and many keyboards refuse some keys that are held at once."}
	v.Live.Next, v.Live.Down = nil, pad.SetOf(2)
	return v
}

func help() *view.Help {
	v := &view.Help{}
	for _, f := range figures() {
		t := f.Help
		if t == "" {
			t = "How many of the notes so far. The figure is of the run, not of the rep, and is counted when the note is decided, which is a little after it was due."
		}
		v.Topics = append(v.Topics, view.Topic{Name: f.Name, Text: t})
	}
	v.Topics = append(v.Topics, view.Topic{Name: "before you jump", Text: view.CautionLong})
	return v
}
