package page

import (
	"fmt"
	"io"
	"strings"

	"heeltoe/footing/pad"
	"heeltoe/trainer/view"
)

// Pad writes the page of a check of a pad.
func Pad(w io.Writer, c *view.PadCheck) error {
	d := &document{Title: "Check of the pad " + c.Pad, Lead: c.Made.Local().Format("2 January 2006, 15:04") + "; layout " + c.Layout.Name + "."}
	s := section{Title: "What was found", Facts: padFacts(c)}
	d.add(&s, padPlan(c), figure{Wide: len(c.Layout.Panels) > 5, Notes: []string{"The pad from above, to scale. Of each panel: presses seen of those asked for, and what is wrong with it."}})
	for i := range c.Devices {
		if c.Devices[i].Percentiles != nil {
			d.add(&s, intervalChart(c, i), figure{Notes: []string{"How many of the times from report to report are no longer than so much. The steeper, the evener; 99 of 100 are shown."}})
		}
	}
	if rows := betweenPresses(c); len(rows) > 0 {
		d.add(&s, betweenChart(c, rows), figure{Notes: []string{"A bar spans half of what was seen, the tick is the median; n in brackets. Grey behind: what the pad cannot tell from 0."}})
	}
	s.Tables = []table{padTable(c)}
	d.Sections = []section{{Title: "Verdict", Lead: c.Verdict}, {Title: "What it means for a run's figures", Lead: c.Means}, s}
	return d.write(w)
}

// padFacts gives the figures of a check.
func padFacts(c *view.PadCheck) (facts []fact) {
	for i := range c.Devices {
		k := &c.Devices[i]
		name := "Report interval"
		if len(c.Devices) > 1 {
			name += fmt.Sprintf(", device %d", i)
		}
		how := fmt.Sprintf("(jitter %.2f ms, longest %.2f ms, n %d reports)", ms(k.Jitter), ms(k.Worst), k.Reports)
		switch {
		case k.Interval == 0:
			facts = append(facts, fact{name, none, "", "It reports changes only, and the system does not tell how often it may"})
			continue
		case k.Told:
			how = "(as the system says)"
		}
		facts = append(facts, fact{name, fmt.Sprintf("%.2f ms", ms(k.Interval)), how, fmt.Sprintf("It alone spreads a press by %.2f ms, interval/√12", ms(k.Quantisation))})
	}
	debounce := fact{"Debounce", "none", "", "No panel chattered"}
	if c.Debounce > 0 {
		debounce = fact{"Debounce", fmt.Sprintf("%.0f ms", ms(c.Debounce)), "(proposed)", "Half as long again as the longest chatter that was seen"}
	}
	facts = append(facts, debounce, fact{"Quick taps", fmt.Sprintf("%d of %d", c.Taps, c.Tapped), "", "On one panel, as quickly as could be"})
	overlap := fact{"Shortest overlap", none, "", "None was seen"}
	if c.Overlap != nil {
		overlap = fact{"Shortest overlap", fmt.Sprintf("%.1f ms", ms(*c.Overlap)), fmt.Sprintf("(of %d seen)", c.Overlaps.N), "Of two panels, stepping from one to the other"}
	}
	facts = append(facts, overlap)
	if c.Finest > 0 {
		facts = append(facts, fact{"Finest overlap", fmt.Sprintf("%.1f ms", ms(c.Finest)), "", "A shorter one the pad cannot tell from none"})
	}
	if s := c.Seam; s != nil {
		delay := fact{"Pad against pad", none, "", "No strike was seen on both"}
		if s.Strikes > 0 {
			delay = fact{"Pad against pad", with(tenth(view.Number(s.Delay)), "ms"), fmt.Sprintf("(give or take %.1f ms, n %d strikes)", ms(s.Spread), s.Strikes),
				fmt.Sprintf("%s after %s, struck at once", s.Panels[1], s.Panels[0])}
		}
		facts = append(facts, delay)
	}
	return facts
}

// faults gives what is wrong with a panel, in a word or two each.
func faults(p *view.PadPanel) (words []string) {
	if p.Dead {
		words = append(words, "dead")
	}
	if p.Stuck {
		words = append(words, "down alone")
	}
	if p.Asked > 0 && p.Presses > 0 && p.Presses < p.Asked {
		words = append(words, "misses")
	}
	if p.Chatter > 0 {
		words = append(words, fmt.Sprintf("chatters %.0f ms", ms(p.Bounce)))
	}
	if len(p.Fires) > 0 {
		words = append(words, "fires "+strings.Join(p.Fires, ", "))
	}
	return words
}

