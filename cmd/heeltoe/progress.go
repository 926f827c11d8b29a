package main

import (
	"bufio"
	"fmt"
	"io"
	"strings"
	"time"

	"heeltoe/trainer/progress"
	"heeltoe/trainer/store"
	"heeltoe/trainer/view"
)

type progressCmd struct {
	ofRuns
	Weeks int  `default:"12" help:"Weeks to show of each table, the newest; 0: all."`
	JSON  bool `name:"json" help:"Print one JSON object, of all weeks."`
}

// Help is shown by progress --help.
func (c *progressCmd) Help() string {
	return `Compares runs over weeks, like with like: one drill on one side, one technique, one
footing, the same player, pad, shoes, hands on the bar and windows, and tempi within
ten beats a minute. The number to follow is the scatter: half of the notes you hit lay within so
many ms of their own note's middle moment over the run. The smaller it is, the steadier you
are, whatever the windows; that one note comes early and another late does not count.

Behind each figure stands the interval that holds the true value nine times in ten, taken
over whole runs (Student's t; two runs at least), and n, the runs it was made of.
The change in a week is the median of the slopes between any two runs (Theil and Sen);
where its interval holds 0, no change is shown.

` + figuresHelp
}

// Run compares runs and prints what came of it.
func (c *progressCmd) Run(a *app) error {
	x, runs, err := c.runs(a)
	if err != nil {
		return err
	}
	defer x.Close()
	p := c.of(runs)
	w := bufio.NewWriter(a.stdout)
	switch {
	case c.JSON:
		if err := writeJSON(w, p); err != nil {
			return err
		}
	case len(p.Groups) == 0 && p.Undated == 0:
		fmt.Fprintln(w, "There is no such run yet.")
	case c.Drill == "":
		printGroups(w, p)
	default:
		for i := range p.Groups {
			c.printGroup(w, &p.Groups[i])
		}
		for i := range p.Limits {
			printLimits(w, &p.Limits[i])
		}
		if len(p.Limits) > 0 {
			fmt.Fprintln(w, "A rep is good with every note inner or middle, no stray, and the technique to be practised; heeltoe report DRILL draws the curves.")
		}
		if p.Recovery != nil {
			printRests(w, p.Recovery)
		}
	}
	if n := unread(p); n > 0 && !c.JSON {
		fmt.Fprintf(w, "What the feet did is not known of %s: heeltoe history read finds out.\n", number(n, "run"))
	}
	if p.Undated > 0 && !c.JSON {
		fmt.Fprintf(w, "Left out: %s whose log does not say when it was played.\n", number(p.Undated, "run"))
	}
	return w.Flush()
}

// of compares the runs; of one drill it looks at tempi and rests too.
func (c *progressCmd) of(runs []store.Run) *view.Progress {
	if c.Drill == "" {
		return progress.Of(runs, time.Local)
	}
	return progress.OfDrill(runs, time.Local)
}

// unread counts the runs of which nobody asked yet what the feet did.
func unread(p *view.Progress) int {
	n := 0
	for i := range p.Groups {
		if !p.Groups[i].Read {
			n += p.Groups[i].Runs
		}
	}
	return n
}

// printGroups prints a line for each group.
func printGroups(w io.Writer, p *view.Progress) {
	table(w, "drill technique bpm player runs last scatter,ms interval change/week,ms interval shows steadiness", func(row func(...any)) {
		for i := range p.Groups {
			g := &p.Groups[i]
			row(g.Drill, techniqueText(g), tempoText(g.Tempo), g.Player, g.Runs, startedText(g.Last)[:len(time.DateOnly)],
				fine(g.Weeks[len(g.Weeks)-1].Interval).mad(g.Scatter.Value), rangeText(g.Scatter, size), slope(g.Trend.Value), rangeText(g.Trend, slope), string(g.Verdict), percent(g.Steadiness.Value))
		}
	})
	fmt.Fprintln(w, "The scatter and the steadiness are of the newest week. heeltoe progress DRILL shows every week with all conditions; --help says what the figures mean.")
}

