// Package adapt chooses the tempo of the next block of reps from how the ones
// before went: adaptive tempo, a ladder, bursts, holding out, and two ways in turn. It
// is pure: who plays the blocks, judges the reps and rests in between is elsewhere.
// Tempi are beats a minute.
package adapt

import (
	"fmt"
	"time"

	"heeltoe/footing/pad"
)

// Outcome is how a rep went.
type Outcome uint8

// Outcomes of a rep.
const (
	Good    Outcome = iota // bands and technique were right
	Bad                    // one of them was not
	Unclear                // it cannot be told: the rep counts for nothing and is repeated
)

func (o Outcome) String() string {
	switch o {
	case Good:
		return "good"
	case Bad:
		return "bad"
	case Unclear:
		return "unclear"
	}
	return fmt.Sprintf("Outcome(%d)", uint8(o))
}

// Block is reps at one tempo, played as one run.
type Block struct {
	BPM    float64
	Reps   int64
	Rest   time.Duration // before it
	Way    int           // 0, or 1 for the second of two ways to play
	WarmUp bool          // its reps do not count
	// Enough, where it is not nil, ends the block early: it is asked after each
	// rep with the outcomes so far.
	Enough func(outcomes []Outcome) bool
}

// Plan gives blocks one after another.
type Plan interface {
	// Next gives the next block; false: the plan is over.
	Next() (Block, bool)
	// Played takes how the reps of the block went that Next gave last, as many as were played.
	Played(outcomes []Outcome)
}

// tally counts outcomes.
func tally(outcomes []Outcome) (good, bad, unclear int) {
	for _, o := range outcomes {
		switch o {
		case Good:
			good++
		case Bad:
			bad++
		default:
			unclear++
		}
	}
	return good, bad, unclear
}

// RepLength gives how long a rep of so many slots lasts at a tempo.
func RepLength(slots, perBeat int64, bpm float64) time.Duration {
	return pad.Time(float64(slots) * 60e6 / (bpm * float64(perBeat))).Duration()
}
