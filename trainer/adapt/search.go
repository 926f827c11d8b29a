package adapt

import (
	"math"
	"time"

	"heeltoe/trainer/estimate"
	"heeltoe/trainer/success"
)

// Rule is how an adaptive search places the next block.
type Rule int

// Rules.
const (
	// Bayesian plays where the outcome tells most about the player's curve.
	Bayesian Rule = iota
	// UpDown is the weighted staircase on the logarithm of the tempo.
	UpDown
)

// Search looks for the tempo at which a player reaches a share of good reps. Where
// blocks are played is the rule's choice; what is concluded is the same for
// both: the posterior of the player's curve after all reps.
type Search struct {
	SearchOptions
	stairs *Staircase // of ln BPM
	belief *success.Posterior
	tempi  []float64 // to choose from
	bpm    float64   // of the block given last
	played int64
	blocks int // with a clear rep in them
}

// SearchOptions choose a search.
type SearchOptions struct {
	Target           float64 // share of good reps, 0.5 to 0.95
	Start            float64
	Slowest, Fastest float64
	Reps             int64   // of a block
	MostReps         int64   // in all, unclear ones among them
	Precision        float64 // the search ends once the interval is no wider than this share of the tempo to either side
	Rest             time.Duration
	Rule             Rule
}

// stepUp is the staircase's step after a good rep, of ln BPM: 2 %.
const stepUp = 0.02

// A search goes on for so many clear reps in so many blocks at least: the reps of a block
// have much in common, the reading of the feet above all, and tell less than as many apart.
const (
	leastReps   = 20
	leastBlocks = 8
)

// NewSearch begins a search. It refuses options out of range.
func NewSearch(o SearchOptions) (*Search, error) {
	switch {
	case !(o.Target >= 0.5 && o.Target <= 0.95):
		return nil, estimate.Refusef("a share of %v is not from 0.5 to 0.95", o.Target)
	case !(o.Slowest > 0 && o.Slowest < o.Fastest && o.Start >= o.Slowest && o.Start <= o.Fastest):
		return nil, estimate.Refusef("tempi from %v by %v to %v do not rise", o.Slowest, o.Start, o.Fastest)
	case o.Reps < 1 || o.MostReps < o.Reps:
		return nil, estimate.Refusef("blocks of %d reps do not fit %d reps in all", o.Reps, o.MostReps)
	case !(o.Precision > 0):
		return nil, estimate.Refusef("a precision of %v is not above 0", o.Precision)
	}
	s := &Search{SearchOptions: o, belief: success.NewPosterior(success.Grid(o.Slowest, o.Fastest)),
		stairs: Weighted(math.Log(o.Start), stepUp, o.Target)}
	for bpm := o.Slowest; bpm <= o.Fastest; bpm *= 1.03 {
		s.tempi = append(s.tempi, bpm)
	}
	return s, nil
}

// Next implements Plan. The first block is at Start.
func (s *Search) Next() (Block, bool) {
	if s.played >= s.MostReps || s.precise() {
		return Block{}, false
	}
	b := Block{Reps: min(s.Reps, s.MostReps-s.played)}
	if s.bpm > 0 { // not the first
		b.Rest = s.Rest
	}
	switch {
	case s.bpm == 0:
		s.bpm = s.Start
	case s.Rule == UpDown:
		s.stairs.Level = max(math.Log(s.Slowest), min(math.Log(s.Fastest), s.stairs.Level))
		s.bpm = math.Exp(s.stairs.Level)
	default:
		s.bpm = s.belief.Informative(s.reachable())
	}
	b.BPM = s.bpm
	return b, true
}

// most is how much faster a block is than the one before, at most: nobody is
// thrown at a tempo far above what was just played.
const most = 1.25

// reachable gives the tempi that the next block may have.
func (s *Search) reachable() []float64 {
	n := len(s.tempi)
	for n > 1 && s.tempi[n-1] > s.bpm*most {
		n--
	}
	return s.tempi[:n]
}

// Played implements Plan.
func (s *Search) Played(outcomes []Outcome) {
	s.played += int64(max(1, len(outcomes))) // a block of nothing counts too, so that the plan ends
	if good, bad, _ := tally(outcomes); good+bad > 0 {
		s.blocks++
	}
	for _, o := range outcomes {
		if o == Unclear {
			continue
		}
		s.belief.Observe(s.bpm, o == Good)
		s.stairs.Feed(o == Good)
	}
}

// precise tells whether the estimate is good enough.
func (s *Search) precise() bool {
	if s.belief.N() < leastReps || s.blocks < leastBlocks {
		return false
	}
	f := s.belief.Tempo(s.Target)
	return f.High-f.Low <= 2*s.Precision*f.Value
}

// Tempo gives the tempo at which the player reaches Target, with its interval. It
// refuses where the reps tell only that it lies above or below what was played.
func (s *Search) Tempo() (estimate.Figure, error) {
	f := s.belief.Tempo(s.Target)
	switch {
	case f.N < leastReps:
		return f, estimate.Refusef("%d clear reps are fewer than %d", f.N, leastReps)
	case f.High > s.Fastest:
		return f, estimate.Refusef("the limit was not reached: it may lie above %.0f beats a minute, the fastest allowed", s.Fastest)
	case f.Low < s.Slowest:
		return f, estimate.Refusef("the limit may lie below %.0f beats a minute, the slowest allowed", s.Slowest)
	}
	return f, nil
}

// Belief gives what the reps tell of the player's curve.
func (s *Search) Belief() *success.Posterior { return s.belief }

// Precise tells whether the search ended because the estimate is good enough,
// rather than for the number of reps.
func (s *Search) Precise() bool { return s.precise() }
