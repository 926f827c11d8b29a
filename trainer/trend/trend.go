// Package trend tells whether a series rises or falls over its length, by how
// much, and where it changes: the Theil–Sen line, the Mann–Kendall test and the
// Pettitt test. None of them asks for normal values, and single slips move them little.
package trend

import (
	"cmp"
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"heeltoe/trainer/estimate"
)

// MaxN is the longest series taken: pairs of values are looked at one by one. A
// longer series is summed up in groups first.
const MaxN = 2000

// Line is a line through points.
type Line struct {
	Slope     estimate.Figure // of y, for one of x
	Intercept float64
}

// Day gives the day of a moment in a place's time, as a number: the next day is one more.
func Day(t time.Time, loc *time.Location) int64 {
	y, m, d := t.In(loc).Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() / (24 * 60 * 60)
}

// TheilSen gives the median of the slopes of all pairs of points with different
// x (Theil 1950; Sen 1968, JASA 63:1379–1389), with Sen's interval at the given
// level, and the intercept median y − slope·median x, as scipy has them. The
// slices have one length, at most MaxN. It refuses fewer than two different x.
func TheilSen(x, y []float64, level float64) (Line, error) {
	if len(x) > MaxN {
		return Line{}, estimate.Refusef("%d points are more than %d", len(x), MaxN)
	}
	var slopes []float64
	for i := range x {
		for j := range i {
			if dx := x[i] - x[j]; dx != 0 {
				slopes = append(slopes, (y[i]-y[j])/dx)
			}
		}
	}
	if len(slopes) == 0 {
		return Line{}, estimate.Refusef("a line needs two points that lie apart")
	}
	slices.Sort(slopes)
	l := Line{Slope: estimate.Figure{Value: estimate.Quantile(slopes, 0.5), Interval: estimate.Unknown, N: len(x)}}
	l.Intercept = median(y) - l.Slope.Value*median(x)
	if v := variance(len(x), x, y); v > 0 {
		half := -distuv.UnitNormal.Quantile((1-level)/2) * math.Sqrt(v)
		nt := float64(len(slopes))
		low := max(0, int(math.RoundToEven((nt-half)/2))-1)
		high := min(len(slopes)-1, int(math.RoundToEven((nt+half)/2)))
		l.Slope.Interval = estimate.Interval{Low: slopes[low], High: slopes[high]}
	}
	return l, nil
}

func median(x []float64) float64 { return estimate.Quantile(slices.Clone(x), 0.5) }

// variance is that of Kendall's S under no trend, ties in the series taken off:
// [n(n−1)(2n+5) − Σ t(t−1)(2t+5)]/18.
func variance(n int, series ...[]float64) float64 {
	v := pairs(n)
	for _, s := range series {
		for _, t := range ties(s) {
			v -= pairs(t)
		}
	}
	return v / 18
}

func pairs(n int) float64 { return float64(n) * float64(n-1) * float64(2*n+5) }

// ties gives the sizes of the groups of equal values.
func ties(x []float64) []int {
	s := slices.Sorted(slices.Values(x))
	var groups []int
	for i := 0; i < len(s); {
		j := i
		for j < len(s) && s[j] == s[i] {
			j++
		}
		if j-i > 1 {
			groups = append(groups, j-i)
		}
		i = j
	}
	return groups
}

// Test is the result of MannKendall.
type Test struct {
	N   int
	S   int     // pairs that rise less pairs that fall
	Var float64 // of S where there is no trend
	Z   float64 // (S ∓ 1)/√Var, towards 0; 0 where S is
	// P is the probability of an S at least as far from 0 where there is no
	// trend; OneSided of one at least as far on the side on which it lies.
	P, OneSided float64
	Exact       bool // counted, else by the normal approximation
}

// exactN is the longest series whose probabilities are counted exactly; beyond
// that the normal approximation differs by less than 0.002.
const exactN = 40

// MannKendall tests a series for a trend (Mann 1945, Econometrica 13:245–259;
// Kendall's S). It counts exactly in a series without ties of at most 40 values.
// A series has 2 to MaxN values.
func MannKendall(y []float64) (Test, error) {
	n := len(y)
	if n < 2 || n > MaxN {
		return Test{}, estimate.Refusef("a trend is tested in 2 to %d values, not %d", MaxN, n)
	}
	t := Test{N: n, Var: variance(n, y)}
	for j := range y {
		for i := range j {
			t.S += cmp.Compare(y[j], y[i])
		}
	}
	size := math.Abs(float64(t.S))
	if t.S != 0 {
		t.Z = math.Copysign((size-1)/math.Sqrt(t.Var), float64(t.S))
	}
	if n <= exactN && len(ties(y)) == 0 {
		t.Exact, t.OneSided = true, atLeast(n, int(size))
		t.P = min(1, 2*t.OneSided)
		return t, nil
	}
	t.OneSided = distuv.UnitNormal.CDF(-math.Abs(t.Z))
	t.P = 2 * t.OneSided
	return t, nil
}

// atLeast gives the share of the orders of n values whose S is s or more. S is
// n(n−1)/2 less twice the inversions, and the orders of k values with i
// inversions are those of k − 1 with i, i−1, … i−k+1.
func atLeast(n, s int) float64 {
	most := n * (n - 1) / 2
	share := make([]float64, most+1)
	share[0] = 1
	for k := 2; k <= n; k++ {
		next := make([]float64, most+1)
		sum := 0.0
		for i := range next {
			sum += share[i]
			if i >= k {
				sum -= share[i-k]
			}
			next[i] = sum / float64(k)
		}
		share = next
	}
	p := 0.0
	for i := 0; i <= (most-s)/2; i++ {
		p += share[i]
	}
	return p
}

// Change is the result of Pettitt.
type Change struct {
	At int     // index of the first value after the change
	K  float64 // max |U|
	P  float64 // probability of such a K where nothing changes, at most 1
}

// Pettitt gives the point at which a series changes its level (Pettitt 1979,
// Applied Statistics 28:126–135): U(k) = 2·Σ rank(i), i ≤ k, less k(n+1), ties at
// their mean rank; K = max |U|, first of equals; P ≈ 2·exp(−6K²/(n³+n²)).
// It refuses a series of fewer than two values.
func Pettitt(y []float64) (Change, error) {
	n := len(y)
	if n < 2 {
		return Change{}, estimate.Refusef("a change needs two values, not %d", n)
	}
	rank := ranks(y)
	c := Change{}
	u := 0.0
	for k := range n - 1 {
		u += 2*rank[k] - float64(n+1)
		if math.Abs(u) > c.K {
			c.K, c.At = math.Abs(u), k+1
		}
	}
	f := float64(n)
	c.P = min(1, 2*math.Exp(-6*c.K*c.K/(f*f*f+f*f)))
	return c, nil
}

// ranks gives each value's place from 1 in sorted order, equal ones their mean place.
func ranks(y []float64) []float64 {
	s := slices.Sorted(slices.Values(y))
	r := make([]float64, len(y))
	for i, v := range y {
		first, _ := slices.BinarySearch(s, v)
		after := first
		for after < len(s) && s[after] == v {
			after++
		}
		r[i] = float64(first+1+after) / 2
	}
	return r
}
