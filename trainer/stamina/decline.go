package stamina

import (
	"math"

	"heeltoe/trainer/estimate"
	"heeltoe/trainer/trend"
)

// Course is how a figure went over the reps of a run, or over repeated runs.
type Course struct {
	Slope  estimate.Figure // for one rep, Theil–Sen
	P      float64         // Mann–Kendall, two-sided
	Rising bool            // a rise is shown: P below Shown and the slope above 0
	Falls  bool            // a fall is shown
	Change int             // first rep of a new level, −1 where none is shown
}

// Shown is the probability of chance below which a trend or a change counts as shown.
const Shown = 0.05

// LeastReps are the fewest that a course is told of.
const LeastReps = 8

// mostPoints are looked at pair by pair; of more reps some at a time are summed up.
const mostPoints = 500

// CourseOf gives the course of a figure, one value a rep in their order; NaN is
// left out, and its place with it. More than 500 reps are first summed up in groups
// of consecutive ones by their mean. It refuses fewer than LeastReps.
func CourseOf(values []float64) (Course, error) {
	group := (len(values) + mostPoints - 1) / mostPoints
	var at, y []float64
	for i := 0; i < len(values); i += group {
		sum, n := 0.0, 0
		for _, v := range values[i:min(i+group, len(values))] {
			if !math.IsNaN(v) {
				sum, n = sum+v, n+1
			}
		}
		if n > 0 {
			at, y = append(at, float64(i)+float64(group-1)/2), append(y, sum/float64(n))
		}
	}
	if len(y) < LeastReps {
		return Course{}, estimate.Refusef("%d reps are fewer than %d", len(y), LeastReps)
	}
	line, err := trend.TheilSen(at, y, estimate.Level)
	if err != nil {
		return Course{}, err
	}
	test, err := trend.MannKendall(y)
	if err != nil {
		return Course{}, err
	}
	change, err := trend.Pettitt(y)
	if err != nil {
		return Course{}, err
	}
	c := Course{Slope: line.Slope, P: test.P, Change: -1}
	c.Rising = test.P < Shown && test.S > 0
	c.Falls = test.P < Shown && test.S < 0
	if change.P < Shown {
		c.Change = int(at[change.At])
	}
	return c, nil
}

// Tiring tells whether the spread rises or the share of good reps falls in the way
// that tired feet do; then it is time to stop.
func Tiring(spread, success Course) bool { return spread.Rising || success.Falls }
