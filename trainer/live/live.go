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
	"heeltoe/footing/read"
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

// RepDone is a rep that is over and decided: what it came to, panel by panel
// in the layout's order, and its offsets one by one.
type RepDone struct {
	Rep     view.Rep
	Panels  []view.Spread
	Offsets []pad.Time
}

// Missed is a gap: edges may be missing.
type Missed struct{ Lost uint32 }

// Stalled is a loop that got no turn for so long: the machine slept, or the
// program was stopped. A gap follows.
type Stalled struct{ For pad.Time }

// stall is from when on the loop says that it got no turn; it looks every Tick.
const stall = pad.Second

// SourceEnded is a source that came to its end (Err nil) or broke off.
type SourceEnded struct {
	Name string
	Err  error
}

// LogTrouble is a disk that does not take the run log; the run goes on.
type LogTrouble struct{ Err error }

func (RepDone) event()     {}
func (RepRead) event()     {}
func (Missed) event()      {}
func (Stalled) event()     {}
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
	// Fineness is that of the pad, for the screen: 0 where it is not known.
	Fineness pad.Fineness
	Read     bool // read feet rep by rep, where the run is played in real time
	// Own are parameters of the player by which feet are read; nil for anybody's.
	Own read.Own
	// Events is called by the loop or by a source's goroutine, never at once with another
	// call or with Fed. It must not wait; it may be nil.
	Events func(Event)
	// Fed, where it is not nil, is called in the same way for each edge once it
	// has been judged.
	Fed func(e pad.Edge)
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
	fed      pad.Time // of the edge fed last
	late     uint64   // edges older than what time had moved on to
	reading  *reading
}

// keepPresses is how many of the last presses of a run are kept at least: some
// minutes of the fastest. Memory stays flat over hours.
const keepPresses = 8192

// NewEngine makes the engine of a run; Clock and Sources of c are not used.
func NewEngine(c *Config) *Engine {
	s := &Engine{c: c, run: trainer.New(c.Drill, c.Options), grid: c.Drill.Grid(c.Options.Lead)}
	s.run.KeepPresses(keepPresses)
	s.run.Suit(c.Own)
	return s
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
	s.fed = e.T
	if s.c.Log != nil {
		s.c.Log.Write(e)
	}
	s.run.Feed(e)
	if e.Kind == pad.Gap {
		s.emit(Missed{e.Lost})
	}
	if s.c.Fed != nil {
		s.c.Fed(e)
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
			s.emit(RepDone{s.run.Rep(s.told), s.run.Spreads(s.told), s.run.Offsets(s.told)})
		}
		if s.reading != nil {
			s.reading.ask(s.run, s.told)
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
	// An edge is judged by the goroutine that read it, unless the loop is at work: waking
	// another one takes far longer than judging, most of all where the machine is busy.
	var mu sync.Mutex // of s and order, held by the loop but while it waits
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
	// Two readers stamp side by side: their edges settle in a few milliseconds.
	settled := func() pad.Time { return c.Clock.Now() - c.Hold - 5*pad.Millisecond }
	q.OnPut(func() bool {
		if !mu.TryLock() {
			return false
		}
		drain(settled())
		mu.Unlock()
		return true
	})
	ended := make(chan ending, len(c.Sources))
	var readers sync.WaitGroup
	for _, src := range c.Sources {
		readers.Go(func() { ended <- ending{src, src.Run(ctx, c.Clock, q)} })
	}
	defer readers.Wait()
	defer cancel()
	end := func(how Ending) *Result {
		now := c.Clock.Now()
		cancel()
		readers.Wait()
		drain(pad.Never)
		return s.result(how, now)
	}

	var reads <-chan RepRead
	if c.Read {
		s.reading = newReading(c)
		reads = s.reading.read
		readers.Go(func() { s.reading.run(ctx) })
	}
	var logErrors <-chan error
	if c.Log != nil {
		logErrors = c.Log.Errors()
	}
	tick := time.NewTicker(Tick)
	defer tick.Stop()
	slack := Slack + c.Hold
	broken := 0
	before := c.Clock.Now()
	mu.Lock()
	defer mu.Unlock()
	for {
		drain(settled())
		now := c.Clock.Now()
		if away := now - before; away > stall {
			s.emit(Stalled{away})
			// At the last edge, so that none that is still on its way comes before it.
			s.Feed(pad.Edge{T: s.fed, Kind: pad.Gap, Panel: pad.NoPanel})
		}
		before = now
		s.Advance(now - slack)
		switch {
		case now-slack > s.run.End():
			return end(Played)
		case len(c.Sources) > 0 && broken == len(c.Sources):
			return end(Lost)
		}
		mu.Unlock()
		select {
		case <-q.Ready():
			mu.Lock()
		case <-tick.C:
			mu.Lock()
		case r := <-reads:
			mu.Lock()
			s.emit(r)
		case err := <-logErrors:
			mu.Lock()
			s.emit(LogTrouble{err})
		case e := <-ended:
			mu.Lock()
			if e.err != nil {
				broken++
			}
			s.emit(SourceEnded{e.src.Describe(), e.err})
		case <-ctx.Done():
			mu.Lock()
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
