package page

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"heeltoe/footing/pad"
	"heeltoe/trainer/view"
)

// leastRuns is how many runs a group has at least that gets a section of its own: the tables
// have all.
const leastRuns = 4

// short gives the section that says whether the player got steadier: of the group with most
// runs, of those that tell, in figures, and how it stands in the others.
func short(groups []view.Group) section {
	s := section{Title: "In short"}
	if len(groups) == 0 {
		return s
	}
	most, small := &groups[0], 0
	by := map[view.Verdict]int{}
	for i := range groups {
		g := &groups[i]
		by[g.Verdict]++
		if g.Runs < leastRuns {
			small++
		}
		if told, was := g.Verdict != view.TooFew, most.Verdict != view.TooFew; told && !was || told == was && g.Runs > most.Runs {
			most = g
		}
	}
	change := fact{"Steadier?", string(most.Verdict), "", fmt.Sprintf("%s, the group with most runs", groupName(most))}
	if most.Trend.Value.Defined() {
		change.Sure = fmt.Sprintf("%s ms a week %s", hundredth(most.Trend.Value), sure(most.Trend.Low, most.Trend.High, hundredth, most.Trend.N, "runs"))
	}
	s.Facts = []fact{change,
		{"All groups", fmt.Sprintf("%d steadier, %d less steady", by[view.Steadier], by[view.Unsteadier]), fmt.Sprintf("(n %d groups)", len(groups)),
			fmt.Sprintf("No change shown in %d, too few runs to tell in %d. A group is runs that are like one another; an interval misses the truth about once in ten, so a few groups may be told wrongly", by[view.NoChange], by[view.TooFew])}}
	if small > 0 {
		s.Lead = []string{fmt.Sprintf("Groups of fewer than %d runs, here %d, stand in the table by tempo alone.", leastRuns, small)}
	}
	t := table{Title: "Change of the scatter, all groups", Head: strings.Split("group,runs,scatter of the newest week ms,interval,change in a week ms,interval,n runs,shows", ",")}
	for i := range groups {
		g := &groups[i]
		t.Rows = append(t.Rows, []string{groupName(g), fmt.Sprint(g.Runs), fine(newest(g).Interval).mad(g.Scatter.Value), between(g.Scatter.Low, g.Scatter.High, plain),
			hundredth(g.Trend.Value), between(g.Trend.Low, g.Trend.High, hundredth), fmt.Sprint(g.Trend.N), string(g.Verdict)})
	}
	s.Tables = []table{t}
	return s
}

// newest gives the last week with runs.
func newest(g *view.Group) *view.Week { return &g.Weeks[len(g.Weeks)-1] }

// groupName names a group by what is played and how fast.
func groupName(g *view.Group) string {
	name := fmt.Sprintf("%s, %s, %g to below %g beats a minute", g.Drill, techniqueOf(g), g.Tempo.From, g.Tempo.Below)
	if g.Player != "" {
		name += ", " + g.Player
	}
	return name
}

