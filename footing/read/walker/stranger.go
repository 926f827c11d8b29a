package walker

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/floats"

	"heeltoe/footing"
)

// Population is how players differ: it draws one.
type Population func(r *rand.Rand) Habits

// stream is a source of chance whose every number is given, from 0 up to 1, in their order;
// after the last they are a half. Float64 of a generator on it
// rises with them, and so does IntN but for powers of two.
type stream struct{ u []float64 }

// Uint64 has the number as a share of 2^53 in the bits that Float64 takes, and its first bits
// above them, where IntN looks, which draws again where the rest are 0.
func (s *stream) Uint64() uint64 {
	u := .5
	if len(s.u) > 0 {
		u, s.u = s.u[0], s.u[1:]
	}
	v := uint64(u * (1 << 53))
	return v | v>>42<<53 | 1
}

// chances is how many numbers a player and what panels differ by are drawn from at most.
const chances = 48

// as gives the run as if a player had made it who is drawn from the population by u.
func (w *walk) as(of Population, u []float64) *walk {
	c := *w
	r := rand.New(&stream{u})
	c.shareOf = shares(w.d, r)
	c.h = of(r)
	return &c
}

// LogEvidence gives the logarithm of what LogLikelihood's density is on the mean over all
// players of a population: what a stranger makes of the run, who knows how players differ but not who
// this one is, and sees when each foot touched down and when its load began to fall. No reader of one run can
// know more of f than that. It is estimated by so many particles that move from the
// population to those players who fit (a sequential Monte Carlo sampler: Del Moral, Doucet and Jasra 2006, in
// steps that leave half of the particles effective, moved by differences of others, ter Braak 2006; from memory).
func (g *Genie) LogEvidence(f *footing.Footing, of Population, particles int, r *rand.Rand) float64 {
	const (
		least  = -40. // a foot's leaving; so that those who nearly fit are seen from afar
		moves  = 3    // of each particle at each step
		first  = 8    // times as many particles are drawn at the start
		effect = .5
	)
	called := g.w.callsBy(f)
	type particle struct {
		u   []float64
		log float64
	}
	weigh := func(u []float64) float64 { return g.w.as(of, u).logLikelihood(called, least) }
	all := make([]particle, first*particles)
	for i := range all {
		u := make([]float64, chances)
		for k := range u {
			u[k] = r.Float64()
		}
		all[i] = particle{u, weigh(u)}
	}
	evidence, power := 0.0, 0.0
	logs := make([]float64, 0, len(all))
	for power < 1 {
		// The next power leaves so many particles effective.
		effective := func(by float64) float64 {
			sum, squares, top := 0.0, 0.0, math.Inf(-1)
			for i := range all {
				top = max(top, all[i].log)
			}
			for i := range all {
				v := math.Exp(by * (all[i].log - top))
				sum += v
				squares += v * v
			}
			return sum * sum / squares
		}
		by := 1 - power
		if want := effect * float64(particles); effective(by) < want {
			low, high := 0.0, by
			for range 50 {
				if middle := (low + high) / 2; effective(middle) < want {
					high = middle
				} else {
					low = middle
				}
			}
			by = low
		}
		logs = logs[:0]
		for i := range all {
			logs = append(logs, by*all[i].log)
		}
		total := floats.LogSumExp(logs)
		evidence += total - math.Log(float64(len(all)))
		power += by
		// So many are drawn anew by their weights, evenly (systematic resampling), and moved.
		next, at, sum := make([]particle, 0, particles), 0, 0.0
		for k := range particles {
			point := (float64(k) + r.Float64()) / float64(particles)
			for sum+math.Exp(logs[at]-total) < point && at < len(all)-1 {
				sum += math.Exp(logs[at] - total)
				at++
			}
			next = append(next, particle{slices.Clone(all[at].u), all[at].log})
		}
		all = next
		for range moves {
			for i := range all {
				a, b := &all[r.IntN(len(all))], &all[r.IntN(len(all))]
				u := slices.Clone(all[i].u)
				some := .15 + .85*r.Float64() // of the numbers are moved
				far := math.Abs(r.NormFloat64())
				for k := range u {
					if r.Float64() < some {
						u[k] = inside(u[k] + far*(a.u[k]-b.u[k]) + .01*r.NormFloat64())
					}
				}
				if log := weigh(u); math.Log(r.Float64()) < power*(log-all[i].log) {
					all[i] = particle{u, log}
				}
			}
		}
	}
	return evidence
}

// inside turns back at 0 and 1 what goes beyond.
func inside(x float64) float64 {
	x = math.Abs(math.Mod(x, 2))
	if x >= 1 {
		x = 2 - x
	}
	return min(x, math.Nextafter(1, 0))
}
