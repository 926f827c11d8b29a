package success

import (
	"cmp"
	"math"
	"slices"

	"heeltoe/trainer/estimate"
)

// Posterior is what is believed of a player's curve after some reps: a weight for
// each of a grid of curves, by Bayes' rule from equal weights.
type Posterior struct {
	curves []Curve
	weight []float64
	n      int // reps observed
}

// NewPosterior begins with equal weights for the curves given.
func NewPosterior(curves []Curve) *Posterior {
	p := &Posterior{curves: curves, weight: make([]float64, len(curves))}
	for i := range p.weight {
		p.weight[i] = 1 / float64(len(curves))
	}
	return p
}

// Steps of Grid: each middle, and each width, is so many times the one before.
const middleStep, widthStep = 1.01, 1.2

// Grid gives curves whose middles cover tempi from slowest to fastest and a fifth
// beyond, 1 % apart, each in widths from 1.5 to 28 % of its middle, every one 1.2
// times the one before, with Lapse.
func Grid(slowest, fastest float64) []Curve {
	var g []Curve
	for m := slowest / 1.2; m <= fastest*1.2; m *= middleStep {
		for w := 0.015; w < 0.3; w *= widthStep {
			g = append(g, Curve{m, w * m, Lapse})
		}
	}
	return g
}

// Observe takes a rep played at a tempo.
func (p *Posterior) Observe(bpm float64, good bool) {
	sum := 0.0
	for i, c := range p.curves {
		like := c.At(bpm)
		if !good {
			like = 1 - like
		}
		p.weight[i] *= like
		sum += p.weight[i]
	}
	p.n++
	if sum == 0 { // no curve allows it: what was believed stays
		return
	}
	for i := range p.weight {
		p.weight[i] /= sum
	}
}

// ObserveAll takes reps at one tempo as Observe would one by one, but in one pass.
func (p *Posterior) ObserveAll(t Trials) {
	logs := make([]float64, len(p.curves))
	most := math.Inf(-1)
	for i, c := range p.curves {
		logs[i] = math.Log(p.weight[i]) + LogLikelihood(c, []Trials{t})
		most = max(most, logs[i])
	}
	p.n += t.N
	if math.IsInf(most, -1) { // no curve allows it: what was believed stays
		return
	}
	sum := 0.0
	for i := range logs {
		p.weight[i] = math.Exp(logs[i] - most)
		sum += p.weight[i]
	}
	for i := range p.weight {
		p.weight[i] /= sum
	}
}

// N gives the number of reps observed.
func (p *Posterior) N() int { return p.n }

// Weights gives the probability of each curve, in the order in which they were given.
func (p *Posterior) Weights() []float64 { return slices.Clone(p.weight) }

// Tempo gives the tempo at which the share is reached: the posterior mean, and the
// interval between its quantiles.
func (p *Posterior) Tempo(share float64) estimate.Figure {
	f := estimate.Figure{N: p.n}
	at := make([]weighted, len(p.curves))
	for i, c := range p.curves {
		at[i] = weighted{c.Tempo(share), p.weight[i]}
		f.Value += at[i].value * at[i].weight
	}
	f.Interval = central(at)
	return f
}

// Share gives the share of good reps at a tempo: the posterior mean, and the
// interval between its quantiles.
func (p *Posterior) Share(bpm float64) estimate.Figure {
	f := estimate.Figure{N: p.n}
	at := make([]weighted, len(p.curves))
	for i, c := range p.curves {
		at[i] = weighted{c.At(bpm), p.weight[i]}
		f.Value += at[i].value * at[i].weight
	}
	f.Interval = central(at)
	return f
}

// Informative gives that of the tempi after one rep at which the expected entropy
// of the weights is least (the psi method: Kontsevich and Tyler 1999, Vision Research
// 39:2729–2737, from memory). The expected fall in entropy is the information that
// the outcome carries about the curve, h(Σ w·p) − Σ w·h(p) with h(p) the entropy of
// one yes or no, which needs no posterior of either outcome.
func (p *Posterior) Informative(tempi []float64) float64 {
	best, most := tempi[0], math.Inf(-1)
	for _, bpm := range tempi {
		var mean, own float64
		for i, c := range p.curves {
			if w := p.weight[i]; w > 1e-7 { // what is all but excluded tells nothing
				q := c.At(bpm)
				mean += w * q
				own += w * entropy(q)
			}
		}
		if gain := entropy(mean) - own; gain > most {
			best, most = bpm, gain
		}
	}
	return best
}

// entropy is that of a yes of probability p, in nats.
func entropy(p float64) float64 {
	if p <= 0 || p >= 1 {
		return 0
	}
	return -p*math.Log(p) - (1-p)*math.Log1p(-p)
}

// Crossing is where one way of playing overtakes another.
type Crossing struct {
	Tempo estimate.Figure // the median and interval, where there is a crossing
	P     float64         // probability that there is one within the tempi looked at
}

// Cross gives the tempo within slowest to fastest above which the second way has
// the larger share of good reps and below which the first has, by all pairs of
// curves that the two posteriors allow. The curves of both have one lapse.
func Cross(first, second *Posterior, slowest, fastest float64) Crossing {
	a, b := first.likely(), second.likely()
	var at []weighted
	c := Crossing{Tempo: estimate.Untold(first.n + second.n)}
	for _, i := range a {
		for _, j := range b {
			x, y := first.curves[i], second.curves[j]
			// Equal shares where (t − m₁)/w₁ = (t − m₂)/w₂; the flatter curve is above after it.
			if y.Width <= x.Width {
				continue
			}
			t := (x.Middle*y.Width - y.Middle*x.Width) / (y.Width - x.Width)
			if t >= slowest && t <= fastest {
				w := first.weight[i] * second.weight[j]
				at = append(at, weighted{t, w})
				c.P += w
			}
		}
	}
	if c.P > 0 {
		for i := range at {
			at[i].weight /= c.P
		}
		c.Tempo.Interval = central(at)
		c.Tempo.Value = quantile(at, 0.5)
	}
	return c
}

// likely gives the curves that are worth pairing: the fewest that hold 0.9999 of
// the weight.
func (p *Posterior) likely() []int {
	order := make([]int, len(p.weight))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(i, j int) int { return cmp.Compare(p.weight[j], p.weight[i]) })
	sum, n := 0.0, 0
	for n < len(order) && sum < 0.9999 {
		sum += p.weight[order[n]]
		n++
	}
	return order[:n]
}

// weighted is a value and its probability.
type weighted struct{ value, weight float64 }

// central gives the central estimate.Level of values, which it sorts.
func central(v []weighted) estimate.Interval {
	slices.SortFunc(v, func(a, b weighted) int { return cmp.Compare(a.value, b.value) })
	return estimate.Interval{Low: quantile(v, estimate.Tail), High: quantile(v, 1-estimate.Tail)}
}

// quantile gives the first of sorted values up to which the share p of the weight lies.
func quantile(v []weighted, p float64) float64 {
	sum := 0.0
	for _, w := range v {
		if sum += w.weight; sum >= p {
			return w.value
		}
	}
	return v[len(v)-1].value
}
