// Package estimate says how sure a figure is: its value with an interval and the
// number of observations behind it, and the bootstrap that gives intervals where
// no formula does. Figures keep the unit of what they were made of.
package estimate

import (
	"fmt"
	"math"
	"slices"
)

// Level is the share of intervals, over many uses, that hold the true value.
// All intervals of the program are made for it.
const Level = 0.90

// Tail is the share left out on each side of an interval.
const Tail = (1 - Level) / 2

// Interval is where a true value probably lies. Both ends are NaN where nothing
// can be said; an end may be infinite.
type Interval struct{ Low, High float64 }

// Unknown is the Interval that says nothing.
var Unknown = Interval{math.NaN(), math.NaN()}

// Known tells whether i says anything.
func (i Interval) Known() bool { return !math.IsNaN(i.Low) && !math.IsNaN(i.High) }

// Holds tells whether x lies in i, ends included; false where i is Unknown.
func (i Interval) Holds(x float64) bool { return i.Low <= x && x <= i.High }

// Figure is an estimated value with its interval.
type Figure struct {
	Value float64
	Interval
	N int // observations that it rests on
}

// Shown tells whether f, a change or a difference, is shown to be one: the interval is known
// and leaves out that there is none.
func (f *Figure) Shown() bool { return f.Known() && !f.Holds(0) }

// Untold is a figure of n observations that tell nothing: no value and no interval.
func Untold(n int) Figure { return Figure{Value: math.NaN(), Interval: Unknown, N: n} }

// Refused is a figure that cannot be estimated: why not, in words for the player.
type Refused struct{ Reason string }

func (r *Refused) Error() string { return r.Reason }

// Refusef makes a *Refused.
func Refusef(format string, args ...any) error { return &Refused{fmt.Sprintf(format, args...)} }

// Quantile gives the p-quantile of values, which it sorts: linear interpolation
// between the order statistics about p·(n−1), the rule that R calls type 7. NaN of none.
func Quantile(values []float64, p float64) float64 {
	if len(values) == 0 {
		return math.NaN()
	}
	slices.Sort(values)
	h := p * float64(len(values)-1)
	i := int(h)
	if i+1 >= len(values) {
		return values[len(values)-1]
	}
	return values[i] + (h-float64(i))*(values[i+1]-values[i])
}

// Middle gives the central Level of values, which it sorts.
func Middle(values []float64) Interval {
	return Interval{Quantile(values, Tail), Quantile(values, 1-Tail)}
}
