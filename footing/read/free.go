package read

import (
	"math"
	"slices"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// Tread is what is read of a press with no drill to go by.
type Tread struct {
	pad.Press
	Foot   pad.Foot // left and right by how a body stands: who plays with crossed feet is read mirrored
	Kind   drill.ContactKind
	With   int     // the place of the contact's other press, or None
	Stray  bool    // that no foot came down: a panel was brushed; then Foot and Kind say nothing
	Bounce bool    // that the switch bounced: the panel's press before goes on, and so does its foot
	P      float64 // of the kind and of the foot relative to the press before, of a stray that it is one; 0 to 1
}

// Of the reading without a drill (design values, chosen on drills and players that no test has). Most
// depends on how far a start may be behind, since what recurs can turn it round, and on the tempering.
const (
	freeJoined = 60.0  // ms: presses that are meant to be at once come no further apart
	freeLeast  = 25.0  // ms: no roll takes less from press to press
	freeRolled = 350.0 // ms: nor more
	freePart   = 320   // presses to which the parameters are fitted
	freeEarly  = 2     // passes from every start
	freeLate   = 3     // and then from those that are promising, with what recurs taken into account
	freeBehind = 80    // starts whose evidence is further behind the best are let go
	freeModes  = 3     // ends of fits that have a say
	freeMixing = .2    // share of a difference in evidence between them that is believed
	freeTemper = .7    // and of what each press says: presses lean on the same parameters
	freeWhole  = .05   // weight of the likelihood of all that is decided, so that mirrored readings are not mixed
	freeDoubt  = .04   // share of presses that are misread however sure their reading is

	freeTurn    = .5  // weight of a stance's load against what presses say
	freeTwisted = 1.5 // what a foot that cannot turn so, or feet too far apart, cost
	freeHaste   = 1.0 // weight of haste
	freeLateBy  = 1.0 // what less time than a body needs costs
	freeKind    = .5  // weight of a bracket's and a roll's load
	freeMoves   = 60  // presses that the shares of moves before a run weigh as much as
	freeRecurs  = 3   // and of presses among the same others the run's own
	brushedMS   = 60  // the median of a brushed panel's press
	brushedLog  = .7  // and the spread of that time's logarithm
)

// moveKind is what a press may be, seen from the one before.
type moveKind uint8

const (
	turnMove    moveKind = iota // the other foot steps
	againMove                   // the same foot does
	bothMove                    // the other foot comes down with it
	bracketMove                 // the press is the other half of a bracket
	rollMove                    // or the end of a roll
	strayMove                   // or no foot's
	moveKinds
)

// shares are probabilities of moves.
type shares [moveKinds]float64

// usualShares are those before a run; from the others, of somebody who does not roll and of somebody who
// mostly does, fits begin as well.
var usualShares = [...]shares{{.60, .12, .06, .08, .09, .01}, {.80, .10, .03, .04, .005, .01}, {.45, .05, .03, .04, .40, .01}}

// Free reads presses with no drill to go by. The presses are in order of their moments. The time is linear in
// their number.
//
// The law of drills' reading says what releases, brackets and rolls tell. What the feet did is a
// hidden Markov chain over where both feet are and since which press, added up over forward and
// backward (lattice); of due moments only the slot is known of which times between landings are
// multiples. How a body stands, and how soon a foot can come down again, weighs as it does for
// footings. The parameters are fitted to a part of the run from several starts. Players repeat themselves: what
// is read of a press among the same others elsewhere in the run has a say.
func Free(l *pad.Layout, presses []pad.Press) []Tread {
	treads := make([]Tread, len(presses))
	of := make([]int32, len(presses)) // which of kept each is part of
	var kept []pad.Press
	var first []int
	var last [pad.MaxPanels]int32
	for i := range last {
		last[i] = None
	}
	for i, p := range presses {
		treads[i] = Tread{Press: p, With: None}
		if j := last[p.Panel]; j != None && kept[j].Up != pad.Never && p.Down-kept[j].Up <= chatterGap {
			kept[j].Up, of[i] = p.Up, j
			treads[i].Bounce = true
			continue
		}
		last[p.Panel], of[i] = int32(len(kept)), int32(len(kept))
		kept, first = append(kept, p), append(first, i)
	}
	if len(kept) == 0 {
		return treads
	}
	calls := readFree(l, footing.NewStances(l, footing.DefaultBody()), kept)
	for i := range treads {
		t, c := &treads[i], &calls[of[i]]
		t.Foot, t.P, t.Stray = c.foot, c.p, c.stray
		if c.with != None && !t.Bounce {
			t.Kind, t.With = c.kind, first[c.with]
		}
	}
	return treads
}

// call is what is decided of a press.
type call struct {
	foot  pad.Foot
	kind  drill.ContactKind
	with  int32
	stray bool
	p     float64
}

// freeMode is a place to which the parameters were fitted.
type freeMode struct {
	values   Values
	moves    shares // logarithms
	evidence float64
	played   []moves // of the part
}

// readFree reads presses without bounces.
func readFree(l *pad.Layout, stances *footing.Stances, presses []pad.Press) []call {
	part := newLattice(l, stances, presses[:min(len(presses), freePart)])
	modes := part.modes()
	whole := part
	if len(presses) > freePart {
		whole = newLattice(l, stances, presses)
		whole.setSlot(part.slot)
	}
	m := newMarginals(len(presses))
	total := 0.0
	for i := range modes {
		total += math.Exp(freeMixing * (modes[i].evidence - modes[0].evidence))
	}
	for i := len(modes) - 1; i >= 0; i-- { // the best last, whose lattice the decision is made in
		mode := &modes[i]
		whole.moves = mode.moves
		if whole == part {
			copy(whole.played, mode.played)
		} else {
			whole.pass(mode.values, false, nil, 0)
			whole.pass(mode.values, true, nil, 0)
		}
		whole.pass(mode.values, true, m, math.Exp(freeMixing*(mode.evidence-modes[0].evidence))/total)
	}
	return whole.decide(m)
}

// modes fits the parameters from all starts and gives the ends that are apart, the best first.
func (f *lattice) modes() []freeMode {
	var begun []freeMode
	for _, m := range manners {
		for _, s := range usualShares {
			v := f.prior.mean
			v[Dwell], v[HandOverShare] = math.Log(m.dwellMS), m.handOverShare
			if m.handOverShare > 0 {
				v[HandOverSpread] = math.Log(handsOverMS)
			}
			for k, p := range s {
				f.moves[k] = math.Log(p)
			}
			evidence := 0.0
			for range freeEarly {
				v, evidence = f.climb(v, false)
			}
			begun = append(begun, freeMode{v, f.moves, evidence, slices.Clone(f.played)})
		}
	}
	best := func(a, b freeMode) int {
		switch {
		case a.evidence > b.evidence:
			return -1
		case a.evidence < b.evidence:
			return 1
		}
		return 0
	}
	slices.SortStableFunc(begun, best)
	var ends []freeMode
	for i := range begun {
		m := &begun[i]
		if m.evidence < begun[0].evidence-freeBehind {
			break
		}
		f.moves = m.moves
		copy(f.played, m.played)
		v := m.values
		for range freeLate {
			m.values, m.moves = v, f.moves
			v, m.evidence = f.climb(v, true)
		}
		copy(m.played, f.played)
		ends = append(ends, *m)
	}
	slices.SortStableFunc(ends, best)
	apart := ends[:1]
	for i := range ends[1:] {
		if m := &ends[1+i]; len(apart) < freeModes && !slices.ContainsFunc(apart, func(o freeMode) bool { return m.like(&o) }) {
			apart = append(apart, *m)
		}
	}
	return apart
}

// like tells whether two modes read the part alike.
func (m *freeMode) like(o *freeMode) bool {
	apart := 0.0
	for i := range m.played {
		for k := range moveKinds {
			for x := range 2 {
				apart += math.Abs(m.played[i][k][x] - o.played[i][k][x])
			}
		}
	}
	return apart/2 <= alike*float64(len(m.played))
}

// climb reads at v and gives the values and sets the shares one step uphill from there, with the evidence at v.
func (f *lattice) climb(v Values, recurring bool) (next Values, evidence float64) {
	f.pass(v, recurring, nil, 0)
	next, volume := ascend(f.law, &f.prior, f.facts, f.weight, &f.info)
	var counts shares
	total := float64(freeMoves)
	for i := range f.played {
		for k := range counts {
			counts[k] += f.played[i][k][0] + f.played[i][k][1]
		}
	}
	for k, n := range counts {
		counts[k] += freeMoves * usualShares[0][k]
		total += n
	}
	for k, n := range counts {
		f.moves[k] = math.Log(n / total)
	}
	return next, f.logP + f.prior.log(&v) + volume
}

// marginals are the probabilities of all that a press may be.
type marginals struct {
	step  [][2]float64 // that it is a step, by foot
	turn  [][2]float64 // that it is the first of a contact, by whether the foot is another than that of the press before
	joins [][]join     // that it is the second of one
	stray []float64
}

// join is a press as the second of a contact.
type join struct {
	with int32
	foot pad.Foot
	kind drill.ContactKind
	p    float64
}

func newMarginals(n int) *marginals {
	return &marginals{make([][2]float64, n), make([][2]float64, n), make([][]join, n), make([]float64, n)}
}

// add adds the probability p of an edge by press i, after one by the foot last.
func (m *marginals) add(i int32, e *freeEdge, last pad.Foot, p float64) {
	switch e.kind {
	case strayMove:
		m.stray[i] += p
	case bracketMove, rollMove:
		m.step[e.with][e.foot] -= p
		if j := m.join(i, e); j != nil {
			j.p += p
			return
		}
		m.joins[i] = append(m.joins[i], join{e.with, e.foot, e.kind.contact(), p})
	default:
		m.step[i][e.foot] += p
		m.turn[i][e.foot^last] += p
	}
}

// join gives what an edge makes of press i, nil where that has no probability.
func (m *marginals) join(i int32, e *freeEdge) *join {
	for k := range m.joins[i] {
		if j := &m.joins[i][k]; j.with == e.with && j.foot == e.foot && j.kind == e.kind.contact() {
			return j
		}
	}
	return nil
}

// together gives the probability that press i and another are one contact, of either foot.
func (m *marginals) together(i, with int32, kind drill.ContactKind) (p float64) {
	for _, j := range m.joins[i] {
		if j.with == with && j.kind == kind {
			p += j.p
		}
	}
	return p
}

// stepped gives the probability that press i is a step by another foot than the press before it, or by the
// same; whether it is one is taken not to depend on that. Of a first press there is no press before.
func (m *marginals) stepped(i int32, turn pad.Foot) float64 {
	first := m.turn[i][0] + m.turn[i][1]
	if first == 0 {
		return 0
	}
	p := (m.step[i][0] + m.step[i][1]) / first
	if i > 0 {
		p *= m.turn[i][turn]
	} else {
		p *= first
	}
	return p
}

// worth is what a decision for an edge adds to the sum of the probabilities of all that is decided.
func (m *marginals) worth(i int32, e *freeEdge) float64 {
	switch e.kind {
	case strayMove:
		return m.stray[i]
	case bracketMove, rollMove:
		if j := m.join(i, e); j != nil {
			return 2*j.p - m.step[e.with][e.foot]
		}
		return -m.step[e.with][e.foot]
	}
	return m.step[i][e.foot]
}

// contact gives what a move makes of its contact.
func (k moveKind) contact() drill.ContactKind {
	switch k {
	case bracketMove:
		return drill.Bracket
	case rollMove:
		return drill.Roll
	}
	return drill.Step
}

// decide gives the way through the lattice whose probabilities, press by press, add up to the most: so
// what is decided of the presses fits together.
func (f *lattice) decide(m *marginals) []call {
	sum := make([]float64, len(f.states))
	back := make([]int32, len(f.states))
	for s := range sum {
		sum[s] = math.Inf(-1)
	}
	sum[0] = 0
	for i, ly := range f.layers[1:] {
		for k := ly.edges[0]; k < ly.edges[1]; k++ {
			e := &f.edges[k]
			if v := sum[e.from] + m.worth(int32(i), e) + freeWhole*math.Log(e.weight); v > sum[e.to] {
				sum[e.to], back[e.to] = v, k
			}
		}
	}
	ends := f.layers[len(f.layers)-1].states
	at := ends[0]
	for s := ends[0]; s < ends[1]; s++ {
		if sum[s] > sum[at] {
			at = s
		}
	}
	calls := make([]call, len(f.down))
	for i := range calls {
		calls[i].with = None
	}
	for i := int32(len(calls) - 1); i >= 0; i-- {
		e := &f.edges[back[at]]
		at = e.from
		c := &calls[i]
		switch e.kind {
		case strayMove:
			c.stray, c.p = true, m.stray[i]
		case bracketMove, rollMove:
			kind := e.kind.contact()
			p := m.together(i, e.with, kind)
			*c = call{foot: e.foot, kind: kind, with: e.with, p: p}
			calls[e.with] = call{foot: e.foot, kind: kind, with: i, p: p}
		default:
			if c.with == None {
				c.foot, c.p = e.foot, m.stepped(i, e.foot^f.states[at].last)
			}
		}
	}
	for i := range calls {
		calls[i].p = (1 - freeDoubt) * max(0, min(calls[i].p, 1)) // bounded for rounding's sake
	}
	return calls
}
