package estimate

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Share gives good/n with Wilson's score interval at a level (Wilson 1927, JASA
// 22:209–212); NaN of none.
func Share(good, n int, level float64) Figure {
	return Figure{Value: float64(good) / float64(n), N: n, Interval: Wilson(float64(good)/float64(n), float64(n), level)}
}

// Wilson gives the interval of a share p of n independent values; n may be the
// worth of a series (see Worth). It is Unknown of none.
func Wilson(p, n, level float64) Interval {
	if !(n > 0) {
		return Unknown
	}
	z := distuv.UnitNormal.Quantile((1 + level) / 2)
	middle := (p + z*z/(2*n)) / (1 + z*z/n)
	half := z / (1 + z*z/n) * math.Sqrt(p*(1-p)/n+z*z/(4*n*n))
	i := Interval{middle - half, middle + half}
	switch p { // where rounding leaves a trace
	case 0:
		i.Low = 0
	case 1:
		i.High = 1
	}
	return i
}

// ShareDifference gives the difference of two independent shares, the first less
// the second, with the interval that Newcombe made of Wilson's (1998, Statistics in
// Medicine 17:873–890, method 10); NaN where one has no observations.
func ShareDifference(good1, n1, good2, n2 int, level float64) Figure {
	a, b := Share(good1, n1, level), Share(good2, n2, level)
	d := a.Value - b.Value
	return Figure{Value: d, N: n1 + n2, Interval: Interval{
		d - math.Hypot(a.Value-a.Low, b.High-b.Value),
		d + math.Hypot(a.High-a.Value, b.Value-b.Low),
	}}
}
