package footing

import (
	"fmt"
	"math"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// walk is a drill at a tempo as a body walks it, landing by landing. Its times
// are in microseconds.
type walk struct {
	d      *drill.Drill
	ground *ground
	half   float64 // half a slot
	outer  float64 // the outer band from its early to its late end
	capped int32   // half slots after which a foot's rest is no longer counted

	cycle, press, swing, perMM, stagger, rollLag, clear, holdEarly float64
	alone, together                                                [3]float64
	leg, lift                                                      float64 // kg moved, J to lift it

	rests   []rest  // by half slots since a foot's last press; the last for all more
	holds   bool    // some note is to be held
	maxTurn float64 // degrees, 180 for any
	quiet   bool    // no panel-free time
	unknown bool    // feet of which nothing is known may stand anywhere
	mostRun uint16  // landings in a row of one foot while the other one could play
	sound   bool    // nothing that cannot be done
}

// newWalk prepares d on the ground given. Rest is counted without end.
func newWalk(d *drill.Drill, g *ground, windows drill.Windows) *walk {
	b := g.body
	w := &walk{d: d, ground: g, half: slotUS(d) / 2, outer: float64(windows[drill.Outer].Late - windows[drill.Outer].Early),
		capped: math.MaxInt32 / 4,
		cycle:  microseconds(b.Cycle), press: microseconds(b.Press), swing: microseconds(b.Swing), perMM: microseconds(b.SwingPerMetre) / 1000,
		stagger: microseconds(b.Stagger), rollLag: microseconds(b.RollLag), clear: microseconds(b.Clear), holdEarly: microseconds(b.HoldEarly),
		leg: b.MassKG * b.LegShare, maxTurn: 180, mostRun: math.MaxUint16}
	w.lift = w.leg * gravity * b.LiftMM / 1000
	for n := 0; ; n++ {
		us := min(max(float64(n)*w.half, 1), restedUS)
		w.rests = append(w.rests, rest{1 / us, 1000 / max(us-w.press, shortestSwingUS)})
		if us == restedUS {
			break
		}
	}
	for i := range d.Notes {
		w.holds = w.holds || d.Notes[i].Hold > 0
	}
	for i := range 3 {
		w.alone[i], w.together[i] = microseconds(b.Alone[i]), microseconds(b.Together[i])
	}
	return w
}

// rest is what a foot's rest means for its next move.
type rest struct {
	perRest  float64 // 1 / its length in microseconds
	perSwing float64 // speed in m/s of a swing by 1 mm in that time
}

// slotUS gives the length of a slot in microseconds.
func slotUS(d *drill.Drill) float64 { return 60e6 / (d.BPM * float64(d.PerBeat)) }

// state is all of the past that the next landing depends on. Slots are of the
// rep that goes on.
type state struct {
	at   [2]place
	rest [2]int32  // half slots from each foot's last press to the slot of the latest note
	last footSet   // feet of the latest landing
	seen footSet   // feet that have come down in this rep
	run  uint16    // how many landings in a row had just these feet, up to mostRuns
	pins [2][2]pin // notes that each foot holds; the zero pin is none
}

// pin is a held note under a foot: the note's index plus one, and in the upper bits
// how many reps ago it was pressed. The zero pin is none. It has no gaps, nor has
// state, so that states compare as plain memory.
type pin uint32

const pinReps = 24 // bits for the note

func (p pin) held() bool { return p > 0 }
func (p pin) note() int  { return int(p&(1<<pinReps-1)) - 1 }
func (p pin) panel(d *drill.Drill) pad.Panel {
	return d.Notes[p.note()].Panel
}

// end gives the slot of the rep that goes on at which the hold ends.
func (p pin) end(d *drill.Drill) int64 {
	n := &d.Notes[p.note()]
	return int64(n.Slot) + int64(n.Hold) - int64(p>>pinReps)*d.RepSlots()
}

// mostRuns is where landings in a row are no longer counted: the limit for every
// one after the third is the same.
const mostRuns = 3

// runOf gives how many landings in a row have just these feet, if they come next.
func (s *state) runOf(feet footSet) uint16 {
	if s.last != feet {
		return 1
	}
	return s.run + 1
}

// start is the state of feet of which nothing is known.
func start() state {
	return state{at: [2]place{nowhere, nowhere}}
}

// nextRep gives the state at a rep's end in slots of the next rep. A foot that has
// not come down in the rep does not in the loop: it is nowhere.
func (w *walk) nextRep(s state) state {
	for f := range pad.Foot(2) {
		if !s.seen.has(f) {
			s.at[f], s.rest[f], s.pins[f] = nowhere, 0, [2]pin{}
		}
	}
	s.seen = 0
	for f := range s.pins {
		for i := range s.pins[f] {
			if s.pins[f][i].held() {
				s.pins[f][i] += 1 << pinReps
			}
		}
	}
	return s
}

// active tells whether foot f still holds a note at a moment in half slots.
func (w *walk) active(s *state, f pad.Foot, at2 int64) bool {
	_, n := w.hold(s, f, at2)
	return n > 0
}

// advance takes the feet through a landing: from the state that they were in, its
// latest note at slot from, to the state s. It gives what the landing adds to the
// load and how much of it cannot be done, and false where a filter forbids
// the landing; s is then spoilt. It does not allocate unless t is given.
func (w *walk) advance(was, s *state, from int32, ln *landing, t *trace) (load float64, faults int, allowed bool) {
	load, faults = ln.load, ln.faults
	g := w.ground
	to := max(from, ln.to)
	passed := ln.at2 - 2*int64(from)
	var pinned footSet
	if w.holds {
		for f := range pad.Foot(2) {
			if w.active(was, f, ln.at2) {
				pinned |= 1 << f
			}
		}
	}
	run := was.runOf(ln.feet)
	if was.last == ln.feet {
		if was.run >= w.mostRun && ln.feet != bothFeet && pinned&^ln.feet == 0 {
			return 0, 0, false
		}
	}
	*s = *was
	lifted := ln.feet // feet that leave all panels
	for f := range pad.Foot(2) {
		if !ln.feet.has(f) {
			if s.at[f] != nowhere {
				s.rest[f] = min(s.rest[f]+2*(to-from), w.capped)
			}
			continue
		}
		var kept pin
		target := ln.place[f]
		if pinned.has(f) {
			var l float64
			var n int
			target, kept, l, n = w.called(was, s, f, pinned, passed, ln, t)
			load, faults = load+l, faults+n
			if kept.held() {
				lifted &^= 1 << f
			}
		}
		l, n := w.move(was, f, int64(was.rest[f])+passed, ln.at2, run, target, t)
		load, faults = load+l, faults+n
		if w.sound && faults > 0 {
			return 0, 0, false
		}
		s.at[f] = target
		s.rest[f] = int32(2*int64(to) - ln.end2[f])
		if w.holds {
			s.pins[f] = w.pinsOf(ln, f, kept)
		}
	}
	for f := range pad.Foot(2) {
		if ln.feet.has(f) {
			continue
		}
		handed := w.holds && s.pins[f] != was.pins[f]
		switch {
		case handed:
			s.rest[f] = int32(2*int64(to) - ln.at2)
		case s.at[f] == nowhere:
			if !w.unknown {
				lifted |= 1 << f
			}
		case g.spots[s.at[f]].panels&ln.panels != 0:
			lifted |= 1 << f
			faults += w.need(t, int64(was.rest[f])+passed, w.clear, "a panel changes feet")
		}
	}
	if w.quiet && lifted == bothFeet {
		return 0, 0, false
	}
	s.last, s.run = ln.feet, min(run, mostRuns)
	s.seen |= ln.feet
	st := g.stance(s.at)
	if math.Abs(st.facing) > w.maxTurn {
		return 0, 0, false
	}
	load += st.load
	for f := range pad.Foot(2) {
		if ln.feet.has(f) && !st.can[f] {
			faults += w.unreached(t, f, s.at[f], st)
		}
	}
	if st.apartMM > g.body.StanceMM && ln.feet|pinned == bothFeet {
		faults += w.tooWide(t, st)
	}
	if t != nil {
		t.stands(st)
	}
	return load, faults, faults == 0 || !w.sound
}

// called is foot f called to a landing from a panel that it holds. It gives the place
// that it goes to and, where it taps beside the held panel, what it keeps. If it cannot tap,
// the other foot takes the hold over, which s is told and which adds to the load.
func (w *walk) called(was, s *state, f pad.Foot, pinned footSet, passed int64, ln *landing, t *trace) (to place, kept pin, load float64, faults int) {
	g, o := w.ground, f.Other()
	to = ln.place[f]
	p, n := w.hold(was, f, ln.at2)
	if n == 1 && ln.contacts[f].Kind == drill.Step {
		// What no foot reaches is not asked for, though another contact may have brought it here.
		if both, ok := g.placeOf(drill.Bracket, g.spots[to].panels.With(p.panel(w.d))); ok && g.spots[both].can {
			return both, p, 0, 0
		}
	}
	if n > 1 || (ln.feet | pinned).has(o) {
		return to, kept, 0, w.impossible(t, "a foot that holds a panel is called elsewhere")
	}
	held, _ := g.placeOf(drill.Step, pad.SetOf(p.panel(w.d)))
	load, faults = w.move(was, o, int64(was.rest[o])+passed, ln.at2, 0, held, t)
	s.at[o], s.pins[o] = held, [2]pin{p}
	s.seen |= 1 << o
	return to, kept, load, faults
}

// hold gives a note that foot f holds at a moment in half slots, and how many it does.
func (w *walk) hold(s *state, f pad.Foot, at2 int64) (p pin, n int) {
	for _, q := range s.pins[f] {
		if q.held() && 2*q.end(w.d) > at2 {
			p = q
			n++
		}
	}
	return p, n
}

// pinsOf gives what foot f holds after a landing: the landing's held notes and
// the one that it kept.
func (w *walk) pinsOf(ln *landing, f pad.Foot, kept pin) (pins [2]pin) {
	n := 0
	if kept.held() {
		pins[0] = kept
		n++
	}
	if !ln.hold {
		return pins
	}
	c := &ln.contacts[f]
	for _, i := range c.NoteIndices() {
		if w.d.Notes[i].Hold > 0 {
			pins[n] = pin(i + 1)
			n++
		}
	}
	return pins
}

// move takes foot f to a place, have2 half slots after its last press, as the
// run-th landing in a row of the same feet, at a moment in half slots; run 0 is
// a foot that presses nothing new.
func (w *walk) move(was *state, f pad.Foot, have2, at2 int64, run uint16, to place, t *trace) (load float64, faults int) {
	if was.at[f] == nowhere {
		return 0, 0
	}
	limit, again := w.cycle, "again"
	switch {
	case run == 0 || !was.last.has(f):
	case run == 1: // with one foot before or now, with both the other time
		limit, again = w.together[0], "twice"
	case was.last == bothFeet:
		limit, again = w.together[min(run-2, 2)], againBoth[min(run-2, 2)]
	default:
		limit, again = w.alone[min(run-2, 2)], againAlone[min(run-2, 2)]
	}
	way := w.ground.distance(was.at[f], to)
	need := w.press + w.swing + w.perMM*way
	if need > limit {
		again = "that far"
	}
	need = max(need, limit)
	if was.last == bothFeet {
		need += w.stagger
	}
	have := float64(have2) * w.half
	if have < need-timeEps {
		faults++
	}
	if t != nil {
		t.bounds = append(t.bounds, bound{have2, need})
		if faults > 0 {
			t.fault(fmt.Sprintf("%s %s within %s, needs %s", footName(f), again, millis(have), millis(need)))
		}
	}
	if w.holds {
		for _, p := range was.pins[f] {
			if !p.held() {
				continue
			}
			if free2 := at2 - 2*p.end(w.d); free2 >= 0 {
				faults += w.need(t, free2, w.press+w.swing+w.perMM*way-w.holdEarly, "the way from a held panel")
			}
		}
	}
	r := &w.rests[min(max(have2, 0), int64(len(w.rests)-1))]
	haste := min(need*r.perRest, mostHaste)
	speed := way * r.perSwing
	effort := w.leg*speed*speed/2 + w.lift
	if t != nil {
		t.effort += effort
	}
	return weightHaste*haste*haste + weightEffort*effort, faults
}
