package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strings"
	"sync"

	"golang.org/x/term"

	"heeltoe/cmd/internal/metronome"
	"heeltoe/footing/pad"
	"heeltoe/input"
	"heeltoe/input/record"
	"heeltoe/judge"
	"heeltoe/judge/drill"
	"heeltoe/render/sound"
	"heeltoe/trainer/click"
	"heeltoe/trainer/live"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/profile"
	"heeltoe/trainer/view"
)

type delayCmd struct {
	Pad     string  `help:"Name of the taught pad (see heeltoe pads list)."`
	Source  string  `default:"pad" help:"Where presses come from: pad, synth, or a file: a run log or a recording of reports."`
	Presses int64   `default:"30" help:"Number of clicks to press with, 10 to 500."`
	BPM     float64 `name:"bpm" default:"100" help:"Clicks a minute, 40 to 200."`

	Sound      string  `name:"click" default:"tick" enum:"tick,wood,tone" help:"Sound of the click: tick, wood or tone."`
	LoudnessDB float64 `name:"loudness-db" default:"-12" help:"Loudness of the click in dB below full scale, -60 to 0."`

	Store bool   `help:"Keep the figure as the pad's shift, where it can be trusted."`
	Fast  bool   `help:"Run through a file or the synthetic player as fast as it goes, without sound."`
	Seed  uint64 `default:"1" help:"Seed of the synthetic player."`
}

// Limits of the delay test.
const (
	delayCountIn             = 4
	minPresses, maxPresses   = 10, 500
	minDelayBPM, maxDelayBPM = 40.0, 200.0

	// What is farther off is no delay and no habit (design value, no source).
	maxMedian = 150 * pad.Millisecond

	// Of 120 trials of taps at 600 ms (Bååth and Madison 2012) 19 in 20 spread by
	// less than 47 ms; feet on pedals to a click by 15 to 22 (Groove MIDI
	// Dataset). With 30 presses 45 ms leave the median uncertain by 20
	// and more.
	maxSpread = 45 * pad.Millisecond
)

// Help is shown by delay --help.
func (c *delayCmd) Help() string {
	return `Press any one panel with each of 30 clicks, after four to count in. The median of
press minus click, and how far the presses spread, are shown, and the shift that
would put the median at 0. It is subtracted from every press before judging.

` + delayMeaning + `

` + view.CautionLong
}

// Of the source the abstract was read.
const delayMeaning = `The figure is not the delay of your equipment alone. It mixes how late sound and
pad are with a habit: people press before a click, by about 30 to 50 ms on
average, hand and foot differently (Aschersleben and Prinz 1995, Perception and
Psychophysics 57, 305-317). No press can tell the two apart. With the shift kept,
a press at your usual moment counts as on time; without it, as early or late. So
it is offered, and kept only if you say so.`

// Run takes the presses and offers the figure.
func (c *delayCmd) Run(a *app) error {
	switch {
	case c.Presses < minPresses || c.Presses > maxPresses:
		return usagef("--presses: %d is not from %d to %d", c.Presses, minPresses, maxPresses)
	case !(c.BPM >= minDelayBPM && c.BPM <= maxDelayBPM):
		return usagef("--bpm: %v is not from %v to %v", c.BPM, minDelayBPM, maxDelayBPM)
	case c.Store && c.Source == "synth":
		return usagef("--store is for a taught pad; the synthetic player has none")
	case c.Fast && c.Source == "pad":
		return usagef("--fast is for a file or the synthetic player; a pad gives presses in its own time")
	}
	d, err := c.drill()
	if err != nil {
		return err
	}
	choice := practice.Choice{Source: c.Source, Pad: c.Pad, Fast: c.Fast, Seed: c.Seed}
	src, err := choice.Open(d, a.say)
	if err != nil {
		return err
	}
	defer src.Close()
	var taught *profile.Pad
	if c.Store || c.Source == "pad" || c.Pad != "" {
		name := src.Pad
		if c.Pad != "" {
			name = c.Pad
		}
		if taught, err = practice.Taught(name); err != nil {
			return err
		}
	}
	lead := practice.Lead(d)
	if src.Lead != nil {
		lead = *src.Lead
	}
	how := practice.Click{Sound: c.Sound, LoudnessDB: c.LoudnessDB, Subdivide: 1}
	clicks, err := metronome.Schedule(how, d, lead, 0)
	if err != nil {
		return err
	}
	edges, trouble, err := c.listen(a, src, clicks, how)
	if err != nil {
		return err
	}
	m := measureDelay(clicks, edges, src.Debounce)
	m.print(a.stdout)
	why := m.doubt()
	if why == "" {
		why = trouble
	}
	if why != "" {
		fmt.Fprintf(a.stdout, "\nThis is not to be trusted: %s. Nothing is kept.\n", why)
		if c.Store {
			return fmt.Errorf("the shift was not kept: %s", why)
		}
		return nil
	}
	fmt.Fprintf(a.stdout, "\n%s\n", delayMeaning)
	return c.offer(a, m, taught)
}

