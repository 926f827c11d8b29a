package page

import (
	"fmt"
	"math"
	"strings"

	"heeltoe/footing/pad"
	"heeltoe/trainer/view"
)

// Sizes of a chart, so that its text can be read on the narrowest screen.
const (
	chartW    = 340
	chartLeft = 40
	chartEnd  = chartW - 8
)

// ms gives a time in milliseconds.
func ms(t pad.Time) float64 { return t.Milliseconds() }

// msOf gives µs in milliseconds.
func msOf(n view.Number) float64 { return float64(n) / 1000 }

func whole(v float64) string { return strings.Replace(fmt.Sprintf("%.0f", v), "-0", "0", 1) }

// reps draws how far off each rep was: a bar between the quartiles and a tick at
// the median, rep after rep, between the windows' bounds.
func reps(r *view.Played) *plot {
	n := len(r.Report.Reps)
	p := &plot{w: chartW, h: 220, title: "Offset by rep",
		desc: fmt.Sprintf("From the first of %d reps to the last, each with its median and the span from quartile to quartile, in ms. %s", n, trendWords(r))}
	outer := r.Windows[2]
	y := scale{ms(outer.Early) * 1.1, ms(outer.Late) * 1.1, p.h - 26, 16}
	x := scale{0, float64(n), chartLeft, chartEnd}
	bounds(p, r, y, func(class string, at float64) { p.line(class, chartLeft, at, chartEnd, at) },
		func(class string, a, b float64) { p.fill(class, chartLeft, b, chartEnd-chartLeft, a-b) })
	for _, t := range y.ticks(7) {
		p.text(atEnd, chartLeft-4, y.at(t)+4, signed(t))
	}
	p.text(atStart, 2, 11, "ms late")
	p.text(atStart, 2, p.h-20, "early")
	repNumbers(p, x, chartLeft)
	wide := (chartEnd - chartLeft) / float64(max(n, 1))
	var bars, ticks strings.Builder
	for i := range r.Report.Reps {
		k := &r.Report.Reps[i]
		if !k.Quartiles[0].Defined() {
			continue
		}
		at := x.at(float64(i) + 0.5)
		fmt.Fprintf(&bars, "M%s %sV%s", num(at), num(y.at(msOf(k.Quartiles[0]))), num(y.at(msOf(k.Quartiles[1]))))
		fmt.Fprintf(&ticks, "M%s %sh%s", num(at-wide*0.4), num(y.at(msOf(k.Offset.Median))), num(max(wide*0.8, 1)))
	}
	p.strokes(markLine, max(wide*0.6, 0.8), bars.String())
	p.strokes(inkLine, 2, ticks.String())
	return p
}

// bounds draws the windows, their bounds and the due moment.
func bounds(p *plot, r *view.Played, s scale, line func(class string, at float64), fill func(class string, a, b float64)) {
	for b := 2; b >= 0; b-- {
		w := r.Windows[b]
		fill(fmt.Sprintf("win%d", b), s.at(ms(w.Early)), s.at(ms(w.Late)))
	}
	for _, w := range r.Windows {
		line(markLine, s.at(ms(w.Early)))
		line(markLine, s.at(ms(w.Late)))
	}
	line(inkLine, s.at(0))
}

func signed(v float64) string {
	if v > 0 {
		return "+" + whole(v)
	}
	return strings.Replace(whole(v), "-", "−", 1)
}

// row is a line of a chart of spreads.
type row struct {
	name string
	of   view.Spread
}

// spreads draws a bar between the quartiles and a tick at the median for each row,
// on a scale of ms.
func spreads(p *plot, rows []row, s scale, left float64) {
	for i, k := range rows {
		y := 30 + float64(i)*18
		p.text(atStart, 2, y+4, k.name)
		p.line(gridLine, left, y+9, chartEnd, y+9)
		if k.of.N == 0 {
			continue
		}
		p.fill(markLine+"f", s.at(msOf(k.of.Low)), y-5, max(s.at(msOf(k.of.High))-s.at(msOf(k.of.Low)), 1), 10)
		p.fill(inkLine+"f", s.at(msOf(k.of.Median))-1, y-7, 2, 14)
	}
}

