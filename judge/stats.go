package judge

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// Stats sums up offsets, in microseconds. What is undefined (the spread of one
// offset, anything of none) is NaN.
type Stats struct {
	N      int
	Mean   float64
	SD     float64 // sample standard deviation, with n − 1
	Median float64 // midway between the middle two where n is even
	MAD    float64 // median absolute deviation from the median, as it is
}

// Summarise gives the statistics of offsets, which it leaves as they are.
// Offsets are whole microseconds, which a float64 holds exactly, and the
// standard deviation is taken about the mean with gonum's corrected two-pass sum.
func Summarise(offsets []pad.Time) Stats {
	s := Stats{N: len(offsets), Mean: math.NaN(), SD: math.NaN(), Median: math.NaN(), MAD: math.NaN()}
	if s.N == 0 {
		return s
	}
	x := make([]float64, s.N)
	for i, o := range offsets {
		x[i] = float64(o)
	}
	s.Mean, s.SD = stat.MeanStdDev(x, nil)
	if s.N == 1 {
		s.SD = math.NaN()
	}
	slices.Sort(x)
	h := s.N / 2
	s.Median = (x[(s.N-1)/2] + x[h]) / 2
	// Distances from the median grow from the middle of x to both ends: taken from the
	// nearer end of what is left each time, the middle two are met without another sort.
	below, above := h-1, h
	var was, is float64
	for range h + 1 {
		was = is
		if above == s.N || below >= 0 && s.Median-x[below] <= x[above]-s.Median {
			is = s.Median - x[below]
			below--
		} else {
			is = x[above] - s.Median
			above++
		}
	}
	if s.N%2 == 1 {
		was = is
	}
	s.MAD = (was + is) / 2
	return s
}

// Quartiles gives the lower and the upper quartile of offsets, by linear
// interpolation between the order statistics at (n − 1)/4 and 3(n − 1)/4, the
// rule that R calls type 7; NaN of none.
func Quartiles(offsets []pad.Time) (lower, upper float64) {
	if len(offsets) == 0 {
		return math.NaN(), math.NaN()
	}
	x := slices.Clone(offsets)
	slices.Sort(x)
	at := func(q float64) float64 {
		h := q * float64(len(x)-1)
		i := int(h)
		v := float64(x[i])
		if i+1 < len(x) {
			v += (h - float64(i)) * float64(x[i+1]-x[i])
		}
		return v
	}
	return at(0.25), at(0.75)
}

// Steadiness gives the share of offsets that would lie within inner if one
// shift were added to all of them, the shift that puts most of them there, and
// that shift: the smallest in size where several do as well, and of two of one
// size the positive one. A positive shift means: press later. It gives NaN of none.
func Steadiness(offsets []pad.Time, inner drill.Bound) (share float64, shift pad.Time) {
	n := len(offsets)
	if n == 0 {
		return math.NaN(), 0
	}
	x := slices.Clone(offsets)
	slices.Sort(x)
	slices.Reverse(x)
	// Shift s serves offset x where inner.Early − x ≤ s ≤ inner.Late − x. With
	// x falling both ends rise, so the shifts that serve x[j..i] begin at the
	// start of i and end at the end of j.
	best, j := 0, 0
	for i := range x {
		start := inner.Early - x[i]
		if i+1 < n && x[i+1] == x[i] {
			continue // count all that start here
		}
		for inner.Late-x[j] < start {
			j++
		}
		end := inner.Late - x[j]
		s := min(max(0, start), end)
		if c := i - j + 1; c > best || c == best && (s.Abs() < shift.Abs() || s.Abs() == shift.Abs() && s > shift) {
			best, shift = c, s
		}
	}
	return float64(best) / float64(n), shift
}
