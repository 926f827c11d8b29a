package timing

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"

	"heeltoe/trainer/estimate"
)

// Correction splits the spread of presses that follow a click.
type Correction struct {
	Alpha estimate.Figure // share of an offset that the next press takes back
	Clock estimate.Figure // SD of the timekeeper's intervals, µs
	Motor estimate.Figure // SD of the delay from timekeeper to foot, µs
}

// The fit ends once α stands still, or after enough rounds for it to do so to 1e-4
// even in short series. The published code stops at 20 rounds or once α moves by less
// than 0.001, which can leave it 0.01 off; that does for simulations.
const (
	fitRounds      = 50
	fitTolerance   = 1e-8
	roughTolerance = 1e-3
)

// PhaseCorrection fits the linear phase-correction model
//
//	A[n+1] = (1−α)·A[n] + T[n] + M[n+1] − M[n]
//
// to asynchronies (Vorberg and Schulze 2002, J Math Psychol 46:56–87) by bounded
// generalised least squares (Jacoby, Tishby, Repp, Ahissar and Keller 2015, Timing
// & Time Perception 3:52–87): regression of each asynchrony on the one before, the
// covariance of the residuals taken from those of the last round, with the motor
// variance not above the timekeeper's, without which the three cannot be told
// apart. Several series of one process are centred together and pooled. sdClock and sdMotor have the
// unit of the asynchronies. It refuses what has no spread or fewer than four pairs.
func PhaseCorrection(series [][]float64) (alpha, sdClock, sdMotor float64, err error) {
	return phaseCorrection(series, fitTolerance)
}

func phaseCorrection(series [][]float64, tolerance float64) (alpha, sdClock, sdMotor float64, err error) {
	var from, to [][]float64
	pairs, centre := 0, mean(series)
	for _, x := range series {
		if len(x) < 3 {
			continue // one pair has no residual to follow another
		}
		c := make([]float64, len(x))
		for i := range x {
			c[i] = x[i] - centre
		}
		from, to = append(from, c[:len(c)-1]), append(to, c[1:])
		pairs += len(c) - 1
	}
	if pairs < 4 {
		return 0, 0, 0, estimate.Refusef("%d presses that follow one another are too few", pairs)
	}
	z, ok := slope(from, to, 1, 0)
	if !ok {
		return 0, 0, 0, estimate.Refusef("the offsets do not vary")
	}
	var own, next float64
	for range fitRounds {
		own, next = residuals(from, to, z)
		next = min(next, 0)
		own = max(own, -3*next) // the clock's variance is not below the motor's
		again, ok := slope(from, to, own, next)
		if !ok {
			return 0, 0, 0, estimate.Refusef("the offsets follow one another without chance")
		}
		moved := math.Abs(again - z)
		if z = again; moved < tolerance {
			break
		}
	}
	return 1 - z, root(own + 2*next), root(-next), nil
}

// residuals gives the variance of d = to − z·from and its covariance with the d
// that follows, pooled over the series, each with divisor n − 1 and about its
// mean; the variance is the mean of that of the earlier and that of the later d.
func residuals(from, to [][]float64, z float64) (own, next float64) {
	var early, late []float64
	for i := range from {
		d := make([]float64, len(from[i]))
		for j := range d {
			d[j] = to[i][j] - z*from[i][j]
		}
		early, late = append(early, d[:len(d)-1]...), append(late, d[1:]...)
	}
	return (stat.Variance(early, nil) + stat.Variance(late, nil)) / 2, stat.Covariance(early, late, nil)
}

// slope regresses to on from by generalised least squares without intercept, for
// residuals of variance own and covariance next with their neighbours, of which own is
// more than twice as large. It is false where that cannot be done.
func slope(from, to [][]float64, own, next float64) (float64, bool) {
	var xx, xy float64
	var w, pivot []float64
	for i, x := range from {
		w, pivot = append(w[:0], x...), append(pivot[:0], x...)
		// The covariances hold own in the diagonal and next on both sides of it, and the
		// diagonal outweighs the rest: elimination needs no exchange of rows (Thomas's).
		pivot[0] = own
		for j := 1; j < len(w); j++ {
			f := next / pivot[j-1]
			pivot[j] = own - f*next
			w[j] -= f * w[j-1]
		}
		w[len(w)-1] /= pivot[len(w)-1]
		for j := len(w) - 2; j >= 0; j-- {
			w[j] = (w[j] - next*w[j+1]) / pivot[j]
		}
		xx += floats.Dot(w, x)
		xy += floats.Dot(w, to[i])
	}
	return xy / xx, xx > 0 && !math.IsInf(xx, 0)
}

// Paced splits the spread of presses over segments with the click. It takes the
// drift off, needs Least pairs, refuses silent segments and a correction outside
// 0 to 2, where the model does not settle, and gives intervals by simulating
// the fitted model. Reasons are *estimate.Refused.
func Paced(segs []Segment, seed uint64) (Correction, error) {
	for _, s := range segs {
		if s.Silent {
			return Correction{}, estimate.Refusef("the click was silent: there was nothing to correct towards")
		}
	}
	series := detrended(segs, false)
	n := count(series) - len(series)
	if n < Least {
		return Correction{}, estimate.Refusef("%d evenly spaced presses in a row with the click are fewer than %d", n, Least)
	}
	alpha, clock, motor, err := PhaseCorrection(series)
	if err != nil {
		return Correction{}, err
	}
	if alpha <= 0 || alpha >= 2 {
		return Correction{}, estimate.Refusef("offsets do not settle (correction %.2f, the model has 0 to 2)", alpha)
	}
	rng := estimate.Rand(seed)
	var alphas, clocks, motors []float64
	shrink := math.Sqrt(min(1, mostSimulated/float64(n)))
	for range simulations {
		var again [][]float64
		for left, i := mostSimulated, 0; left > 0 && i < len(series); i++ {
			again = append(again, follow(rng, min(len(series[i]), left+1), alpha, clock, motor))
			left -= len(series[i]) - 1
		}
		if a, c, m, err := phaseCorrection(again, roughTolerance); err == nil {
			alphas = append(alphas, alpha+shrink*(a-alpha))
			clocks = append(clocks, max(0, clock+shrink*(c-clock)))
			motors = append(motors, max(0, motor+shrink*(m-motor)))
		}
	}
	return Correction{Alpha: figure(alpha, n, alphas), Clock: figure(clock, n, clocks), Motor: figure(motor, n, motors)}, nil
}

// follow gives n asynchronies of the phase-correction model about 0, begun in
// its steady state. Without their motor part they follow
// B[n+1] = (1−α)·B[n] + T[n] − α·M[n].
func follow(rng *rand.Rand, n int, alpha, clock, motor float64) []float64 {
	x := make([]float64, n)
	keep := 1 - alpha
	b := rng.NormFloat64() * math.Sqrt((clock*clock+alpha*alpha*motor*motor)/(1-keep*keep))
	for i := range x {
		m := motor * rng.NormFloat64()
		x[i] = b + m
		b = keep*b + clock*rng.NormFloat64() - alpha*m
	}
	return x
}
