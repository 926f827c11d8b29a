package desk

import (
	"context"
	"time"

	"heeltoe/footing/pad"
	"heeltoe/input"
	"heeltoe/trainer/live"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/view"
)

// retry is how long the desk waits before it looks for a pad again.
const retry = 2 * time.Second

// rest is listening to the pad between two runs, for orders.
type rest struct {
	orders *Orders
	clock  input.Clock
	q      *input.Queue
	cancel context.CancelFunc
	gone   chan struct{} // closed when the pad is let go of
}

// beginRest begins to listen for orders.
func (d *Desk) beginRest() {
	d.unlisten()
	dr := d.sheet.drill
	if dr == nil {
		return
	}
	ctx, cancel := context.WithCancel(d.ctx)
	clock, _ := live.NewClock()
	r := &rest{orders: NewOrders(dr.Layout, clock.Now()), clock: clock, q: input.NewQueue(1024), cancel: cancel, gone: make(chan struct{})}
	d.rest = r
	choice := d.sheet.choice
	choice.Fast = false
	quiet := func(string, ...any) {}
	d.work.Go(func() {
		defer close(r.gone)
		for ctx.Err() == nil {
			if src := hear(&choice, dr.Layout, quiet); src != nil {
				for _, s := range src.Sources[1:] {
					d.work.Go(func() { _ = s.Run(ctx, clock, r.q) })
				}
				_ = src.Sources[0].Run(ctx, clock, r.q) // unplugged: looked for again
				src.Close()
			}
			select {
			case <-time.After(retry):
			case <-ctx.Done():
			}
		}
	})
}

// hear opens what can be listened to while at rest: the pad or the keys, since
// a file and the synthetic player have nothing to say then. Nil: nothing.
func hear(c *practice.Choice, l *pad.Layout, say practice.Say) *practice.Source {
	if c.Source == "auto" || c.Source == "pad" {
		if src, err := practice.Plugged(c.Pad, l, say); err == nil {
			return src
		}
	}
	if c.Keys != nil && c.Source != "pad" {
		return &practice.Source{Sources: []input.Source{c.Keys}}
	}
	return nil
}

// unlisten ends the listening; what it gives waits until the pad is let go of.
func (d *Desk) unlisten() (settled func()) {
	r := d.rest
	if r == nil {
		return func() {}
	}
	r.cancel()
	d.rest = nil
	d.Live.Orders = d.Live.Orders[:0]
	return func() { <-r.gone }
}

// listen takes what came from the pad while at rest.
func (d *Desk) listen() {
	r := d.rest
	for e, ok := r.q.Get(); ok; e, ok = r.q.Get() {
		r.orders.Feed(e)
		switch e.Kind {
		case pad.Down:
			d.Live.Down = d.Live.Down.With(e.Panel)
		case pad.Up:
			d.Live.Down = d.Live.Down.Without(e.Panel)
		default:
			d.Live.Down = 0
		}
	}
	given := r.orders.Advance(r.clock.Now())
	d.Live.Orders = r.orders.View(d.Live.Orders[:0])
	d.obey(given)
}

// tempoStep is how much an order from the pad changes the tempo, in beats a minute.
const tempoStep = 5

// obey does what was ordered from the pad.
func (d *Desk) obey(c Command) {
	s := d.sheet
	switch c {
	case Repeat:
		d.Begin()
	case Faster:
		s.setBPM(s.bpm() + tempoStep)
	case Slower:
		s.setBPM(s.bpm() - tempoStep)
	case Mirror:
		s.choice.Mirror = !s.choice.Mirror
		s.load()
	case Stop:
		d.End()
		return
	}
	if c == Faster || c == Slower || c == Mirror {
		d.held = nil
		d.showNext()
	}
}

// showNext shows the drill that would be played next, with its orders.
func (d *Desk) showNext() {
	s := d.sheet
	if s.drill == nil {
		d.notice("%s", s.fault)
		return
	}
	w, _ := practice.ParseWindows(s.choice.Windows)
	down := d.Live.Down
	live.Still(&d.Live, s.drill, w)
	d.Live.Down = down
	d.Live.Phase = view.AtRest
	d.notice("Next: %s, %g beats a minute, mirror %s.", s.drill.Name, s.drill.BPM, yesNo(s.choice.Mirror))
}
