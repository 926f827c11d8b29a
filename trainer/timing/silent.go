package timing

import (
	"math"
	"math/rand/v2"

	"heeltoe/trainer/estimate"
)

// TwoProcess splits the spread of intervals that a player keeps alone.
type TwoProcess struct {
	Clock estimate.Figure // SD of the inner clock's intervals, µs
	Motor estimate.Figure // SD of the delay from clock to foot, µs
}

// WingKristofferson gives the variances of the two-process model of Wing and
// Kristofferson (1973, Perception & Psychophysics 14:5–12): an interval is
// I = C + M′ − M, so that the autocovariances of intervals are g0 = s²C + 2s²M and
// g1 = −s²M, estimated with divisor N. It holds for intervals without a click:
// with one the player corrects, and the variances are wrong. It refuses
// correlations that the model cannot have: below −1/2 or above 0.
func WingKristofferson(intervals [][]float64) (clock, motor float64, err error) {
	g0, g1 := Autocovariance(intervals, 0), Autocovariance(intervals, 1)
	clock, motor = g0+2*g1, -g1
	switch {
	case !(g0 > 0):
		return 0, 0, estimate.Refusef("the intervals do not vary")
	case motor < 0:
		return 0, 0, estimate.Refusef("long intervals follow long ones (correlation %.2f): the model has none above 0; drift or fatigue may do that", g1/g0)
	case clock < 0:
		return 0, 0, estimate.Refusef("long and short intervals alternate (correlation %.2f): the model has none below −0.5; two feet of different habit may do that", g1/g0)
	}
	return clock, motor, nil
}

// Unpaced splits the spread of presses over silent segments. It takes the drift
// off, needs Least intervals, refuses segments with the click, and gives
// intervals by simulating the fitted model. Reasons are *estimate.Refused.
func Unpaced(segs []Segment, seed uint64) (TwoProcess, error) {
	for _, s := range segs {
		if !s.Silent {
			return TwoProcess{}, estimate.Refusef("the click sounded: with it a player corrects each press, and this split would be wrong")
		}
	}
	intervals := detrended(segs, true)
	n := count(intervals)
	if n < Least {
		return TwoProcess{}, estimate.Refusef("%d intervals without the click are fewer than %d", n, Least)
	}
	clock, motor, err := WingKristofferson(intervals)
	if err != nil {
		return TwoProcess{}, err
	}
	rng := estimate.Rand(seed)
	sdClock, sdMotor := root(clock), root(motor)
	var clocks, motors []float64
	shrink := math.Sqrt(min(1, mostSimulated/float64(n)))
	for range simulations {
		var again [][]float64
		for left, i := mostSimulated, 0; left > 0 && i < len(intervals); i++ {
			again = append(again, keepTime(rng, min(len(intervals[i]), left), sdClock, sdMotor))
			left -= len(intervals[i])
		}
		// Outside the model's range a variance counts as none, as it does where the
		// truth lies at the edge.
		g0, g1 := Autocovariance(again, 0), Autocovariance(again, 1)
		clocks = append(clocks, max(0, sdClock+shrink*(root(g0+2*g1)-sdClock)))
		motors = append(motors, max(0, sdMotor+shrink*(root(-g1)-sdMotor)))
	}
	return TwoProcess{Clock: figure(sdClock, n, clocks), Motor: figure(sdMotor, n, motors)}, nil
}

// keepTime gives n intervals of the two-process model, less their mean.
func keepTime(rng *rand.Rand, n int, clock, motor float64) []float64 {
	x := make([]float64, n)
	before := motor * rng.NormFloat64()
	for i := range x {
		m := motor * rng.NormFloat64()
		x[i] = clock*rng.NormFloat64() + m - before
		before = m
	}
	return x
}
