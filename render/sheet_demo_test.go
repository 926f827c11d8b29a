package render_test

import (
	"heeltoe/footing/pad"
	"heeltoe/render"
	"heeltoe/trainer/view"
)

// Invented footings to draw.

// sole is a foot of the usual size.
func sole(f pad.Foot, x, y, turn float64) view.Outsole {
	return view.Outsole{Foot: f, X: x, Y: y, TurnDeg: turn, LengthMM: 310, WidthMM: 110}
}

func on(kind string, o view.Outsole, panels []pad.Panel, notes ...int) view.SheetContact {
	return view.SheetContact{Outsole: o, Kind: kind, Panels: panels, Notes: notes}
}

func panels(p ...pad.Panel) []pad.Panel { return p }

// sheetSingle has every kind of contact, an aim, a panel-free move and a hold on one pad.
func sheetSingle() *view.Sheet {
	l1, r1 := sole(l, 280, 560, 14), sole(r, 560, 280, 22)
	l2, r2 := sole(l, 140, 140, 0), sole(r, 700, 700, -20)
	l3 := sole(l, 140, 420, 0)
	return &view.Sheet{Drill: "corner hook", Layout: pad.Single, BPM: 130, Which: "footing 2 of 10", Technique: "hop", Notes: 7, Feasible: true,
		Tempo:      [3]view.Tempi{{}, {Slowest: 140.625, Fastest: 310}, {Slowest: 93.75, Fastest: 310}},
		MaxTurnDeg: 45, EffortJ: 41.3, RepLength: 923 * ms,
		Landings: []view.SheetLanding{
			{T: 0, Contacts: []view.SheetContact{on("roll", r1, panels(2, 4), 0, 1)}, Resting: []view.Outsole{l3}},
			{T: 303 * ms, Contacts: []view.SheetContact{on("bracket", l1, panels(0, 2), 2, 3)}, Aim: &view.Aim{Band: "middle", T: 72 * ms, Slack: 18 * ms}},
			{T: 461 * ms, Contacts: []view.SheetContact{on("step", l2, panels(1), 4), on("step", r2, panels(3), 5)}, Free: true},
			{T: 692 * ms, Contacts: []view.SheetContact{{Outsole: l3, Kind: "step", Panels: panels(0), Notes: []int{6}, Keeps: panels(1)}}, Resting: []view.Outsole{r2}},
		},
		Downs: []view.Down{
			{Panel: 2, Foot: r, Note: 0, From: 0, Up: 145 * ms}, {Panel: 4, Foot: r, Note: 1, From: 115 * ms, Up: 380 * ms},
			{Panel: 0, Foot: l, Note: 2, From: 303 * ms, Up: 390 * ms}, {Panel: 2, Foot: l, Note: 3, From: 303 * ms, Up: 390 * ms},
			{Panel: 1, Foot: l, Note: 4, From: 461 * ms, Up: 900 * ms}, {Panel: 3, Foot: r, Note: 5, From: 461 * ms, Up: 860 * ms},
			{Panel: 0, Foot: l, Note: 6, From: 692 * ms, Up: 1080 * ms},
		},
		Free: []view.Span{{From: 390 * ms, To: 461 * ms}},
	}
}

