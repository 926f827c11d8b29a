package main

import (
	"bufio"
	"fmt"
	"math"
	"strings"

	"heeltoe/trainer/estimate"
	"heeltoe/trainer/sides"
	"heeltoe/trainer/success"
	"heeltoe/trainer/view"
)

type sidesCmd struct {
	chosenRuns
	Share float64 `default:"0.8" help:"Share of good reps at the limit, 0.5 to 0.95."`
	JSON  bool    `name:"json" help:"Print one JSON object."`
}

// Help is shown by sides --help.
func (c *sidesCmd) Help() string {
	return `Shows a drill and its mirror image side by side: the tempo at which each breaks, the scatter
of the presses at like tempi, the brackets of which half was missed. A weak side is named where
one of the three differences leaves out that the sides are equal; their intervals are made so
that all three hold at once nine times in ten. Reps are taken as independent of one another; days on
which only one side was played make the intervals too narrow.

It also says which foot begins a rep and which takes the centre, where the reading says the same
foot on both sides in most runs. The pad reports panels, never feet: where the presses suit
both feet equally the reading takes the easier one, and there is no habit to be seen.

` + figuresHelp
}

// Run compares the sides.
func (c *sidesCmd) Run(a *app) error {
	if err := checkShare(c.Share); err != nil {
		return err
	}
	key, runs, err := c.load(a)
	if err != nil {
		return err
	}
	if runs[0].key == runs[0].mirror {
		return usagef("%s is its own mirror image: it has no sides", runs[0].drill.Name)
	}
	names := [2]string{"", ""}
	var of [2][]sides.Run
	for _, r := range runs {
		k := 0
		if r.key != key {
			k = 1
		}
		names[k] = r.drill.Name
		of[k] = append(of[k], sides.RunOf(r.report))
	}
	for k := range names {
		if names[k] == "" {
			names[k] = "the mirror image of " + names[1-k]
		}
	}
	cmp := sides.Compare(of[0], of[1], c.Share)
	w := bufio.NewWriter(a.stdout)
	if c.JSON {
		err = writeJSON(w, sidesJSON(names, &cmp))
	} else {
		printSides(w, names, &cmp, c.Share)
	}
	if err != nil {
		return err
	}
	return w.Flush()
}

func printSides(w *bufio.Writer, names [2]string, c *sides.Comparison, share float64) {
	columns(w, "\t"+names[0]+"\t"+names[1]+"\tdifference\tn", func(row func(...any)) {
		both := func(what string, cell func(s *sides.Side) string, d string, n int) {
			row(what, cell(&c.Sides[0]), cell(&c.Sides[1]), d, n)
		}
		both("runs", func(s *sides.Side) string { return fmt.Sprint(s.Runs) }, "", c.Sides[0].Runs+c.Sides[1].Runs)
		both(fmt.Sprintf("limit, beats a minute (%.0f %% good)", 100*share), limitText, gapText(&c.Limit, 1, "%+.1f"), c.Limit.N)
		both("scatter, ms", func(s *sides.Side) string { return size(view.Number(s.ScatterUS)) }, timesText(&c.Scatter), c.Scatter.N)
		both("half brackets, %", halvesText, gapText(&c.Halves, 100, "%+.1f"), c.Halves.N)
		both("foot that begins", func(s *sides.Side) string { return habitText(s.Habits.Lead) }, byHabit(c, func(h sides.Habits) sides.Habit { return h.Lead }),
			c.Sides[0].Habits.Lead.N+c.Sides[1].Habits.Lead.N)
		both("foot on the centre", func(s *sides.Side) string { return habitText(s.Habits.Centre) }, byHabit(c, func(h sides.Habits) sides.Habit { return h.Centre }),
			c.Sides[0].Habits.Centre.N+c.Sides[1].Habits.Centre.N)
	})
	for _, d := range []struct {
		what string
		of   *sides.Difference
	}{{"limits", &c.Limit}, {"scatters", &c.Scatter}, {"half brackets", &c.Halves}} {
		if d.of.Why != nil {
			fmt.Fprintf(w, "The %s cannot be compared: %v.\n", d.what, d.of.Why)
		}
	}
	fmt.Fprintln(w, weakText(names, c))
	fmt.Fprintln(w, view.Caution)
}

// weakText says which side is shown to be weaker.
func weakText(names [2]string, c *sides.Comparison) string {
	side, by := c.Weaker()
	switch {
	case side >= 0:
		return fmt.Sprintf("The weaker side is %s, by %s.", names[side], strings.Join(by, " and "))
	case len(by) > 0:
		return "The sides differ, but not all one way: see " + strings.Join(by, " and ") + "."
	}
	return "No difference between the sides is shown."
}

func limitText(s *sides.Side) string {
	if s.LimitWhy != nil {
		return "–"
	}
	return fmt.Sprintf("%.1f (%.1f to %.1f)", s.Limit.Value, s.Limit.Low, s.Limit.High)
}

