package consistency

import (
	"heeltoe/footing/pad"
	"heeltoe/trainer/click"
	"heeltoe/trainer/estimate"
	"heeltoe/trainer/timing"
	"heeltoe/trainer/view"
)

// event is what was due at one moment: one note, or several joined.
type event struct {
	rep    int
	note   int // the first of its notes within the rep
	due    pad.Time
	offset float64 // mean of its presses, µs
	whole  bool    // every note of it was pressed
	silent bool
}

// events gives what was due in the reps that were begun.
func events(r *view.Report, silent func(rep int) bool) []event {
	var out []event
	for i := 0; i < len(r.Notes); {
		n := &r.Notes[i]
		if n.Rep >= r.Summary.RepsBegun {
			break
		}
		e := event{rep: n.Rep, note: n.Note, due: pad.Time(n.Due), whole: true, silent: silent(n.Rep)}
		j := i
		for ; j < len(r.Notes) && r.Notes[j].Due == n.Due; j++ {
			e.whole = e.whole && r.Notes[j].Offset.Defined()
			e.offset += float64(r.Notes[j].Offset)
		}
		e.offset /= float64(j - i)
		out = append(out, e)
		i = j
	}
	return out
}

// evenly is how far apart, in µs, two spacings may be and still count as equal: due
// moments are rounded to whole microseconds.
const evenly = 2

// segments takes from events, of which all were silent or none was, the stretches
// of whole ones at the commonest spacing. What a note of the loop has in common over
// the reps is a habit, not chance: it is taken off each.
func segments(ev []event, silent bool) []timing.Segment {
	spacing := commonest(ev)
	sum, n := map[int]float64{}, map[int]float64{}
	for _, e := range ev {
		if e.whole {
			sum[e.note] += e.offset
			n[e.note]++
		}
	}
	var out []timing.Segment
	var at pad.Time // of the event before, in the open segment
	open := false
	for _, e := range ev {
		if !e.whole {
			open = false
			continue
		}
		if !open || (e.due-at-spacing).Abs() > evenly {
			out = append(out, timing.Segment{Silent: silent, From: e.due, Spacing: spacing})
		}
		s := &out[len(out)-1]
		s.Offsets = append(s.Offsets, e.offset-sum[e.note]/n[e.note])
		at, open = e.due, true
	}
	return out
}

// commonest gives the time between neighbours that occurs most often, the shortest of equals.
func commonest(ev []event) pad.Time {
	count := map[pad.Time]int{}
	best := pad.Time(0)
	for i := 1; i < len(ev); i++ {
		d := (ev[i].due - ev[i-1].due + evenly/2) / evenly * evenly
		count[d]++
		if c := count[d]; c > count[best] || c == count[best] && d < best {
			best = d
		}
	}
	return best
}

// gathered tells whether presses of several due moments come together, as in a
// hop between groups: then one press does not follow the other, and neither model holds.
func gathered(ev []event) bool {
	near, all := 0, 0
	for i := 1; i < len(ev); i++ {
		if !ev[i].whole || !ev[i-1].whole {
			continue
		}
		all++
		spacing := float64(ev[i].due - ev[i-1].due)
		if spacing+ev[i].offset-ev[i-1].offset < spacing/2 {
			near++
		}
	}
	return near*10 > all
}

// source splits the spread.
func source(r *view.Report, c view.Click) view.Source {
	o := click.Options{SilentAfter: c.SilentAfter, SilentEvery: c.SilentEvery, Before: c.Before}
	ev := events(r, func(rep int) bool { return c.Known && o.Silent(int64(rep)) })
	out := view.Source{Assumed: !c.Known}
	refuse := func(why string) view.Source {
		out.WithClick, out.Silent = none(why), none(why)
		return out
	}
	switch {
	case c.Known && c.Off:
		return refuse("the click was off: the log cannot tell what the presses followed")
	case gathered(ev):
		return refuse("presses of several due moments come together: they are one movement, not one after another")
	}
	var sounding, silent []event
	for _, e := range ev {
		if e.silent {
			silent = append(silent, e)
		} else {
			sounding = append(sounding, e)
		}
	}
	if p, err := timing.Paced(segments(sounding, false), seed); err != nil {
		out.WithClick = none(err.Error())
	} else {
		out.WithClick = view.Split{N: p.Alpha.N, Correction: view.Number(p.Alpha.Value), CorrectionRange: span(p.Alpha.Interval)}
		fill(&out.WithClick, p.Clock, p.Motor)
	}
	if len(silent) == 0 {
		out.Silent = none("no rep was played with the click silent (--silent-after N makes such reps)")
		return out
	}
	if p, err := timing.Unpaced(segments(silent, true), seed); err != nil {
		out.Silent = none(err.Error())
	} else {
		out.Silent = view.Split{N: p.Clock.N, Correction: view.Undefined, CorrectionRange: span(estimate.Unknown)}
		fill(&out.Silent, p.Clock, p.Motor)
	}
	return out
}

// fill puts both parts of the spread into s.
func fill(s *view.Split, clock, motor estimate.Figure) {
	s.Clock, s.ClockRange = view.Number(clock.Value), span(clock.Interval)
	s.Motor, s.MotorRange = view.Number(motor.Value), span(motor.Interval)
}

func none(why string) view.Split {
	u := span(estimate.Unknown)
	return view.Split{Correction: view.Undefined, Clock: view.Undefined, Motor: view.Undefined,
		CorrectionRange: u, ClockRange: u, MotorRange: u, WhyNot: why}
}
