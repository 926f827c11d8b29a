package main

import (
	"bufio"
	"context"
	"fmt"
	"path/filepath"
	"strings"

	"heeltoe/footing/pad"
	"heeltoe/input"
	"heeltoe/input/record"
	"heeltoe/judge/drill"
	"heeltoe/trainer/capture"
	"heeltoe/trainer/live"
	"heeltoe/trainer/practice"
)

type drillsCaptureCmd struct {
	File string `arg:"" name:"file" help:"Drill file to write, ending in .toml."`
	From string `default:"pad" placeholder:"RUN" help:"Where the pattern is stomped: pad, or a run log that holds it; - is one on standard input."`
	Pad  string `help:"Name of the taught pad (see heeltoe pads list)."`

	BPM     float64 `name:"bpm" help:"Tempo that was stomped to in beats a minute; found where not given."`
	PerBeat int64   `help:"Slots in a beat; 4 where not given."`
	JoinMS  float64 `name:"join-ms" default:"40" help:"Presses no further apart are due at once, in ms."`
	Times   int     `help:"How often the pattern was stomped; found where not given."`
	Holds   bool    `help:"Write panels that stay down two slots and more as held notes."`

	Name    string `help:"Name of the drill; that of the file where not given."`
	Reps    int64  `help:"Number of reps of the drill; 16 where not given."`
	Mirror  bool   `help:"Write it with left and right exchanged."`
	Reverse bool   `help:"Write it from the end to the start."`
	Force   bool   `help:"Replace a file that is there."`
}

// Help is shown by drills capture --help.
func (c *drillsCaptureCmd) Help() string {
	return `Stomp the pattern slowly and evenly, about two notes a second, once or a few times
over. The shortest time between two notes is taken for a slot, notes are moved to the
nearest slot, and repetitions are folded into one. What fits no even grid is refused.`
}

// Run takes down the pattern from the pad or from a run log.
func (c *drillsCaptureCmd) Run(a *app) error {
	if err := c.check(); err != nil {
		return err
	}
	var log *record.Log
	var err error
	if c.From == "pad" {
		edges, layout, err := stomped(a, c.Pad)
		if err != nil {
			return err
		}
		return captureFromEdges(a, edges, layout, c)
	}
	if c.From == "-" {
		log, err = record.ReadLogFrom("standard input", a.stdin)
	} else {
		log, err = record.ReadLog(c.From)
	}
	if err != nil {
		return err
	}
	for _, w := range log.Warnings {
		fmt.Fprintln(a.stderr, "warning:", w)
	}
	return captureFromEdges(a, log.Edges, log.Layout, c)
}

// check refuses what can be known to be wrong before anything is stomped.
func (c *drillsCaptureCmd) check() error {
	switch {
	case !strings.HasSuffix(c.File, ".toml"):
		return usagef("the drill file %q does not end in .toml", c.File)
	case !(c.JoinMS > 0 && c.JoinMS <= 1000):
		return usagef("--join-ms: %v is not above 0 and at most 1000", c.JoinMS)
	case c.BPM != 0 && !(c.BPM >= drill.MinBPM && c.BPM <= drill.MaxBPM):
		return usagef("--bpm: %v is not from %v to %v", c.BPM, drill.MinBPM, drill.MaxBPM)
	case c.PerBeat < 0 || c.PerBeat > drill.MaxPerBeat:
		return usagef("--per-beat: %d is not from 1 to %d", c.PerBeat, drill.MaxPerBeat)
	}
	return nil
}

// captureFromEdges makes a drill of what was stomped, writes it as c says and
// tells what was found. Every source of edges ends here.
func captureFromEdges(a *app, edges []pad.Edge, layout *pad.Layout, c *drillsCaptureCmd) error {
	name := c.Name
	if name == "" {
		name = strings.TrimSuffix(filepath.Base(c.File), ".toml")
	}
	r, err := capture.FromEdges(edges, layout, capture.Options{Name: name, Join: pad.Time(c.JoinMS * 1000),
		BPM: c.BPM, PerBeat: c.PerBeat, Holds: c.Holds, Times: c.Times})
	if err != nil {
		return usagef("no drill: %v", err)
	}
	d := r.Drill
	for _, change := range []struct {
		wanted bool
		f      func() (*drill.Drill, error)
	}{
		{c.Mirror, func() (*drill.Drill, error) { return d.Mirror() }},
		{c.Reverse, func() (*drill.Drill, error) { return d.Reverse() }},
		{c.Reps != 0, func() (*drill.Drill, error) { return d.WithReps(c.Reps) }},
	} {
		if !change.wanted {
			continue
		}
		if d, err = change.f(); err != nil {
			return usagef("no drill: %v", err)
		}
	}
	if err := capture.Write(c.File, d, c.Force); err != nil {
		return err
	}
	for _, w := range r.Warnings {
		fmt.Fprintln(a.stderr, "warning:", w)
	}
	times := "once"
	if r.Times > 1 {
		times = fmt.Sprintf("%d times over", r.Times)
	}
	fmt.Fprintf(a.stdout, "steps   %s\n", d.Steps)
	fmt.Fprintf(a.stdout, "stomped %s, a slot lasting %.0f ms; the notes lie %.0f ms (rms) from an even grid\n",
		times, r.Slot.Milliseconds(), r.Jitter.Milliseconds())
	fmt.Fprintf(a.stdout, "tempo   %g bpm, %d slots a beat\n", d.BPM, d.PerBeat)
	fmt.Fprintf(a.stdout, "written to %s\n", c.File)
	return nil
}

// stomped collects the edges of a pad until the player presses Enter.
func stomped(a *app, name string) ([]pad.Edge, *pad.Layout, error) {
	p, err := practice.Taught(name)
	if err != nil {
		return nil, nil, err
	}
	src, err := practice.Plugged(name, p.Map.Layout, a.warn)
	if err != nil {
		return nil, nil, err
	}
	defer src.Close()
	edges, err := collect(a, src.Sources[0])
	return edges, p.Map.Layout, err
}

// collect reads a source until it ends, the player presses Enter or the program is told to stop.
func collect(a *app, src input.Source) ([]pad.Edge, error) {
	ctx, cancel := context.WithCancel(a.ctx)
	defer cancel()
	fmt.Fprintln(a.stdout, "Stomp the pattern slowly and evenly, then press Enter.")
	go func() {
		_, _ = bufio.NewReader(a.stdin).ReadString('\n')
		cancel()
	}()
	clock, _ := live.NewClock()
	q := input.NewQueue(1 << 16)
	if err := src.Run(ctx, clock, q); err != nil {
		return nil, practice.Lackf("%s stopped: %v", src.Describe(), err)
	}
	var edges []pad.Edge
	for e, ok := q.Get(); ok; e, ok = q.Get() {
		edges = append(edges, e)
	}
	return edges, nil
}