func halvesText(s *sides.Side) string {
	if !s.Halves.Known() {
		return "–"
	}
	return fmt.Sprintf("%.1f (%.1f to %.1f)", 100*s.Halves.Value, 100*s.Halves.Low, 100*s.Halves.High)
}

// gapText writes a difference between sides.
func gapText(d *sides.Difference, scale float64, format string) string {
	return openText(d.Figure, scale, format)
}

// timesText writes a ratio.
func timesText(d *sides.Difference) string {
	if !d.Known() {
		return "–"
	}
	return "× " + gapText(d, 1, "%.2f")
}

// openText writes a figure with its interval, an end that is open in words.
func openText(f estimate.Figure, scale float64, format string) string {
	one := func(v float64) string { return fmt.Sprintf(format, scale*v) }
	switch {
	case !f.Known():
		return "–"
	case math.IsInf(f.Low, -1):
		return one(f.High) + " or less"
	case math.IsInf(f.High, 1):
		return one(f.Low) + " or more"
	}
	return one(f.Value) + " (" + one(f.Low) + " to " + one(f.High) + ")"
}

func habitText(h sides.Habit) string {
	if h.N == 0 {
		return "–"
	}
	return fmt.Sprintf("L in %.0f %% of %s", 100*h.Value, number(h.N, "run"))
}

func byHabit(c *sides.Comparison, of func(sides.Habits) sides.Habit) string {
	foot, ok := sides.ByHabit(of(c.Sides[0].Habits), of(c.Sides[1].Habits))
	if !ok {
		return "no habit shown"
	}
	return foot.String() + " by habit"
}

// sidesFile is the object that sides --json prints. Intervals of the differences hold all at once
// nine times in ten.
type sidesFile struct {
	Sides   [2]sideFile `json:"sides"`
	Limit   gapFile     `json:"limit_bpm"`     // second less first
	Scatter gapFile     `json:"scatter_ratio"` // second to first
	Halves  gapFile     `json:"half_brackets"`
	Weaker  *int        `json:"weaker"` // 0 or 1; null: not shown
	By      []string    `json:"by"`
	Lead    view.Word   `json:"lead_foot"`
	Centre  view.Word   `json:"centre_foot"`
}

type sideFile struct {
	Drill      string        `json:"drill"`
	Runs       int           `json:"runs"`
	Trials     []trialsFile  `json:"reps"`
	Limit      view.Estimate `json:"limit_bpm"`
	LimitWhy   string        `json:"limit_why_not,omitempty"`
	ScatterUS  view.Number   `json:"scatter_us"`
	Halves     view.Estimate `json:"half_brackets"`
	LeftLeads  view.Estimate `json:"left_leads"`
	LeftCentre view.Estimate `json:"left_on_centre"`
}

type trialsFile struct {
	BPM  float64 `json:"bpm"`
	Good int     `json:"good"`
	N    int     `json:"n"`
}

// gapFile is a difference; an end that is open is null.
type gapFile struct {
	view.Estimate
	Why string `json:"why_not,omitempty"`
}

func sidesJSON(names [2]string, c *sides.Comparison) *sidesFile {
	f := &sidesFile{Limit: gapOf(c.Limit.Figure, c.Limit.Why), Scatter: gapOf(c.Scatter.Figure, c.Scatter.Why), Halves: gapOf(c.Halves.Figure, c.Halves.Why), By: []string{}}
	for k := range names {
		s := &c.Sides[k]
		f.Sides[k] = sideFile{Drill: names[k], Runs: s.Runs, Trials: trialsJSON(s.Trials), ScatterUS: view.Number(s.ScatterUS), Halves: estimateOf(s.Halves),
			LeftLeads: estimateOf(s.Habits.Lead.Figure), LeftCentre: estimateOf(s.Habits.Centre.Figure)}
		f.Sides[k].Limit = gapOf(s.Limit, s.LimitWhy).Estimate
		if s.LimitWhy != nil {
			f.Sides[k].Limit.Value, f.Sides[k].LimitWhy = view.Undefined, s.LimitWhy.Error()
		}
	}
	side, by := c.Weaker()
	if side >= 0 {
		f.Weaker = &side
	}
	f.By = append(f.By, by...)
	if foot, ok := sides.ByHabit(c.Sides[0].Habits.Lead, c.Sides[1].Habits.Lead); ok {
		f.Lead = view.Word(foot.String())
	}
	if foot, ok := sides.ByHabit(c.Sides[0].Habits.Centre, c.Sides[1].Habits.Centre); ok {
		f.Centre = view.Word(foot.String())
	}
	return f
}

func trialsJSON(all []success.Trials) []trialsFile {
	out := []trialsFile{}
	for _, t := range all {
		out = append(out, trialsFile(t))
	}
	return out
}

func estimateOf(f estimate.Figure) view.Estimate { return view.EstimateOf(f.Value, f.Low, f.High, f.N) }

func gapOf(f estimate.Figure, why error) gapFile {
	g := gapFile{Estimate: estimateOf(f)}
	if why != nil {
		g.Why = why.Error()
		g.Low, g.High = view.Undefined, view.Undefined
	}
	return g
}
