package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"sync"

	"heeltoe/footing/pad"
	"heeltoe/input"
	"heeltoe/trainer/padcheck"
	"heeltoe/trainer/practice"
)

// Times of a guided check.
const (
	guidePoll  = 50 * pad.Millisecond  // between two looks at how far the player is
	guideQuiet = 700 * pad.Millisecond // without a press, after the last that was asked for
)

// guide asks a player for presses on a taught pad and keeps what the pad says.
type guide struct {
	out   io.Writer
	m     *input.Map
	clock input.Clock
	wait  pad.Time // the most that is waited for one thing
	// read gives the reports until ctx ends, as usb.Reader.Run does.
	read func(ctx context.Context, clock input.Clock, each func(t pad.Time, device int, report []byte) error) error

	mu      sync.Mutex // of what follows
	dec     *input.Decoder
	edges   []pad.Edge
	reports [][]pad.Time
	resting bool // nobody is on the pad
	levels  map[pad.Panel]padcheck.Level
	peaks   map[pad.Panel]int32 // of the presses that go on
	rests   map[pad.Panel]int32 // a value at rest
	ended   chan error
}

// run reads the pad while ask asks.
func (g *guide) run(ctx context.Context, ask func(ctx context.Context) error) error {
	var err error
	if g.dec, err = input.NewDecoder(g.m); err != nil {
		return err
	}
	g.reports = make([][]pad.Time, len(g.m.Devices))
	g.levels, g.peaks, g.rests = map[pad.Panel]padcheck.Level{}, map[pad.Panel]int32{}, map[pad.Panel]int32{}
	g.ended = make(chan error, 1)
	for d := range g.m.Devices {
		g.dec.Begin(g.clock.Now(), d) // it is opened next; the first thing that is asked for is a rest
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	go func() { g.ended <- g.read(ctx, g.clock, g.take) }()
	err = ask(ctx)
	cancel()
	if g.ended != nil {
		if failed := <-g.ended; err == nil && failed != nil {
			err = practice.Lackf("%s", failed.Error())
		}
	}
	return err
}

// take takes a report.
func (g *guide) take(t pad.Time, device int, report []byte) error {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.reports[device] = append(g.reports[device], t)
	was := len(g.edges)
	g.edges = g.dec.Decode(g.edges, t, device, report)
	for i := range g.m.Sensors {
		if s := &g.m.Sensors[i]; s.Format != input.Bits && int(s.Device) == device {
			g.level(s, report, g.edges[was:])
		}
	}
	return nil
}

// level follows the value of an analogue panel: at rest, and to the peak of each press.
func (g *guide) level(s *input.Sensor, report []byte, edges []pad.Edge) {
	v, ok := s.Value(report)
	if !ok {
		return
	}
	l := g.levels[s.Panel]
	if g.resting {
		g.rests[s.Panel] = v
		l.Take(v, false)
	}
	peak, down := g.peaks[s.Panel]
	rest := g.rests[s.Panel]
	if now := g.dec.Down().Has(s.Panel); now {
		if far := func(v int32) int32 { return max(v-rest, rest-v) }; !down || far(v) > far(peak) {
			g.peaks[s.Panel] = v
		}
	}
	for _, e := range edges {
		if e.Panel == s.Panel && e.Kind == pad.Up && down {
			l.Take(peak, true)
			delete(g.peaks, s.Panel)
		}
	}
	g.levels[s.Panel] = l
}

// phase says words and waits until the panels were pressed so many times in all
// and then nothing came for a while, or for as long as a rest takes, or until
// it has waited long enough. It gives when that was.
func (g *guide) phase(ctx context.Context, words string, panels pad.PanelSet, times int, rest pad.Time) (from, to pad.Time, err error) {
	g.mu.Lock()
	from = g.clock.Now()
	start := len(g.edges)
	g.resting = rest > 0
	g.mu.Unlock()
	fmt.Fprintln(g.out, words)
	for {
		if g.clock.Until(ctx, g.clock.Now()+guidePoll) != nil {
			return 0, 0, practice.Lackf("the check was stopped; nothing is kept")
		}
		select {
		case err := <-g.ended:
			g.ended = nil
			if err == nil {
				err = errors.New("the pad gives no more reports")
			}
			return 0, 0, practice.Lackf("%s", err.Error())
		default:
		}
		now := g.clock.Now()
		g.mu.Lock()
		n, last := 0, from
		for _, e := range g.edges[start:] {
			last = max(last, e.T)
			if e.Kind == pad.Down && panels.Has(e.Panel) {
				n++
			}
		}
		up := g.dec.Down() == 0
		g.mu.Unlock()
		switch {
		case rest > 0 && now-from >= rest:
		case rest == 0 && n >= times && up && now-last >= guideQuiet:
		case now-from >= g.wait:
		default:
			continue
		}
		return from, g.clock.Now(), nil
	}
}
