package main

import (
	"bufio"
	"fmt"
	"io"
	"slices"
	"time"

	"heeltoe/input/record"
	"heeltoe/judge/drill"
	"heeltoe/trainer/adapt"
	"heeltoe/trainer/limits"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/store"
	"heeltoe/trainer/success"
	"heeltoe/trainer/view"
)

type limitsCmd struct {
	Logs   []string `arg:"" name:"drill-or-runs" help:"A drill, whose runs are taken from the history; or run logs, each ending in .jsonl, at several tempi."`
	Player string   `help:"From the history: the runs of this player."`
	Last   int      `default:"60" help:"From the history: how many runs to look at, the newest."`
	Share  float64  `default:"0.8" help:"Share of good reps that counts as playing it well, 0.5 to 0.95."`
	At     string   `placeholder:"BPM,BPM" help:"Tempi to say how long they can be kept; those played unless given."`
	Store  bool     `help:"Keep what the runs say of the player's body, for heeltoe plan."`
}

// Help is shown by limits --help.
func (c *limitsCmd) Help() string {
	return `From runs at several tempi: at which tempo each way to play breaks, where one overtakes
another, and, from runs held until they failed (heeltoe live --hold-out), how long a tempo
can be kept. Give runs of one drill under like conditions: they are taken together.

A way is a drill with the technique that it asks for: a rep in which another technique was
read is not good. The limit is the tempo at which so many reps are good, from a curve of success that
falls with the tempo; intervals hold the true value about 90 times of 100.

How long a tempo can be kept is told by the critical-power model, t = W/(P − C), with
landings a second as P. It is well tried for running and cycling; for stepping it is an analogy.

From the tempo up to which a footing is played well follows how much time the feet need for
what it asks of them; --store keeps that for the player, in the place of the planner's defaults.`
}

// way is all runs of one way to play.
type way struct {
	name    string
	drill   *drill.Drill // of its first run
	players []string     // whose runs they are, each once
	runs    []limits.Run
	trials  []success.Trials // of the runs that count for the share of good reps
}

// Run reads the logs and says what they tell.
func (c *limitsCmd) Run(a *app) error {
	if err := checkShare(c.Share); err != nil {
		return err
	}
	var at []float64
	if c.At != "" {
		var err error
		if at, err = numbers(c.At, ","); err != nil {
			return usagef("--at takes beats a minute with commas between, such as 120,140")
		}
	}
	files, err := c.files(a)
	if err != nil {
		return err
	}
	played, err := eachLog(a, files, func(file string) (playedRun, error) { return readRun(a, file) })
	if err != nil {
		return err
	}
	var ways []*way
	for i := range played {
		ways = played[i].addTo(ways)
	}
	var runs []limits.Run
	for _, w := range ways {
		w.trials = limits.Fresh(w.runs)
		runs = append(runs, w.runs...)
	}
	out := bufio.NewWriter(a.stdout)
	told := limits.Of(runs, c.Share, at)
	c.printTempi(out, ways, &told)
	for i := range told.Ways {
		printStamina(out, &told.Ways[i])
	}
	body := printBodyLimits(out, ways, c.Share)
	if c.Store {
		if err := keepLimits(out, ways, body); err != nil {
			return err
		}
	}
	fmt.Fprintln(out, view.Caution)
	return out.Flush()
}

// checkShare refuses a share of good reps that is none to aim at.
func checkShare(share float64) error {
	if !(share >= 0.5 && share <= 0.95) {
		return usagef("--share: %v is not from 0.5 to 0.95", share)
	}
	return nil
}

// playedRun is a run as limits takes it, with what its way needs to know.
type playedRun struct {
	run    limits.Run
	drill  *drill.Drill
	player string
}

// readRun reads a log.
func readRun(a *app, file string) (p playedRun, err error) {
	h, d, err := record.ReadHead(file)
	if err != nil {
		return p, err
	}
	rep, err := practice.Recall(a.ctx, store.Dir(), file)
	if err != nil {
		return p, err
	}
	b := store.BlockOf(h)
	p = playedRun{drill: d, player: h.Player, run: limits.Run{Way: wayName(d), Started: h.Started, BPM: d.BPM, Landings: d.Moments(), RepLength: repLength(d),
		Plan: b.Plan, Number: b.Number, WarmUp: b.WarmUp}}
	for i := range rep.Reps[:min(len(rep.Reps), rep.Summary.RepsBegun)] {
		p.run.Outcomes = append(p.run.Outcomes, outcomeOf(&rep.Reps[i]))
	}
	return p, nil
}

