package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"sync"

	"heeltoe/cmd/internal/metronome"
	"heeltoe/cmd/internal/monitor"
	"heeltoe/footing/pad"
	"heeltoe/input"
	"heeltoe/input/record"
	"heeltoe/judge/drill"
	"heeltoe/render/sound"
	"heeltoe/trainer/live"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/profile"
	"heeltoe/trainer/view"
)

type liveCmd struct {
	practice.Choice
	monitor.Flags
	Text bool `help:"Play as text, without the window."`

	planFlags `group:"Blocks of reps, played as text"`
}

// Help is shown by live --help.
func (c *liveCmd) Help() string {
	return `Plays a drill: a count-in, the reps with their rests, a summary. Where there is a display
a window opens; without one, or with --text, the run is played as text. While that goes on,
type p and Enter to pause and again to go on, e and Enter to end; what was played is kept.

` + view.CautionLong
}

// Run plays the drill.
func (c *liveCmd) Run(a *app) error {
	if len(c.chosen()) > 0 {
		return c.playPlan(a)
	}
	whyNot, err := c.inWindow(a)
	if err != nil || whyNot == "" {
		return err
	}
	d, err := c.Load()
	if err != nil {
		return err
	}
	if _, err := practice.ParseWindows(c.Windows); err != nil {
		return err
	}
	if err := c.Click.Settle(); err != nil {
		return err
	}
	src, err := c.Open(d, a.say)
	if err != nil {
		return err
	}
	defer src.Close()
	h, err := c.Header(d, src)
	if err != nil {
		return err
	}
	if _, err := metronome.Schedule(c.Click, d, h.Lead, 0); err != nil {
		return err
	}
	if err := c.conditions(a, &h); err != nil {
		return err
	}
	a.say("The run is played as text: %s.", whyNot)
	m, err := c.Flags.Start(a.say, a.warn)
	if err != nil {
		return err
	}
	if m != nil {
		defer m.Close()
		c.Watch = m.Watch
	}
	fmt.Fprintln(a.stdout, view.Caution)
	fmt.Fprintf(a.stdout, "%s: layout %s, %g beats a minute, %d slots a beat, %d reps; presses from %s\n",
		d.Name, d.Layout.Name, d.BPM, d.PerBeat, d.Reps, src.Name)
	if doubts := c.Doubts(d); doubts != "" {
		a.say("%s", doubts)
	}
	p := &player{a: a, c: c, p: practice.New(&c.Choice, d, src, h)}
	if c.Click.Sound != practice.Off && !c.Fast {
		p.click = metronome.New(sound.Machine)
		defer p.click.Close()
		if err := p.click.Ready(a.ctx); err != nil {
			a.say("%v; the run goes by the clock all the same.", err)
		}
	}
	return p.play()
}

// conditions puts the conditions of the run into its header: what the flags
// say, else what was said last; a person at a terminal is asked once.
func (c *liveCmd) conditions(a *app, h *record.Header) error {
	was, s, err := c.Conditions()
	if err != nil {
		return err
	}
	if s.ShoeMM == 0 && s.Bar == "" && c.Source != "synth" && !c.Fast && terminal(a.stdin) {
		if err := ask(a, &s); err != nil {
			return err
		}
	}
	h.Player, h.ShoeMM, h.Bar = s.Player, s.ShoeMM, s.Bar
	return practice.KeepConditions(was, s)
}

// ask asks for the conditions; an empty answer leaves one open.
func ask(a *app, s *profile.Settings) error {
	in := bufio.NewReader(a.stdin)
	line := func(question string) (string, error) {
		fmt.Fprint(a.stdout, question)
		text, err := in.ReadString('\n')
		if err == io.EOF {
			err = nil
		}
		return strings.TrimSpace(text), err
	}
	for {
		text, err := line("Length of your shoes' outsole in mm (Enter to leave open): ")
		if err != nil {
			return err
		}
		mm, err := strconv.ParseInt(text, 10, 64)
		if text == "" || err == nil && mm >= profile.MinShoeMM && mm <= profile.MaxShoeMM {
			s.ShoeMM = mm
			break
		}
		fmt.Fprintf(a.stdout, "A whole number from %d to %d, please.\n", profile.MinShoeMM, profile.MaxShoeMM)
	}
	for {
		text, err := line("Hands on the bar: none, one or both (Enter to leave open): ")
		if err != nil {
			return err
		}
		if text == "" || text == "none" || text == "one" || text == "both" {
			s.Bar = text
			return nil
		}
	}
}

