package page

import (
	"fmt"
	"math"
	"strings"

	"heeltoe/trainer/view"
)

// limits gives the section that shows where the ways of playing break, where one overtakes
// another and how long they can be kept, under one set of conditions.
func (d *document) limits(l *view.Limits) section {
	s := section{Title: "Tempo and stamina", Lead: []string{conditions(l.Player, l.Pad, l.Bar, l.ShoeMM) + " Windows " + windows(l.Windows) + " ms. A rep is good with every note inner or middle, no stray, and the technique that is asked for; reps that are not clear do not count. All clear reps of all runs are taken together."}}
	if l.Player != "" {
		s.Title += ", " + l.Player
	}
	if l.Unread > 0 {
		s.Lead = append(s.Lead, fmt.Sprintf("Left out: %d runs of which nobody asked yet what the feet did (heeltoe history read finds out).", l.Unread))
	}
	for i := range l.Ways {
		w := &l.Ways[i]
		s.Facts = append(s.Facts, limitFact(w, l.Share))
		if w.Endurance != nil {
			s.Facts = append(s.Facts, enduranceFact(w))
		}
	}
	for _, x := range l.Crossings {
		s.Facts = append(s.Facts, fact{"Overtaking", x.Above, fmt.Sprintf("above %s", with(bpm(x.Tempo.Value), "beats a minute "+sure(x.Tempo.Low, x.Tempo.High, bpm, x.Tempo.N, "clear reps"))),
			fmt.Sprintf("Below that %s goes better; that there is such a tempo is %.0f %% probable", x.Below, 100*float64(x.P))})
	}
	drawn := l.Ways[:min(len(l.Ways), mostWays)]
	if slowest, fastest, ok := span(drawn); ok {
		d.add(&s, curvesChart(l, drawn, slowest, fastest), figure{Notes: []string{"The curves of all ways together; where they cross, one overtakes the other."}})
		for i := range drawn {
			if len(drawn[i].Curve) > 0 {
				d.add(&s, curveChart(&drawn[i], l.Share, slowest, fastest),
					figure{Notes: []string{"Dots: the reps played at a tempo, with the interval of each share. The line is the share that is believed, grey the interval that holds it nine times in ten."}})
			}
		}
	}
	for i := range drawn {
		if e := drawn[i].Endurance; e != nil && e.Critical.Value.Defined() {
			d.add(&s, enduranceChart(&drawn[i]), figure{Notes: []string{"A dot is a run held until it failed. The line is the model t = W/(P − C), least squares on the time; straight across: the cadence C that can be kept for long, grey its interval. The model is well tried for running and cycling; for stepping it is an analogy."}})
		}
	}
	for i := range drawn {
		if p, ok := searchesChart(l, drawn[i].Name); ok {
			d.add(&s, p, figure{Notes: []string{fmt.Sprintf("Each search for the tempo at which %.0f %% of the reps are good, by its own reps.", 100*l.Share)}})
		}
	}
	s.Tables = []table{trialTable(l)}
	if t := enduranceTable(l); len(t.Rows) > 0 {
		s.Tables = append(s.Tables, t)
	}
	if len(l.Searches) > 0 {
		s.Tables = append(s.Tables, searchTable(l))
	}
	return s
}

// mostWays is how many ways are drawn; the tables have all.
const mostWays = 4

func limitFact(w *view.Way, share float64) fact {
	name := "Breaks: " + w.Name
	means := fmt.Sprintf("There %.0f %% of the reps are good; faster it gets worse (%d runs)", 100*share, w.Runs)
	if w.WhyNot != "" {
		return fact{name, none, fmt.Sprintf("(n %d clear reps)", w.Limit.N), "Cannot be told: " + w.WhyNot}
	}
	return estimated(name, w.Limit, "beats a minute", bpm, "clear reps", means)
}

func enduranceFact(w *view.Way) fact {
	e := w.Endurance
	name := "For long: " + w.Name
	if e.WhyNot != "" {
		return fact{name, none, fmt.Sprintf("(n %d runs held until they failed)", len(e.Bouts)), "Cannot be told: " + e.WhyNot}
	}
	return estimated(name, e.CriticalBPM, "beats a minute", bpm, "runs held until they failed",
		fmt.Sprintf("%s landings a second %s; above it %s landings in reserve %s", two(e.Critical.Value), sure(e.Critical.Low, e.Critical.High, two, e.Critical.N, "runs"),
			count(e.Reserve.Value), sure(e.Reserve.Low, e.Reserve.High, count, e.Reserve.N, "runs")))
}

