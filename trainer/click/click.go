// Package click says which clicks a run has and when each is due. It is pure:
// what makes them heard is elsewhere, and a run without sound has the same clicks.
package click

import (
	"fmt"
	"strings"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// Level is how much a click stands out.
type Level uint8

// Levels of a click.
const (
	Silent Level = iota // it is due and not heard
	Part                // of a beat that is divided
	Beat
	Accent // the first beat of a rep
)

func (l Level) String() string {
	switch l {
	case Silent:
		return "silent"
	case Part:
		return "part"
	case Beat:
		return "beat"
	case Accent:
		return "accent"
	}
	return fmt.Sprintf("Level(%d)", uint8(l))
}

// Options choose the clicks of a run. The zero value is a click on every beat.
type Options struct {
	// Subdivide is the number of clicks in a beat; 0 stands for 1. It must divide
	// the drill's per_beat, so that every click lies on a slot.
	Subdivide int64
	// SilentAfter is the number of reps, from the first, that the click
	// accompanies; those after them are silent. 0: it accompanies all.
	SilentAfter int64
	// SilentEvery makes one rep in so many silent: with 4 the fourth, the
	// eighth and so on. 0: none.
	SilentEvery int64
	// Before is the number of reps that were played in earlier parts of the run:
	// SilentAfter and SilentEvery count them too.
	Before int64
}

// Schedule is the clicks of one run, numbered from 0: those of the count-in,
// then rep by rep those of its beats and of the rest after it. It is not changed
// once made and may be used by several goroutines.
//
// The count-in has its beats alone. The beats of a rep are counted from its
// start, so where a rep is not a whole number of beats long its last beat is cut
// short and the accent stays on its first slot. The beats of a rest are counted
// from its own start: they lead evenly into the rep that follows. After the last
// rep there is no rest. A rest is silent where the reps on both sides of it are.
type Schedule struct {
	o       Options
	grid    drill.Grid
	countIn int64
	perBeat int64
	step    int64 // slots from a click to the next
	slots   int64 // of a rep without its rest
	inRep   int64 // clicks of a rep without its rest
	period  int64 // and with it
	n       int64
}

// New gives the clicks of a run of d whose first slot is at lead.
func New(d *drill.Drill, lead pad.Time, o Options) (*Schedule, error) {
	if o.Subdivide == 0 {
		o.Subdivide = 1
	}
	switch {
	case o.Subdivide < 1 || d.PerBeat%o.Subdivide != 0:
		return nil, fmt.Errorf("%d clicks a beat do not fit a beat of %d slots; %s do", o.Subdivide, d.PerBeat, divisors(d.PerBeat))
	case o.SilentAfter < 0:
		return nil, fmt.Errorf("the click cannot be silent after %d reps", o.SilentAfter)
	case o.SilentEvery < 0:
		return nil, fmt.Errorf("the click cannot be silent every %d reps", o.SilentEvery)
	case o.Before < 0:
		return nil, fmt.Errorf("%d reps cannot have been played before", o.Before)
	}
	s := &Schedule{o: o, grid: d.Grid(lead), countIn: d.CountIn(), perBeat: d.PerBeat, step: d.PerBeat / o.Subdivide, slots: d.Slots}
	s.inRep = (d.Slots + s.step - 1) / s.step
	rest := d.RestBeats * o.Subdivide
	s.period = s.inRep + rest
	// A drill has at most drill.MaxRun / 1.25 ms slots in all, so this stays far below 2⁶³.
	s.n = s.countIn + d.Reps*s.period - rest
	return s, nil
}

// divisors lists what divides n.
func divisors(n int64) string {
	var out []string
	for k := int64(1); k <= n; k++ {
		if n%k == 0 {
			out = append(out, fmt.Sprint(k))
		}
	}
	if len(out) == 1 {
		return out[0]
	}
	return strings.Join(out[:len(out)-1], ", ") + " and " + out[len(out)-1]
}

// Len gives the number of clicks, silent ones among them.
func (s *Schedule) Len() int64 { return s.n }

// CountIn gives the number of clicks of the count-in, which are the first.
func (s *Schedule) CountIn() int64 { return s.countIn }

// At gives the moment of click k, 0 to Len-1, and its level. The moment is
// computed from k in whole numbers, as the due moments of notes are, and equals
// that of a note in the same slot. It does not allocate.
func (s *Schedule) At(k int64) (due pad.Time, level Level) {
	if k < s.countIn {
		return s.grid.Due(0, (k-s.countIn)*s.perBeat), Beat
	}
	k -= s.countIn
	rep, j := k/s.period, k%s.period
	slot, beat, silent := j*s.step, j%s.o.Subdivide == 0, s.o.Silent(rep)
	if j >= s.inRep {
		r := j - s.inRep
		slot, beat = s.slots+r*s.step, r%s.o.Subdivide == 0
		silent = silent && s.o.Silent(rep+1)
	}
	switch {
	case silent:
		level = Silent
	case j == 0:
		level = Accent
	case beat:
		level = Beat
	default:
		level = Part
	}
	return s.grid.Due(rep, slot), level
}

// Silent tells whether a rep of this part, counted from 0, has no click.
func (o Options) Silent(rep int64) bool {
	rep += o.Before
	return o.SilentAfter > 0 && rep >= o.SilentAfter || o.SilentEvery > 0 && rep%o.SilentEvery == o.SilentEvery-1
}

// From gives the first click that is due at t or after, Len where there is none.
func (s *Schedule) From(t pad.Time) int64 {
	lo, hi := int64(0), s.n
	for lo < hi {
		m := lo + (hi-lo)/2
		if due, _ := s.At(m); due < t {
			lo = m + 1
		} else {
			hi = m
		}
	}
	return lo
}