// drill is a press a beat, in the layout that the presses come from.
func (c *delayCmd) drill() (*drill.Drill, error) {
	layout, err := c.layout()
	if err != nil {
		return nil, err
	}
	centre := "c"
	if layout != "single" {
		centre = "1c"
	}
	countIn := int64(delayCountIn)
	d, err := drill.New(drill.Spec{Name: "delay test", Layout: layout, BPM: c.BPM, PerBeat: 1, Reps: c.Presses, CountInBeats: &countIn, Steps: centre}, nil)
	if err != nil {
		return nil, usagef("%v", err)
	}
	return d, nil
}

func (c *delayCmd) layout() (string, error) {
	switch c.Source {
	case "synth":
		return "single", nil
	case "pad":
	default:
		f, err := os.Open(c.Source)
		if err != nil {
			return "", pad.FileFault(c.Source, "opened", err)
		}
		defer f.Close()
		start := make([]byte, 64)
		n, _ := io.ReadFull(f, start)
		if strings.Contains(string(start[:n]), `"heeltoe":"reports"`) {
			break // what a recording means, its pad knows
		}
		if _, err := f.Seek(0, io.SeekStart); err != nil {
			return "", pad.FileFault(c.Source, "read", err)
		}
		lr, err := record.NewLogReader(c.Source, f)
		if err != nil {
			return "", err
		}
		return lr.Drill.Layout.Name, nil
	}
	p, err := practice.Taught(c.Pad)
	if err != nil {
		return "", err
	}
	return p.Map.Layout.Name, nil
}

// listen plays the clicks and gives what was pressed; trouble says what makes
// the presses doubtful. A pad needs the click to be heard; a file and the
// synthetic player do not listen.
func (c *delayCmd) listen(a *app, src *practice.Source, clicks *click.Schedule, how practice.Click) (edges []pad.Edge, trouble string, err error) {
	if c.Fast {
		for {
			e, err := src.Script.Next()
			if err == io.EOF {
				return edges, "", nil
			}
			if err != nil {
				return nil, "", err
			}
			edges = append(edges, e)
		}
	}
	m := metronome.New(sound.Machine)
	defer m.Close()
	heard := m.Ready(a.ctx)
	if heard != nil && src.Script == nil {
		return nil, "", heard
	}
	if heard != nil {
		a.say("%v. The presses do not come from hearing it: the test goes on.", heard)
	}
	a.say("%s", view.Caution)
	a.say("Press any one panel with each click: %d to count in, then %d. Presses from %s.", clicks.CountIn(), clicks.Len()-clicks.CountIn(), src.Name)
	jumps := m.Jumps()
	clock, _ := live.NewClock()
	m.Play(clicks, how, clock)
	edges, err = collectUntil(a.ctx, src, clock, lastMoment(clicks))
	switch {
	case err != nil:
	case heard != nil:
	case m.Status() != "":
		trouble = m.Status()
	case m.Jumps() != jumps:
		trouble = "the sound device faltered while you pressed"
	}
	return edges, trouble, err
}