// span gives the slowest and the fastest tempo that ways have a curve at.
func span(ways []view.Way) (slowest, fastest float64, ok bool) {
	slowest, fastest = math.Inf(1), math.Inf(-1)
	for i := range ways {
		for _, c := range ways[i].Curve {
			slowest, fastest = min(slowest, c.BPM), max(fastest, c.BPM)
		}
	}
	return slowest, fastest, slowest < fastest
}

// shareAxes begins a plot of shares over tempi.
func shareAxes(title, desc string, slowest, fastest, room float64) (p *plot, x, y scale) {
	p = &plot{w: chartW, h: 214 + room, title: title, desc: desc}
	y = scale{0, 100, 180, 20}
	x = scale{slowest, fastest, chartLeft + 6, chartEnd - 6}
	for _, t := range y.ticks(5) {
		p.line(gridLine, chartLeft, y.at(t), chartEnd, y.at(t))
		p.text(atEnd, chartLeft-4, y.at(t)+4, whole(t))
	}
	p.text(atStart, 2, 11, "% good")
	for _, t := range x.ticks(5) {
		p.text(atMiddle, min(max(x.at(t), chartLeft+8), chartEnd-12), 195, whole(t))
	}
	p.text(atEnd, chartEnd, 210, "beats a minute")
	return p, x, y
}

// dashes are the classes of lines of several ways.
var dashes = [mostWays]string{"dash0", "dash1", "dash2", "dash3"}

// curvesChart draws the curves of ways together, with a line of its own kind for each.
func curvesChart(l *view.Limits, ways []view.Way, slowest, fastest float64) *plot {
	var words []string
	for i := range ways {
		words = append(words, curveWords(&ways[i], l.Share))
	}
	for _, c := range l.Crossings {
		words = append(words, fmt.Sprintf("above %s beats a minute %s goes better than %s", bpm(c.Tempo.Value), c.Above, c.Below))
	}
	p, x, y := shareAxes("Good reps over the tempo, all ways", strings.Join(words, "; ")+".", slowest, fastest, 18*float64(len(ways)))
	for _, c := range l.Crossings {
		p.fill("win2", x.at(float64(c.Tempo.Low)), 20, x.at(float64(c.Tempo.High))-x.at(float64(c.Tempo.Low)), 160)
		p.line(markLine, x.at(float64(c.Tempo.Value)), 20, x.at(float64(c.Tempo.Value)), 180)
	}
	for i := range ways {
		p.strokes(inkLine+" "+dashes[i], 2, curvePath(ways[i].Curve, x, y, func(e view.Estimate) view.Number { return e.Value }))
		at := 226 + 18*float64(i)
		p.strokes(inkLine+" "+dashes[i], 2, fmt.Sprintf("M%s %sH%s", num(chartLeft), num(at-4), num(chartLeft+30)))
		p.text(atStart, chartLeft+36, at, clipped(ways[i].Name))
	}
	return p
}

// clipped gives as much of a name as a chart has room for.
func clipped(name string) string {
	if r := []rune(name); len(r) > 40 {
		return string(r[:39]) + "…"
	}
	return name
}

func curvePath(points []view.CurvePoint, x, y scale, of func(view.Estimate) view.Number) string {
	var b strings.Builder
	verb := "M"
	for _, c := range points {
		fmt.Fprintf(&b, "%s%s %s", verb, num(x.at(c.BPM)), num(y.at(hundred(of(c.Share)))))
		verb = "L"
	}
	return b.String()
}

func curveWords(w *view.Way, share float64) string {
	if w.WhyNot != "" {
		return w.Name + ": the limit cannot be told"
	}
	return fmt.Sprintf("%s: %.0f %% are good at %s beats a minute", w.Name, 100*share, bpm(w.Limit.Value))
}