// player plays a practice as text.
type player struct {
	a     *app
	c     *liveCmd
	p     *practice.Practice
	click *metronome.Metronome // nil: none
	// after, where it is not nil, is called from the loop when a rep is over; true ends the part.
	after func(r *view.Rep) bool
	// begun, where it is not nil, is told the log of each part before it is played.
	begun  func(log string) error
	report *view.Report // of the part played last
}

// orders are what the player types.
type order int

const (
	orderPause order = iota
	orderEnd
	orderGo // on, of a rest
)

// listen reads orders from standard input until it ends.
func listen(r io.Reader) <-chan order {
	ch := make(chan order, 4)
	go func() {
		defer close(ch)
		sc := bufio.NewScanner(r)
		for sc.Scan() {
			switch strings.ToLower(strings.TrimSpace(sc.Text())) {
			case "p", "pause":
				ch <- orderPause
			case "e", "end":
				ch <- orderEnd
			case "g", "go":
				ch <- orderGo
			}
		}
	}()
	return ch
}

func (p *player) play() error {
	var orders <-chan order
	if !p.c.Fast {
		orders = listen(p.a.stdin)
	}
	for {
		paused, res, err := p.part(orders)
		if err != nil {
			return err
		}
		if !paused || res.Done == p.p.Drill.Reps {
			if res.Ending == live.Lost {
				return practice.Lackf("the pad gave nothing more: it was unplugged or failed. What was played is kept. Plug it in and start again.")
			}
			return nil
		}
		if err := p.p.GoOn(res); err != nil {
			var w *practice.Wrong
			if errors.As(err, &w) {
				fmt.Fprintln(p.a.stdout, w)
				return nil
			}
			return err
		}
		fmt.Fprintf(p.a.stdout, "Paused: %d of %d reps played. Type p and Enter to go on, e and Enter to end.\n", p.p.Played, p.p.Total)
		if !p.wait(orders) {
			return nil
		}
	}
}

// wait waits for the player to go on; false means to end.
func (p *player) wait(orders <-chan order) bool {
	select {
	case o, ok := <-orders:
		return ok && o != orderEnd
	case <-p.a.ctx.Done():
		return false
	}
}

// part plays one part of the drill and sums it up. paused tells whether the
// player broke it off to go on later.
func (p *player) part(orders <-chan order) (paused bool, res *live.Result, err error) {
	ctx, cancel := context.WithCancel(p.a.ctx)
	defer cancel()
	clicks, err := metronome.Schedule(p.c.Click, p.p.Drill, p.p.Header.Lead, p.p.Played)
	if err != nil {
		return false, nil, err
	}
	c, err := p.p.Begin()
	if err != nil {
		return false, nil, err
	}
	if p.begun != nil && c.Log != nil {
		if err := p.begun(c.Log.Path()); err != nil {
			return false, nil, errors.Join(err, c.Log.Close(0))
		}
	}
	out := newReadout(p.a, p.p)
	c.Events = func(e live.Event) {
		out.take(e)
		if r, ok := e.(live.RepDone); ok && p.after != nil && p.after(&r.Rep) {
			cancel()
		}
	}
	var beside sync.WaitGroup
	if !p.c.Fast {
		beside.Go(func() { p.obey(ctx, cancel, orders, &paused) })
		beside.Go(func() { out.countIn(ctx, c.Clock, p.p.Drill, c.Options.Lead) })
	}
	if p.click != nil {
		p.click.Play(clicks, p.c.Click, c.Clock)
		beside.Go(func() { p.click.Watch(ctx, out.say) })
	}
	res, err = p.p.Play(ctx, c, p.a.warn)
	if p.click != nil {
		p.click.Stop()
	}
	cancel()
	beside.Wait()
	out.close()
	if err != nil {
		return false, nil, err
	}
	p.sum(res, c)
	return paused && p.a.ctx.Err() == nil, res, nil
}

// obey ends the part on the player's order.
func (p *player) obey(ctx context.Context, cancel func(), orders <-chan order, paused *bool) {
	for {
		select {
		case o, ok := <-orders:
			if !ok {
				return // no one is there to give orders; the run goes on
			}
			if o == orderGo {
				continue // it goes on already
			}
			*paused = o == orderPause
			cancel()
			return
		case <-ctx.Done():
			return
		}
	}
}

