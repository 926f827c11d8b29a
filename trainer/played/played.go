// Package played turns the log of a run into what a page shows of it: the review
// with its statistics, and every press as a bar.
package played

import (
	"heeltoe/footing/pad"
	"heeltoe/input/record"
	"heeltoe/judge/drill"
	"heeltoe/trainer/consistency"
	"heeltoe/trainer/view"
)

// Of reviews the run log of the file given by review, and works out its statistics. Faults
// are *pad.BadInput.
func Of(file string, review func(file string) (*view.Report, error)) (*view.Played, error) {
	l, err := record.ReadLog(file)
	if err != nil {
		return nil, err
	}
	rep, err := review(file)
	if err != nil {
		return nil, err
	}
	rep.Statistics = consistency.Of(rep)
	h := &l.Header
	g := l.Drill.Grid(h.Lead)
	p := &view.Played{Started: h.Started, Player: h.Player, Pad: h.Pad, Bar: h.Bar, ShoeMM: h.ShoeMM, Asked: h.Drill.Technique, Footing: h.Drill.Footing,
		Layout: l.Layout, RepLength: g.Due(1, 0) - g.Due(0, 0), Report: rep}
	for i, b := range h.Bounds() {
		p.Windows[i] = view.Bound{Early: b.Early, Late: b.Late}
	}
	zero := l.Drill.Grid(0)
	for _, n := range l.Drill.Notes {
		t := zero.Due(0, int64(n.Slot))
		p.Notes = append(p.Notes, view.Due{Panel: n.Panel, Foot: view.AnyFoot, T: t, Hold: zero.Due(0, int64(n.Slot)+int64(n.Hold)) - t})
	}
	p.Bars = bars(l, &g, pressesOf(l.Edges), rep)
	return p, nil
}

// pressesOf gives the presses of a log, in order of their beginning. A press
// whose end was not seen, at the end or before a gap, has none.
func pressesOf(edges []pad.Edge) []pad.Press {
	var out []pad.Press
	open := map[pad.Panel]int{}
	for _, e := range edges {
		switch e.Kind {
		case pad.Down:
			open[e.Panel] = len(out)
			out = append(out, pad.Press{Panel: e.Panel, Down: e.T, Up: pad.Never})
		case pad.Up:
			if i, ok := open[e.Panel]; ok {
				out[i].Up = e.T
				delete(open, e.Panel)
			}
		case pad.Gap:
			clear(open)
		}
	}
	return out
}

// down is a moment at which a panel went down, as the pad gave it.
type down struct {
	panel pad.Panel
	t     pad.Time
}

// bars gives each press in the rep of the note that it belongs to, else in the
// one that goes on when it comes.
func bars(l *record.Log, g *drill.Grid, presses []pad.Press, rep *view.Report) []view.Bar {
	of := map[down]*view.Note{}
	for i := range rep.Notes {
		n := &rep.Notes[i]
		if n.Press.Defined() {
			p, _ := l.Layout.Lookup(n.Panel)
			of[down{p, pad.Time(n.Press)}] = n
		}
	}
	early := l.Header.Bounds()[drill.Outer].Early
	out := make([]view.Bar, 0, len(presses))
	k := int64(0)
	for _, p := range presses {
		at := p.Down - l.Header.Shift
		for k+1 < l.Drill.Reps && g.Due(k+1, 0)+early <= at {
			k++
		}
		b := view.Bar{Rep: k, Panel: p.Panel, Foot: view.AnyFoot}
		if n := of[down{p.Panel, p.Down}]; n != nil {
			b.Rep = int64(n.Rep)
			switch n.Foot {
			case view.Word(pad.Left.String()):
				b.Foot = pad.Left
			case view.Word(pad.Right.String()):
				b.Foot = pad.Right
			}
		}
		start := g.Due(b.Rep, 0) + l.Header.Shift
		b.Down, b.Up = p.Down-start, pad.Never
		if p.Up != pad.Never {
			b.Up = p.Up - start
		}
		out = append(out, b)
	}
	return out
}
