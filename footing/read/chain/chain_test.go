package chain_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/footing/read/chain"
)

func logs(p ...float64) []float64 {
	out := make([]float64, len(p))
	for i, v := range p {
		out[i] = math.Log(v)
	}
	return out
}

// seen makes a chain of observations with one table of moves; emit has a row a
// state, and an observation below 0 says nothing.
func seen(start []float64, move, emit [][]float64, obs ...int) *chain.Chain {
	k := len(start)
	c := &chain.Chain{States: k, Start: logs(start...), Move: func(_, i, j int) float64 { return math.Log(move[i][j]) }}
	for _, o := range obs {
		for i := range k {
			if o < 0 {
				c.Emit = append(c.Emit, 0)
			} else {
				c.Emit = append(c.Emit, math.Log(emit[i][o]))
			}
		}
	}
	return c
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s is %v, want %v", what, got, want)
	}
}

// Rabiner (1989), section II: the weather as a chain whose states are seen.
// P(sun sun sun rain rain sun cloud sun | first sun) = 1.536e-4 (the example from
// memory, its arithmetic worked again).
func TestRabinersWeather(t *testing.T) {
	c := seen([]float64{0, 0, 1},
		[][]float64{{.4, .3, .3}, {.2, .6, .2}, {.1, .1, .8}},
		[][]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}, 2, 2, 2, 0, 0, 2, 1, 2)
	logP, _ := c.Infer()
	near(t, "P", math.Exp(logP), 1.536e-4, 1e-12)
	path, best := c.Best()
	near(t, "P of the path", math.Exp(best), 1.536e-4, 1e-12)
	for i, want := range []int{2, 2, 2, 0, 0, 2, 1, 2} {
		if path[i] != want {
			t.Errorf("the path is %v", path)
			break
		}
	}
}

// The textbook example of Viterbi's algorithm, of the healthy and the feverish: normal,
// cold, dizzy (from memory, its arithmetic worked again).
func TestHealthyAndFever(t *testing.T) {
	c := seen([]float64{.6, .4}, [][]float64{{.7, .3}, {.4, .6}}, [][]float64{{.5, .4, .1}, {.1, .3, .6}}, 0, 1, 2)
	path, logP := c.Best()
	near(t, "P of the path", math.Exp(logP), .01512, 1e-12)
	if path[0] != 0 || path[1] != 0 || path[2] != 1 {
		t.Errorf("the path is %v, want healthy, healthy, fever", path)
	}
	all, _ := c.Infer()
	near(t, "P of what was seen", math.Exp(all), .03628, 1e-12)
}

// Russell and Norvig, Artificial Intelligence, the chapter on time: umbrellas seen on
// days 1, 2, 4 and 5 and none on day 3, day 0 without any (from memory, its
// arithmetic worked again).
func TestUmbrella(t *testing.T) {
	c := seen([]float64{.5, .5}, [][]float64{{.7, .3}, {.3, .7}}, [][]float64{{.9, .1}, {.2, .8}}, -1, 0, 0, 1, 0, 0)
	_, p := c.Infer()
	for day, want := range []float64{.6469, .8673, .8204, .3075, .8204, .8673} {
		near(t, "smoothed", p[2*day], want, 5e-5)
	}
	for day, want := range []float64{.8182, .8834, .1907, .7308, .8673} {
		near(t, "filtered", c.Filtered(nil, day+1)[0], want, 5e-5)
	}
}

// On short chains every path can be tried: sums, posteriors, pairs and the best
// path are those of the enumeration.
func TestEqualsEnumeration(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k, n := rapid.IntRange(1, 4).Draw(t, "states"), rapid.IntRange(1, 5).Draw(t, "moments")
		figure := rapid.Float64Range(-30, 3)
		c := &chain.Chain{States: k}
		moves := rapid.SliceOfN(figure, n*k*k, n*k*k).Draw(t, "moves")
		c.Start = rapid.SliceOfN(figure, k, k).Draw(t, "start")
		c.Emit = rapid.SliceOfN(figure, n*k, n*k).Draw(t, "emit")
		c.Move = func(t, i, j int) float64 { return moves[(t*k+i)*k+j] }
		total, best := 0.0, math.Inf(-1)
		marginal, pair := make([]float64, n*k), make([]float64, n*k*k)
		path := make([]int, n)
		for code := range int(math.Pow(float64(k), float64(n))) {
			for m, rest := 0, code; m < n; m, rest = m+1, rest/k {
				path[m] = rest % k
			}
			v := c.Start[path[0]]
			for m := range n {
				v += c.Emit[m*k+path[m]]
				if m > 0 {
					v += c.Move(m-1, path[m-1], path[m])
				}
			}
			best = max(best, v)
			total += math.Exp(v)
			for m := range n {
				marginal[m*k+path[m]] += math.Exp(v)
				if m > 0 {
					pair[((m-1)*k+path[m-1])*k+path[m]] += math.Exp(v)
				}
			}
		}
		logP, p := c.Infer()
		if math.Abs(logP-math.Log(total)) > 1e-9 {
			t.Fatalf("log P is %v, by enumeration %v", logP, math.Log(total))
		}
		for i := range p {
			if math.Abs(p[i]-marginal[i]/total) > 1e-9 {
				t.Fatalf("a posterior is %v, by enumeration %v", p[i], marginal[i]/total)
			}
		}
		for m := range n - 1 {
			for i := range k {
				for j := range k {
					if got, want := c.Pair(m, i, j, logP), pair[(m*k+i)*k+j]/total; math.Abs(got-want) > 1e-9 {
						t.Fatalf("a pair is %v, by enumeration %v", got, want)
					}
				}
			}
		}
		if _, got := c.Best(); math.Abs(got-best) > 1e-9 {
			t.Fatalf("the best path has %v, by enumeration %v", got, best)
		}
	})
}