// addTo puts a run to those of its way, which is new where it has none yet.
func (p *playedRun) addTo(ways []*way) []*way {
	i := slices.IndexFunc(ways, func(w *way) bool { return w.name == p.run.Way })
	if i < 0 {
		i = len(ways)
		ways = append(ways, &way{name: p.run.Way, drill: p.drill})
	}
	w := ways[i]
	if !slices.Contains(w.players, p.player) {
		w.players = append(w.players, p.player)
	}
	w.runs = append(w.runs, p.run)
	return ways
}

// repLength gives how long a rep of d lasts, with its rest.
func repLength(d *drill.Drill) time.Duration { return adapt.RepLength(d.RepSlots(), d.PerBeat, d.BPM) }

// landingRate gives the moments a second at which notes are due.
func landingRate(d *drill.Drill) float64 { return float64(d.Moments()) / repLength(d).Seconds() }

// printTempi prints what was played of each way and where it breaks.
func (c *limitsCmd) printTempi(w io.Writer, ways []*way, told *view.Limits) {
	for i := range told.Ways {
		y := &told.Ways[i]
		trials := ways[slices.IndexFunc(ways, func(w *way) bool { return w.name == y.Name })].trials
		fmt.Fprintf(w, "%s: %d runs\n", y.Name, y.Runs)
		printTrials(w, trials)
		if y.WhyNot != "" {
			fmt.Fprintf(w, "The limit cannot be told: %s (n %d clear reps).\n", y.WhyNot, y.Limit.N)
		} else {
			fmt.Fprintf(w, "%.0f %% of the reps are good at %.1f beats a minute (%.1f to %.1f; n %d clear reps).\n", 100*c.Share, y.Limit.Value, y.Limit.Low, y.Limit.High, y.Limit.N)
		}
		if curve, err := success.Fit(trials, success.Lapse); err == nil {
			fmt.Fprintf(w, "The curve of best fit: half are good at %.1f, three quarters at %.1f, a quarter at %.1f beats a minute.\n", curve.Tempo(0.5), curve.Tempo(0.75), curve.Tempo(0.25))
		}
		fmt.Fprintln(w)
	}
	for _, x := range told.Crossings {
		fmt.Fprintf(w, "Above %.1f beats a minute (%.1f to %.1f; n %d) %s goes better than %s.\n\n", x.Tempo.Value, x.Tempo.Low, x.Tempo.High, x.Tempo.N, x.Above, x.Below)
	}
}

// printStamina prints how long a way can be kept.
func printStamina(w io.Writer, y *view.Way) {
	e := y.Endurance
	if e == nil {
		return
	}
	fmt.Fprintf(w, "How long %s can be kept (%d runs held until they failed, hyperbola by least squares on the time):\n", y.Name, len(e.Bouts))
	if e.WhyNot != "" {
		fmt.Fprintf(w, "  cannot be told: %s.\n\n", e.WhyNot)
		return
	}
	fmt.Fprintf(w, "  for long: %.2f landings a second (%.2f to %.2f), %.0f beats a minute; above it %.0f landings in reserve (%.0f to %.0f)\n",
		e.Critical.Value, e.Critical.Low, e.Critical.High, e.CriticalBPM.Value, e.Reserve.Value, e.Reserve.Low, e.Reserve.High)
	for _, l := range e.Lasts {
		if l.WhyNot != "" {
			fmt.Fprintf(w, "  at %.0f beats a minute: %s\n", l.BPM, l.WhyNot)
			continue
		}
		to := "or more: it may be a tempo that can be kept for long"
		if l.Seconds.High.Defined() {
			to = fmt.Sprintf("to %.0f", l.Seconds.High)
		}
		fmt.Fprintf(w, "  at %.0f beats a minute: about %.0f s (%.0f %s)\n", l.BPM, l.Seconds.Value, l.Seconds.Low, to)
	}
	fmt.Fprintln(w)
}

// printTrials prints how many reps were good at each tempo.
func printTrials(w io.Writer, trials []success.Trials) {
	table(w, "tempo reps good share", func(row func(...any)) {
		for _, t := range trials {
			row(fmt.Sprintf("%.1f", t.BPM), t.N, t.Good, shareText(t.Good, t.N))
		}
	})
}
