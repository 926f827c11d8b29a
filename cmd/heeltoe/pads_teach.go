package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"sync"

	"heeltoe/footing/pad"
	"heeltoe/input"
	"heeltoe/input/record"
	"heeltoe/trainer/practice"
)

// Numbers of a teaching.
const (
	teachWait = pad.Minute            // how long a panel is waited for
	teachPoll = 100 * pad.Millisecond // between two looks at how far the player is
	teachTurn = 3                     // how often a panel is asked for before it is given up
)

// coach leads a player through a teaching: it asks for the rest and for each
// panel, and again for what went wrong.
type coach struct {
	out     io.Writer
	teacher *input.Teacher
	rec     *recorder
	layout  *pad.Layout
	presses int
	clock   input.Clock
	wait    pad.Time // for each panel
	// read gives the reports until ctx ends, as usb.Reader.Run does.
	read func(ctx context.Context, clock input.Clock, each func(t pad.Time, device int, report []byte) error) error

	mu    sync.Mutex // of teacher and rec
	ended chan error // what read returned
}

// lead returns once the teacher has seen every panel, or says why it could
// not. It stops reading in any case.
func (c *coach) lead(ctx context.Context) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	c.ended = make(chan error, 1)
	go func() {
		c.ended <- c.read(ctx, c.clock, func(at pad.Time, device int, report []byte) error {
			c.mu.Lock()
			defer c.mu.Unlock()
			c.rec.report(at, device, report)
			return c.teacher.Feed(at, device, report)
		})
	}()
	err := c.ask(ctx)
	cancel()
	if c.ended != nil {
		if failed := <-c.ended; err == nil && failed != nil {
			err = practice.Lackf("%s", failed.Error())
		}
	}
	return err
}

// ask asks for the rest, for each panel, and again for those that stay unclear.
func (c *coach) ask(ctx context.Context) error {
	if _, err := c.phase(ctx, input.Rest, record.PhaseRest, "Stand off the pad and touch nothing."); err != nil {
		return err
	}
	for i := range c.layout.Panels {
		if err := c.panel(ctx, pad.Panel(i)); err != nil {
			return err
		}
	}
	for turn := 1; ; turn++ {
		c.mu.Lock()
		_, _, err := c.teacher.Sensors()
		c.rec.phase(c.clock.Now(), record.PhaseEnd)
		c.mu.Unlock()
		var u *input.Unclear
		if !errors.As(err, &u) || turn == teachTurn {
			return nil // whether it can be used is the caller's to say
		}
		for _, r := range u.Refusals {
			fmt.Fprintf(c.out, "%s: %s.\n", c.layout.ID(r.Panel), r.Why)
			if err := c.panel(ctx, r.Panel); err != nil {
				return err
			}
		}
	}
}

// panel asks for a panel until it was pressed as often as it should be.
func (c *coach) panel(ctx context.Context, p pad.Panel) error {
	id := c.layout.ID(p)
	words := fmt.Sprintf("Press %s %s, alone, and let it go each time.", id, often(c.presses))
	for turn := 1; ; turn++ {
		n, err := c.phase(ctx, p, id, words)
		switch {
		case err != nil:
			return err
		case n == c.presses || turn == teachTurn:
			return nil
		}
		words = fmt.Sprintf("That was %s. Once more: press %s %s.", often(n), id, often(c.presses))
	}
}

func often(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

// phase begins a phase, says words, and waits until the phase is done. It gives
// how often the panel was pressed.
func (c *coach) phase(ctx context.Context, p pad.Panel, name, words string) (presses int, err error) {
	c.mu.Lock()
	began := c.clock.Now()
	c.rec.phase(began, name)
	err = c.teacher.Phase(p)
	c.mu.Unlock()
	if err != nil {
		return 0, err
	}
	fmt.Fprintln(c.out, words)
	for now := began; now < began+c.wait; now = c.clock.Now() {
		if c.clock.Until(ctx, now+teachPoll) != nil {
			return 0, practice.Lackf("the teaching was stopped; nothing is kept")
		}
		select {
		case err := <-c.ended:
			c.ended = nil
			if err == nil {
				err = errors.New("the pad gives no more reports")
			}
			return 0, practice.Lackf("%s", err.Error())
		default:
		}
		c.mu.Lock()
		n, done := c.teacher.Progress(c.clock.Now())
		c.mu.Unlock()
		if done {
			return n, nil
		}
		presses = n
	}
	return 0, practice.Lackf("%s was seen to be pressed %s within %v, not %s: is this the right device (heeltoe pads list), and is the panel's cable plugged in?",
		name, often(presses), c.wait.Duration(), often(c.presses))
}
