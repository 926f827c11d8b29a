package read

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// step is one step of the fit at the engine's values and weights.
func (e *engine) step() (v Values, logVolume float64) {
	return ascend(e.law, &e.prior, e.facts, e.weight, &e.info)
}

// ascend is one step uphill from a law's values, with facts of which each was part of what was
// played by its weight: Fisher scoring, of releases with the information estimated from their own
// slopes (Berndt, Hall, Hall and Hausman 1974), the prior included. It gives the new values, and the
// logarithm of the volume that the parameters may be in, as Laplace's approximation has it;
// the information is left in info.
func ascend(l *law, prior *prior, facts []fact, weight []float64, info *[params * params]float64) (v Values, logVolume float64) {
	var grad Values
	clear(info[:])
	for i := range l.Values {
		precision := 1 / (prior.sd[i] * prior.sd[i])
		grad[i] = (prior.mean[i] - l.Values[i]) * precision
		info[i*int(params)+i] = precision
	}
	var s slopes
	for i, w := range weight {
		if w < leastShare || facts[i].kind == constTerm {
			continue
		}
		l.log(&facts[i], &s)
		for a := range s.n {
			grad[s.of[a]] += w * s.by[a]
			for b := range a + 1 {
				p, q := max(s.of[a], s.of[b]), min(s.of[a], s.of[b])
				info[q*params+p] += w * s.info(a, b) // the upper half
			}
		}
	}
	var root mat.Cholesky
	if !root.Factorize(mat.NewSymDense(int(params), info[:])) {
		return l.Values, math.Inf(-1) // the priors make it positive definite
	}
	var way mat.VecDense
	if err := root.SolveVecTo(&way, mat.NewVecDense(int(params), grad[:])); err != nil {
		return l.Values, math.Inf(-1)
	}
	v = l.Values
	for i := range v {
		most := strideMost * prior.sd[i]
		v[i] += max(-most, min(most, way.AtVec(i)))
	}
	return v, float64(params)*log2Pi/2 - root.LogDet()/2
}

// strideMost is the longest step of a parameter in standard deviations of its prior.
const strideMost = 1.0

// mode is a place where the parameters fit the run.
type mode struct {
	values    Values
	evidence  float64   // logarithm of the density of what was seen, the parameters integrated out around it
	posterior []float64 // by rep and candidate, mash the last
}

// fit goes from v at most so many steps uphill with the candidates given, and gives
// the best place that it came to. Where narrow it goes on, after the first
// step, with those candidates alone that some rep may have been played with.
func (e *engine) fit(v Values, some []int, steps int, narrow bool) mode {
	best := mode{evidence: math.Inf(-1)}
	for n := 0; ; n++ {
		e.at(v)
		logP, posterior := e.infer(some)
		e.weigh(logP, posterior)
		next, volume := e.step()
		evidence := logP + e.prior.log(&v) + volume
		gain := evidence - best.evidence
		if gain > 0 {
			best = mode{v, evidence, e.spread(best.posterior, some, posterior)}
		}
		if n == steps || gain < enough {
			return best
		}
		if narrow && n == 0 {
			some = likely(some, posterior)
		}
		v = next
	}
}

// spread puts the posteriors of some candidates in their place among all.
func (e *engine) spread(dst []float64, some []int, posterior []float64) []float64 {
	k := len(e.s.cands) + 1
	dst = resize(dst, k*e.reps())
	clear(dst)
	for i, p := range posterior {
		dst[i/len(some)*k+some[i%len(some)]] = p
	}
	return dst
}

// likely gives those of some whose posterior is above leastShare in some rep.
func likely(some []int, posterior []float64) (of []int) {
	for i, c := range some {
		for at := i; at < len(posterior); at += len(some) {
			if posterior[at] > leastShare {
				of = append(of, c)
				break
			}
		}
	}
	return of
}

// only gives the mode at v, without a step.
func (e *engine) only(v Values) mode { return e.fit(v, e.all(), 0, false) }

// all gives every candidate and mash.
func (e *engine) all() []int {
	all := make([]int, len(e.s.cands)+1)
	for i := range all {
		all[i] = i
	}
	return all
}

// manners are the ways of leaving panels that fits are started from: at once, in between, once the
// other foot is down, and late; those who hand over start with a spread of it of handsOverMS.
var manners = [...]struct{ dwellMS, handOverShare float64 }{{70, -4}, {150, -.5}, {320, 2}, {320, -3}}

const handsOverMS = 12

// Of the fits (design values; a gain is of the logarithm of the evidence).
const (
	stepsBegun     = 2   // with the footings of one technique alone
	stepsAlone     = 3   // and on from those that are promising
	stepsAll       = 4   // and then with all
	enough         = 0.3 // a gain below which a fit ends
	promisingAlone = 60  // fits of a technique that are further behind its best after the first steps are let go
	promising      = 25  // and those that are so far behind the best of all before all footings are considered
	alike          = 0.1 // modes whose posteriors differ by less everywhere are one
)

// modes fits the run from every technique at every level of dwell: a technique
// judged at parameters that were fitted to its rival is judged wrongly. It gives
// where the fits end, with all candidates considered, each place once.
func (e *engine) modes() []mode {
	all := e.all()
	switch {
	case e.without&adapting != 0:
		return []mode{e.only(e.prior.mean)}
	case e.without&manyStarts != 0:
		return []mode{e.fit(e.prior.mean, all, stepsAlone+stepsAll, true)}
	}
	of := make(map[string][]int)
	var order []string
	for i := range e.s.cands {
		t := e.s.cands[i].technique
		if of[t] == nil {
			order = append(order, t)
		}
		of[t] = append(of[t], i)
	}
	var ends []mode
	best := math.Inf(-1)
	// keep adds a mode, or puts it in the place of a worse one that is like it.
	keep := func(m mode) {
		best = max(best, m.evidence)
		at := slices.IndexFunc(ends, func(o mode) bool { return m.like(&o) })
		switch {
		case at < 0:
			ends = append(ends, m)
		case m.evidence > ends[at].evidence:
			ends[at] = m
		}
	}
	var begun []mode
	for _, t := range order {
		begun, most := begun[:0], math.Inf(-1)
		for _, m := range manners {
			v := e.prior.mean
			v[Dwell], v[HandOverShare] = math.Log(m.dwellMS), m.handOverShare
			if m.handOverShare > 0 {
				v[HandOverSpread] = math.Log(handsOverMS)
			}
			begun = append(begun, e.fit(v, of[t], stepsBegun, true))
			most = max(most, begun[len(begun)-1].evidence)
		}
		for i := range begun {
			if begun[i].evidence >= most-promisingAlone {
				keep(e.only(e.fit(begun[i].values, of[t], stepsAlone, true).values))
			}
		}
	}
	first := ends
	ends = nil
	worst := best - promising
	for i := range first {
		if first[i].evidence >= worst {
			keep(e.fit(first[i].values, all, stepsAll, true))
		}
	}
	return ends
}

// like tells whether two modes read the run alike: on the mean over the reps. Where fits end
// near each other only the best counts, else what is reached from more starts would weigh more.
func (m *mode) like(o *mode) bool {
	apart, total := 0.0, 0.0
	for i, p := range m.posterior {
		apart += math.Abs(p - o.posterior[i])
		total += p
	}
	return apart/2 <= alike*total
}
