package desk

import (
	"heeltoe/footing/pad"
	"heeltoe/trainer/view"
)

// Command is what the player orders from the pad while at rest.
type Command uint8

// Commands.
const (
	NoCommand Command = iota
	Repeat
	Faster
	Slower
	Mirror
	Stop
)

var commandTexts = map[Command]string{Repeat: "again", Faster: "tempo up", Slower: "tempo down", Mirror: "mirror", Stop: "stop"}

// Times of an order given from the pad.
const (
	HoldFor = 1200 * pad.Millisecond // how long a panel is held to give it
	Settle  = 1500 * pad.Millisecond // how long after a run nothing is an order
)

// Orders turns panels held at rest into commands. A panel alone, held for
// HoldFor, is one order; it has to be let go before another is given. Nothing is
// an order until Settle has passed and every panel has been up once since, so
// that the end of a run, or a foot that rests on a panel, orders nothing.
type Orders struct {
	of    []view.Order
	to    []Command
	from  pad.Time // from when on orders are taken
	armed bool     // every panel has been up since
	down  pad.PanelSet
	since pad.Time // when the panel that is down came down
}

// NewOrders gives the orders of a layout, taken from Settle after now on. Of
// every pad the centre repeats, the right corners change the tempo, the upper
// left one mirrors and the lower left one stops.
func NewOrders(l *pad.Layout, now pad.Time) *Orders {
	o := &Orders{from: now + Settle}
	for i, c := range []Command{Mirror, Stop, Repeat, Faster, Slower} { // nw sw c ne se
		for p := i; p < len(l.Panels); p += 5 {
			o.of = append(o.of, view.Order{Panel: pad.Panel(p), Text: commandTexts[c]})
			o.to = append(o.to, c)
		}
	}
	return o
}

// Feed takes an edge of the pad.
func (o *Orders) Feed(e pad.Edge) {
	was := o.down
	switch e.Kind {
	case pad.Down:
		o.down = o.down.With(e.Panel)
	case pad.Up:
		o.down = o.down.Without(e.Panel)
	default: // a gap: what is down is not known
		o.down, o.armed = 0, false
		o.from = max(o.from, e.T+Settle)
	}
	if o.down != was {
		o.since = e.T
	}
	if o.down.Len() > 1 || e.T < o.from && o.down != 0 {
		o.armed = false // two panels, or too soon: let go first
	}
	if o.down == 0 && e.T >= o.from {
		o.armed = true
	}
}

// Advance tells which command has been given by now, and brings the shares of
// the holds up to date.
func (o *Orders) Advance(now pad.Time) Command {
	if o.down == 0 && now >= o.from {
		o.armed = true
	}
	given := NoCommand
	for i := range o.of {
		v := &o.of[i]
		v.Share = 0
		if !o.armed || o.down != pad.SetOf(v.Panel) || now < o.from {
			continue
		}
		if v.Share = min(1, float64(now-o.since)/float64(HoldFor)); v.Share == 1 {
			given = o.to[i]
			o.armed = false
		}
	}
	return given
}

// View appends the orders as the screen shows them.
func (o *Orders) View(dst []view.Order) []view.Order { return append(dst, o.of...) }
