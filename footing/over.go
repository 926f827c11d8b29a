package footing

import (
	"fmt"
	"math"

	"heeltoe/judge/drill"
)

// Stretch is tempi, in whole beats a minute, over which one footing is the easiest
// that works; Footing is nil where none does, and else says what it asks at Slowest.
type Stretch struct {
	Slowest, Fastest float64
	Footing          *Footing
}

// overStep is the ratio between two tempi at which Over looks for footings.
const overStep = 1.03

// Over gives, from one tempo to another, which footing of d is the easiest that
// works, in steps of one beat a minute. It looks for footings at tempi 3 % apart and
// compares all of them at every step.
func Over(d *drill.Drill, body Body, windows drill.Windows, filter Filter, from, to float64) ([]Stretch, error) {
	if !(from >= drill.MinBPM && to <= drill.MaxBPM && from <= to) {
		return nil, fmt.Errorf("tempi from %g to %g are not in order within %g to %g", from, to, drill.MinBPM, drill.MaxBPM)
	}
	var ways [][]drill.Contact
	seen := make(map[string]bool)
	for bpm := from; ; bpm = min(bpm*overStep, to) {
		e, err := d.WithTempo(bpm)
		if err != nil {
			return nil, err
		}
		footings, err := Best(e, body, windows, filter, 3)
		if err != nil {
			return nil, err
		}
		for _, f := range footings {
			if text := drill.FootingText(d, f.Contacts); f.Feasible && !seen[text] {
				seen[text] = true
				ways = append(ways, f.Contacts)
			}
		}
		if bpm == to {
			break
		}
	}
	var all []Stretch
	easiest := -1 // index in ways; of equally easy ones it stays the same from tempo to tempo
	for bpm := from; bpm <= to; bpm = math.Floor(bpm) + 1 {
		e, err := d.WithTempo(bpm)
		if err != nil {
			return nil, err
		}
		w := newWalk(e, groundOf(e, &body, nil), windows)
		was := easiest
		var best *Footing
		if was >= 0 {
			if f := w.check(ways[was], windows); f.Feasible {
				best = f
			}
		}
		if best == nil {
			easiest = -1
		}
		for i, way := range ways {
			const tie = 1e-9
			if f := w.check(way, windows); f.Feasible && (best == nil || f.Load < best.Load-tie) {
				best, easiest = f, i
			}
		}
		if len(all) == 0 || easiest != was {
			all = append(all, Stretch{Slowest: bpm, Footing: best})
		}
		all[len(all)-1].Fastest = bpm
	}
	return all, nil
}
