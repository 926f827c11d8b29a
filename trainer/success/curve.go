// Package success fits how the share of good reps falls with the tempo: the curve,
// the tempo at which a player still reaches a given share, how sure that is, and
// the tempo at which one way of playing overtakes another. Tempi are beats a minute.
package success

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/optimize"

	"heeltoe/trainer/estimate"
)

// Curve is a logistic share of good reps over the tempo, falling from 1 − Lapse
// to 0: (1 − Lapse) / (1 + exp((bpm − Middle)/Width)).
type Curve struct {
	Middle float64 // where half of what is reached at slow tempi is left
	Width  float64 // above 0: the share falls from 73 to 27 % of that over 2·Width
	Lapse  float64 // share of reps that fail at any tempo, by slips
}

// Lapse is the share of slips that fits take as given: it cannot be told from few
// reps, and a small value keeps one slip from moving the curve (usual in
// psychometric fits; the value is a design value).
const Lapse = 0.02

// At gives the share of good reps at a tempo.
func (c Curve) At(bpm float64) float64 {
	return (1 - c.Lapse) / (1 + math.Exp((bpm-c.Middle)/c.Width))
}

// Tempo gives the tempo at which the share is reached; NaN for one that is not
// between 0 and 1 − Lapse.
func (c Curve) Tempo(share float64) float64 {
	if !(share > 0 && share < 1-c.Lapse) {
		return math.NaN()
	}
	return c.Middle + c.Width*math.Log((1-c.Lapse)/share-1)
}

// Trials are reps at one tempo, N of which Good were good.
type Trials struct {
	BPM     float64
	Good, N int
}

// Add adds trials to those at their tempo; all is in order of tempi, and stays so.
func Add(all []Trials, t Trials) []Trials {
	i, found := slices.BinarySearchFunc(all, t.BPM, func(a Trials, bpm float64) int { return cmp.Compare(a.BPM, bpm) })
	if !found {
		all = slices.Insert(all, i, Trials{BPM: t.BPM})
	}
	all[i].Good += t.Good
	all[i].N += t.N
	return all
}

// Fit gives the curve of greatest likelihood with the given lapse. It refuses
// trials that have no such curve: of one tempo, all good or all failed, or such that
// everything is good below some tempo and nothing above.
func Fit(trials []Trials, lapse float64) (Curve, error) {
	slowestFail, fastestGood := math.Inf(1), math.Inf(-1)
	low, high := math.Inf(1), math.Inf(-1)
	for _, t := range trials {
		if t.N == 0 {
			continue
		}
		low, high = min(low, t.BPM), max(high, t.BPM)
		if t.Good < t.N {
			slowestFail = min(slowestFail, t.BPM)
		}
		if t.Good > 0 {
			fastestGood = max(fastestGood, t.BPM)
		}
	}
	switch {
	case !(low < high):
		return Curve{}, estimate.Refusef("a curve needs reps at two tempi or more")
	case math.IsInf(slowestFail, 1):
		return Curve{}, estimate.Refusef("every rep was good: the limit lies above %.0f beats a minute", high)
	case math.IsInf(fastestGood, -1):
		return Curve{}, estimate.Refusef("no rep was good: the limit lies below %.0f beats a minute", low)
	case slowestFail >= fastestGood:
		return Curve{}, estimate.Refusef("below %.0f everything was good, above %.0f beats a minute nothing: play more reps about there", slowestFail, fastestGood)
	}
	scale := high - low
	of := func(x []float64) Curve { return Curve{low + scale*x[0], scale * math.Exp(x[1]), lapse} }
	loss := func(x []float64) float64 { return -LogLikelihood(of(x), trials) }
	r, err := optimize.Minimize(optimize.Problem{Func: loss}, []float64{0.5, math.Log(0.2)},
		&optimize.Settings{Converger: &optimize.FunctionConverge{Absolute: 1e-13, Iterations: 100}}, &optimize.NelderMead{})
	if err != nil {
		return Curve{}, estimate.Refusef("no curve fits these reps: %v", err)
	}
	return of(r.X), nil
}

// LogLikelihood gives the logarithm of the probability of trials under c, but for
// the constant of their order.
func LogLikelihood(c Curve, trials []Trials) float64 {
	sum := 0.0
	for _, t := range trials {
		p := c.At(t.BPM)
		if t.Good > 0 {
			sum += float64(t.Good) * math.Log(p)
		}
		if t.N > t.Good {
			sum += float64(t.N-t.Good) * math.Log1p(-p)
		}
	}
	return sum
}
