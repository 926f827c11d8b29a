// Package chain is exact inference on a chain of hidden states: the forward-backward
// recursion and the Viterbi path (Rabiner 1989, A tutorial on hidden Markov models).
// It works on logarithms, so that no chain is too long for it, and does not allocate
// once its buffers have grown.
package chain

import "math"

// Chain is a hidden Markov chain as it is after its observations are known: only
// what each state and each change of state adds to the logarithm is left of them.
// A figure of minus infinity is impossible.
type Chain struct {
	States int // at each moment
	// Start[i] is log P(state i at moment 0).
	Start []float64
	// Emit[t*States+i] is log P(what is seen at moment t | state i).
	Emit []float64
	// Move gives log P(state j at moment t+1 | state i at moment t), and what is seen
	// between the two.
	Move func(t, i, j int) float64

	moves           []float64
	live            []int32 // the states that are possible at each moment
	liveTo          []int   // where each moment's end in live
	forward, behind []float64
	marginal        []float64
	sum             []float64
	best            []float64
	from            []int32
}

// Moments gives the length of the chain.
func (c *Chain) Moments() int { return len(c.Emit) / c.States }

// Infer gives log P(everything seen), and for each moment and state its posterior
// probability, at [t*States+i]; the slice is good until the next call. The time it takes
// grows with the number of moves between states that are possible.
func (c *Chain) Infer() (logP float64, posterior []float64) {
	k, n := c.States, c.Moments()
	c.forward, c.behind, c.marginal = grown(c.forward, n*k), grown(c.behind, n*k), grown(c.marginal, n*k)
	for i := range c.forward {
		c.forward[i], c.behind[i] = math.Inf(-1), math.Inf(-1)
	}
	c.prepare()
	for _, i := range c.at(0) {
		c.forward[i] = c.Start[i] + c.Emit[i]
	}
	for t := 1; t < n; t++ {
		before, moves := c.forward[(t-1)*k:t*k], c.moves[(t-1)*k*k:t*k*k]
		for _, j := range c.at(t) {
			c.sum = c.sum[:0]
			for _, i := range c.at(t - 1) {
				c.sum = append(c.sum, before[i]+moves[int(i)*k+int(j)])
			}
			c.forward[t*k+int(j)] = c.Emit[t*k+int(j)] + LogSum(c.sum)
		}
	}
	for _, i := range c.at(n - 1) {
		c.behind[(n-1)*k+int(i)] = 0
	}
	for t := n - 2; t >= 0; t-- {
		after, emit, moves := c.behind[(t+1)*k:(t+2)*k], c.Emit[(t+1)*k:(t+2)*k], c.moves[t*k*k:(t+1)*k*k]
		for _, i := range c.at(t) {
			c.sum = c.sum[:0]
			for _, j := range c.at(t + 1) {
				c.sum = append(c.sum, moves[int(i)*k+int(j)]+emit[j]+after[j])
			}
			c.behind[t*k+int(i)] = LogSum(c.sum)
		}
	}
	logP = LogSum(c.forward[(n-1)*k : n*k])
	for i := range c.marginal {
		c.marginal[i] = math.Exp(c.forward[i] + c.behind[i] - logP)
	}
	return logP, c.marginal
}

// at gives the states that are possible at a moment.
func (c *Chain) at(t int) []int32 {
	if t == 0 {
		return c.live[:c.liveTo[0]]
	}
	return c.live[c.liveTo[t-1]:c.liveTo[t]]
}

// prepare finds the states that are possible, and asks once for every move between them.
func (c *Chain) prepare() {
	k, n := c.States, c.Moments()
	c.live, c.liveTo = c.live[:0], c.liveTo[:0]
	for t := range n {
		for i := range k {
			if !math.IsInf(c.Emit[t*k+i], -1) {
				c.live = append(c.live, int32(i))
			}
		}
		c.liveTo = append(c.liveTo, len(c.live))
	}
	c.moves = grown(c.moves, max(0, n-1)*k*k)
	for i := range c.moves {
		c.moves[i] = math.Inf(-1)
	}
	for t := range n - 1 {
		for _, i := range c.at(t) {
			for _, j := range c.at(t + 1) {
				c.moves[(t*k+int(i))*k+int(j)] = c.Move(t, int(i), int(j))
			}
		}
	}
}

// Pair gives the posterior probability of state i at moment t and j at t+1, after Infer.
func (c *Chain) Pair(t, i, j int, logP float64) float64 {
	k := c.States
	return math.Exp(c.forward[t*k+i] + c.moves[(t*k+i)*k+j] + c.Emit[(t+1)*k+j] + c.behind[(t+1)*k+j] - logP)
}

// Filtered gives for each state the probability at moment t given what was seen up
// to then, after Infer, appended to dst.
func (c *Chain) Filtered(dst []float64, t int) []float64 {
	f := c.forward[t*c.States : (t+1)*c.States]
	sum := LogSum(f)
	for _, v := range f {
		dst = append(dst, math.Exp(v-sum))
	}
	return dst
}

// Best gives the most probable path and its log probability together with what was seen.
func (c *Chain) Best() (path []int, logP float64) {
	k, n := c.States, c.Moments()
	c.best = grown(c.best, n*k)
	if cap(c.from) < n*k {
		c.from = make([]int32, n*k)
	}
	c.from = c.from[:n*k]
	for i := range k {
		c.best[i] = c.Start[i] + c.Emit[i]
	}
	for t := 1; t < n; t++ {
		for j := range k {
			most, at := math.Inf(-1), 0
			for i := range k {
				if v := c.best[(t-1)*k+i] + c.Move(t-1, i, j); v > most {
					most, at = v, i
				}
			}
			c.best[t*k+j], c.from[t*k+j] = most+c.Emit[t*k+j], int32(at)
		}
	}
	path = make([]int, n)
	logP = math.Inf(-1)
	for i := range k {
		if v := c.best[(n-1)*k+i]; v > logP {
			logP, path[n-1] = v, i
		}
	}
	for t := n - 1; t > 0; t-- {
		path[t-1] = int(c.from[t*k+path[t]])
	}
	return path, logP
}

// LogSum gives the logarithm of the sum of what x are the logarithms of.
func LogSum(x []float64) float64 {
	most := math.Inf(-1)
	for _, v := range x {
		most = max(most, v)
	}
	if math.IsInf(most, 0) {
		return most
	}
	sum := 0.0
	for _, v := range x {
		if v > most-negligible {
			sum += math.Exp(v - most)
		}
	}
	return most + math.Log(sum)
}

// negligible is a difference of logarithms by which a part of a sum is lost in rounding.
const negligible = 40

func grown(s []float64, n int) []float64 {
	if cap(s) < n {
		return make([]float64, n)
	}
	return s[:n]
}
