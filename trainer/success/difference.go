package success

import (
	"cmp"
	"math"
	"slices"

	"heeltoe/trainer/estimate"
)

// sameTempo is how near two tempi lie, as a share, that are taken as one when two
// posteriors are compared: well below the 1 % of Grid.
const sameTempo = 0.0025

// negligible is the weight of a tempo that is left out where two are compared.
const negligible = 1e-7

// Difference gives by how many beats a minute the tempo at which the second reaches
// the share lies above that of the first: the mean over all pairs of curves, and the
// interval between its quantiles at the level given. The two are taken as
// independent. slowest and fastest are the tempi played: where a limit may lie
// beyond them, the end of the interval that hangs on it is infinite and Value NaN. It
// refuses where neither end can be told.
func Difference(first, second *Posterior, share, level, slowest, fastest float64) (estimate.Figure, error) {
	f := estimate.Untold(first.n + second.n)
	a, b := first.tempi(share), second.tempi(share)
	tail := (1 - level) / 2
	below := [2]bool{quantile(a, tail) < slowest, quantile(b, tail) < slowest}
	above := [2]bool{quantile(a, 1-tail) > fastest, quantile(b, 1-tail) > fastest}
	openLow, openHigh := below[1] || above[0], above[1] || below[0]
	switch {
	case first.n == 0 || second.n == 0:
		return f, estimate.Refusef("no rep is clear")
	case openLow && openHigh && (below[0] || below[1]):
		return f, estimate.Refusef("a limit may lie below %.0f beats a minute, the slowest that was played", slowest)
	case openLow && openHigh:
		return f, estimate.Refusef("the limits may lie above %.0f beats a minute, the fastest that was played", fastest)
	}
	pairs := make([]weighted, 0, len(a)*len(b))
	mean := 0.0
	for _, x := range a {
		for _, y := range b {
			w := weighted{y.value - x.value, x.weight * y.weight}
			mean += w.value * w.weight
			pairs = append(pairs, w)
		}
	}
	slices.SortFunc(pairs, func(a, b weighted) int { return cmp.Compare(a.value, b.value) })
	f.Interval = estimate.Interval{Low: quantile(pairs, tail), High: quantile(pairs, 1-tail)}
	switch {
	case openLow:
		f.Low = math.Inf(-1)
	case openHigh:
		f.High = math.Inf(1)
	default:
		f.Value = mean
	}
	return f, nil
}

// tempi gives the tempi at which the share may be reached, those near to one
// another taken together, with weights that sum to 1 but for what is negligible.
func (p *Posterior) tempi(share float64) []weighted {
	of := map[int]weighted{}
	for i, c := range p.curves {
		t := c.Tempo(share)
		k := int(math.Floor(math.Log(max(t, 1)) / sameTempo))
		w := of[k]
		w.value += t * p.weight[i]
		w.weight += p.weight[i]
		of[k] = w
	}
	var all []weighted
	for _, w := range of {
		if w.weight > negligible {
			all = append(all, weighted{w.value / w.weight, w.weight})
		}
	}
	slices.SortFunc(all, func(a, b weighted) int { return cmp.Compare(a.value, b.value) })
	return all
}

// Within tells whether the tempo at which the share is reached lies, with its
// interval, among the tempi from slowest to fastest; why says where it may lie else.
func (p *Posterior) Within(share, slowest, fastest float64) (limit estimate.Figure, why error) {
	limit = p.Tempo(share)
	switch {
	case limit.N == 0:
		return limit, estimate.Refusef("no rep is clear")
	case limit.High > fastest && limit.Low < slowest:
		return limit, estimate.Refusef("%d clear reps leave the limit anywhere from below %.0f to above %.0f beats a minute", limit.N, slowest, fastest)
	case limit.High > fastest:
		return limit, estimate.Refusef("the limit was not reached: it may lie above %.0f beats a minute", fastest)
	case limit.Low < slowest:
		return limit, estimate.Refusef("the limit may lie below %.0f beats a minute", slowest)
	}
	return limit, nil
}

// Lowest gives for each posterior the probability that its limit, the tempo at which the
// share is reached, is the lowest of all. They are taken as independent.
func Lowest(all []*Posterior, share float64) []float64 {
	limits := make([][]weighted, len(all))
	for i, p := range all {
		limits[i] = p.tempi(share)
	}
	out := make([]float64, len(all))
	sum := 0.0
	for i, of := range limits {
		for _, t := range of {
			w := t.weight
			for j, other := range limits {
				if j != i {
					w *= above(other, t.value)
				}
			}
			out[i] += w
		}
		sum += out[i]
	}
	for i := range out {
		out[i] /= sum
	}
	return out
}

// above gives the weight of values above v, half of that at v.
func above(of []weighted, v float64) (w float64) {
	for _, x := range of {
		switch {
		case x.value > v:
			w += x.weight
		case x.value == v:
			w += x.weight / 2
		}
	}
	return w
}
