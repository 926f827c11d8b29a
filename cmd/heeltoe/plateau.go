package main

import (
	"bufio"
	"fmt"
	"io"
	"strings"
	"time"

	"heeltoe/trainer/estimate"
	"heeltoe/trainer/limits"
	"heeltoe/trainer/plateau"
	"heeltoe/trainer/store"
	"heeltoe/trainer/view"
)

type plateauCmd struct {
	ofRuns
	Share float64 `default:"0.8" help:"Share of good reps at the limit, 0.5 to 0.95."`
	JSON  bool    `name:"json" help:"Print one JSON object."`
}

// Help is shown by plateau --help.
func (c *plateauCmd) Help() string {
	return fmt.Sprintf(`Tells whether you have come to a plateau with a drill: over the last %.0f weeks neither the tempo at
which it breaks nor the scatter of your presses moves. That is named only where the intervals leave out any
change that counts: of the limit, from the first half of the days to the second, %.0f %% or more; of
the scatter, over the whole time and in the band of ten beats a minute with most days, %.0f %% or more.
It takes runs over %.0f days at least, on %d days in that band, and tempi above and below the limit
(heeltoe live --adapt plays such). Where a change is shown, or nothing can be told, it says so.

Runs are of one side of the drill, under the conditions of the newest. Reps of runs whose feet
were not read count for nothing: heeltoe history read reads them. Intervals hold the true value about
nine times in ten; reps of one day are taken as independent.`,
		plateau.Window.Hours()/24/7, 100*plateau.TempoMoves, 100*plateau.ScatterMoves, plateau.LeastSpan.Hours()/24, plateau.LeastDays)
}

// Run looks for a plateau.
func (c *plateauCmd) Run(a *app) error {
	if c.Drill == "" {
		return usagef("name a drill: a plateau is one of a drill")
	}
	if err := checkShare(c.Share); err != nil {
		return err
	}
	x, rows, err := c.runs(a)
	if err != nil {
		return err
	}
	defer x.Close()
	f, err := c.filter(a, x)
	if err != nil {
		return err
	}
	last, runs := plateauRuns(rows, f.Drill)
	if last == nil {
		return usagef("there is no such run yet")
	}
	found, why := plateau.Of(runs, c.Share, time.Local)
	w := bufio.NewWriter(a.stdout)
	if c.JSON {
		err = writeJSON(w, plateauJSON(last.Name, &found, why))
	} else {
		printPlateau(w, c.Drill, last, &found, why)
	}
	if err != nil {
		return err
	}
	return w.Flush()
}

// plateauRuns gives the runs of one side that are like the newest one but for the tempo;
// warm-ups, bursts above the limit and runs held until they failed do not count.
func plateauRuns(rows []store.Run, key string) (last *store.Run, runs []plateau.Run) {
	counts := func(r *store.Run) bool {
		return r.Drill == key && !r.Started.IsZero() && !r.WarmUp && r.Plan != limits.Bursts && r.Plan != limits.HoldOut
	}
	for i := range rows {
		if counts(&rows[i]) {
			last = &rows[i]
		}
	}
	for i := range rows {
		r := &rows[i]
		if !counts(r) || r.Player != last.Player || r.Pad != last.Pad || r.Bar != last.Bar || r.ShoeMM != last.ShoeMM ||
			r.Windows != last.Windows || r.Asked != last.Asked || r.Footing != last.Footing {
			continue
		}
		good, bad := strings.Count(r.Outcomes, "g"), strings.Count(r.Outcomes, "b")
		runs = append(runs, plateau.Run{Started: r.Started, BPM: r.BPM, ScatterUS: float64(r.ScatterUS), Good: good, Clear: good + bad})
	}
	return last, runs
}