// group gives the section of runs that are like one another.
func (d *document) group(g *view.Group) section {
	s := section{Title: groupName(g)}
	s.Lead = append(s.Lead, fmt.Sprintf("%d runs, %d notes, from %s to %s. %s Windows %s ms.", g.Runs, g.Notes, date(g.First), date(g.Last),
		conditions(g.Player, g.Pad, g.Bar, g.ShoeMM), windows(g.Windows)))
	if g.Footing != "" {
		s.Lead = append(s.Lead, "Footing to practise: "+g.Footing)
	}
	if f := pad.Fineness(g.All.Interval); f > 0 {
		s.Lead = append(s.Lead, upper(f.String())+". Such figures are grey, in brackets; a week goes by the slowest pad of its runs.")
	}
	last := newest(g)
	change := with(hundredth(g.Trend.Value), "ms a week")
	s.Facts = []fact{
		{"Scatter, newest week", with(plain(g.Scatter.Value), "ms"), sure(g.Scatter.Low, g.Scatter.High, plain, g.Scatter.N, "runs"),
			"The number to follow: half of the notes hit lay so near to their own note's median"},
		{"Change", string(g.Verdict), "", fmt.Sprintf("%s %s: the median of the slopes between any two runs", change, sure(g.Trend.Low, g.Trend.High, hundredth, g.Trend.N, "runs"))},
		{"Steadiness, newest week", with(percent(g.Steadiness.Value), "%"), sure(g.Steadiness.Low, g.Steadiness.High, percent, g.Steadiness.N, "runs"),
			"Share of the notes hit that would be inner after one shift of each run"},
		{"Absent, newest week", with(percent(last.Missed.Value), "%"), sure(last.Missed.Low, last.Missed.High, percent, last.Missed.N, "runs"), "Notes without a press"},
	}
	s.Facts[0].hide(pad.Fineness(last.Interval).HidesMAD(float64(g.Scatter.Value)))
	weeks := func(title, unit string, of func(*view.Week) view.Estimate, to func(view.Number) float64) *plot {
		var steps []step
		for i := range g.Weeks {
			steps = append(steps, step{g.Weeks[i].Monday[len("2006-"):], "week of " + g.Weeks[i].Monday, of(&g.Weeks[i])})
		}
		return course(title+" by week", unit, "week of", steps, to)
	}
	d.add(&s, weeks("Scatter", "ms", func(w *view.Week) view.Estimate { return w.Scatter }, msOf),
		figure{Notes: []string{"An upright bar is the interval that holds the true value nine times in ten, over whole runs; a week of one run has none."}})
	d.add(&s, weeks("Steadiness", "%", func(w *view.Week) view.Estimate { return w.Steadiness }, hundred), figure{})
	d.add(&s, weeks("Inner notes", "% of all", func(w *view.Week) view.Estimate { return w.InnerShare }, hundred), figure{})
	if len(g.Day) > 1 {
		turns := func(title, unit string, of func(*view.Turn) view.Estimate, to func(view.Number) float64) *plot {
			var steps []step
			for i := range g.Day {
				place := fmt.Sprint(g.Day[i].Place)
				steps = append(steps, step{place, "run " + place + " of its day", of(&g.Day[i])})
			}
			return course(title+" by run of the day", unit, "run of the day", steps, to)
		}
		d.add(&s, turns("Scatter", "ms", func(t *view.Turn) view.Estimate { return t.Scatter }, msOf),
			figure{Notes: []string{"The first runs of all days, the second ones, and so on. What gets worse from run to run may be tiredness: rest longer, play less. Never push through pain."}})
		d.add(&s, turns("Inner notes", "% of all", func(t *view.Turn) view.Estimate { return t.InnerShare }, hundred), figure{})
	}
	t := table{Title: "Week by week", Head: strings.Split("week of,runs,notes,scatter ms,interval,steadiness %,interval,inner %,interval,absent %,interval,stray,median ms,interval,sd ms,interval", ",")}
	for i := range g.Weeks {
		w := &g.Weeks[i]
		f := fine(w.Interval)
		row := []string{w.Monday, fmt.Sprint(w.Runs), fmt.Sprint(w.Notes)}
		both := func(e view.Estimate, value, bound func(view.Number) string) {
			row = append(row, value(e.Value), between(e.Low, e.High, bound))
		}
		both(w.Scatter, f.mad, plain)
		both(w.Steadiness, percent, percent)
		both(w.InnerShare, percent, percent)
		both(w.Missed, percent, percent)
		row = append(row, fmt.Sprint(w.Stray))
		both(w.Median, f.offset, tenth)
		both(w.SD, f.sd, plain)
		t.Rows = append(t.Rows, row)
	}
	s.Tables = []table{t}
	if len(g.Day) > 1 {
		s.Tables = append(s.Tables, dayTable(g))
	}
	return s
}

// hundred gives a share in hundredths.
func hundred(n view.Number) float64 { return 100 * float64(n) }

