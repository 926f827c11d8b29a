package lesson

import (
	"math"

	"heeltoe/trainer/estimate"
	"heeltoe/trainer/success"
)

// Change is what became of a limit since the lesson.
type Change struct {
	Before, After       estimate.Figure // beats a minute
	BeforeWhy, AfterWhy error           // why they cannot be told
	Difference          estimate.Figure // after less before, beats a minute; an end may be infinite
	Why                 error           // why it cannot be told
}

// Shown tells whether the change is beyond chance.
func (c *Change) Shown() bool { return c.Why == nil && c.Difference.Shown() }

// Compare compares trials before a lesson with trials after it: the tempo at which the
// share is good.
func Compare(before, after []success.Trials, share float64) Change {
	c := Change{Difference: estimate.Untold(0)}
	slowest, fastest := math.Inf(1), math.Inf(-1)
	for _, all := range [][]success.Trials{before, after} {
		n := 0
		for _, t := range all {
			if n += t.N; t.N > 0 {
				slowest, fastest = min(slowest, t.BPM), max(fastest, t.BPM)
			}
		}
		if n == 0 {
			c.Why = estimate.Refusef("there are no reps on one side of the lesson")
			c.BeforeWhy, c.AfterWhy = c.Why, c.Why
			return c
		}
	}
	beliefs := [2]*success.Posterior{success.Believe(before, slowest, fastest), success.Believe(after, slowest, fastest)}
	c.Before, c.BeforeWhy = beliefs[0].Within(share, slowest, fastest)
	c.After, c.AfterWhy = beliefs[1].Within(share, slowest, fastest)
	c.Difference, c.Why = success.Difference(beliefs[0], beliefs[1], share, estimate.Level, slowest, fastest)
	return c
}