// sheetDouble is a stair over both pads that does not work at its tempo.
func sheetDouble() *view.Sheet {
	l1, r1 := sole(l, 140, 420, 0), sole(r, 560, 560, -16)
	r2 := sole(r, 850, 140, 0)
	l2, r3 := sole(l, 1000, 700, 0), sole(r, 1420, 560, -18)
	r4 := sole(r, 1560, 140, -28)
	v := &view.Sheet{Drill: "stair of ten", Layout: pad.Double, BPM: 260, Which: "footing 1 of 10", Technique: "hop", Notes: 10,
		WhyNot: []string{"right foot twice within 112 ms, needs 150 ms", "right foot that far within 112 ms, needs 158 ms"},
		Tempo:  [3]view.Tempi{{}, {Slowest: 187.5, Fastest: 200}, {Slowest: 125, Fastest: 200}}, MaxTurnDeg: 45, EffortJ: 169, Measured: true,
		RepLength: 1579 * ms,
		Landings: []view.SheetLanding{
			{T: 44 * ms, Contacts: []view.SheetContact{on("bracket", l1, panels(1, 0), 0, 1)}, Resting: []view.Outsole{r4}, Aim: &view.Aim{Band: "inner", T: 44 * ms, Slack: 6 * ms}},
			{T: 202 * ms, Contacts: []view.SheetContact{on("bracket", r1, panels(2, 3), 2, 3)}, Resting: []view.Outsole{l1}, Aim: &view.Aim{Band: "inner", T: 44 * ms, Slack: 6 * ms}},
			{T: 360 * ms, Contacts: []view.SheetContact{on("bracket", r2, panels(4, 6), 4, 5)}, Resting: []view.Outsole{l1}, Aim: &view.Aim{Band: "inner", T: 44 * ms, Slack: 6 * ms}},
			{T: 563 * ms, Contacts: []view.SheetContact{on("step", l2, panels(5), 6), on("bracket", r3, panels(7, 8), 7, 8)}, Free: true, Aim: &view.Aim{Band: "middle", T: 89 * ms, Slack: ms}},
			{T: 711 * ms, Contacts: []view.SheetContact{on("step", r4, panels(9), 9)}, Resting: []view.Outsole{l2}},
		},
		Free: []view.Span{{From: 445 * ms, To: 563 * ms}},
	}
	ups := []pad.Time{430, 430, 259, 259, 445, 445, 1490, 615, 615, 1634}
	for _, k := range v.Landings {
		for _, c := range k.Contacts {
			for i, n := range c.Notes {
				v.Downs = append(v.Downs, view.Down{Panel: c.Panels[i], Foot: c.Foot, Note: n, From: k.T, Up: ups[n] * ms})
			}
		}
	}
	return v
}

// sheetLong goes round the pad until it takes several pages.
func sheetLong(landings int) *view.Sheet {
	v := sheetSingle()
	v.Drill, v.Landings, v.Downs, v.Free = "round and round", nil, nil, nil
	v.Notes, v.RepLength = landings, 150*ms*pad.Time(landings)
	var stood *view.Outsole
	for i := range landings {
		p := pad.Panel(i*2%5) % 5
		x, y := pad.Single.Panels[p].Rect.Centre()
		o := sole(pad.Foot(i%2), x, y, 12-24*float64(i%2))
		k := view.SheetLanding{T: 150 * ms * pad.Time(i), Contacts: []view.SheetContact{on("step", o, panels(p), i)}}
		if stood != nil {
			k.Resting = []view.Outsole{*stood}
		}
		stood = &o
		v.Landings = append(v.Landings, k)
		v.Downs = append(v.Downs, view.Down{Panel: p, Foot: o.Foot, Note: i, From: k.T, Up: k.T + 220*ms})
	}
	return v
}

func ranges() *view.Ranges {
	return &view.Ranges{Drill: "corner hook", From: 80, To: 300, Rows: []view.RangeRow{
		{Number: 1, Technique: "alternate", Text: "R:se L:ne R:c L:sw R:nw", Tempo: [3]view.Tempi{{Slowest: 10, Fastest: 126}, {Slowest: 10, Fastest: 126}, {Slowest: 10, Fastest: 126}}, Easiest: []view.Tempi{{Slowest: 80, Fastest: 105}}},
		{Number: 2, Technique: "roll", Text: "R:se>ne L:c>sw L:nw", Tempo: [3]view.Tempi{{Slowest: 10, Fastest: 170}, {Slowest: 10, Fastest: 170}, {Slowest: 10, Fastest: 170}}, Easiest: []view.Tempi{{Slowest: 110, Fastest: 150}}},
		{Number: 3, Technique: "hop", Text: "(R:se L:ne) (R:c L:sw) L:nw", Tempo: [3]view.Tempi{{Slowest: 250, Fastest: 290.5}, {Slowest: 140.6, Fastest: 290.5}, {Slowest: 93.8, Fastest: 290.5}}, Easiest: []view.Tempi{{Slowest: 155, Fastest: 290}}},
		{Number: 4, Technique: "double-step", Text: "R:se R:ne L:c L:sw L:nw", Tempo: [3]view.Tempi{}},
	}}
}

// papers are the pages for print.
var papers = map[string]func(s *render.Screen, c render.Canvas, w, h int){
	"sheet-single": func(s *render.Screen, c render.Canvas, w, h int) { s.Sheet(c, w, h, sheetSingle(), 0) },
	"sheet-double": func(s *render.Screen, c render.Canvas, w, h int) { s.Sheet(c, w, h, sheetDouble(), 0) },
	"sheet-long":   func(s *render.Screen, c render.Canvas, w, h int) { s.Sheet(c, w, h, sheetLong(24), 1) },
	"ranges":       func(s *render.Screen, c render.Canvas, w, h int) { s.Ranges(c, w, h, ranges(), 0) },
}