// curveChart draws what was played of one way and the curve that is believed.
func curveChart(w *view.Way, share, slowest, fastest float64) *plot {
	var words []string
	for _, t := range w.Trials {
		words = append(words, fmt.Sprintf("at %s beats a minute %d of %d", bpm(view.Number(t.BPM)), t.Good, t.Reps.N))
	}
	p, x, y := shareAxes("Good reps over the tempo: "+w.Name, curveWords(w, share)+". Good reps: "+strings.Join(words, "; ")+".", slowest, fastest, 0)
	low := curvePath(w.Curve, x, y, func(e view.Estimate) view.Number { return e.Low })
	var back strings.Builder
	for i := len(w.Curve) - 1; i >= 0; i-- {
		c := w.Curve[i]
		fmt.Fprintf(&back, "L%s %s", num(x.at(c.BPM)), num(y.at(hundred(c.Share.High))))
	}
	p.area("win1", low+back.String()+"Z")
	p.line(markLine, chartLeft, y.at(100*share), chartEnd, y.at(100*share))
	p.strokes(inkLine, 2, curvePath(w.Curve, x, y, func(e view.Estimate) view.Number { return e.Value }))
	var points []point
	for _, t := range w.Trials {
		points = append(points, point{x.at(t.BPM), t.Reps})
	}
	p.dots(points, y, hundred)
	if w.Limit.Known() {
		p.line(inkLine, x.at(float64(w.Limit.Low)), 180, x.at(float64(w.Limit.High)), 180)
		p.line(inkLine, x.at(float64(w.Limit.Value)), y.at(100*share), x.at(float64(w.Limit.Value)), 184)
	}
	return p
}

// enduranceChart draws the cadence over the time for which it was kept.
func enduranceChart(w *view.Way) *plot {
	e := w.Endurance
	var words []string
	longest, fastest := 0.0, 0.0
	for _, b := range e.Bouts {
		words = append(words, fmt.Sprintf("%.2f landings a second for %.0f s", b.Rate, b.Seconds))
		longest, fastest = max(longest, b.Seconds), max(fastest, b.Rate)
	}
	p := &plot{w: chartW, h: 214, title: "How long a cadence is kept: " + w.Name,
		desc: fmt.Sprintf("For long: %s landings a second. Held until they failed: %s.", two(e.Critical.Value), strings.Join(words, "; "))}
	critical, reserve := float64(e.Critical.Value), float64(e.Reserve.Value)
	x := scale{0, 1.08 * longest, chartLeft, chartEnd}
	from, to := around([]float64{critical, float64(e.Critical.Low), float64(e.Critical.High), fastest}, 0.2)
	y := scale{from, to, 180, 20}
	if e.Critical.Known() {
		p.fill("win2", chartLeft, y.at(float64(e.Critical.High)), chartEnd-chartLeft, y.at(float64(e.Critical.Low))-y.at(float64(e.Critical.High)))
	}
	for _, t := range y.ticks(5) {
		p.line(gridLine, chartLeft, y.at(t), chartEnd, y.at(t))
		p.text(atEnd, chartLeft-4, y.at(t)+4, fmt.Sprintf("%.4g", t))
	}
	for _, t := range x.ticks(5) {
		p.text(atMiddle, min(max(x.at(t), chartLeft+8), chartEnd-12), 195, whole(t))
	}
	p.text(atStart, 2, 11, "landings a second")
	p.text(atEnd, chartEnd, 210, "s until it failed")
	p.line(markLine, chartLeft, y.at(critical), chartEnd, y.at(critical))
	var line strings.Builder
	verb := "M"
	for k := range 60 {
		t := x.to * float64(k+1) / 60
		if rate := critical + reserve/t; rate <= to {
			fmt.Fprintf(&line, "%s%s %s", verb, num(x.at(t)), num(y.at(rate)))
			verb = "L"
		}
	}
	p.strokes(inkLine, 2, line.String())
	for _, b := range e.Bouts {
		p.fill(inkLine+"f", x.at(b.Seconds)-3, y.at(b.Rate)-3, 6, 6)
	}
	return p
}

// searchesChart draws how the tempo that was found went from search to search of a way.
func searchesChart(l *view.Limits, way string) (*plot, bool) {
	var steps []step
	for i := range l.Searches {
		if k := &l.Searches[i]; k.Way == way && (k.Tempo.N > 0 && k.Tempo.Value.Defined()) {
			steps = append(steps, step{k.Started.Local().Format("01-02"), k.Plan + " of " + date(k.Started), k.Tempo})
		}
	}
	if len(steps) < 2 {
		return nil, false
	}
	return course("Tempo found by searches: "+way, "beats a minute", "day", steps, func(n view.Number) float64 { return float64(n) }), true
}

