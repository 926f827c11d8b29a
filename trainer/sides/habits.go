package sides

import (
	"heeltoe/footing/pad"
	"heeltoe/trainer/estimate"
	"heeltoe/trainer/view"
)

// Feet is which foot did what in the reps of one run, as they were read.
type Feet struct {
	Lead   Count // reps that a foot alone began
	Centre Count // presses of a centre panel
}

// Count counts how often each foot did something, by pad.Left and pad.Right.
type Count [2]int

// add counts a foot by its name.
func (c *Count) add(foot string) {
	switch foot {
	case pad.Left.String():
		c[pad.Left]++
	case pad.Right.String():
		c[pad.Right]++
	}
}

// Habits is with which foot runs were begun, and which took the centre.
type Habits struct{ Lead, Centre Habit }

// Habit is the share of runs in which the left foot did it more often than the
// right. Runs are what is counted, since the reading holds on to one foot through a run.
type Habit struct{ estimate.Figure }

// Foot gives the foot that is shown to do it in most runs.
func (h Habit) Foot() (pad.Foot, bool) {
	switch {
	case h.Low > 0.5:
		return pad.Left, true
	case h.High < 0.5:
		return pad.Right, true
	}
	return pad.Left, false
}

// HabitsOf sums up runs; those in which both feet did it equally often count for nothing.
func HabitsOf(runs []Feet) Habits {
	var lead, centre []Count
	for _, f := range runs {
		lead, centre = append(lead, f.Lead), append(centre, f.Centre)
	}
	return Habits{habit(lead), habit(centre)}
}

func habit(runs []Count) Habit {
	left, n := 0, 0
	for _, c := range runs {
		switch {
		case c[pad.Left] > c[pad.Right]:
			left, n = left+1, n+1
		case c[pad.Left] < c[pad.Right]:
			n++
		}
	}
	return Habit{estimate.Share(left, n, estimate.Level)}
}

// ByHabit gives the foot that does something on both sides alike. Where the feet
// change with the side, it is the drill that decides, and there is no habit.
func ByHabit(first, second Habit) (pad.Foot, bool) {
	a, okA := first.Foot()
	b, okB := second.Foot()
	return a, okA && okB && a == b
}

// centres are the ids of the panels in the middle of a pad.
var centres = map[string]bool{"c": true, "1c": true, "2c": true}

// RunOf gives what a comparison needs of a run that was reviewed with its feet.
func RunOf(r *view.Report) Run {
	out := Run{BPM: r.BPM, ScatterUS: float64(r.Summary.Scatter)}
	for i := range r.Reps[:min(len(r.Reps), r.Summary.RepsBegun)] {
		switch r.Reps[i].Outcome {
		case view.Good:
			out.Good++
			out.Clear++
		case view.Bad:
			out.Clear++
		}
	}
	for i := range r.Notes {
		n := &r.Notes[i]
		if centres[n.Panel] && n.Foot != "" {
			out.Feet.Centre.add(string(n.Foot))
		}
	}
	led := -1 // the rep of which the first landing was seen
	for i := range r.Landings {
		l := &r.Landings[i]
		if l.Rep != led {
			led = l.Rep
			if len(l.Contacts) == 1 {
				out.Feet.Lead.add(l.Contacts[0].Foot)
			}
		}
		for _, c := range l.Contacts {
			if c.Kind != "bracket" {
				continue
			}
			missed := 0
			for _, m := range l.Missed {
				for _, n := range c.Notes {
					if m == n {
						missed++
					}
				}
			}
			if missed < len(c.Notes) {
				out.Brackets++
				out.Halves += missed
			}
		}
	}
	return out
}
