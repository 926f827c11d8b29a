package read

import (
	"math"
	"slices"

	"heeltoe/footing/read/chain"
)

// engine reads one run with a sheet, at any values of the parameters. It is for one
// goroutine.
type engine struct {
	s         *sheet
	p         *played
	without   part
	prior     prior
	tempering float64
	seen      []string  // by rep of the run, what an observer saw it played by; nil or empty: not told
	from, to  int       // the reps that are read: the first and the one after the last
	facts     []fact    // by rep and term
	mash      []float64 // by rep: logarithm of the density of what was seen, if it was mashed

	scores []float64 // of terms, by rep and term, NaN where not yet asked for
	weight []float64 // of terms, how much they were part of what was played
	chain  chain.Chain
	some   []int                    // candidates that are considered; len(s.cands) stands for mash
	change []float64                // of the chain, by two places in some: logarithm of the probability of the change
	links  []float64                // by rep and classes of two candidates: logarithm of what their common releases say
	law    *law                     // at the present values
	info   [params * params]float64 // of the fit's step: room for the information
}

// part is a set of parts of the reading that can be left out, to measure what each is
// worth; nothing is left out otherwise.
type part uint8

const (
	competing    part = 1 << iota // that a foot must go where it is called elsewhere
	handingOver                   // that it may go once the other foot has come down
	sticking                      // that a rep is mostly played as the one before
	adapting                      // that the parameters are fitted to the run
	manyStarts                    // from every technique, at several levels of dwell
	weighedModes                  // that all modes have a say, not the best alone
	panelsApart                   // that panels have a dwell of their own
	carrying                      // that a landing is off as the one before was
)

// newEngine makes the engine that reads the reps of p from one to before another.
func newEngine(s *sheet, p *played, from, to int, without part) *engine {
	e := &engine{s: s, p: p, without: without, prior: anybody(), tempering: tempering, from: from, to: to, facts: s.facts(p, from, to)}
	for i := range e.facts {
		if without&competing != 0 {
			e.facts[i].free = inf
		}
		if without&handingOver != 0 {
			e.facts[i].over = inf
		}
		if without&panelsApart != 0 {
			e.facts[i].own = [2]Param{}
		}
		if without&carrying != 0 {
			e.facts[i].before = math.NaN()
		}
	}
	e.scores, e.weight = make([]float64, len(e.facts)), make([]float64, len(e.facts))
	e.mash = make([]float64, to-from)
	for rep := range e.mash {
		e.mash[rep] = s.mash(p, from+rep)
	}
	return e
}

// reps gives the number of reps. Within the engine they are counted from 0.
func (e *engine) reps() int { return e.to - e.from }

// mash gives the logarithm of the density of what was seen in a rep if it was mashed.
func (s *sheet) mash(p *played, rep int) float64 {
	sum := poisson(p.strays[rep], mashStray*float64(p.notes))
	law := newLaw(Values{Dwell: math.Log(mashDwell), DwellSpread: math.Log(mashSpread)})
	for i := rep * p.notes; i < (rep+1)*p.notes; i++ {
		if !p.has[i] {
			sum += math.Log(mashMiss)
			continue
		}
		sum += math.Log(1-mashMiss) - math.Log(mashWindow)
		if p.up[i] != inf {
			f := newRelease(p.up[i]-p.down[i], inf, clearShare)
			sum += law.log(&f, nil)
		}
	}
	return sum
}

// poisson gives the logarithm of the probability of n where mean are expected.
func poisson(n int, mean float64) float64 {
	logFactorial, _ := math.Lgamma(float64(n) + 1)
	return float64(n)*math.Log(mean) - mean - logFactorial
}

// at sets the parameters.
func (e *engine) at(v Values) {
	e.law = newLaw(v)
	for i := range e.scores {
		e.scores[i] = math.NaN()
	}
}

// score gives the logarithm of a term of a rep, worked out once.
func (e *engine) score(rep int, t int32) float64 {
	i := rep*len(e.s.terms) + int(t)
	if math.IsNaN(e.scores[i]) {
		e.scores[i] = e.law.log(&e.facts[i], nil)
	}
	return e.scores[i]
}

// logTurns are the logarithms of the probabilities that the feet do not exchange, and that
// they do, from a rep to the next: a footing goes round the loop as it is.
var logTurns = [2]float64{math.Log(1 - turnRate), math.Log(turnRate)}

// link gives for two orientations of the next rep the logarithm of what the releases over
// the edge after rep say.
func (e *engine) link(rep int, ends, heads int32) (l [2]float64) {
	for x := range 2 {
		l[x] = logTurns[x]
		for _, t := range e.s.between[ends][heads][x] {
			if t != none {
				l[x] += e.score(rep, t)
			}
		}
	}
	return l
}

// last is what the releases after a rep say if nothing comes after it.
func (e *engine) last(rep, cand int) float64 {
	return e.link(rep, e.s.cands[cand].ends, e.s.after())[0] - logTurns[0]
}

// hopeless is how much less the logarithm of what was seen in a rep is by a candidate that is
// taken to be impossible there: what lies outside the rep makes up for no such difference.
const hopeless = 60

