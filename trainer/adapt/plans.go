package adapt

import (
	"time"

	"heeltoe/trainer/estimate"
)

// Ladder climbs by fixed steps, with rests between, until a block holds fewer good
// reps than asked for.
type Ladder struct {
	From, Step, To float64 // beats a minute
	Reps           int64   // of a block
	Share          float64 // of the clear reps that must be good
	Rest           time.Duration

	Held   float64 // fastest tempo that was held, 0 for none
	Failed float64 // the tempo that was not, 0 for none
	repeat int
	over   bool
	bpm    float64
}

// repeats is how often a block is played again for its unclear reps.
const repeats = 2

// Next implements Plan.
func (l *Ladder) Next() (Block, bool) {
	b := Block{Reps: l.Reps, Rest: l.Rest}
	if l.bpm == 0 {
		l.bpm, b.Rest = l.From, 0
	}
	if l.over || l.bpm > l.To {
		return Block{}, false
	}
	b.BPM = l.bpm
	return b, true
}

// Played implements Plan. A block whose unclear reps could turn the answer is
// played again, twice at most; then they count as not good.
func (l *Ladder) Played(outcomes []Outcome) {
	good, bad, unclear := tally(outcomes)
	n := float64(good + bad + unclear)
	switch {
	case n > 0 && float64(good) >= l.Share*n:
		l.Held, l.repeat = l.bpm, 0
		l.bpm += l.Step
	case n > 0 && float64(good+unclear) >= l.Share*n && l.repeat < repeats:
		l.repeat++
	default:
		l.Failed, l.over = l.bpm, true
	}
}

// Bursts are short blocks above a limit, with rests, to get a body used to the tempo.
type Bursts struct {
	BPM   float64 // of a burst
	Reps  int64   // of a burst, few
	Count int
	Rest  time.Duration

	Outcomes [][]Outcome // of each burst
}

// Next implements Plan.
func (b *Bursts) Next() (Block, bool) {
	if len(b.Outcomes) >= b.Count {
		return Block{}, false
	}
	n := Block{BPM: b.BPM, Reps: b.Reps, Rest: b.Rest}
	if len(b.Outcomes) == 0 {
		n.Rest = 0
	}
	return n, true
}

// Played implements Plan.
func (b *Bursts) Played(outcomes []Outcome) { b.Outcomes = append(b.Outcomes, outcomes) }

// A tempo fails where more than Slips of the last SlipsOf reps are bad (design values).
const (
	Slips   = 2
	SlipsOf = 6
)

// HoldOut stays at a tempo until it fails: until more than Slips of the last Of
// reps were bad. MostReps caps it.
type HoldOut struct {
	BPM       float64
	Slips, Of int
	MostReps  int64

	Reps   int  // reps until it failed or ended, the failing ones among them
	Failed bool // false: the cap or the player ended it
	played bool
}

// Next implements Plan: it is one block.
func (h *HoldOut) Next() (Block, bool) {
	if h.played {
		return Block{}, false
	}
	return Block{BPM: h.BPM, Reps: h.MostReps, Enough: h.fails}, true
}

// fails tells whether the last reps fail. Unclear ones are not counted as bad.
func (h *HoldOut) fails(outcomes []Outcome) bool {
	_, bad, _ := tally(outcomes[max(0, len(outcomes)-h.Of):])
	return bad > h.Slips
}

// Played implements Plan.
func (h *HoldOut) Played(outcomes []Outcome) {
	h.played = true
	for n := range len(outcomes) {
		if h.fails(outcomes[:n+1]) {
			h.Reps, h.Failed = n+1, true
			return
		}
	}
	h.Reps = len(outcomes)
}

// TwoWays plays two ways in turn at each of several tempi, in the order A B B A at
// the first and B A A B at the next, so that getting warm or tired helps neither, with
// equal rests and a warm-up of each way that does not count.
type TwoWays struct {
	Tempi  []float64
	Reps   int64 // of a block
	Rest   time.Duration
	WarmUp int64 // reps of each way before it, at the first tempo

	good, n [][2]int // clear reps of each tempo and way
	at      int
}

// block gives block k: the warm-ups first, then four of each tempo.
func (w *TwoWays) block(k int) (Block, bool) {
	if w.WarmUp > 0 {
		if k < 2 {
			return Block{BPM: w.Tempi[0], Reps: w.WarmUp, Way: k, WarmUp: true, Rest: w.Rest}, true
		}
		k -= 2
	}
	tempo, turn := k/4, k%4
	if tempo >= len(w.Tempi) {
		return Block{}, false
	}
	way := [4]int{0, 1, 1, 0}[turn]
	if tempo%2 == 1 {
		way = 1 - way
	}
	return Block{BPM: w.Tempi[tempo], Reps: w.Reps, Way: way, Rest: w.Rest}, true
}

// Next implements Plan.
func (w *TwoWays) Next() (Block, bool) {
	b, ok := w.block(w.at)
	if w.at == 0 {
		b.Rest = 0
	}
	return b, ok
}

// Played implements Plan.
func (w *TwoWays) Played(outcomes []Outcome) {
	b, ok := w.block(w.at)
	w.at++
	if !ok || b.WarmUp {
		return
	}
	k := w.at - 1
	if w.WarmUp > 0 {
		k -= 2
	}
	for len(w.n) <= k/4 {
		w.n, w.good = append(w.n, [2]int{}), append(w.good, [2]int{})
	}
	good, bad, _ := tally(outcomes)
	w.good[k/4][b.Way] += good
	w.n[k/4][b.Way] += good + bad
}

// Difference is how much larger the share of good reps of the first way is.
type Difference struct {
	BPM   float64
	Good  [2]int
	N     [2]int
	Share estimate.Figure // first less second; NaN where one was not played
}

// Shown tells whether there is a difference beyond chance.
func (d *Difference) Shown() bool { return d.Share.Shown() }

// Differences gives the answer at each tempo that was played.
func (w *TwoWays) Differences() []Difference {
	var out []Difference
	for i, n := range w.n {
		out = append(out, Difference{BPM: w.Tempi[i], Good: w.good[i], N: n,
			Share: estimate.ShareDifference(w.good[i][0], n[0], w.good[i][1], n[1], estimate.Level)})
	}
	return out
}