func (c *progressCmd) printGroup(w io.Writer, g *view.Group) {
	fmt.Fprintf(w, "%s, %s, %s beats a minute: %s, %s\n", g.Drill, techniqueText(g), tempoText(g.Tempo), number(g.Runs, "run"), number(g.Notes, "note"))
	fmt.Fprintf(w, "%s\n", conditionsText(g))
	if g.Footing != "" {
		fmt.Fprintf(w, "footing to practise: %s\n", g.Footing)
	}
	fine(g.All.Interval).print(w)
	last := &g.Weeks[len(g.Weeks)-1]
	fmt.Fprintf(w, "scatter    %s ms%s, in the week of %s (%s): half of the notes hit lay so near to their own note's middle moment\n",
		fine(last.Interval).mad(g.Scatter.Value), between(g.Scatter, size, "ms"), last.Monday, number(g.Scatter.N, "run"))
	if g.Trend.Value.Defined() {
		fmt.Fprintf(w, "change     %s ms a week%s (%s): %s\n", slope(g.Trend.Value), between(g.Trend, slope, "ms"), number(g.Trend.N, "run"), g.Verdict)
	} else {
		fmt.Fprintf(w, "change     %s\n", g.Verdict)
	}
	fmt.Fprintf(w, "steadiness %s%s in that week (%s)\n", percent(g.Steadiness.Value), between(g.Steadiness, percent, ""), number(g.Steadiness.N, "run"))
	fmt.Fprintln(w)
	weeks := g.Weeks
	if c.Weeks > 0 && len(weeks) > c.Weeks {
		weeks = weeks[len(weeks)-c.Weeks:]
		fmt.Fprintf(w, "the last %d of %d weeks:\n", len(weeks), len(g.Weeks))
	}
	table(w, "week runs notes scatter,ms interval steadiness interval inner interval absent interval stray median,ms interval sd,ms interval", func(row func(...any)) {
		for i := range weeks {
			k := &weeks[i]
			f := fine(k.Interval)
			row(k.Monday, k.Runs, k.Notes, f.mad(k.Scatter.Value), rangeText(k.Scatter, size), percent(k.Steadiness.Value), rangeText(k.Steadiness, percent), percent(k.InnerShare.Value), rangeText(k.InnerShare, percent),
				percent(k.Missed.Value), rangeText(k.Missed, percent), k.Stray, f.offset(k.Median.Value), rangeText(k.Median, ms), f.sd(k.SD.Value), rangeText(k.SD, size))
		}
	})
}

// printLimits prints where the ways break and how long they can be kept.
func printLimits(w io.Writer, l *view.Limits) {
	for i := range l.Ways {
		y := &l.Ways[i]
		if y.WhyNot != "" {
			fmt.Fprintf(w, "%s: the limit cannot be told: %s (%s)\n", y.Name, y.WhyNot, number(y.Limit.N, "clear rep"))
		} else {
			fmt.Fprintf(w, "%s: %.0f %% of the reps are good at %s beats a minute%s (%s)\n", y.Name, 100*l.Share, tempo(y.Limit.Value), between(y.Limit, tempo, ""), number(y.Limit.N, "clear rep"))
		}
		if e := y.Endurance; e != nil && e.WhyNot == "" {
			fmt.Fprintf(w, "%s: for long at %s beats a minute%s (%s held until they failed)\n", y.Name, tempo(e.CriticalBPM.Value), between(e.CriticalBPM, tempo, ""), number(e.CriticalBPM.N, "run"))
		}
	}
	for _, x := range l.Crossings {
		fmt.Fprintf(w, "above %s beats a minute%s %s goes better than %s\n", tempo(x.Tempo.Value), between(x.Tempo, tempo, ""), x.Above, x.Below)
	}
}

// tempo writes beats a minute.
func tempo(bpm view.Number) string {
	if !bpm.Defined() {
		return "–"
	}
	return fmt.Sprintf("%.1f", float64(bpm))
}

func techniqueText(g *view.Group) string {
	switch {
	case g.Technique == "":
		return "any technique"
	case g.Read:
		return g.Technique
	}
	return g.Technique + " asked for"
}

func tempoText(t view.Tempo) string { return fmt.Sprintf("%g to <%g", t.From, t.Below) }

// conditionsText says under what conditions a group was played.
func conditionsText(g *view.Group) string {
	player := g.Player
	if player == "" {
		player = "not named"
	}
	parts := []string{"player " + player}
	given := func(what, value string) {
		if value != "" {
			parts = append(parts, what+" "+value)
		}
	}
	given("pad", g.Pad)
	given("hands on the bar:", g.Bar)
	if g.ShoeMM > 0 {
		parts = append(parts, fmt.Sprintf("shoes %d mm", g.ShoeMM))
	}
	return strings.Join(append(parts, "windows "+windowsText(g.Windows)+" ms"), "; ")
}

// windowsText writes bounds in µs as the flag --windows has them, in ms.
func windowsText(us string) string {
	var b [6]float64
	if _, err := fmt.Sscanf(us, "%g,%g,%g,%g,%g,%g", &b[0], &b[1], &b[2], &b[3], &b[4], &b[5]); err != nil {
		return us
	}
	return fmt.Sprintf("%g/%g, %g/%g, %g/%g", -b[0]/1000, b[1]/1000, -b[2]/1000, b[3]/1000, -b[4]/1000, b[5]/1000)
}

// number writes a number of things.
func number(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

// slope writes µs a week as ms a week.
func slope(us view.Number) string {
	if !us.Defined() {
		return "–"
	}
	return fmt.Sprintf("%+.2f", float64(us)/1000)
}

// rangeText writes an interval, each end by unit, and – where there is none.
func rangeText(e view.Estimate, unit func(view.Number) string) string {
	if !e.Known() {
		return "–"
	}
	return strings.TrimSuffix(unit(e.Low), " %") + " to " + unit(e.High)
}

// between writes an interval behind its figure, or nothing. name is that of the
// unit where unit does not write it.
func between(e view.Estimate, unit func(view.Number) string, name string) string {
	if !e.Known() {
		return ""
	}
	return strings.TrimSuffix(", probably "+rangeText(e, unit)+" "+name, " ")
}