func dayTable(g *view.Group) table {
	t := table{Title: "Run by run of the day", Head: strings.Split("run of the day,runs,scatter ms,interval,inner %,interval,absent %,interval", ",")}
	for i := range g.Day {
		k := &g.Day[i]
		row := []string{fmt.Sprint(k.Place), fmt.Sprint(k.InnerShare.N)}
		for _, c := range []struct {
			e            view.Estimate
			value, bound func(view.Number) string
		}{{k.Scatter, fine(g.All.Interval).mad, plain}, {k.InnerShare, percent, percent}, {k.Missed, percent, percent}} {
			row = append(row, c.value(c.e.Value), between(c.e.Low, c.e.High, c.bound))
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

func techniqueOf(g *view.Group) string {
	switch {
	case g.Technique == "":
		return "any technique"
	case g.Read:
		return g.Technique
	}
	return g.Technique + " to be practised"
}

// windows writes bounds in µs as early/late in ms.
func windows(us string) string {
	var b [6]float64
	if _, err := fmt.Sscanf(us, "%g,%g,%g,%g,%g,%g", &b[0], &b[1], &b[2], &b[3], &b[4], &b[5]); err != nil {
		return us
	}
	return fmt.Sprintf("%g/%g, %g/%g, %g/%g", -b[0]/1000, b[1]/1000, -b[2]/1000, b[3]/1000, -b[4]/1000, b[5]/1000)
}

// way is a manner of playing: what groups at several tempi have in common.
type way struct{ key, technique, footing, player, pad, bar, windows string }

// tempi gives the section that shows at which tempo each way of playing breaks,
// where there is more than one tempo or way.
func (d *document) tempi(groups []view.Group) (section, bool) {
	if len(groups) < 2 {
		return section{}, false
	}
	byWay := map[way][]*view.Group{}
	var order []way
	for i := range groups {
		g := &groups[i]
		k := way{g.Key, techniqueOf(g), g.Footing, g.Player, g.Pad, g.Bar, g.Windows}
		if byWay[k] == nil {
			order = append(order, k)
		}
		byWay[k] = append(byWay[k], g)
	}
	s := section{Title: "By tempo", Lead: []string{"At which tempo each way of playing breaks: the share of inner notes over all runs, with the interval that holds the true value nine times in ten."}}
	t := table{Title: "By tempo", Head: strings.Split("way,beats a minute,runs,notes,inner %,interval,absent %,interval,scatter ms,interval", ",")}
	for _, k := range order {
		of := byWay[k]
		slices.SortFunc(of, func(a, b *view.Group) int { return int(a.Tempo.From - b.Tempo.From) })
		name := of[0].Drill + ", " + k.technique
		if k.player != "" {
			name += ", " + k.player
		}
		d.add(&s, tempoChart(name, of), figure{})
		for _, g := range of {
			a := &g.All
			t.Rows = append(t.Rows, []string{name, fmt.Sprintf("%g to below %g", g.Tempo.From, g.Tempo.Below), fmt.Sprint(a.Runs), fmt.Sprint(a.Notes),
				percent(a.InnerShare.Value), between(a.InnerShare.Low, a.InnerShare.High, percent), percent(a.Missed.Value), between(a.Missed.Low, a.Missed.High, percent),
				fine(a.Interval).mad(a.Scatter.Value), between(a.Scatter.Low, a.Scatter.High, plain)})
		}
	}
	s.Tables = []table{t}
	return s, true
}

// tempoChart draws the share of inner notes over the tempo.
func tempoChart(name string, of []*view.Group) *plot {
	var words []string
	for _, g := range of {
		words = append(words, fmt.Sprintf("%g to below %g beats a minute: %s %%, n %d runs", g.Tempo.From, g.Tempo.Below, percent(g.All.InnerShare.Value), g.All.Runs))
	}
	p := &plot{w: chartW, h: 204, title: "Inner notes by tempo: " + name, desc: strings.Join(words, "; ") + "."}
	y := scale{0, 100, p.h - 34, 20}
	x := scale{math.Floor(of[0].Tempo.From), of[len(of)-1].Tempo.Below, chartLeft, chartEnd}
	for _, t := range y.ticks(5) {
		p.line(gridLine, chartLeft, y.at(t), chartEnd, y.at(t))
		p.text(atEnd, chartLeft-4, y.at(t)+4, whole(t))
	}
	p.text(atStart, 2, 11, "% inner")
	for _, t := range x.ticks(5) {
		p.text(atMiddle, min(max(x.at(t), chartLeft+8), chartEnd-12), p.h-19, whole(t))
	}
	p.text(atEnd, chartEnd, p.h-3, "beats a minute")
	var points []point
	for _, g := range of {
		points = append(points, point{x.at((g.Tempo.From + g.Tempo.Below) / 2), g.All.InnerShare})
	}
	estimates(p, points, y, hundred)
	return p
}
