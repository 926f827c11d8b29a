// Package synth is the synthetic player: it plays a drill with a given footing
// as two feet would, with their timing noise and their habits, and gives the
// edges that a pad would report. It shows the program without a pad, makes load
// and gives the reading of feet something whose truth is known.
package synth

import (
	"cmp"
	"errors"
	"io"
	"math"
	"math/rand/v2"
	"slices"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// Player plays one run. It is an input.Script: Next gives its edges in time
// order, no panel going down while it is down. It holds what is open between
// two landings only, however long the run, and does not allocate after its
// first landings. The same drill, footing, parameters and seed give the same edges.
// It is for one goroutine.
type Player struct {
	p        Params
	d        *drill.Drill
	grid     drill.Grid
	landings []landing // of a rep, by aim
	margin   pad.Time  // how far before its moment a landing's first press can come
	mu, sg   float64   // of the log normal dwell in µs

	rng    *rand.Rand
	b      float64 // asynchrony less its motor part, µs
	rep    int64
	next   int // landing of the rep that is to be played next
	nextID uint32
	events []event // a heap, the earliest first
	open   []press // whose foot has not yet been told where to go
	panels [pad.MaxPanels]panelState
	lastT  pad.Time // of the last edge given out
}

// landing is contacts that come down as one movement.
type landing struct {
	first, last int64    // slots of its earliest and latest note struck at its moment
	shift       pad.Time // of its aim from the middle of those, where they differ
	contacts    []contact
}

// contact is one foot's part in a landing.
type contact struct {
	foot    pad.Foot
	kind    drill.ContactKind
	notes   [2]drill.Note
	n       int      // notes used
	swing   pad.Time // that the foot needs to get here from its contact before
	ahead   int      // landings until the foot's next contact, 0 where it has none other than this, over the rep's edge
	aheadSw pad.Time // the swing of that
}

// press is a panel that is down, or will be, until up; a foot that must go
// before that goes earlier.
type press struct {
	id       uint32
	foot     pad.Foot
	down, up pad.Time
	panel    pad.Panel
	due      pad.Time // no contact of the foot comes down before this
}

type eventKind uint8

const (
	goUp eventKind = iota
	goDown
	bounceUp
	bounceDown
	strayDown
)

type event struct {
	t     pad.Time
	id    uint32
	kind  eventKind
	panel pad.Panel
}

type panelState struct {
	id      uint32 // of the press that is or was last down
	waiting uint32 // of a press that must wait until the panel has come up, 0 for none
	since   pad.Time
	down    bool
}

// regap is how long a panel is up at least between a press and the next, where
// the second comes while the first is down.
const regap = 8 * pad.Millisecond

// New makes a player of a drill whose first slot is at lead. It fails where the
// parameters are out of range or the contacts do not play each note once.
func New(d *drill.Drill, contacts []drill.Contact, lead pad.Time, p Params, seed uint64) (*Player, error) {
	if err := p.Check(); err != nil {
		return nil, err
	}
	played := make([]bool, len(d.Notes))
	for i := range contacts {
		for _, n := range contacts[i].NoteIndices() {
			if n < 0 || int(n) >= len(played) || played[n] {
				return nil, errors.New("synthetic player: the footing plays a note twice or one that is not there")
			}
			played[n] = true
		}
	}
	if slices.Contains(played, false) {
		return nil, errors.New("synthetic player: the footing leaves a note out")
	}
	y := &Player{p: p, d: d, grid: d.Grid(lead), rng: rand.New(rand.NewPCG(seed, 0x6865656c746f65))}
	y.landings = arrange(d, contacts, &p)
	for i := range y.landings {
		l := &y.landings[i]
		l.shift = aimShift(&p.Windows, y.grid.Due(0, l.last)-y.grid.Due(0, l.first))
	}
	g0, _, _ := p.Asynchrony()
	y.margin = ms(8*(math.Sqrt(g0)+p.StaggerSDMS+p.BracketSpreadSDMS) + math.Abs(p.BracketLeadMS))
	s2 := math.Log1p(p.DwellSDMS * p.DwellSDMS / (p.DwellMeanMS * p.DwellMeanMS))
	y.mu, y.sg = math.Log(p.DwellMeanMS*1000)-s2/2, math.Sqrt(s2)
	// The asynchrony less its motor part, B = A − M, follows
	// B[n+1] = (1−α)·B[n] + T[n] − α·M[n]: begin in its steady state.
	a := p.PhaseCorrection
	v := (p.ClockSDMS*p.ClockSDMS + a*a*p.MotorSDMS*p.MotorSDMS) / (1 - (1-a)*(1-a))
	y.b = y.normal(0, 1000*math.Sqrt(v))
	return y, nil
}

func ms(x float64) pad.Time { return pad.Time(math.Round(x * 1000)) }

// aimShift gives how far after the middle of the notes it gathers a landing is
// aimed at: (late − early)/2 of the tightest band that can hold a first and a
// last note that far apart, so that both are equally safe; the outermost band's
// where none can.
func aimShift(w *drill.Windows, span pad.Time) pad.Time {
	for _, b := range w {
		if span <= b.Late-b.Early {
			return (b.Late + b.Early) / 2
		}
	}
	o := w[drill.Outer]
	return (o.Late + o.Early) / 2
}

// arrange makes the landings of a rep, in order of aim.
func arrange(d *drill.Drill, contacts []drill.Contact, p *Params) []landing {
	var out []landing
	at := make(map[int]int) // landing number to index
	for i := range contacts {
		c := &contacts[i]
		k, ok := at[c.Landing]
		if !ok {
			k = len(out)
			at[c.Landing] = k
			out = append(out, landing{first: math.MaxInt64, last: -1})
		}
		l := &out[k]
		x := contact{foot: c.Foot, kind: c.Kind}
		for j, n := range c.NoteIndices() {
			x.notes[j] = d.Notes[n]
			x.n++
			if c.Kind == drill.Roll && j == 1 {
				continue // comes in its own time
			}
			l.first = min(l.first, int64(d.Notes[n].Slot))
			l.last = max(l.last, int64(d.Notes[n].Slot))
		}
		l.contacts = append(l.contacts, x)
	}
	slices.SortStableFunc(out, func(a, b landing) int { return cmp.Compare(a.first+a.last, b.first+b.last) })
	// What each foot comes from, in a circle.
	type place struct{ landing, contact int }
	var of [2][]place
	for i := range out {
		for j := range out[i].contacts {
			f := out[i].contacts[j].foot
			of[f] = append(of[f], place{i, j})
		}
	}
	for _, places := range of {
		for k, pl := range places {
			prev := places[(k+len(places)-1)%len(places)]
			from, to := &out[prev.landing].contacts[prev.contact], &out[pl.landing].contacts[pl.contact]
			fx, fy := middle(d.Layout, from)
			tx, ty := middle(d.Layout, to)
			to.swing = ms(p.SwingMS + p.SwingPerMetreMS*math.Hypot(tx-fx, ty-fy)/1000)
			from.aheadSw = to.swing
			from.ahead = (pl.landing - prev.landing + len(out)) % len(out)
			if from.ahead == 0 && k == 0 {
				from.ahead = len(out) // itself, a rep later
			}
		}
	}
	return out
}

// middle gives where a foot stands for a contact, midway between its panels, in mm.
func middle(l *pad.Layout, c *contact) (x, y float64) {
	for _, n := range c.notes[:c.n] {
		cx, cy := l.Panels[n.Panel].Rect.Centre()
		x, y = x+cx/float64(c.n), y+cy/float64(c.n)
	}
	return x, y
}

// moment gives when landing k of a rep is aimed at, without asynchrony.
func (y *Player) moment(rep int64, k int) pad.Time {
	l := &y.landings[k]
	first := y.grid.Due(rep, l.first)
	if l.first == l.last {
		return first
	}
	return (first+y.grid.Due(rep, l.last))/2 + l.shift
}

func (y *Player) normal(mean, sd float64) float64 { return mean + sd*y.rng.NormFloat64() }

// Next implements input.Script.
func (y *Player) Next() (pad.Edge, error) {
	for {
		horizon := y.horizon()
		for len(y.events) > 0 && y.events[0].t <= horizon {
			if e, ok := y.settle(y.pop()); ok {
				return e, nil
			}
		}
		if y.rep < y.d.Reps {
			y.land()
			continue
		}
		// The run is over: feet stay as long as they like, then all is up.
		if len(y.open) > 0 {
			for i := range y.open {
				y.push(event{t: y.open[i].up, id: y.open[i].id, kind: goUp, panel: y.open[i].panel})
			}
			y.open = y.open[:0]
			continue
		}
		for p := range y.d.Layout.Panels {
			if s := &y.panels[p]; s.down { // its release was lost to a clash
				s.down = false
				return y.give(pad.Edge{T: max(y.lastT, s.since+1), Panel: pad.Panel(p), Kind: pad.Up}), nil
			}
		}
		return pad.Edge{}, io.EOF
	}
}

// horizon gives the time up to which no landing to come and no foot that is
// still to be told where to go can add an edge.
func (y *Player) horizon() pad.Time {
	h := pad.Never
	if y.rep < y.d.Reps {
		h = y.moment(y.rep, y.next) + ms(y.p.MeanAsynchronyMS) - y.margin
	}
	for i := range y.open {
		o := &y.open[i]
		h = min(h, max(min(o.up, o.due), o.down+ms(y.p.MinDwellMS))-1)
	}
	return h
}

// land plays the next landing: it draws its presses and tells the feet that
// take part when to leave where they are.
func (y *Player) land() {
	l := &y.landings[y.next]
	motor := y.normal(0, 1000*y.p.MotorSDMS)
	asynchrony := y.b + motor
	a := y.p.PhaseCorrection
	y.b = (1-a)*asynchrony + y.normal(0, 1000*y.p.ClockSDMS) - motor
	off := pad.Time(math.Round(1000*y.p.MeanAsynchronyMS + asynchrony))
	at := y.moment(y.rep, y.next) + off
	for i := range l.contacts {
		c := &l.contacts[i]
		t := at
		if len(l.contacts) > 1 {
			t += pad.Time(y.normal(0, 1000*y.p.StaggerSDMS))
		}
		y.leave(c.foot, t-c.swing)
		y.contact(c, t, off)
	}
	y.next++
	if y.next == len(y.landings) {
		y.next = 0
		y.rep++
	}
}

// leave has a foot go up at the latest at t from every panel it is on.
func (y *Player) leave(f pad.Foot, t pad.Time) {
	kept := y.open[:0]
	for _, o := range y.open {
		if o.foot != f {
			kept = append(kept, o)
			continue
		}
		up := max(min(o.up, t), o.down+ms(y.p.MinDwellMS))
		y.push(event{t: up, id: o.id, kind: goUp, panel: o.panel})
	}
	y.open = kept
}

// contact brings a foot down at t; off is the landing's asynchrony with its mean.
func (y *Player) contact(c *contact, t, off pad.Time) {
	wish := pad.Time(math.Exp(y.normal(y.mu, y.sg)))
	var down, up [2]pad.Time
	down[0] = t
	switch c.kind {
	case drill.Step:
		up[0] = t + wish
	case drill.Bracket:
		spread := pad.Time(y.normal(1000*y.p.BracketLeadMS, 1000*y.p.BracketSpreadSDMS))
		down[0], down[1] = t-spread/2, t-spread/2+spread
		for j := range up {
			up[j] = max(down[0], down[1]) + wish + pad.Time(y.normal(0, 1000*y.p.BracketSpreadSDMS))
		}
	case drill.Roll:
		down[1] = max(y.grid.Due(y.rep, int64(c.notes[1].Slot))+off, t+ms(y.p.RollMinLagMS))
		up[0] = down[1] + pad.Time(y.normal(1000*y.p.RollOverlapMeanMS, 1000*y.p.RollOverlapSDMS))
		up[1] = down[1] + wish
	}
	// The earliest moment at which this foot could come down again.
	due := pad.Never
	if rep, k := y.rep, y.next+c.ahead; c.ahead > 0 {
		for k >= len(y.landings) {
			k -= len(y.landings)
			rep++
		}
		if rep < y.d.Reps {
			due = y.moment(rep, k) + ms(y.p.MeanAsynchronyMS) - y.margin - c.aheadSw
		}
	}
	for j := range c.n {
		n := &c.notes[j]
		if n.Hold > 0 {
			up[j] = y.grid.Due(y.rep, int64(n.Slot)+int64(n.Hold)) + off + pad.Time(y.normal(0, 1000*y.p.MotorSDMS))
		}
		up[j] = max(up[j], down[j]+ms(y.p.MinDwellMS))
		y.stray(down[j])
		if y.p.MissRate > 0 && y.rng.Float64() < y.p.MissRate {
			continue
		}
		y.nextID++
		id := y.nextID
		y.push(event{t: down[j], id: id, kind: goDown, panel: n.Panel})
		if y.p.ChatterRate > 0 && y.rng.Float64() < y.p.ChatterRate {
			lost := pad.Time(float64(ms(y.p.ChatterMS)) * (0.1 + 0.4*y.rng.Float64()))
			back := pad.Time(float64(ms(y.p.ChatterMS)) * (0.6 + 0.4*y.rng.Float64()))
			y.push(event{t: down[j] + lost, id: id, kind: bounceUp, panel: n.Panel})
			y.push(event{t: down[j] + back, id: id, kind: bounceDown, panel: n.Panel})
		}
		if up[j] < due {
			y.push(event{t: up[j], id: id, kind: goUp, panel: n.Panel})
		} else {
			y.open = append(y.open, press{id: id, foot: c.foot, down: down[j], up: up[j], panel: n.Panel, due: due})
		}
	}
}

// stray adds, now and then, a press that nobody asked for shortly after t.
func (y *Player) stray(t pad.Time) {
	if y.p.StrayRate == 0 || y.rng.Float64() >= y.p.StrayRate {
		return
	}
	p := pad.Panel(y.rng.IntN(len(y.d.Layout.Panels)))
	at := t + pad.Time(y.rng.Float64()*float64(ms(y.p.DwellMeanMS)))
	y.nextID++
	y.push(event{t: at, id: y.nextID, kind: strayDown, panel: p})
	y.push(event{t: at + ms(y.p.MinDwellMS) + pad.Time(y.rng.Float64()*float64(ms(y.p.DwellMeanMS/2))), id: y.nextID, kind: goUp, panel: p})
}

// settle turns an event into an edge where the panel's state lets it.
func (y *Player) settle(e event) (pad.Edge, bool) {
	s := &y.panels[e.panel]
	t := max(e.t, y.lastT)
	switch e.kind {
	case strayDown:
		if s.down || s.waiting != 0 {
			return pad.Edge{}, false
		}
		s.id, s.down, s.since = e.id, true, t
		return y.give(pad.Edge{T: t, Panel: e.panel, Kind: pad.Down}), true
	case goDown:
		if s.down { // by another foot or by a stray press: that one goes first
			up := max(t, s.since+1)
			s.down, s.waiting = false, e.id
			y.push(event{t: up + regap, id: e.id, kind: goDown, panel: e.panel})
			return y.give(pad.Edge{T: up, Panel: e.panel, Kind: pad.Up}), true
		}
		if s.waiting == e.id {
			s.waiting = 0
		}
		s.id, s.down, s.since = e.id, true, t
		return y.give(pad.Edge{T: t, Panel: e.panel, Kind: pad.Down}), true
	case goUp:
		if s.waiting == e.id && e.id != 0 { // has not come down yet
			y.push(event{t: t + 2*regap, id: e.id, kind: goUp, panel: e.panel})
			return pad.Edge{}, false
		}
		if s.id != e.id {
			return pad.Edge{}, false // ended by the press after it
		}
		s.id = 0 // no bounce after this
		if !s.down {
			return pad.Edge{}, false
		}
		s.down = false
		return y.give(pad.Edge{T: max(t, s.since+1), Panel: e.panel, Kind: pad.Up}), true
	case bounceUp:
		if s.id != e.id || !s.down {
			return pad.Edge{}, false
		}
		s.down = false
		return y.give(pad.Edge{T: max(t, s.since+1), Panel: e.panel, Kind: pad.Up}), true
	default: // bounceDown
		if s.id != e.id || s.down || s.waiting != 0 {
			return pad.Edge{}, false
		}
		s.down, s.since = true, t
		return y.give(pad.Edge{T: t, Panel: e.panel, Kind: pad.Down}), true
	}
}

func (y *Player) give(e pad.Edge) pad.Edge {
	y.lastT = e.T
	return e
}

// before orders events; at one moment by id, so that a run is the same each time.
func (e *event) before(o *event) bool {
	if e.t != o.t {
		return e.t < o.t
	}
	if e.id != o.id {
		return e.id < o.id
	}
	return e.kind < o.kind
}

// push and pop keep the heap by hand: the standard one allocates each event.
func (y *Player) push(e event) {
	h := append(y.events, e)
	i := len(h) - 1
	for i > 0 {
		up := (i - 1) / 2
		if !h[i].before(&h[up]) {
			break
		}
		h[i], h[up] = h[up], h[i]
		i = up
	}
	y.events = h
}

func (y *Player) pop() event {
	h := y.events
	top := h[0]
	n := len(h) - 1
	h[0] = h[n]
	h = h[:n]
	for i := 0; ; {
		c := 2*i + 1
		if c >= n {
			break
		}
		if c+1 < n && h[c+1].before(&h[c]) {
			c++
		}
		if !h[c].before(&h[i]) {
			break
		}
		h[i], h[c] = h[c], h[i]
		i = c
	}
	y.events = h
	return top
}
