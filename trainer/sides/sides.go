// Package sides compares a drill with its mirror image, side by side: at which
// tempo each breaks, how wide its presses scatter, how often half of a bracket is
// missed. It tells a weak side from chance, and says which foot a player begins
// with and which takes the centre by habit.
package sides

import (
	"cmp"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"heeltoe/trainer/estimate"
	"heeltoe/trainer/success"
)

// Level is that of each interval of a Comparison: its three hold all at once
// about nine times in ten (Bonferroni's bound), so that of ten players with equal
// sides at most one is told of a weak one.
const Level = 1 - (1-estimate.Level)/3

// Run is what a comparison needs of one run. A rep that is not clear counts in
// neither Good nor Clear.
type Run struct {
	BPM         float64 // beats a minute
	Good, Clear int     // reps
	ScatterUS   float64 // scatter in µs: half of the notes lie so near to their own median; NaN of none
	Brackets    int     // contacts of one foot on two panels at once, as read
	Halves      int     // of them, those of which one panel alone was pressed
	Feet        Feet
}

// Side is the runs of one side together.
type Side struct {
	Runs      int
	Trials    []success.Trials // by tempo, slowest first
	Limit     estimate.Figure  // tempo in beats a minute at which the share of reps is good
	LimitWhy  error            // why Limit says nothing, nil where it does
	ScatterUS float64          // mean over the runs; NaN of none
	Scatters  int              // runs with a scatter
	Halves    estimate.Figure  // share of the brackets of which half was missed; NaN of none
	Habits    Habits
}

// Difference is a figure of the second side against that of the first.
type Difference struct {
	estimate.Figure
	Why error // why it cannot be told, nil where it can
}

// Comparison is two sides, side by side.
type Comparison struct {
	Sides   [2]Side
	Limit   Difference // second less first, beats a minute; an end may be infinite, then Value is NaN
	Scatter Difference // second as a multiple of the first
	Halves  Difference // second less first, of the share
}

// Compare compares the runs of a drill with those of its mirror image. share is
// that of good reps at the limit.
func Compare(first, second []Run, share float64) Comparison {
	runs := [2][]Run{first, second}
	c := Comparison{}
	slowest, fastest := math.Inf(1), math.Inf(-1)
	for k := range runs {
		c.Sides[k] = side(runs[k])
		for _, t := range c.Sides[k].Trials {
			slowest, fastest = min(slowest, t.BPM), max(fastest, t.BPM)
		}
	}
	var belief [2]*success.Posterior
	for k := range belief {
		s := &c.Sides[k]
		if len(s.Trials) == 0 {
			s.Limit, s.LimitWhy = estimate.Untold(0), estimate.Refusef("no rep is clear")
			continue
		}
		belief[k] = success.Believe(s.Trials, slowest, fastest)
		s.Limit, s.LimitWhy = belief[k].Within(share, slowest, fastest)
	}
	if belief[0] == nil || belief[1] == nil {
		c.Limit = untold(cmp.Or(c.Sides[0].LimitWhy, c.Sides[1].LimitWhy))
	} else {
		c.Limit.Figure, c.Limit.Why = success.Difference(belief[0], belief[1], share, Level, slowest, fastest)
	}
	c.Scatter = ratio(first, second)
	c.Halves = halves(first, second)
	return c
}

// untold is a difference that cannot be told.
func untold(why error) Difference {
	return Difference{estimate.Untold(0), why}
}

// Weaker gives the side that is shown to be weaker, 0 or 1, and which of limit,
// scatter and halves show it. It is −1 where none does, or where they contradict
// one another; then by names what was shown.
func (c *Comparison) Weaker() (side int, by []string) {
	weak := [2]bool{}
	for _, d := range []struct {
		name  string
		of    *Difference
		equal float64 // the figure where the sides are equal
		more  int     // the side that is weaker where it is above that
	}{{"limit", &c.Limit, 0, 0}, {"scatter", &c.Scatter, 1, 1}, {"halves", &c.Halves, 0, 1}} {
		switch {
		case d.of.Low > d.equal:
			weak[d.more] = true
		case d.of.High < d.equal:
			weak[1-d.more] = true
		default:
			continue
		}
		by = append(by, d.name)
	}
	switch weak {
	case [2]bool{true, false}:
		return 0, by
	case [2]bool{false, true}:
		return 1, by
	}
	return -1, by
}

