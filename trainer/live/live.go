// Package live runs a drill: sources on one side, the judge, the run log and
// the read-out on the other. Every program that plays uses it.
package live

import (
	"context"
	"fmt"
	"io"
	"sync"
	"time"

	"heeltoe/footing/pad"
	"heeltoe/input"
	"heeltoe/judge"
	"heeltoe/judge/drill"
	"heeltoe/trainer"
	"heeltoe/trainer/view"
)

// Slack is how long after a moment the loop still expects edges of that moment,
// since a reader can be held up between its stamp and the queue. What hangs on
// nothing coming any more, an absent note above all, is decided so much later.
const Slack = 50 * pad.Millisecond

// Tick is how often the loop moves on when no edge comes.
const Tick = 5 * time.Millisecond

// Event is something to show while a run goes on.
type Event interface{ event() }

// RepDone is a rep that is over and decided.
type RepDone struct{ Rep view.Rep }

// Missed is a gap: edges may be missing.
type Missed struct{ Lost uint32 }

// SourceEnded is a source that came to its end (Err nil) or broke off.
type SourceEnded struct {
	Name string
	Err  error
}

// LogTrouble is a disk that does not take the run log; the run goes on.
type LogTrouble struct{ Err error }

func (RepDone) event()     {}
func (Missed) event()      {}
func (SourceEnded) event() {}
func (LogTrouble) event()  {}

// Config is a run to be played.
type Config struct {
	Drill   *drill.Drill
	Options judge.Options
	Clock   input.Clock // of the edges; its zero is the run's
	Sources []input.Source
	Hold    pad.Time // how far behind their time edges may come, by the sources' delays
	Log     *Log     // may be nil
	// Events is called from the loop and must not wait; it may be nil.
	Events func(Event)
	// Verdict, where it is not nil, is called from the loop for each down edge
	// once it has been judged. It is for measuring.
	Verdict func(e pad.Edge)
}

// Ending says how a run ended.
type Ending int

// Endings of a run.
const (
	Played    Ending = iota // to its end
	Abandoned               // by the player
	Lost                    // no source was left that could give edges
)

// Result is a run that was played.
type Result struct {
	Run    *trainer.Run
	Ending Ending
	Begun  int64  // reps begun
	Done   int64  // reps that were over and decided when it ended
	Late   uint64 // edges that came later than Slack after their time
}

// Engine is what every way of running shares: the steps of an edge and of time.
// It is for one goroutine.
type Engine struct {
	c        *Config
	run      *trainer.Run
	grid     drill.Grid
	told     int // reps told of
	advanced pad.Time
	late     uint64 // edges older than what time had moved on to
}

// NewEngine makes the engine of a run; Clock and Sources of c are not used.
func NewEngine(c *Config) *Engine {
	return &Engine{c: c, run: trainer.New(c.Drill, c.Options), grid: c.Drill.Grid(c.Options.Lead)}
}

func (s *Engine) emit(e Event) {
	if s.c.Events != nil {
		s.c.Events(e)
	}
}

// Feed takes the next edge: it is logged, then judged. It does not allocate but
// for what trainer.Run keeps.
func (s *Engine) Feed(e pad.Edge) {
	if e.T < s.advanced {
		s.late++
	}
	if s.c.Log != nil {
		s.c.Log.Write(e)
	}
	s.run.Feed(e)
	if e.Kind == pad.Gap {
		s.emit(Missed{e.Lost})
	}
	if s.c.Verdict != nil && e.Kind == pad.Down {
		s.c.Verdict(e)
	}
}

// Advance says that no edge before now will come any more, and tells of the
// reps that are over by then.
func (s *Engine) Advance(now pad.Time) {
	s.advanced = max(s.advanced, now)
	s.run.Advance(now)
	s.tell()
}

// tell tells of the reps that are over.
func (s *Engine) tell() {
	for done := s.run.DoneReps(); s.told < done; s.told++ {
		if s.c.Events != nil {
			s.emit(RepDone{s.run.Rep(s.told)})
		}
	}
}

// result ends the run at moment now.
func (s *Engine) result(how Ending, now pad.Time) *Result {
	r := &Result{Run: s.run, Ending: how, Late: s.late, Begun: s.c.Drill.Reps, Done: int64(s.told)}
	if how != Played {
		r.Begun = 0
		for r.Begun < s.c.Drill.Reps && s.grid.Due(r.Begun, 0) <= now {
			r.Begun++
		}
	}
	s.run.Finish()
	if how == Played {
		s.tell()
		r.Done = int64(s.told)
	}
	return r
}

// Play plays a run in real time until it is over, ctx ends or every source has
// broken off.
func Play(ctx context.Context, c *Config) *Result {
	ctx, cancel := context.WithCancel(ctx)
	s := NewEngine(c)
	q := input.NewQueue(4096)
	type ending struct {
		src input.Source
		err error
	}
	ended := make(chan ending, len(c.Sources))
	var readers sync.WaitGroup
	for _, src := range c.Sources {
		readers.Go(func() { ended <- ending{src, src.Run(ctx, c.Clock, q)} })
	}
	defer readers.Wait()
	defer cancel()
	var order input.Order
	plain := len(c.Sources) < 2 // a source's own edges are in order
	drain := func(until pad.Time) {
		for e, ok := q.Get(); ok; e, ok = q.Get() {
			if plain {
				s.Feed(e)
			} else {
				order.Put(e)
			}
		}
		for e, ok := order.Next(until); ok; e, ok = order.Next(until) {
			s.Feed(e)
		}
	}
	end := func(how Ending) *Result {
		now := c.Clock.Now()
		cancel()
		readers.Wait()
		drain(pad.Never)
		return s.result(how, now)
	}

	var logErrors <-chan error
	if c.Log != nil {
		logErrors = c.Log.Errors()
	}
	tick := time.NewTicker(Tick)
	defer tick.Stop()
	slack := Slack + c.Hold
	broken := 0
	for {
		// Two readers stamp side by side: their edges settle in a few milliseconds.
		drain(c.Clock.Now() - c.Hold - 5*pad.Millisecond)
		now := c.Clock.Now()
		s.Advance(now - slack)
		switch {
		case now-slack > s.run.End():
			return end(Played)
		case len(c.Sources) > 0 && broken == len(c.Sources):
			return end(Lost)
		}
		select {
		case <-q.Ready():
		case <-tick.C:
		case err := <-logErrors:
			s.emit(LogTrouble{err})
		case e := <-ended:
			if e.err != nil {
				broken++
			}
			s.emit(SourceEnded{e.src.Describe(), e.err})
		case <-ctx.Done():
			return end(Abandoned)
		}
	}
}

// Replay runs through a script as fast as it goes, by the script's own times.
func Replay(ctx context.Context, c *Config, script input.Script) (*Result, error) {
	s := NewEngine(c)
	last := pad.Time(0)
	for {
		e, err := script.Next()
		if err == io.EOF {
			return s.result(Played, last), nil
		}
		if err != nil {
			return nil, err
		}
		if ctx.Err() != nil {
			return s.result(Abandoned, last), nil
		}
		if e.T < last {
			return nil, fmt.Errorf("the script goes back in time, from %d to %d µs", last, e.T)
		}
		last = e.T
		if last-s.advanced > pad.Second {
			s.Advance(last)
			if c.Log != nil {
				c.Log.Relieve()
			}
		}
		s.Feed(e)
	}
}