// padPlan draws the pad from above.
func padPlan(c *view.PadCheck) *plot {
	right, top := int32(0), int32(0)
	for _, k := range c.Layout.Panels {
		right, top = max(right, k.Rect.X1), max(top, k.Rect.Y1)
	}
	const scale = 0.4 // units a mm: a panel holds its words
	p := &plot{w: float64(right)*scale + 4, h: float64(top)*scale + 4, title: "Panels"}
	var words []string
	rect := func(r pad.Rect, class string) (x, y, w, h float64) {
		x, y = 2+float64(r.X0)*scale, 2+float64(top-r.Y1)*scale
		w, h = float64(r.X1-r.X0)*scale, float64(r.Y1-r.Y0)*scale
		p.strokes(class, 1, fmt.Sprintf("M%s %sh%sv%sh%sz", num(x), num(y), num(w), num(h), num(-w)))
		return x, y, w, h
	}
	for _, r := range c.Layout.Dead {
		rect(r, gridLine)
	}
	for i := range c.Panels {
		k := &c.Panels[i]
		wrong := faults(k)
		class := markLine
		if len(wrong) > 0 {
			class = inkLine
		}
		x, y, w, h := rect(c.Layout.Panels[i].Rect, class)
		if len(wrong) > 0 { // a thick edge, too, for those who do not see the words
			p.strokes(inkLine, 3, fmt.Sprintf("M%s %sh%sv%sh%sz", num(x+3), num(y+3), num(w-6), num(h-6), num(6-w)))
		}
		lines := append([]string{k.Panel, fmt.Sprintf("%d of %d", k.Presses, k.Asked)}, wrong...)
		for n, text := range lines {
			p.text(atMiddle, x+w/2, y+h/2+4+15*(float64(n)-float64(len(lines)-1)/2), text)
		}
		words = append(words, strings.Join(lines, ", "))
	}
	p.desc = "Presses seen of those asked for: " + strings.Join(words, "; ") + "."
	return p
}

// intervalChart draws how the times between reports of a device are distributed.
func intervalChart(c *view.PadCheck, device int) *plot {
	k := &c.Devices[device]
	const last = 99 // the longest of all may be far away
	title := "Time from report to report"
	if len(c.Devices) > 1 {
		title += fmt.Sprintf(", device %d", device)
	}
	at := k.Percentiles
	p := &plot{w: chartW, h: 204, title: title,
		desc: fmt.Sprintf("Half are no longer than %.2f ms, 5 of 100 no longer than %.2f, 95 of 100 no longer than %.2f, 99 of 100 no longer than %.2f.", ms(at[50]), ms(at[5]), ms(at[95]), ms(at[last]))}
	y := scale{0, 100, p.h - 34, 20}
	x := scale{0, max(ms(at[last])*1.05, 1), chartLeft, chartEnd}
	for _, t := range y.ticks(5) {
		p.line(gridLine, chartLeft, y.at(t), chartEnd, y.at(t))
		p.text(atEnd, chartLeft-4, y.at(t)+4, whole(t))
	}
	p.text(atStart, 2, 11, "% no longer")
	for _, t := range x.ticks(5) {
		p.text(atMiddle, min(max(x.at(t), chartLeft+8), chartEnd-12), p.h-19, strings.TrimPrefix(fmt.Sprintf("%g", t), "-"))
	}
	p.text(atEnd, chartEnd, p.h-3, "ms")
	var line strings.Builder
	for i := range last + 1 {
		step := "L"
		if i == 0 {
			step = "M"
		}
		fmt.Fprintf(&line, "%s%s %s", step, num(x.at(ms(at[i]))), num(y.at(float64(i))))
	}
	p.strokes(inkLine, 2, line.String())
	return p
}

// betweenPresses gives what was seen between two panels.
func betweenPresses(c *view.PadCheck) (rows []row) {
	if c.Overlaps.N > 0 {
		rows = append(rows, row{fmt.Sprintf("overlap (%d)", c.Overlaps.N), c.Overlaps})
	}
	if s := c.Seam; s != nil && s.Strikes > 0 {
		rows = append(rows, row{fmt.Sprintf("seam (%d)", s.Strikes), s.Delays})
	}
	return rows
}

// betweenChart draws overlaps, and the strikes across the seam.
func betweenChart(c *view.PadCheck, rows []row) *plot {
	p := &plot{w: chartW, h: 44 + 18*float64(len(rows)), title: "Between two panels",
		desc: "Overlaps of steps from panel to panel, and how much later the second pad came, in ms: median and quartiles. " + rowWords(rows)}
	const left = 84.0
	values := []float64{0, ms(c.Finest)}
	for _, k := range rows {
		values = append(values, msOf(k.of.Low), msOf(k.of.High))
	}
	from, to := around(values, 10)
	s := scale{from, to, left, chartEnd}
	p.fill("win1", s.at(-ms(c.Finest)), 18, s.at(ms(c.Finest))-s.at(-ms(c.Finest)), p.h-36)
	for _, t := range s.ticks(5) {
		p.line(gridLine, s.at(t), 18, s.at(t), p.h-18)
		p.text(atMiddle, min(max(s.at(t), left+8), chartEnd-14), p.h-4, signed(t))
	}
	p.text(atEnd, chartEnd, 12, "ms")
	spreads(p, rows, s, left)
	return p
}

// padTable has the panels in words.
func padTable(c *view.PadCheck) table {
	t := table{Title: "Panel by panel", Head: strings.Split("panel,asked,seen,chatter,longest ms,dead,down alone,sets off,press at,release at", ",")}
	yes := map[bool]string{true: "yes", false: "no"}
	for i := range c.Panels {
		k := &c.Panels[i]
		with, press, release := strings.Join(k.Fires, " "), none, none
		if with == "" {
			with = none
		}
		if k.Press != nil {
			press, release = fmt.Sprint(*k.Press), fmt.Sprint(*k.Release)
		}
		t.Rows = append(t.Rows, []string{k.Panel, fmt.Sprint(k.Asked), fmt.Sprint(k.Presses), fmt.Sprint(k.Chatter), fmt.Sprintf("%.1f", ms(k.Bounce)), yes[k.Dead], yes[k.Stuck],
			with, press, release})
	}
	return t
}