func side(runs []Run) Side {
	s := Side{Runs: len(runs), ScatterUS: math.NaN()}
	sum, brackets, half := 0.0, 0, 0
	var feet []Feet
	for _, r := range runs {
		if r.Clear > 0 {
			s.Trials = success.Add(s.Trials, success.Trials{BPM: r.BPM, Good: r.Good, N: r.Clear})
		}
		if !math.IsNaN(r.ScatterUS) {
			sum, s.Scatters = sum+r.ScatterUS, s.Scatters+1
		}
		brackets, half = brackets+r.Brackets, half+r.Halves
		feet = append(feet, r.Feet)
	}
	if s.Scatters > 0 {
		s.ScatterUS = sum / float64(s.Scatters)
	}
	s.Halves = estimate.Share(half, brackets, Level)
	s.Habits = HabitsOf(feet)
	return s
}

// halves compares the shares of brackets of which half was missed.
func halves(first, second []Run) Difference {
	var half, n [2]int
	for k, runs := range [2][]Run{first, second} {
		for _, r := range runs {
			half[k], n[k] = half[k]+r.Halves, n[k]+r.Brackets
		}
	}
	if n[0] == 0 || n[1] == 0 {
		return untold(estimate.Refusef("no bracket was read on both sides"))
	}
	return Difference{Figure: estimate.ShareDifference(half[1], n[1], half[0], n[0], Level)}
}

// tempoBand is how near in tempo runs must be for their scatters to be compared, in
// beats a minute (design value, as for progress over weeks).
const tempoBand = 10

// ratio compares the scatters of two sides at like tempi: least squares of the
// logarithm of the scatter on the band of tempo and the side, whole runs being what
// varies; Student's interval. In a band with n and m runs of the two sides its
// difference has the weight n·m/(n + m).
func ratio(first, second []Run) Difference {
	type cell struct{ x [2][]float64 }
	bands := map[int]*cell{}
	for k, runs := range [2][]Run{first, second} {
		for _, r := range runs {
			if !(r.ScatterUS > 0) {
				continue
			}
			band := int(math.Floor(r.BPM / tempoBand))
			if bands[band] == nil {
				bands[band] = &cell{}
			}
			bands[band].x[k] = append(bands[band].x[k], math.Log(r.ScatterUS))
		}
	}
	var weight, sum, squares, runs, shared float64
	type part struct{ weight, difference float64 }
	var parts []part
	for _, b := range bands {
		n, m := float64(len(b.x[0])), float64(len(b.x[1]))
		if n == 0 || m == 0 {
			continue
		}
		m0, s0 := about(b.x[0])
		m1, s1 := about(b.x[1])
		w := n * m / (n + m)
		parts = append(parts, part{w, m1 - m0})
		weight, sum, squares = weight+w, sum+w*(m1-m0), squares+s0+s1
		runs, shared = runs+n+m, shared+1
	}
	if shared == 0 {
		return untold(estimate.Refusef("no runs of both sides at tempi within %d beats a minute", tempoBand))
	}
	free := runs - shared - 1
	if free < 1 {
		return untold(estimate.Refusef("%.0f runs are too few to compare scatters", runs))
	}
	d := sum / weight
	for _, p := range parts {
		squares += p.weight * (p.difference - d) * (p.difference - d)
	}
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: free}.Quantile((1 + Level) / 2)
	half := t * math.Sqrt(squares/free/weight)
	return Difference{Figure: estimate.Figure{Value: math.Exp(d), N: int(runs),
		Interval: estimate.Interval{Low: math.Exp(d - half), High: math.Exp(d + half)}}}
}

// about gives the mean of values and the sum of the squares about it.
func about(x []float64) (mean, squares float64) {
	for _, v := range x {
		mean += v / float64(len(x))
	}
	for _, v := range x {
		squares += (v - mean) * (v - mean)
	}
	return mean, squares
}
