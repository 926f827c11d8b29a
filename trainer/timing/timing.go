// Package timing tells where the spread of presses comes from: an inner clock that
// varies, a delay from clock to foot that varies, and how much of an offset the
// next press takes back. Which model holds depends on whether the click sounded,
// so each refuses what the other is for, and both refuse what would mislead.
// Spans are microseconds, variances µs².
package timing

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"

	"heeltoe/footing/pad"
	"heeltoe/trainer/estimate"
)

// Segment is presses one after another, none left out, due at even intervals.
type Segment struct {
	Silent  bool      // the click was silent throughout
	From    pad.Time  // when its first press was due, on the run's clock
	Spacing pad.Time  // between two due moments
	Offsets []float64 // of each press, µs
}

// Least intervals that a split is shown for. Of 60 simulated intervals a variance
// is biased by some 5 % and comes out below 0 in one case of 13; of 15 in one of five.
const Least = 60

// Sizes of the simulations of a fitted model that give its intervals.
const (
	simulations = 200
	// mostSimulated values are drawn for each; the deviations of longer series are
	// shrunk by the square root of the share.
	mostSimulated = 500
)

// detrended gives the offsets, or the intervals between presses, of the segments,
// less the straight line over the run's time that fits all of them best. One line
// serves all: of its own mean and slope a short segment would lose what is looked for.
func detrended(segs []Segment, intervals bool) [][]float64 {
	var out [][]float64
	var at, all []float64
	for _, s := range segs {
		x := append([]float64(nil), s.Offsets...)
		if intervals {
			x = x[:0]
			for i := 1; i < len(s.Offsets); i++ {
				x = append(x, float64(s.Spacing)+s.Offsets[i]-s.Offsets[i-1])
			}
		}
		for i := range x {
			at = append(at, float64(s.From)+float64(i)*float64(s.Spacing))
		}
		all, out = append(all, x...), append(out, x)
	}
	if len(all) < 3 {
		return nil // a line through two points leaves nothing over
	}
	a, b := stat.LinearRegression(at, all, nil, false)
	k := 0
	for _, x := range out {
		for i := range x {
			x[i] -= a + b*at[k]
			k++
		}
	}
	return out
}

// count gives the number of values.
func count(series [][]float64) (n int) {
	for _, x := range series {
		n += len(x)
	}
	return n
}

// mean gives the mean of all values.
func mean(series [][]float64) float64 {
	sum := 0.0
	for _, x := range series {
		sum += floats.Sum(x)
	}
	return sum / float64(count(series))
}

// Autocovariance gives the autocovariance of series at a lag, about the mean of
// all values, pooled: Σ (xᵢ − x̄)(xᵢ₊lag − x̄), within each series, over the number of all values.
func Autocovariance(series [][]float64, lag int) float64 {
	centre, sum := mean(series), 0.0
	for _, x := range series {
		for i := range max(0, len(x)-lag) {
			sum += (x[i] - centre) * (x[i+lag] - centre)
		}
	}
	return sum / float64(count(series))
}

// root gives the standard deviation of a variance, 0 of one that is not above it.
func root(v float64) float64 { return math.Sqrt(max(0, v)) }

// figure joins a value to the middle of its simulated values.
func figure(value float64, n int, simulated []float64) estimate.Figure {
	return estimate.Figure{Value: value, Interval: estimate.Middle(simulated), N: n}
}