// panelChart draws the offsets of each panel between the windows' bounds.
func panelChart(r *view.Played) *plot {
	var rows []row
	for i := range r.Report.Statistics.Panels {
		k := &r.Report.Statistics.Panels[i]
		rows = append(rows, row{fmt.Sprintf("%s (%d)", k.Panel, k.N), view.Spread{N: k.N, Low: k.Quartiles[0], Median: k.Median.Value, High: k.Quartiles[1]}})
	}
	p := &plot{w: chartW, h: 44 + 18*float64(len(rows)), title: "Offset by panel", desc: "Of each panel the median and the span from quartile to quartile, in ms, with the number of presses. " + rowWords(rows)}
	outer := r.Windows[2]
	const left = 64.0
	s := scale{ms(outer.Early) * 1.1, ms(outer.Late) * 1.1, left, chartEnd}
	bottom := p.h - 22
	bounds(p, r, s, func(class string, at float64) { p.line(class, at, 20, at, bottom) },
		func(class string, a, b float64) { p.fill(class, a, 20, b-a, bottom-20) })
	for _, t := range s.ticks(6) {
		p.text(atMiddle, s.at(t), p.h-8, signed(t))
	}
	p.text(atStart, left, 12, "ms early")
	p.text(atEnd, chartEnd, 12, "ms late")
	spreads(p, rows, s, left)
	return p
}

func rowWords(rows []row) string {
	var parts []string
	for _, k := range rows {
		if k.of.N > 0 {
			parts = append(parts, fmt.Sprintf("%s: median %s", k.name, tenth(k.of.Median)))
		}
	}
	return strings.Join(parts, "; ") + "."
}

// mostRows is how many steps or landings a chart shows: a longer one is read as a table.
const mostRows = 24

// farOverlap is as far as the chart of overlaps reaches, in ms: a rest within the
// rep would press all else together. What is further is drawn at its edge.
const farOverlap = 300

// overlapChart draws, for each step from note to note, how long both panels were
// down, to the right, or none of the two, to the left.
func overlapChart(r *view.Played) *plot {
	var rows []row
	var all []float64
	of := r.Report.Statistics.Overlaps
	for i := range of[:min(len(of), mostRows)] {
		s := of[i].Time.Spread()
		rows = append(rows, row{stepName(r, &of[i]), s})
		all = append(all, msOf(s.Low), msOf(s.High), 0)
	}
	from, to := around(all, 100)
	from, to = max(from, -farOverlap), min(to, farOverlap)
	p := &plot{w: chartW, h: 44 + 18*float64(len(rows)), title: "Overlap from note to note",
		desc: "For each step of the rep how long the first panel was still down when the next came down, in ms; below 0: how long neither was. " + rowWords(rows)}
	const left = 96.0
	s := scale{from, to, left, chartEnd}
	bottom := p.h - 22
	for _, t := range s.ticks(5) {
		class := gridLine
		if math.Abs(t) < 1e-9 {
			class = inkLine
		}
		p.line(class, s.at(t), 20, s.at(t), bottom)
		p.text(atMiddle, s.at(t), p.h-8, signed(t))
	}
	p.text(atStart, left, 12, "ms apart")
	p.text(atEnd, chartEnd, 12, "ms together")
	spreads(p, rows, s, left)
	return p
}

func stepName(r *view.Played, o *view.Overlap) string {
	return fmt.Sprintf("%d %s → %s", o.From+1, r.Layout.ID(r.Notes[o.From].Panel), r.Layout.ID(r.Notes[o.To].Panel))
}

// techniques are the labels of a rep, in the order in which they are looked for.
var techniques = []string{"mash", "foot-switch", "hop", "roll", "double-step", "jump", "alternate", "unclear"}

// techniqueChart draws the technique that each rep was read as: a row a
// technique, a bar a rep, as high as the reading is probable.
func techniqueChart(r *view.Played) *plot {
	byName := map[string]int{}
	for i := range r.Report.Reps {
		byName[r.Report.Reps[i].Technique]++
	}
	var names, words []string
	for _, t := range techniques {
		if byName[t] > 0 || t == r.Asked {
			names = append(names, t)
			words = append(words, fmt.Sprintf("%s in %d", t, byName[t]))
		}
	}
	const left, each = 84.0, 34.0
	p := &plot{w: chartW, h: 24 + each*float64(len(names)), title: "Technique by rep",
		desc: fmt.Sprintf("What each of %d reps was read as, with how probable: %s.", len(r.Report.Reps), strings.Join(words, ", "))}
	x := scale{0, float64(len(r.Report.Reps)), left, chartEnd}
	wide := (chartEnd - left) / float64(max(len(r.Report.Reps), 1))
	for i, name := range names {
		base := each*float64(i+1) - 2
		label := name
		if name == r.Asked {
			label += " *"
		}
		p.text(atStart, 2, base-each/2+4, label)
		p.line(beatLine, left, base, chartEnd, base)
		var d strings.Builder
		for k := range r.Report.Reps {
			q := &r.Report.Reps[k]
			if q.Technique == name && q.P.Defined() {
				fmt.Fprintf(&d, "M%s %sv%s", num(x.at(float64(k)+0.5)), num(base), num(-float64(q.P)*(each-8)))
			}
		}
		p.strokes(markLine, max(wide*0.8, 0.8), d.String())
	}
	repNumbers(p, x, left)
	return p
}

