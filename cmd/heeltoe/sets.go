package main

import (
	"encoding/json"
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"heeltoe/cmd/internal/metronome"
	"heeltoe/input/record"
	"heeltoe/judge/drill"
	"heeltoe/render/sound"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/store"
	"heeltoe/trainer/view"
)

// sets plays runs one after another as text, each with a log of its own, under the same
// conditions: the blocks of a plan, or the parts of an evening.
type sets struct {
	a      *app
	c      *liveCmd
	click  *metronome.Metronome // nil: none
	orders <-chan order         // nil: nobody gives any
	asked  *record.Header       // conditions of the first run, which hold for all
	number int                  // of the run that was prepared last, from 1

	elsewhere bool // another program plays them, with a click and a source of its own
}

// begin makes ready to play runs, of which first is the first; the caller calls done afterwards.
func (s *sets) begin(first *drill.Drill) (done func(), err error) {
	switch {
	case s.c.Source == "auto", s.c.Source == "pad", s.c.Source == "synth", s.c.Source == "keys" && s.elsewhere:
	case s.c.Source == "keys":
		return nil, usagef("--source keys is for the window: a terminal does not tell when a key goes up")
	default:
		return nil, usagef("several runs in a row need a pad or the synthetic player: a file has its presses already")
	}
	if err := s.c.Click.Settle(); err != nil {
		return nil, err
	}
	if _, err := practice.ParseWindows(s.c.Windows); err != nil {
		return nil, err
	}
	if _, err := metronome.Schedule(s.c.Click, first, practice.Lead(first), 0); err != nil {
		return nil, err
	}
	done = func() {}
	if !s.c.Fast {
		s.orders = listen(s.a.stdin)
		if s.c.Click.Sound != practice.Off && !s.elsewhere {
			s.click = metronome.New(sound.Machine)
			done = func() { s.click.Close() }
			if err := s.click.Ready(s.a.ctx); err != nil {
				s.a.say("%v; the runs go by the clock all the same.", err)
			}
		}
	}
	fmt.Fprintln(s.a.stdout, view.Caution)
	return done, nil
}

// run prepares a run of d, marked as a block of a plan. The caller closes its source.
func (s *sets) run(d *drill.Drill, mark store.Block) (*player, error) {
	choice, err := s.choice(mark)
	if err != nil {
		return nil, err
	}
	src, err := choice.Open(d, s.a.say)
	if err != nil {
		return nil, err
	}
	h, err := choice.Header(d, src)
	if err == nil && s.asked == nil {
		if err = s.c.conditions(s.a, &h); err == nil {
			s.asked = &h
		}
	}
	if err != nil {
		src.Close()
		return nil, err
	}
	h.Player, h.ShoeMM, h.Bar = s.asked.Player, s.asked.ShoeMM, s.asked.Bar
	return &player{a: s.a, c: s.c, p: practice.New(choice, d, src, h), click: s.click}, nil
}

// choice gives what is chosen for the next run.
func (s *sets) choice(mark store.Block) (*practice.Choice, error) {
	choice := s.c.Choice
	s.number++
	choice.Seed += uint64(s.number - 1) // another chance for each run of the synthetic player
	if ext := filepath.Ext(choice.Out); choice.Out != "" && s.number > 1 {
		choice.Out = fmt.Sprintf("%s-%d%s", strings.TrimSuffix(choice.Out, ext), s.number, ext)
	}
	text, err := json.Marshal(mark)
	choice.Mark = string(text)
	return &choice, err
}

// wait waits for the player to go on; false means to end.
func (s *sets) wait() bool { return (&player{a: s.a}).wait(s.orders) }

// tellRest is how often the rest timer tells how much is left.
const tellRest = 10 * time.Second

// rest is the rest timer: it waits, tells what is left, and lets the player go on sooner;
// false means that the player ended it all.
func (s *sets) rest(d time.Duration) bool {
	s.a.say("Rest for %.0f s; type g and Enter to go on sooner, e and Enter to end.", d.Seconds())
	until := time.Now().Add(d)
	timer, tell := time.NewTimer(d), time.NewTicker(tellRest)
	defer timer.Stop()
	defer tell.Stop()
	orders := s.orders
	for {
		select {
		case <-timer.C:
			return true
		case <-tell.C:
			if left := time.Until(until).Round(time.Second); left > 0 {
				s.a.say("rest: %.0f s left", left.Seconds())
			}
		case o, ok := <-orders:
			switch {
			case !ok:
				orders = nil // no one is there to give orders
			case o == orderGo:
				return true
			case o == orderEnd:
				return false
			}
		case <-s.a.ctx.Done():
			return false
		}
	}
}
