package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"

	"heeltoe/footing/pad"
	"heeltoe/input"
	"heeltoe/input/record"
	"heeltoe/judge"
	"heeltoe/judge/drill"
	"heeltoe/trainer/live"
	"heeltoe/trainer/store"
	"heeltoe/trainer/view"
)

type liveCmd struct {
	drillFlags

	Source string `default:"auto" help:"Where presses come from: auto, pad, synth, or a file: a run log or a recording of reports."`
	Pad    string `help:"Name of the taught pad (see heeltoe pads list)."`
	Fast   bool   `help:"Run through a file or the synthetic player as fast as it goes."`
	Seed   uint64 `default:"1" help:"Seed of the synthetic player."`

	Windows    string   `placeholder:"E/L,E/L,E/L" help:"Early/late bounds in ms of inner, middle and outer, such as 40/50,70/90,105/135."`
	ShiftMS    *float64 `name:"shift-ms" placeholder:"MS" help:"Subtracted from every press before it is judged, in ms; write --shift-ms=-5 for one below 0."`
	DebounceMS *float64 `name:"debounce-ms" placeholder:"MS" help:"A press within this time of its panel's release is merged with it, in ms."`

	Player string `help:"Whose run this is."`
	Shoe   int64  `placeholder:"MM" help:"Length of the shoes' outsole in mm; kept for the next run."`
	Bar    string `enum:",none,one,both" default:"" help:"Hands on the bar: none, one or both; kept for the next run."`

	Out   string `placeholder:"FILE" help:"Run log to write, instead of one in the data folder."`
	NoLog bool   `name:"no-log" help:"Keep no run log."`
}

// Help is shown by live --help.
func (c *liveCmd) Help() string {
	return `Plays a drill: a count-in, the reps with their rests, a summary. While it runs,
type p and Enter to pause and again to go on, e and Enter to end; what was played is kept.

` + view.CautionLong
}

// parseWindows reads E/L,E/L,E/L in milliseconds.
func parseWindows(s string) (*drill.Windows, error) {
	if s == "" {
		return nil, nil
	}
	parts := strings.Split(s, ",")
	if len(parts) != 3 {
		return nil, usagef("--windows takes three pairs early/late in ms, such as 40/50,70/90,105/135")
	}
	var w drill.Windows
	for i, p := range parts {
		e, l, ok := strings.Cut(p, "/")
		early, err1 := strconv.ParseFloat(strings.TrimSpace(e), 64)
		late, err2 := strconv.ParseFloat(strings.TrimSpace(l), 64)
		if !ok || err1 != nil || err2 != nil || !(early >= 0 && early < 1e4) || !(late >= 0 && late < 1e4) {
			return nil, usagef("--windows: %q is not early/late in ms, both 0 or above", p)
		}
		w[i] = drill.Bound{Early: -micros(early), Late: micros(late)}
	}
	if err := w.Check(); err != nil {
		return nil, usagef("--windows: %v", err)
	}
	return &w, nil
}

// micros gives a figure in milliseconds as a Time, to the nearest microsecond.
func micros(ms float64) pad.Time {
	if ms < 0 {
		return -micros(-ms)
	}
	return pad.Time(ms*1000 + 0.5)
}

// leadOf gives the moment of the first note: half a second, then the count-in.
func leadOf(d *drill.Drill) pad.Time {
	g := d.Grid(0)
	return 500*pad.Millisecond + g.Due(0, d.CountIn()*d.PerBeat)
}