// lastMoment is when no press for the last click can come any more.
func lastMoment(clicks *click.Schedule) pad.Time {
	last, _ := clicks.At(clicks.Len() - 1)
	before, _ := clicks.At(clicks.Len() - 2)
	return last + (last-before)/2
}

// collectUntil reads the sources until a moment of the clock and gives what they saw, in time order.
func collectUntil(ctx context.Context, src *practice.Source, clock input.Clock, end pad.Time) ([]pad.Edge, error) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	q := input.NewQueue(1 << 16)
	failed := make(chan error, len(src.Sources))
	var readers sync.WaitGroup
	for _, s := range src.Sources {
		readers.Go(func() {
			if err := s.Run(ctx, clock, q); err != nil {
				failed <- practice.Lackf("%s stopped: %v", s.Describe(), err)
				cancel()
			}
		})
	}
	stopped := clock.Until(ctx, end+src.Hold)
	cancel()
	readers.Wait()
	select {
	case err := <-failed:
		return nil, err
	default:
	}
	if stopped != nil {
		return nil, errors.New("the test was stopped; nothing is kept")
	}
	var order input.Order
	var edges []pad.Edge
	for e, ok := q.Get(); ok; e, ok = q.Get() {
		order.Put(e) // two devices stamp side by side
	}
	for e, ok := order.Next(pad.Never); ok; e, ok = order.Next(pad.Never) {
		edges = append(edges, e)
	}
	return edges, nil
}

// delayFigures are what a delay test gave, in microseconds.
type delayFigures struct {
	clicks       int64
	lost         bool // edges may be missing
	stats        judge.Stats
	lower, upper float64
	carry        float64 // correlation of a press's offset with that of the next, 0 to 0.9
}

// measureDelay pairs each click after the count-in with the first press that
// comes less than half a beat before or after it. A press within debounce of its
// panel's release is a bounce of the one before.
func measureDelay(clicks *click.Schedule, edges []pad.Edge, debounce pad.Time) delayFigures {
	m := delayFigures{clicks: clicks.Len() - clicks.CountIn()}
	var up [pad.MaxPanels]pad.Time
	for i := range up {
		up[i] = -pad.Never
	}
	presses := edges[:0:0]
	for _, e := range edges {
		switch e.Kind {
		case pad.Gap:
			m.lost = true
		case pad.Up:
			up[e.Panel] = e.T
		case pad.Down:
			if e.T-debounce >= up[e.Panel] || up[e.Panel] == -pad.Never {
				presses = append(presses, e)
			}
		}
	}
	var offsets []pad.Time
	last, _ := clicks.At(clicks.Len() - 1)
	half := lastMoment(clicks) - last
	i := 0
	for k := clicks.CountIn(); k < clicks.Len(); k++ {
		due, _ := clicks.At(k)
		for i < len(presses) && presses[i].T < due-half {
			i++
		}
		if i < len(presses) && presses[i].T < due+half {
			offsets = append(offsets, presses[i].T-due)
		}
	}
	m.stats = judge.Summarise(offsets)
	m.lower, m.upper = judge.Quartiles(offsets)
	m.carry = carry(offsets, m.stats.Median, 3*m.spread())
	return m
}

// carry gives the lag-1 autocorrelation of offsets about centre, Σdᵢdᵢ₊₁ / Σdᵢ²,
// each taken as bound where it is farther off; 0 to 0.9, 0 of none.
func carry(offsets []pad.Time, centre, bound float64) float64 {
	var with, own, before float64
	for i, o := range offsets {
		d := max(-bound, min(bound, float64(o)-centre))
		own += d * d
		if i > 0 {
			with += before * d
		}
		before = d
	}
	if own == 0 {
		return 0
	}
	return max(0, min(0.9, with/own))
}

// madToSD makes of the median absolute deviation of normal offsets their
// standard deviation: 1/Φ⁻¹(3/4).
const madToSD = 1.4826022185056018

