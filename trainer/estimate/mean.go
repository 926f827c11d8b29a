package estimate

import (
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Mean gives the mean of independent values with Student's interval at a level,
// which is exact where they are normal. Of one value there is no interval, of none
// the mean is NaN.
func Mean(x []float64, level float64) Figure {
	f := Untold(len(x))
	if len(x) == 0 {
		return f
	}
	f.Value = stat.Mean(x, nil)
	if n := float64(len(x)); n > 1 {
		t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: n - 1}.Quantile((1 + level) / 2)
		half := t * stat.StdDev(x, nil) / math.Sqrt(n)
		f.Interval = Interval{f.Value - half, f.Value + half}
	}
	return f
}