// sum prints what the part came to.
func (p *player) sum(res *live.Result, c *live.Config) {
	rep := p.p.Report(res, c)
	p.report = rep
	fmt.Fprintln(p.a.stdout)
	if res.Ending != live.Played {
		fmt.Fprintf(p.a.stdout, "Ended early: %d reps of %d were over.\n", res.Done, p.p.Drill.Reps)
	}
	printSummary(p.a.stdout, &rep.Summary, fine(rep.Setting.Fineness))
	if c.Log != nil {
		fmt.Fprintf(p.a.stdout, "kept as    %s (heeltoe review shows all of it)\n", c.Log.Path())
	}
}

// readout prints a line a rep, off the loop's goroutine.
type readout struct {
	a      *app
	total  int64
	before int64
	fine   fine
	read   int      // reps of which the reading was told
	events chan any // live.Event, counted or said
	done   chan struct{}
}

func newReadout(a *app, p *practice.Practice) *readout {
	r := &readout{a: a, total: p.Total, before: p.Played, fine: fine(p.Source.Fineness), events: make(chan any, 1024), done: make(chan struct{})}
	go func() {
		defer close(r.done)
		w := bufio.NewWriter(a.stdout)
		for e := range r.events {
			r.print(w, e)
			if len(r.events) == 0 {
				w.Flush()
			}
		}
		w.Flush()
	}()
	return r
}

// take implements live.Config.Events.
func (r *readout) take(e live.Event) { r.events <- e }

func (r *readout) close() {
	close(r.events)
	<-r.done
}

// say implements practice.Say.
func (r *readout) say(format string, args ...any) { r.events <- said(fmt.Sprintf(format, args...)) }

// counted is a beat of the count-in.
type counted struct{ beat, of int64 }

// said is a line for the player.
type said string

func (r *readout) print(w io.Writer, e any) {
	switch e := e.(type) {
	case said:
		fmt.Fprintln(w, string(e))
	case counted:
		fmt.Fprintf(w, "count %d of %d\n", e.beat, e.of)
	case live.RepDone:
		v := &e.Rep
		fmt.Fprintf(w, "rep %d of %d: inner %d, middle %d, outer %d, absent %d, stray %d; median %s ms, sd %s ms\n",
			int64(v.Rep)+1+r.before, r.total, v.Inner, v.Middle, v.Outer, v.Absent, v.Stray, r.fine.offset(v.Offset.Median), r.fine.sd(v.Offset.SD))
	case live.RepRead:
		if e.Rep < r.read {
			break // said already; what is read again is in the review
		}
		r.read = e.Rep + 1
		asked := ""
		if e.Asked != "" && e.Asked != e.Technique {
			asked = ", asked was " + e.Asked
		}
		fmt.Fprintf(w, "rep %d of %d read as %s, p %.2f%s\n", int64(e.Rep)+1+r.before, r.total, e.Technique, e.P, asked)
	case live.Missed:
		fmt.Fprintln(w, gapWords(e.Lost))
	case live.Stalled:
		fmt.Fprintf(w, "the program got no turn for %.0f s: the machine slept, or it was stopped\n", e.For.Duration().Seconds())
	case live.LogTrouble:
		fmt.Fprintf(w, "the run log cannot be written: %v; the run goes on and writing is tried again\n", e.Err)
	case live.SourceEnded:
		if e.Err != nil {
			fmt.Fprintf(w, "%s stopped: %v\n", e.Name, e.Err)
		}
	}
}

// gapWords say what a gap means to the player.
func gapWords(lost uint32) string {
	if lost == 0 {
		return "gap: the pad was away; what was pressed meanwhile is not known"
	}
	return fmt.Sprintf("gap: the pad was not read in time; up to %d reports may be missing, and quick presses with them", lost)
}

// countIn tells of the beats before the first note as they come.
func (r *readout) countIn(ctx context.Context, clock input.Clock, d *drill.Drill, lead pad.Time) {
	n := d.CountIn()
	g := d.Grid(0)
	for k := range n {
		if clock.Until(ctx, lead-g.Due(0, (n-k)*d.PerBeat)) != nil {
			return
		}
		r.events <- counted{k + 1, n}
	}
}