// repNumbers writes the reps' numbers, from 1, below a scale that has them from 0.
func repNumbers(p *plot, x scale, left float64) {
	for _, k := range x.ticks(6) {
		if k >= 1 && k == math.Trunc(k) {
			p.text(atMiddle, min(x.at(k-0.5), chartEnd-10), p.h-4, whole(k))
		}
	}
	p.text(atEnd, left-6, p.h-4, "rep")
}

// step is a point of a course: its name on the axis and in words, and its figure.
type step struct {
	name, words string
	of          view.Estimate
}

// course draws a figure step by step, with its intervals; to takes it to unit.
func course(title, unit, axis string, steps []step, to func(view.Number) float64) *plot {
	var all []float64
	var words []string
	for _, k := range steps {
		all = append(all, to(k.of.Value), to(k.of.Low), to(k.of.High))
		if k.of.Value.Defined() {
			words = append(words, fmt.Sprintf("%s: %.1f", k.words, to(k.of.Value)))
		}
	}
	from, top := around(all, 1)
	p := &plot{w: chartW, h: 200, title: title, desc: fmt.Sprintf("In %s: %s.", unit, strings.Join(words, "; "))}
	y := scale{max(from, 0), top, p.h - 28, 20}
	x := scale{0, float64(len(steps)), chartLeft, chartEnd}
	for _, t := range y.ticks(5) {
		p.line(gridLine, chartLeft, y.at(t), chartEnd, y.at(t))
		p.text(atEnd, chartLeft-4, y.at(t)+4, fmt.Sprintf("%.4g", t))
	}
	p.text(atStart, 2, 11, unit)
	p.text(atEnd, chartEnd, 11, axis)
	every := (len(steps) + 3) / 4
	var points []point
	for i, k := range steps {
		at := x.at(float64(i) + 0.5)
		if i%every == 0 {
			p.text(atMiddle, min(max(at, chartLeft+16), chartEnd-18), p.h-8, k.name)
		}
		points = append(points, point{at, k.of})
	}
	estimates(p, points, y, to)
	return p
}

// point is an estimate at its place across.
type point struct {
	x  float64
	of view.Estimate
}

// estimates draws points, joined where both ends are known, each with its interval.
func estimates(p *plot, points []point, y scale, to func(view.Number) float64) {
	var trace strings.Builder
	verb := "M"
	for _, k := range points {
		if !k.of.Value.Defined() {
			verb = "M"
			continue
		}
		fmt.Fprintf(&trace, "%s%s %s", verb, num(k.x), num(y.at(to(k.of.Value))))
		verb = "L"
	}
	p.strokes(markLine, 1, trace.String())
	p.dots(points, y, to)
}

// dots draws points, each with its interval.
func (p *plot) dots(points []point, y scale, to func(view.Number) float64) {
	var whiskers, dots strings.Builder
	for _, k := range points {
		if !k.of.Value.Defined() {
			continue
		}
		fmt.Fprintf(&dots, "M%s %sh7", num(k.x-3.5), num(y.at(to(k.of.Value))))
		if k.of.Known() {
			fmt.Fprintf(&whiskers, "M%s %sV%s", num(k.x), num(y.at(to(k.of.Low))), num(y.at(to(k.of.High))))
		}
	}
	p.strokes(markLine, 4, whiskers.String())
	p.strokes(inkLine, 3, dots.String())
}

func trendWords(r *view.Played) string {
	if s := r.Report.Statistics; s.Drift.Offset.N > 0 && s.Drift.Offset.Slope.Defined() {
		return fmt.Sprintf("The median moves by %.2f ms a rep.", msOf(s.Drift.Offset.Slope))
	}
	return ""
}
