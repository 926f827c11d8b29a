// Package practice prepares runs: the drill, the source of the presses, the
// conditions and the log that a player chooses. The programs that play, on the
// screen or as text, share it.
package practice

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"heeltoe/input/record"
	"heeltoe/judge"
	"heeltoe/judge/drill"
	"heeltoe/trainer/live"
	"heeltoe/trainer/store"
	"heeltoe/trainer/view"
)

// Practice is a drill played in one part, or in several where it is paused:
// each part is a run of its own, with a log of its own.
type Practice struct {
	Drill  *drill.Drill // what is left to play
	Source *Source
	Header record.Header

	Total  int64 // reps in all
	Played int64 // of them, in the parts before

	choice *Choice
	parts  int
	dir    string // the program's data folder
}

// New prepares the practice that c asks for: drill and source have been opened.
func New(c *Choice, d *drill.Drill, src *Source, h record.Header) *Practice {
	return &Practice{Drill: d, Source: src, Header: h, Total: d.Reps, choice: c, dir: store.Dir()}
}

// Begin prepares the next part: its clock runs from now on. The log is nil
// where none is to be kept.
func (p *Practice) Begin() (*live.Config, error) {
	clock, started := live.NewClock()
	h := p.Header
	h.Started = started.UTC()
	c := &live.Config{Drill: p.Drill, Clock: clock, Read: true, Sources: p.Source.Sources, Hold: p.Source.Hold, Fineness: p.Source.Fineness, Own: ownOf(h.Player),
		Options: judge.Options{Lead: h.Lead, Windows: h.Windows, Shift: h.Shift, Debounce: h.Debounce}}
	h.Extra = append(slices.Clip(h.Extra), p.choice.clicked(p.Played))
	if p.parts > 0 {
		h.Extra = append(h.Extra, record.Member{Key: "continues", Value: []byte("true")})
	}
	p.parts++
	if p.choice.NoLog {
		return c, nil
	}
	path := p.choice.Out
	switch {
	case path == "":
		path = store.NewRunPath(p.dir, p.Drill.Name, started)
	case p.parts > 1:
		ext := filepath.Ext(path)
		path = fmt.Sprintf("%s-%d%s", strings.TrimSuffix(path, ext), p.parts, ext)
	}
	log, err := live.Create(path, h)
	if err != nil {
		if errors.Is(err, os.ErrExist) {
			return nil, Wrongf("%s exists; name another file with --out", path)
		}
		return nil, fmt.Errorf("the run log cannot be made: %w; name another place with --out, or keep none with --no-log", err)
	}
	c.Log = log
	return c, nil
}

// Play plays a part that was begun: in its own time, or fast where that was
// chosen. The log is closed; what its disk did not take is kept elsewhere, and
// say tells where.
func (p *Practice) Play(ctx context.Context, c *live.Config, say Say) (*live.Result, error) {
	var res *live.Result
	var err error
	if p.choice.Fast {
		res, err = live.Replay(ctx, c, p.Source.Script)
	} else {
		if p.choice.Watch != nil {
			p.choice.Watch(c, &p.Header)
		}
		res = live.Play(ctx, c)
	}
	if c.Log != nil {
		begun := p.Drill.Reps
		if res != nil {
			begun = res.Begun
		}
		if e := c.Log.Close(begun); e != nil {
			rescue(c.Log, e, say)
		}
		if e := p.remember(c.Log.Path()); e != nil {
			say("%v; the run itself is kept, and found when the history is next looked at", e)
		}
	}
	return res, err
}

// rememberFor is how long the end of a run waits at most for the history.
const rememberFor = 15 * time.Second

// remember takes a log that lies in the folder of run logs into the history.
func (p *Practice) remember(log string) error {
	return p.inHistory(log, func(ctx context.Context, x *store.Index) error { return x.Add(ctx, log) })
}

// inHistory does something with the history, where log lies in the folder of run logs.
func (p *Practice) inHistory(log string, do func(ctx context.Context, x *store.Index) error) error {
	if !store.Holds(p.dir, log) {
		return nil
	}
	// The run's own context has ended where the player broke it off.
	ctx, cancel := context.WithTimeout(context.Background(), rememberFor)
	defer cancel()
	x, err := store.Open(ctx, p.dir)
	if err != nil {
		return err
	}
	return errors.Join(do(ctx, x), x.Close())
}

// rescue puts what the disk did not take elsewhere.
func rescue(l *live.Log, why error, say Say) {
	say("%v", why)
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
		say("the last %d bytes of the run could not be kept anywhere: %v", len(rest), err)
		return
	}
	say("the last lines of the run are in %s; append them to %s once there is room", f.Name(), l.Path())
}

// Report sums up a part that was played. Where edges came later than time had
// moved on, where fewer reps were begun than planned, or where the run was too long
// for memory, the log is the truth. What the
// feet did is kept in the history.
func (p *Practice) Report(res *live.Result, c *live.Config) *view.Report {
	rep := p.report(res, c)
	if c.Log != nil {
		log := c.Log.Path()
		// Where this fails the feet are read again when somebody asks.
		_ = p.inHistory(log, func(ctx context.Context, x *store.Index) error {
			return x.Keep(ctx, log, rep)
		})
	}
	return rep
}

func (p *Practice) report(res *live.Result, c *live.Config) *view.Report {
	if c.Log != nil && (res.Late > 0 || res.Begun < p.Drill.Reps || !res.Run.Whole()) {
		if again, err := Review(c.Log.Path()); err == nil {
			return again
		}
	}
	rep := res.Run.Report()
	settle(rep, &p.Header)
	return rep
}

// GoOn prepares what is left after a part that was broken off: the rep that was
// broken off is played again. It fails with *Wrong where the source cannot go on.
func (p *Practice) GoOn(res *live.Result) error {
	if p.Source.Script != nil && p.Source.again == nil {
		return Wrongf("A file cannot go on after a pause: the run ends here.")
	}
	d, err := p.Drill.WithReps(p.Drill.Reps - res.Done)
	if err != nil {
		return err
	}
	p.Played += res.Done
	p.Drill, p.Header.Drill = d, d.Spec
	if p.Source.again != nil {
		p.Source, err = p.Source.again(d)
	}
	return err
}