// Run plays the drill.
func (c *liveCmd) Run(a *app) error {
	d, err := c.load()
	if err != nil {
		return err
	}
	w, err := parseWindows(c.Windows)
	if err != nil {
		return err
	}
	src, err := c.open(a, d)
	if err != nil {
		return err
	}
	defer src.close()
	h := record.Header{Layout: d.Layout.Name, Lead: leadOf(d), Drill: d.Spec, Windows: w,
		Shift: src.shift, Debounce: src.debounce, Pad: src.pad}
	if src.lead != nil {
		h.Lead = *src.lead
	}
	if c.ShiftMS != nil {
		h.Shift = micros(*c.ShiftMS)
	}
	if c.DebounceMS != nil {
		h.Debounce = micros(*c.DebounceMS)
	}
	if err := c.conditions(a, &h); err != nil {
		return err
	}
	fmt.Fprintln(a.stdout, view.Caution)
	fmt.Fprintf(a.stdout, "%s: layout %s, %g beats a minute, %d slots a beat, %d reps; presses from %s\n",
		d.Name, d.Layout.Name, d.BPM, d.PerBeat, d.Reps, src.name)
	p := &player{a: a, c: c, d: d, src: src, header: h}
	return p.play()
}

// player plays a drill in one part, or in several where it is paused: each part
// is a run of its own, with a log of its own.
type player struct {
	a      *app
	c      *liveCmd
	d      *drill.Drill
	src    *opened
	header record.Header
	parts  int
}

// orders are what the player types.
type order int

const (
	orderPause order = iota
	orderEnd
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
	total := p.d.Reps
	for played := int64(0); ; {
		paused, res, err := p.part(orders, total, played)
		if err != nil {
			return err
		}
		if !paused {
			if res.Ending == live.Lost {
				return &lacking{"the pad gave nothing more: it was unplugged or failed. What was played is kept. Plug it in and start again."}
			}
			return nil
		}
		if p.src.script != nil && p.src.again == nil {
			fmt.Fprintln(p.a.stdout, "A file cannot go on after a pause: the run ends here.")
			return nil
		}
		// The rep that was broken off is played again.
		played += res.Done
		fmt.Fprintf(p.a.stdout, "Paused: %d of %d reps played. Type p and Enter to go on, e and Enter to end.\n", played, total)
		if !p.wait(orders) {
			return nil
		}
		if p.d, err = p.d.WithReps(total - played); err != nil {
			return err
		}
		p.header.Drill = p.d.Spec
		if p.src.again != nil {
			if p.src, err = p.src.again(p.d); err != nil {
				return err
			}
		}
	}
}

// wait waits for the player to go on; false means to end.
func (p *player) wait(orders <-chan order) bool {
	for {
		select {
		case o, ok := <-orders:
			if ok && o == orderPause {
				return true
			}
			return false
		case <-p.a.ctx.Done():
			return false
		}
	}
}

// part plays one part of the drill and sums it up. paused tells whether the
// player broke it off to go on later.
func (p *player) part(orders <-chan order, total, played int64) (paused bool, res *live.Result, err error) {
	ctx, cancel := context.WithCancel(p.a.ctx)
	defer cancel()
	clock, started := live.NewClock()
	h := p.header
	h.Started = started.UTC()
	c := &live.Config{Drill: p.d, Clock: clock, Sources: p.src.sources, Hold: p.src.hold,
		Options: judge.Options{Lead: h.Lead, Windows: h.Windows, Shift: h.Shift, Debounce: h.Debounce}}
	if p.parts > 0 {
		h.Extra = append(h.Extra, record.Member{Key: "continues", Value: []byte("true")})
	}
	p.parts++
	if !p.c.NoLog {
		path := p.c.Out
		switch {
		case path == "":
			path = store.NewRunPath(p.d.Name, started)
		case p.parts > 1:
			ext := filepath.Ext(path)
			path = fmt.Sprintf("%s-%d%s", strings.TrimSuffix(path, ext), p.parts, ext)
		}
		if c.Log, err = live.Create(path, h); err != nil {
			return false, nil, logFault(path, err)
		}
	}
	out := newReadout(p.a, total, played)
	c.Events = out.take
	if p.c.Fast {
		res, err = live.Replay(ctx, c, p.src.script)
	} else {
		var beside sync.WaitGroup
		beside.Go(func() { p.obey(ctx, cancel, orders, &paused) })
		beside.Go(func() { out.countIn(ctx, clock, p.d, h.Lead) })
		res = live.Play(ctx, c)
		cancel()
		beside.Wait()
	}
	out.close()
	if c.Log != nil {
		begun := p.d.Reps
		if res != nil {
			begun = res.Begun
		}
		if e := c.Log.Close(begun); e != nil {
			p.rescue(c.Log, e)
		}
	}
	if err != nil {
		return false, nil, err
	}
	p.sum(res, c.Log)
	return paused && p.a.ctx.Err() == nil, res, nil
}

