package footing

import (
	"math"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// Range is the tempi, in beats a minute, from the slowest to the fastest. The zero
// Range is none.
type Range struct{ Slowest, Fastest float64 }

// Has tells whether bpm is in r.
func (r Range) Has(bpm float64) bool { return r.Slowest <= bpm && bpm <= r.Fastest }

// None tells whether no tempo is in r.
func (r Range) None() bool { return r == Range{} }

// tempi gives for each band the tempi at which no landing's notes lie further
// apart than the band is wide and nothing needs more time than it has.
//
// Every landing is taken to come down midway between its notes, moved by the same
// amount for all, since a player keeps to one offset. So the time between two
// landings, and with it the fastest tempo, is the same in every band; that single
// notes could be struck off their moment to win time is not counted on.
func (w *walk) tempi(lns []landing, bounds []bound, windows drill.Windows) (tempo [3]Range) {
	fastest := drill.MaxBPM
	for _, b := range bounds {
		if b.need > timeEps {
			// Half the tolerance, so that the fastest tempo itself is within it.
			fastest = min(fastest, tempoFor(w.d, float64(b.have2)/2, b.need-timeEps/2))
		}
	}
	span := int32(0)
	for i := range lns {
		span = max(span, lns[i].span)
	}
	for b := range tempo {
		slowest := drill.MinBPM
		if span > 0 {
			width := float64(windows[b].Late - windows[b].Early)
			slowest = max(slowest, tempoFor(w.d, float64(span), width)) // +Inf for a band without width
		}
		if slowest <= fastest {
			tempo[b] = Range{slowest, fastest}
		}
	}
	return tempo
}

// tempoFor gives the tempo at which slots of d last as long as the time given, in microseconds.
func tempoFor(d *drill.Drill, slots, us float64) float64 {
	return 60e6 * slots / (float64(d.PerBeat) * us)
}

// Aim is the moment at which a landing that gathers notes should come down.
type Aim struct {
	Landing int

	// Band is the tightest band that every note of it can be in; Absent where
	// there is none.
	Band drill.Band

	// Aim is the moment, from the landing's first due moment; Slack is how far the
	// landing may stray from it either way before a note leaves the band.
	Aim, Slack pad.Time
}

// spanUS gives the time between the due moments of two slots, rounded up to whole
// microseconds: in a run due moments are rounded, and may lie that far apart.
func spanUS(d *drill.Drill, slots int32) pad.Time {
	return pad.Time(math.Ceil(float64(slots)*slotUS(d) - timeEps))
}

// aimOf gives the aim of a landing whose notes span the time given. The landing
// may be as early as the last note's early end and as late as the first note's
// late end; the aim lies midway between these.
func aimOf(landing int, span pad.Time, windows drill.Windows) Aim {
	for b := range windows {
		first, last := span+windows[b].Early, windows[b].Late
		if first <= last {
			aim := first + (last-first)/2
			return Aim{landing, drill.Band(b), aim, aim - first}
		}
	}
	return Aim{landing, drill.Absent, span / 2, 0}
}
