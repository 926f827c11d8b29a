package estimate

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Sizes of a bootstrap.
const (
	// LeastN is the fewest values that are resampled: of fewer the intervals
	// would be far too narrow.
	LeastN = 8
	// Resamples are drawn for each interval.
	Resamples = 400
	// mostDrawn is the size of a resample at most. Of more values fewer are
	// drawn, and the deviations shrunk by the square root of the share (Bickel,
	// Götze and van Zwet 1997, Statistica Sinica 7:1–31, from memory).
	mostDrawn = 2000
)

// Rand gives the chance of a bootstrap or a simulation: the same seed, the same figures.
func Rand(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 0x657374696d617465)) }

// Bootstrap gives an interval for each figure that figures makes of x: its
// percentiles over resamples of x, drawn in blocks of consecutive values, the end
// joined to the start, so that what carries over from one value to the next is
// kept (circular block bootstrap: Politis and Romano 1992, from memory). A block
// of 1 takes the values as independent. The percentiles are widened for small n
// as in Hesterberg (2015, The American Statistician 69:371–386): the tail is
// Φ(−√(n/(n−1))·t), t the quantile of Student's distribution of n − 1 degrees.
//
// figures may reorder what it is given and must not keep it; it gives the same
// number of figures each time. Of fewer than LeastN values, and of a figure that is
// NaN, the interval is Unknown. A figure that was NaN in some resample is taken
// over the others.
func Bootstrap[T any](x []T, block int, seed uint64, figures func(sample []T) []float64) []Interval {
	n := len(x)
	sample := append([]T(nil), x...)
	whole := figures(sample)
	out := make([]Interval, len(whole))
	for k := range out {
		out[k] = Unknown
	}
	if n < LeastN {
		return out
	}
	m := min(n, mostDrawn)
	block = max(1, min(block, m))
	rng := Rand(seed)
	drawn := make([][]float64, len(whole))
	for range Resamples {
		sample = sample[:0]
		for len(sample) < m {
			from := rng.IntN(n)
			for i := from; i < from+block && len(sample) < m; i++ {
				sample = append(sample, x[i%n])
			}
		}
		for k, v := range figures(sample) {
			if !math.IsNaN(v) {
				drawn[k] = append(drawn[k], v)
			}
		}
	}
	tail := smallTail(n)
	shrink := math.Sqrt(float64(m) / float64(n))
	for k, v := range drawn {
		if math.IsNaN(whole[k]) {
			continue
		}
		low, high := Quantile(v, tail), Quantile(v, 1-tail)
		out[k] = Interval{whole[k] + shrink*(low-whole[k]), whole[k] + shrink*(high-whole[k])}
	}
	return out
}

// smallTail is the tail to be cut off for n values.
func smallTail(n int) float64 {
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(n - 1)}.Quantile(1 - Tail)
	return distuv.UnitNormal.CDF(-math.Sqrt(float64(n)/float64(n-1)) * t)
}

// carry is the lag-1 correlation of a series, 0 to 0.9; 0 of a constant one.
func carry(x []float64) float64 {
	if len(x) < 3 {
		return 0
	}
	rho := max(0, min(0.9, stat.Correlation(x[1:], x[:len(x)-1], nil)))
	if math.IsNaN(rho) {
		return 0
	}
	return rho
}

// Worth gives how many independent values tell as much of their mean as a series
// that keeps ρ a step: n(1−ρ)/(1+ρ), for long series (textbook formula, from memory).
func Worth(x []float64) float64 {
	rho := carry(x)
	return float64(len(x)) * (1 - rho) / (1 + rho)
}

// Block gives the length of blocks for a bootstrap of a series in time order: that
// of Politis and White (2004, Econometric Reviews 23:53–70, formula from memory)
// for a process that forgets by ρ a step, b = (3/2·(2ρ/(1−ρ²))²·n)^(1/3), with
// the series' own lag-1 correlation as ρ, 0 to 0.9. It is 1 to n/3.
func Block(x []float64) int {
	n, rho := len(x), carry(x)
	c := 2 * rho / (1 - rho*rho)
	return max(1, min(n/3, int(math.Ceil(math.Cbrt(1.5*c*c*float64(n))))))
}