// obey ends the part on the player's order.
func (p *player) obey(ctx context.Context, cancel func(), orders <-chan order, paused *bool) {
	select {
	case o, ok := <-orders:
		if !ok {
			return // no one is there to give orders; the run goes on
		}
		*paused = o == orderPause
		cancel()
	case <-ctx.Done():
	}
}

// rescue offers what the disk did not take elsewhere.
func (p *player) rescue(l *live.Log, why error) {
	fmt.Fprintln(p.a.stderr, "heeltoe:", why)
	rest := l.Unwritten()
	if len(rest) == 0 {
		return
	}
	f, err := os.CreateTemp("", "heeltoe-rest-*.jsonl")
	if err == nil {
		_, err = f.Write(rest)
		err = errors.Join(err, f.Close())
	}
	if err != nil {
		fmt.Fprintf(p.a.stderr, "heeltoe: the last %d bytes of the run could not be kept anywhere: %v\n", len(rest), err)
		return
	}
	fmt.Fprintf(p.a.stderr, "heeltoe: the last lines of the run are in %s; append them to %s once there is room\n", f.Name(), l.Path())
}

// logFault says why a run log cannot be made.
func logFault(path string, err error) error {
	if errors.Is(err, os.ErrExist) {
		return usagef("%s exists; name another file with --out", path)
	}
	return fmt.Errorf("the run log cannot be made: %w; name another place with --out, or keep none with --no-log", err)
}

// sum prints what the part came to.
func (p *player) sum(res *live.Result, log *live.Log) {
	rep := res.Run.Report()
	if log != nil && (res.Late > 0 || res.Begun < p.d.Reps) {
		// Edges that came later than time had moved on, or fewer reps than
		// planned: the log is the truth.
		if again, err := reviewFile(log.Path()); err == nil {
			rep = again
		}
	}
	fmt.Fprintln(p.a.stdout)
	if res.Ending != live.Played {
		fmt.Fprintf(p.a.stdout, "Ended early: %d reps of %d were over.\n", res.Done, p.d.Reps)
	}
	printSummary(p.a.stdout, &rep.Summary)
	if log != nil {
		fmt.Fprintf(p.a.stdout, "kept as    %s (heeltoe review shows all of it)\n", log.Path())
	}
}

// readout prints a line a rep, off the loop's goroutine.
type readout struct {
	a      *app
	total  int64
	before int64
	events chan any // live.Event or counted
	done   chan struct{}
}

func newReadout(a *app, total, before int64) *readout {
	r := &readout{a: a, total: total, before: before, events: make(chan any, 1024), done: make(chan struct{})}
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

// counted is a beat of the count-in.
type counted struct{ beat, of int64 }

func (r *readout) print(w io.Writer, e any) {
	switch e := e.(type) {
	case counted:
		fmt.Fprintf(w, "count %d of %d\n", e.beat, e.of)
	case live.RepDone:
		v := &e.Rep
		fmt.Fprintf(w, "rep %d of %d: inner %d, middle %d, outer %d, absent %d, stray %d; median %s ms, sd %s ms\n",
			int64(v.Rep)+1+r.before, r.total, v.Inner, v.Middle, v.Outer, v.Absent, v.Stray, ms(v.Offset.Median), size(v.Offset.SD))
	case live.Missed:
		fmt.Fprintf(w, "gap: edges may be missing, %d known to be\n", e.Lost)
	case live.LogTrouble:
		fmt.Fprintf(w, "the run log cannot be written: %v; the run goes on and writing is tried again\n", e.Err)
	case live.SourceEnded:
		if e.Err != nil {
			fmt.Fprintf(w, "%s stopped: %v\n", e.Name, e.Err)
		}
	}
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