// spread gives the standard deviation that the bulk of the presses has.
func (m *delayFigures) spread() float64 { return madToSD * m.stats.MAD }

// uncertain gives how far the median may be from that of very many presses: in
// nine tests of ten it is nearer. It is 1.96 standard errors of the median of
// normal offsets, √(π/2)·σ/√n, of which those after one another count for less
// where one carries over to the next: n·(1−r)/(1+r), for a process that forgets
// by r a step (textbook formulas, from memory; a test counts the nine of ten).
func (m *delayFigures) uncertain() float64 {
	n := float64(m.stats.N) * (1 - m.carry) / (1 + m.carry)
	return 1.96 * math.Sqrt(math.Pi/2) * m.spread() / math.Sqrt(n)
}

// shift gives what is subtracted from a press to put the median at 0.
func (m *delayFigures) shift() pad.Time { return pad.Time(math.Round(m.stats.Median)) }

func (m *delayFigures) print(w io.Writer) {
	fmt.Fprintf(w, "presses    %d with %d clicks\n", m.stats.N, m.clicks)
	if m.stats.N == 0 {
		return
	}
	fmt.Fprintf(w, "median     %s ms, give or take %s; negative is before the click\n", ms(view.Number(m.stats.Median)), sizeOf(m.uncertain()))
	fmt.Fprintf(w, "spread     %s ms (1.48 × MAD); half of the presses lie from %s to %s ms\n", sizeOf(m.spread()), ms(view.Number(m.lower)), ms(view.Number(m.upper)))
	fmt.Fprintf(w, "shift      %s ms would put the median at 0\n", ms(view.Number(m.stats.Median)))
}

// doubt says why the figure is not to be trusted, or nothing.
func (m *delayFigures) doubt() string {
	switch {
	case m.lost:
		return "presses were lost on the way"
	case int64(m.stats.N)*3 < m.clicks*2:
		return fmt.Sprintf("%d presses for %d clicks are too few", m.stats.N, m.clicks)
	case m.spread() > float64(maxSpread):
		return fmt.Sprintf("a spread of %s ms is too wide, at most %d will do; relax, listen, and try again", sizeOf(m.spread()), maxSpread/pad.Millisecond)
	case math.Abs(m.stats.Median) > float64(maxMedian):
		return fmt.Sprintf("%s ms is too far off to be a delay or a habit; did you press between the clicks?", ms(view.Number(m.stats.Median)))
	}
	return ""
}

// sizeOf writes a size in microseconds as milliseconds.
func sizeOf(us float64) string { return size(view.Number(us)) }

// offer keeps the figure where the player wants it.
func (c *delayCmd) offer(a *app, m delayFigures, p *profile.Pad) error {
	if p == nil {
		fmt.Fprintln(a.stdout, "\nNothing is kept: no pad was named.")
		return nil
	}
	keep := c.Store
	fmt.Fprintf(a.stdout, "\nThe pad %s has a shift of %.1f ms now.\n", p.Name, p.Shift.Milliseconds())
	if in, ok := a.stdin.(*os.File); !keep && ok && term.IsTerminal(int(in.Fd())) {
		fmt.Fprintf(a.stdout, "Keep %.1f ms instead? (y, or Enter for no) ", m.shift().Milliseconds())
		text, err := bufio.NewReader(a.stdin).ReadString('\n')
		if err != nil && err != io.EOF {
			return err
		}
		text = strings.ToLower(strings.TrimSpace(text))
		keep = text == "y" || text == "yes"
	}
	if !keep {
		fmt.Fprintln(a.stdout, "Nothing is kept; --store keeps it.")
		return nil
	}
	p.Shift = m.shift()
	file, err := profile.SavePad(p)
	if err != nil {
		return fmt.Errorf("the shift cannot be kept: %w", err)
	}
	fmt.Fprintf(a.stdout, "Kept: a shift of %.1f ms, in %s\n", p.Shift.Milliseconds(), file)
	return nil
}
