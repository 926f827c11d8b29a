package sound

import (
	stdcontext "context"
	"fmt"
	"sync"
	"time"

	"heeltoe/footing/pad"
)

// State is what a player is doing.
type State uint8

// States of a player.
const (
	Opening  State = iota // the device is being opened
	Sounding              // what is to be heard is heard
	Silent                // nothing can be heard; Status.Reason says why
)

func (s State) String() string {
	switch s {
	case Opening:
		return "opening"
	case Sounding:
		return "sounding"
	case Silent:
		return "silent"
	}
	return fmt.Sprintf("State(%d)", uint8(s))
}

// Status is how a player is.
type Status struct {
	State  State
	Reason string // why it is silent, in words
	StreamState
}

// Numbers of a player.
const (
	watchEvery = 50 * time.Millisecond
	stopped    = 500 * pad.Millisecond // without a Read: the device has stopped
	lockWait   = 3 * pad.Second        // of Reads without a map that can be used
)

// Player plays the clicks of runs on a sound device for as long as the program
// lives: it goes on measuring the device's clock between runs. Where there is no
// device, or where it fails, the player is silent and says why; runs go on by
// the same schedule. A device that comes to itself again is heard again.
//
// No method waits for the device, but for Ready. All may be called from any goroutine.
type Player struct {
	stream *Stream
	now    func() pad.Time
	cancel func()

	mu      sync.Mutex
	out     Output
	opened  pad.Time // when the output was attached
	state   State
	reason  string
	decided chan struct{} // closed when the state is first not Opening
}

// Open makes a player of a device, Machine say, and returns at once. now is a
// monotonic clock; nil stands for the machine's.
func Open(d Device, now func() pad.Time) *Player {
	if now == nil {
		start := time.Now()
		now = func() pad.Time { return pad.FromDuration(time.Since(start)) }
	}
	ctx, cancel := stdcontext.WithCancel(stdcontext.Background())
	p := &Player{stream: NewStream(now), now: now, cancel: cancel, decided: make(chan struct{})}
	go func() {
		if err := d.Open(p.stream, p.attach); err != nil {
			p.set(Silent, err.Error())
			return
		}
		p.watch(ctx)
	}()
	return p
}

// attach takes the output before it is read from.
func (p *Player) attach(o Output) {
	p.stream.Attach(o)
	p.mu.Lock()
	defer p.mu.Unlock()
	p.out, p.opened = o, p.now()
}

func (p *Player) set(s State, reason string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.state == Opening && s != Opening {
		close(p.decided)
	}
	p.state, p.reason = s, reason
}

// watch looks after the device, since nothing reports one that has stopped.
func (p *Player) watch(ctx stdcontext.Context) {
	tick := time.NewTicker(watchEvery)
	defer tick.Stop()
	p.mu.Lock()
	out, opened := p.out, p.opened
	p.mu.Unlock()
	for {
		select {
		case <-ctx.Done():
			_ = out.Close() // what it played is no one's concern any more
			return
		case <-tick.C:
		}
		s, now := p.stream.State(), p.now()
		switch err := out.Err(); {
		case err != nil:
			p.set(Silent, "the sound device failed: "+plain(err))
		case now-max(s.LastRead, opened) > stopped:
			p.set(Silent, "the sound device has stopped: it takes no more sound")
		case s.Locked:
			p.set(Sounding, "")
		case now-opened > lockWait:
			p.set(Silent, "the sound device does not play at an even rate")
		}
	}
}

// Start begins a run's clicks, which end when the schedule does. clock gives the
// time of the run, on a clock that runs evenly with the machine's monotonic one.
func (p *Player) Start(s Schedule, clock func() pad.Time) { p.stream.Play(s, clock) }

// Stop ends the clicks at once, those too that have been made already.
func (p *Player) Stop() { p.stream.Play(nil, nil) }

// SetSound sets the sound of the clicks, one of Sounds.
func (p *Player) SetSound(name string) error {
	if !p.stream.SetSound(name) {
		return fmt.Errorf("there is no sound %q; there are %v", name, Sounds)
	}
	return nil
}

// SetLoudness sets the loudness in dB of full scale, QuietestDB to 0.
func (p *Player) SetLoudness(db float64) { p.stream.SetLoudness(db) }

// Mute makes the clicks inaudible, or heard again; they go on meanwhile.
func (p *Player) Mute(on bool) { p.stream.Mute(on) }

// Status gives how the player is now.
func (p *Player) Status() Status {
	p.mu.Lock()
	defer p.mu.Unlock()
	return Status{State: p.state, Reason: p.reason, StreamState: p.stream.State()}
}

// Ready waits until it is known whether the player can be heard, or ctx ends.
func (p *Player) Ready(ctx stdcontext.Context) Status {
	select {
	case <-p.decided:
	case <-ctx.Done():
	}
	return p.Status()
}

// Close ends the playing; the device is let go a moment later.
func (p *Player) Close() { p.cancel() }