func printPlateau(w io.Writer, ref string, last *store.Run, f *plateau.Finding, why error) {
	fmt.Fprintf(w, "%s: %s over %.0f days\n", last.Name, number(f.Runs, "run"), f.Span.Hours()/24)
	if why != nil {
		fmt.Fprintf(w, "It cannot be told: %v.\n", why)
		return
	}
	if f.TempoWhy != nil {
		fmt.Fprintf(w, "limit      cannot be told: %v\n", f.TempoWhy)
	} else {
		fmt.Fprintf(w, "limit      %.1f, then %.1f beats a minute: %s %%%s (n %d clear reps): %s\n",
			f.Limits[0].Value, f.Limits[1].Value, signed(f.Gain.Value), spanText(f.Gain), f.Gain.N, moveText(f.Tempo, "faster", "slower"))
	}
	if f.ScatterWhy != nil {
		fmt.Fprintf(w, "scatter    cannot be told: %v\n", f.ScatterWhy)
	} else {
		fmt.Fprintf(w, "scatter    %s %% over that time%s, at %.0f to <%.0f beats a minute (n %s): %s\n",
			signed(f.Scatter.Value), spanText(f.Scatter), f.FromBPM, f.FromBPM+10, number(f.Days, "day"), moveText(f.Steady, "less steady", "steadier"))
	}
	if !f.Plateau() {
		fmt.Fprintln(w, "No plateau is shown.")
		return
	}
	fmt.Fprintln(w, "This is a plateau: scatter stable, tempo stuck. What can be tried (common practice, no source):")
	for _, t := range tries(ref, f.Limits[1].Value) {
		fmt.Fprintf(w, "  %-44s %s\n", t.why, t.command)
	}
	fmt.Fprintln(w, view.Caution)
}

// try is something to try, and the command for it.
type try struct{ why, command string }

// tries gives what can be tried at a plateau, about the limit in beats a minute.
func tries(ref string, limit float64) []try {
	return []try{
		{"short bursts above the limit", fmt.Sprintf("heeltoe live %s --bursts 6 --block 3 --bpm %.0f", ref, 1.08*limit)},
		{"split and rejoin at the landing that breaks", fmt.Sprintf("heeltoe lesson give %s --out lesson", ref)},
		{"slowly, with the exact footing", fmt.Sprintf("heeltoe live %s --bpm %.0f --reps 24", ref, 0.7*limit)},
		{"the pattern inside a stream", fmt.Sprintf("heeltoe live %s --within --bpm %.0f", ref, 0.9*limit)},
	}
}

func signed(share float64) string { return fmt.Sprintf("%+.1f", 100*share) }

// spanText writes the interval of a share behind it.
func spanText(f estimate.Figure) string {
	if !f.Known() {
		return ""
	}
	return fmt.Sprintf(", probably %s to %s", signed(f.Low), signed(f.High))
}

func moveText(m plateau.Move, up, down string) string {
	switch m {
	case plateau.Still:
		return "no change that counts"
	case plateau.Up:
		return up
	case plateau.Down:
		return down
	}
	return "too wide to tell"
}

// plateauFile is the object that plateau --json prints. Changes are shares.
type plateauFile struct {
	Drill    string           `json:"drill"`
	Plateau  bool             `json:"plateau"`
	Why      string           `json:"why_not,omitempty"`
	Runs     int              `json:"runs"`
	SpanDays float64          `json:"span_days"`
	Limits   [2]view.Estimate `json:"limit_bpm"` // of the first and the second half of the days
	Gain     gapFile          `json:"limit_change"`
	Tempo    plateau.Move     `json:"limit_moves"`
	FromBPM  float64          `json:"scatter_from_bpm"`
	Scatter  gapFile          `json:"scatter_change"`
	Steady   plateau.Move     `json:"scatter_moves"`
}

func plateauJSON(name string, f *plateau.Finding, why error) *plateauFile {
	p := &plateauFile{Drill: name, Plateau: f.Plateau(), Runs: f.Runs, SpanDays: round(f.Span.Hours()/24, 100),
		Limits: [2]view.Estimate{estimateOf(f.Limits[0]), estimateOf(f.Limits[1])}, Gain: gapOf(f.Gain, f.TempoWhy), Tempo: f.Tempo,
		FromBPM: f.FromBPM, Scatter: gapOf(f.Scatter, f.ScatterWhy), Steady: f.Steady}
	if why != nil {
		p.Why = why.Error()
	}
	return p
}