// infer reads the run with the candidates given; mash is len(s.cands). It gives the logarithm of
// the density of all that was seen, and the posteriors by rep and place in some.
func (e *engine) infer(some []int) (logP float64, posterior []float64) {
	e.some = some
	k, reps := len(some), e.reps()
	c := &e.chain
	c.States = k
	c.Start, c.Emit = resize(c.Start, k), resize(c.Emit, k*reps)
	e.links = resize(e.links, max(0, reps-1)*len(e.s.between)*len(e.s.between[0]))
	for i := range e.links {
		e.links[i] = math.NaN()
	}
	mash := len(e.s.cands)
	for i, n := range some {
		if n == mash {
			c.Start[i] = math.Log(priorOfMash)
		} else {
			c.Start[i] = e.s.cands[n].logPrior
		}
	}
	for rep := range reps {
		calm := poisson(e.p.strays[e.from+rep], strayRate*float64(e.p.notes))
		emit := c.Emit[rep*k : (rep+1)*k]
		most := math.Inf(-1)
		seen := e.saw(rep, some)
		for i, n := range some {
			if seen != "" && seen != e.labelOf(n) {
				emit[i] = math.Inf(-1)
				continue
			}
			if n == mash {
				emit[i] = e.mash[rep]
			} else {
				emit[i] = calm
				for _, t := range e.s.cands[n].terms {
					emit[i] += e.score(rep, t)
				}
				if rep == 0 {
					emit[i] += e.score(rep, e.s.cands[n].first)
				}
				if rep == reps-1 {
					emit[i] += e.last(rep, n)
				}
			}
			most = max(most, emit[i])
		}
		for i := range emit {
			if emit[i] < most-hopeless {
				emit[i] = math.Inf(-1)
			}
		}
	}
	e.change = resize(e.change, k*k)
	stay := stayRate
	if e.without&sticking != 0 {
		stay = 0
	}
	for j := range k {
		away := (1 - stay) * math.Exp(c.Start[j])
		for i := range k {
			e.change[i*k+j] = math.Log(away)
		}
		e.change[j*k+j] = math.Log(away + stay)
	}
	c.Move = e.move
	return c.Infer()
}

// labelOf gives the label of a candidate.
func (e *engine) labelOf(cand int) string {
	if cand == len(e.s.cands) {
		return Mash
	}
	return e.s.cands[cand].technique
}

// saw gives the label that an observer gave a rep, nothing where there is none or where none of
// the candidates has it.
func (e *engine) saw(rep int, some []int) string {
	if e.from+rep >= len(e.seen) {
		return ""
	}
	label := e.seen[e.from+rep]
	if label == "" || !slices.ContainsFunc(some, func(c int) bool { return e.labelOf(c) == label }) {
		return ""
	}
	return label
}

// move is what a change from one candidate to another over the edge after rep adds.
func (e *engine) move(rep, i, j int) float64 {
	a, b, mash := e.some[i], e.some[j], len(e.s.cands)
	logP := e.change[i*len(e.some)+j]
	switch {
	case a == mash && b == mash:
		return logP
	case a == mash:
		return logP + e.score(rep+1, e.s.cands[b].first)
	case b == mash: // as if nothing came after
		return logP + e.last(rep, a)
	}
	return logP + e.linked(rep, e.s.cands[a].ends, e.s.cands[b].heads)
}

// linked is the logarithm of what the releases over an edge say, over both orientations
// of the next rep.
func (e *engine) linked(rep int, ends, heads int32) float64 {
	at := &e.links[(rep*len(e.s.between)+int(ends))*len(e.s.between[0])+int(heads)]
	if math.IsNaN(*at) {
		l := e.link(rep, ends, heads)
		*at = chain.LogSum(l[:])
	}
	return *at
}

// turns gives the probability that the feet exchange between two candidates over the edge
// after rep.
func (e *engine) turns(rep, a, b int) float64 {
	if mash := len(e.s.cands); a == mash || b == mash {
		return turnRate
	}
	l := e.link(rep, e.s.cands[a].ends, e.s.cands[b].heads)
	return 1 / (1 + math.Exp(l[0]-l[1]))
}

// leastShare is a posterior below which a candidate counts for nothing in the fit.
const leastShare = 1e-4

// weigh works out how much each term was part of what was played, after infer.
func (e *engine) weigh(logP float64, posterior []float64) {
	clear(e.weight)
	k, reps, terms, mash := len(e.some), e.reps(), len(e.s.terms), len(e.s.cands)
	for rep := range reps {
		for i, n := range e.some {
			w := posterior[rep*k+i]
			if w < leastShare {
				continue
			}
			if n == mash {
				for j, m := range e.some {
					if rep < reps-1 && m != mash && posterior[(rep+1)*k+j] >= leastShare {
						e.weight[(rep+1)*terms+int(e.s.cands[m].first)] += e.chain.Pair(rep, i, j, logP)
					}
				}
				continue
			}
			c := &e.s.cands[n]
			if rep == 0 {
				e.weight[int(c.first)] += w
			}
			for _, t := range c.terms {
				e.weight[rep*terms+int(t)] += w
			}
			if rep == reps-1 {
				e.weighLink(rep, c.ends, e.s.after(), 0, w)
				continue
			}
			for j, m := range e.some {
				if posterior[(rep+1)*k+j] < leastShare {
					continue
				}
				both := e.chain.Pair(rep, i, j, logP)
				if m == mash {
					e.weighLink(rep, c.ends, e.s.after(), 0, both)
					continue
				}
				turn := e.turns(rep, n, m)
				e.weighLink(rep, c.ends, e.s.cands[m].heads, 0, both*(1-turn))
				e.weighLink(rep, c.ends, e.s.cands[m].heads, 1, both*turn)
			}
		}
	}
}

func (e *engine) weighLink(rep int, ends, heads int32, x int, w float64) {
	for _, t := range e.s.between[ends][heads][x] {
		if t != none {
			e.weight[rep*len(e.s.terms)+int(t)] += w
		}
	}
}

func resize(s []float64, n int) []float64 {
	if cap(s) < n {
		return make([]float64, n)
	}
	return s[:n]
}