func trialTable(l *view.Limits) table {
	t := table{Title: "Good reps by tempo", Head: strings.Split("way,beats a minute,good,good %,interval,n clear reps", ",")}
	for i := range l.Ways {
		for _, k := range l.Ways[i].Trials {
			t.Rows = append(t.Rows, []string{l.Ways[i].Name, bpm(view.Number(k.BPM)), fmt.Sprint(k.Good), percent(k.Reps.Value), between(k.Reps.Low, k.Reps.High, percent), fmt.Sprint(k.Reps.N)})
		}
	}
	return t
}

func enduranceTable(l *view.Limits) table {
	t := table{Title: "How long a tempo can be kept", Head: strings.Split("way,beats a minute,seconds,interval,n runs", ",")}
	for i := range l.Ways {
		e := l.Ways[i].Endurance
		if e == nil {
			continue
		}
		for _, k := range e.Lasts {
			lasts, in := count(k.Seconds.Value), between(k.Seconds.Low, k.Seconds.High, count)
			switch {
			case k.WhyNot != "":
				lasts = "cannot be told: " + k.WhyNot
			case k.Seconds.Low.Defined() && !k.Seconds.High.Defined():
				in = count(k.Seconds.Low) + " or more"
			}
			t.Rows = append(t.Rows, []string{l.Ways[i].Name, bpm(view.Number(k.BPM)), lasts, in, fmt.Sprint(k.Seconds.N)})
		}
	}
	return t
}

func searchTable(l *view.Limits) table {
	t := table{Title: "Searches, ladders, bursts and runs held", Head: strings.Split("begun,plan,way,blocks,tempo found in beats a minute,interval,good %,interval,n clear reps,came to", ",")}
	for i := range l.Searches {
		k := &l.Searches[i]
		result := none
		failed := map[bool]string{true: "failed", false: "ended without failing"}[k.Failed]
		switch {
		case k.Seconds.Defined():
			result = fmt.Sprintf("held %s s, %s", count(k.Seconds), failed)
		case k.Held.Defined():
			result = fmt.Sprintf("held up to %s, %s", bpm(k.Held), failed)
		case k.WhyNot != "":
			result = k.WhyNot
		}
		t.Rows = append(t.Rows, []string{when(k.Started), k.Plan, k.Way, fmt.Sprint(k.Blocks), bpm(k.Tempo.Value), between(k.Tempo.Low, k.Tempo.High, bpm),
			percent(k.Good.Value), between(k.Good.Low, k.Good.High, percent), fmt.Sprint(k.Good.N), result})
	}
	return t
}

// recovery gives the section that shows what rests do.
func recovery(r *view.Recovery) section {
	s := section{Title: "Rests", Lead: []string{"What changes within runs, over the pauses between them and over nights, like compared with like; other drills that were played between are not seen here. Changes are of the spread: below 0 it gets smaller. What grows within a run may be tiredness: rest longer, play less, stop at pain."}}
	one := func(name string, e view.Estimate, of, means string) {
		s.Facts = append(s.Facts, estimated(name, e, "%", signedPercent, of, means))
	}
	one("Within a run", r.Run, "runs", "From its first third to its last")
	one("Over a pause", r.Pause, "pauses", "From the last third of a run to the first of the next, at most 30 minutes later")
	one("Over a night", r.Night, "nights", "From the last runs of a day to the first of the next")
	one("Over a night, good reps", r.Good, "nights", "The share of good reps, in percentage points")
	one("Within a day", r.Day, "days", "From its first runs to its last")
	if r.WhyNot != "" {
		s.Facts = append(s.Facts, fact{"A pause twice as long", none, fmt.Sprintf("(n %d pauses)", r.Doubling.N), "Cannot be told: " + r.WhyNot})
	} else {
		one("A pause twice as long", r.Doubling, "pauses", "How much more it takes off; below 0 a longer rest brings more back")
	}
	t := table{Title: "By the length of the pause", Head: strings.Split("pause,change of the spread %,interval,n pauses", ",")}
	for _, k := range r.ByRest {
		t.Rows = append(t.Rows, []string{fmt.Sprintf("%.4g to below %.4g minutes", k.From/60, k.Below/60), signedPercent(k.Change.Value), between(k.Change.Low, k.Change.High, signedPercent), fmt.Sprint(k.Change.N)})
	}
	if len(t.Rows) > 0 {
		s.Tables = []table{t}
	}
	return s
}
