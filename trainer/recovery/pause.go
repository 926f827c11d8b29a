package recovery

import (
	"math"
	"slices"
	"time"

	"heeltoe/trainer/estimate"
	"heeltoe/trainer/trend"
)

// Longest is the longest pause after which two runs still belong together (design value).
const Longest = 30 * time.Minute

// thirds of a run that are compared take at least this many reps each (design value).
const leastThird = 2

// Bout is a run with the spread of each of its reps.
type Bout struct {
	Started, Ended time.Time
	RepSpreadsUS   []float64 // scatter of each rep in µs, in order; NaN of none
}

// Pauses is what changes within runs and over the pauses between them.
type Pauses struct {
	Run    estimate.Figure // change of the spread from the first third of a run to its last
	Pause  estimate.Figure // from the last third of a run to the first of the next
	ByRest []Rested
	// Doubling is by how much the change over a pause differs where the pause is twice as
	// long (Theil–Sen); below 0: a longer rest brings more back.
	Doubling estimate.Figure
	Why      error // why Doubling cannot be told
}

// Rested is pauses of a length: from Least on, below Below.
type Rested struct {
	Least, Below time.Duration
	Change       estimate.Figure
}

// rests are the lengths that are told apart (design values).
var rests = []time.Duration{0, time.Minute, 2 * time.Minute, 5 * time.Minute, Longest}

// Between looks at the pauses between consecutive runs. Each slice of groups has runs
// that are like one another, in the order in which they were begun; where another run of
// the player came between two of them, the pause is no rest and they do not belong into
// one group.
func Between(groups [][]Bout) Pauses {
	var run, pause, logRest []float64
	var rested []time.Duration
	for _, bouts := range groups {
		for i := range bouts {
			early, late := thirds(bouts[i].RepSpreadsUS)
			run = appendDefined(run, late-early)
			if i == 0 {
				continue
			}
			rest := bouts[i].Started.Sub(bouts[i-1].Ended)
			if rest <= 0 || rest >= Longest {
				continue
			}
			_, before := thirds(bouts[i-1].RepSpreadsUS)
			if c := early - before; !math.IsNaN(c) && !math.IsInf(c, 0) {
				pause, rested, logRest = append(pause, c), append(rested, rest), append(logRest, math.Log2(rest.Seconds()))
			}
		}
	}
	p := Pauses{Run: change(run), Pause: change(pause), Doubling: estimate.Untold(0)}
	for i := range rests[:len(rests)-1] {
		var of []float64
		for k, d := range rested {
			if d >= rests[i] && d < rests[i+1] {
				of = append(of, pause[k])
			}
		}
		if len(of) > 0 {
			p.ByRest = append(p.ByRest, Rested{rests[i], rests[i+1], change(of)})
		}
	}
	p.Doubling, p.Why = doubling(logRest, pause)
	return p
}

// doubling gives the slope of the change over the logarithm of the rest, as a share.
func doubling(logRest, pause []float64) (estimate.Figure, error) {
	none := estimate.Untold(len(pause))
	if len(pause) < estimate.LeastN {
		return none, estimate.Refusef("%d pauses are fewer than %d", len(pause), estimate.LeastN)
	}
	from := max(0, len(pause)-trend.MaxN)
	l, err := trend.TheilSen(logRest[from:], pause[from:], estimate.Level)
	if err != nil {
		return none, estimate.Refusef("all pauses were equally long")
	}
	return asShare(l.Slope), nil
}

// thirds gives the logarithm of the middle spread of the first and of the last third
// of a run's reps; NaN where it has too few.
func thirds(reps []float64) (first, last float64) {
	reps = slices.DeleteFunc(slices.Clone(reps), func(v float64) bool { return !(v > 0) })
	n := len(reps) / 3
	if n < leastThird {
		return math.NaN(), math.NaN()
	}
	first = math.Log(estimate.Quantile(slices.Clone(reps[:n]), 0.5))
	last = math.Log(estimate.Quantile(slices.Clone(reps[len(reps)-n:]), 0.5))
	return first, last
}
