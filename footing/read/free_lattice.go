package read

import (
	"math"
	"slices"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// Of what is kept of the lattice.
const (
	latticeWidth = 60   // states a press, about
	latticeFaint = 1e-5 // of the likeliest one's probability: below it a state is let go
)

// lattice is a hidden Markov chain over the presses of a run. A state is where both feet are: since
// which presses, in which kind of contact, and which came down last. What a foot's release says is
// known when it comes down again; until then it counts as if the next press were the other foot's.
// States in which the same is so are one, however they came about. It is for one goroutine.
type lattice struct {
	l        *pad.Layout
	stances  *footing.Stances
	presses  []pad.Press
	down, up []float64 // ms from the first press, up +Inf where it is not known
	pace     float64   // logarithm of the usual time between presses, ms
	slot     float64   // ms, 0 where there is none
	logSlot  float64
	alike    []int32 // by press, the same number for presses among the same others
	kinds    int     // of which there are so many
	prior    prior

	law    *law
	brush  *law
	moves  shares    // logarithms
	played []moves   // by press: posterior
	expect []moves   // by press: logarithms of how likely each move is before its times are seen
	stands []stand   // the first is a foot's that has pressed nothing
	memo   []memo    // by stand
	facts  []fact    // that some edge has
	logs   []float64 // of the facts
	weight []float64 // of the facts: how much they were part of what was played
	layers []layer   // before the first press and after each
	states []freeState
	edges  []freeEdge
	index  map[stateKey]int32 // of the layer in work
	single []int32            // and facts about one time
	logP   float64            // logarithm of the density of what was seen, tempered
	info   [params * params]float64
}

// moves are figures by move and foot.
type moves [moveKinds][2]float64

// layer has its states, and the edges that lead to them, from the first to before the last.
type layer struct{ states, edges [2]int32 }

// stateKey says what the feet do: the stand of each, and which came down last.
type stateKey struct {
	stand [2]int32
	last  pad.Foot
}

type freeState struct {
	stateKey
	alpha, beta float64 // forward and backward, scaled
}

// freeEdge is what a press may be, from one state to another.
type freeEdge struct {
	from, to int32
	kind     moveKind
	foot     pad.Foot
	with     int32
	weight   float64
	facts    [3]int32 // or None
}

// stand is a contact that a foot has made, and what has happened since.
type stand struct {
	press [2]int32
	kind  drill.ContactKind
	over  int32 // the press with which the other foot came down after it, or None
	taken int32 // the press with which the other foot took a panel of it, or None
	place footing.Place
	at    float64    // ms: when it came down, of a roll its second press
	spot  [2]float64 // metres: midway between its panels
	guess float64    // what its release counts until it is known
}

// contacted gives a stand's presses.
func (s *stand) contacted() []int32 {
	if s.kind == drill.Step {
		return s.press[:1]
	}
	return s.press[:]
}

// latest gives a stand's latest press.
func (s *stand) latest() int32 { return s.press[len(s.contacted())-1] }

// memo is what was worked out of a stand at a press.
type memo struct {
	press   int32    // at which
	touched [2]int32 // the stand that it is once the other foot has pressed a panel, [1]: by coming down
	joined  [3]int32 // the stands of two presses that it may become, by kind
	left    bool     // whether its release is known
	fact    int32    // of its release, or None
	gain    float64  // over what was guessed
}

func newLattice(l *pad.Layout, stances *footing.Stances, presses []pad.Press) *lattice {
	n := len(presses)
	f := &lattice{l: l, stances: stances, presses: presses, down: make([]float64, n), up: make([]float64, n), prior: anybody(),
		brush:  newLaw(Values{Dwell: math.Log(brushedMS), DwellSpread: math.Log(brushedLog)}),
		played: make([]moves, n), expect: make([]moves, n), index: make(map[stateKey]int32)}
	for i, p := range presses {
		f.down[i], f.up[i] = float64(p.Down-presses[0].Down)/perMS, inf
		if p.Up != pad.Never {
			f.up[i] = float64(p.Up-presses[0].Down) / perMS
		}
	}
	f.surroundings()
	gaps := f.gaps()
	f.pace = math.Log(200)
	if len(gaps) > 0 {
		slices.Sort(gaps)
		f.pace = math.Log(gaps[len(gaps)/2])
	}
	f.setSlot(f.findSlot(gaps))
	return f
}

// gaps gives the times between presses, but for those at once, in ms.
func (f *lattice) gaps() (gaps []float64) {
	from := 0.0
	for _, d := range f.down[1:min(len(f.down), freePart)] {
		if d-from > freeJoined {
			gaps = append(gaps, d-from)
			from = d
		}
	}
	return gaps
}

func (f *lattice) setSlot(slot float64) { f.slot, f.logSlot = slot, math.Log(slot) }

// findSlot gives the time in ms of which gaps are multiples, 0 where there is none.
func (f *lattice) findSlot(gaps []float64) (slot float64) {
	const (
		least, most, stride = 60, 500, 1.005 // ms, and from one that is tried to the next
		rest                = 1000           // ms: a gap above it is a rest
		odd                 = .05            // share of gaps that are no multiple
		enough              = .1             // a gap, of the logarithm: below it there is no slot
	)
	s := newScale(f.prior.mean[LandingSD] + math.Ln2/2)
	gaps = slices.DeleteFunc(gaps, func(g float64) bool { return g >= rest })
	best := enough * float64(len(gaps))
	for t := float64(least); t < most; t *= stride {
		sum := 0.0
		for _, g := range gaps {
			logP, _, _ := student(offSlot(g, t), s)
			sum += math.Log((1-odd)*t*math.Exp(logP) + odd)
		}
		if sum > best {
			best, slot = sum, t
		}
	}
	return slot
}

// offSlot gives how far a gap is from a multiple of the slot.
func offSlot(gap, slot float64) float64 { return gap - max(1, math.Round(gap/slot))*slot }

// surroundings numbers the presses so that those among the same others have the same number: the same
// panels at once with it, before and after, and the same place among those at once.
func (f *lattice) surroundings() {
	type key struct {
		before, with, after pad.PanelSet
		nth                 int
	}
	n := len(f.presses)
	sets := []pad.PanelSet{0} // of presses at once, nothing before the first and after the last
	group, nth := make([]int, n), make([]int, n)
	from := 0
	for i := range f.presses {
		if i == 0 || f.down[i]-f.down[from] > freeJoined {
			from = i
			sets = append(sets, 0)
		}
		g := len(sets) - 1
		group[i], nth[i], sets[g] = g, i-from, sets[g].With(f.presses[i].Panel)
	}
	sets = append(sets, 0)
	index := make(map[key]int32)
	f.alike = make([]int32, n)
	for i, g := range group {
		k := key{sets[g-1], sets[g], sets[g+1], nth[i]}
		id, ok := index[k]
		if !ok {
			id = int32(len(index))
			index[k] = id
		}
		f.alike[i] = id
	}
	f.kinds = len(index)
}

// recur sets what is expected of each press by what was played among the same others elsewhere; the
// shares of all moves count as freeRecurs presses.
func (f *lattice) recur() {
	sums := make([]moves, f.kinds)
	for i, c := range f.alike {
		for k := range moveKinds {
			for x := range 2 {
				sums[c][k][x] += f.played[i][k][x]
			}
		}
	}
	for i, c := range f.alike {
		sum, total := sums[c], float64(freeRecurs)
		for k := range moveKinds {
			for x := range 2 {
				sum[k][x] = max(0, sum[k][x]-f.played[i][k][x])
				total += sum[k][x]
			}
		}
		for k := range moveKinds {
			both := sum[k][0] + sum[k][1]
			p := (both + freeRecurs*math.Exp(f.moves[k])) / total
			for x := range 2 {
				q := .5
				if k != strayMove { // no foot's
					q = (sum[k][x] + freeRecurs/2.) / (both + freeRecurs)
				}
				f.expect[i][k][x] = math.Log(2 * p * q)
			}
		}
	}
}

// pass reads the presses at v; where recurring, what was read in the pass before of presses among the same
// others has a say. The probabilities are added to m, times share, where it is not nil.
func (f *lattice) pass(v Values, recurring bool, m *marginals, share float64) {
	f.law = newLaw(v)
	if recurring {
		f.recur()
	} else {
		for i := range f.expect {
			for k, p := range f.moves {
				f.expect[i][k] = [2]float64{p, p}
			}
		}
	}
	f.forward()
	f.backward(m, share)
}

// forward makes the lattice.
func (f *lattice) forward() {
	f.stands, f.memo, f.facts, f.logs = f.stands[:0], f.memo[:0], f.facts[:0], f.logs[:0]
	f.layers, f.states, f.edges = f.layers[:0], f.states[:0], f.edges[:0]
	f.stands, f.memo = append(f.stands, stand{place: footing.Nowhere}), append(f.memo, memo{})
	f.states = append(f.states, freeState{alpha: 1})
	f.layers = append(f.layers, layer{states: [2]int32{0, 1}})
	f.logP = 0
	for i := range int32(len(f.presses)) {
		f.press(i)
	}
	end := f.layers[len(f.layers)-1].states
	sum := 0.0
	for s := end[0]; s < end[1]; s++ {
		st := &f.states[s]
		logW := 0.0
		for _, id := range st.stand {
			if id != 0 {
				logW += f.leave(id, int32(len(f.presses))).gain
			}
		}
		st.beta = math.Exp(freeTemper * logW)
		sum += st.alpha * st.beta
	}
	f.logP += math.Log(sum)
	for s := end[0]; s < end[1]; s++ {
		f.states[s].beta /= sum
	}
}

// press adds the layer after press i.
func (f *lattice) press(i int32) {
	clear(f.index)
	f.single = f.single[:0]
	was := f.layers[len(f.layers)-1]
	states, edges := int32(len(f.states)), int32(len(f.edges))
	step := f.add(stand{press: [2]int32{i, None}, over: None, taken: None, at: f.down[i]})
	stray := f.expect[i][strayMove][0] - f.pace
	if up := f.up[i]; up != inf {
		r := newRelease(up-f.down[i], inf, 0)
		stray += f.brush.log(&r, nil)
	}
	for from := was.states[0]; from < was.states[1]; from++ {
		key := f.states[from].stateKey
		f.push(key, freeEdge{from: from, kind: strayMove, with: None, facts: [3]int32{None, None, None}}, stray)
		for x := range pad.Foot(2) {
			f.step(from, i, x, step)
			f.join(from, i, x)
		}
	}
	f.prune(states, edges)
}

// step adds that foot x steps with press i.
func (f *lattice) step(from, i int32, x pad.Foot, step int32) {
	key := f.states[from].stateKey
	mine, other, latest := key.stand[x], key.stand[x.Other()], key.stand[key.last]
	e := freeEdge{from: from, kind: turnMove, foot: x, with: None, facts: [3]int32{None, None, None}}
	landed := inf // when the latest landing began
	both := false // that it was of both feet: then neither is called again
	if latest != 0 {
		landed = f.down[f.stands[latest].press[0]]
		if o := key.stand[key.last.Other()]; o != 0 {
			d := f.down[f.stands[o].press[0]]
			both = math.Abs(d-landed) < freeJoined
			if both {
				landed = min(landed, d)
			}
		}
	}
	if mine != 0 && x == key.last && !both {
		e.kind = againMove
	}
	logW := f.stands[step].guess
	if mine != 0 {
		left := f.leave(mine, i)
		e.facts[0] = left.fact
		s := &f.stands[mine]
		row := 0
		if e.kind == againMove {
			row = len(f.presses)
			if other != 0 {
				row = 1 + int(s.press[0]-f.stands[other].latest()-1)
			}
		}
		haste, late := f.stances.Haste(s.place, f.stands[step].place, (f.down[i]-f.down[s.latest()])*perMS, row)
		logW += left.gain - freeHaste*haste
		if late {
			logW -= freeLateBy
		}
	}
	to := stateKey{last: x}
	to.stand[x], to.stand[x.Other()] = step, f.touch(other, i, true)
	logW += f.stance(&to)
	if latest == 0 {
		f.push(to, e, logW-math.Ln2) // either foot begins
		return
	}
	gap := f.down[i] - f.down[f.stands[latest].latest()]
	if x != key.last && gap < freeJoined {
		b := e
		b.kind, b.facts[1] = bothMove, f.about(feetTerm, gap)
		// Which of the two came first is left to chance, so the gap has no sign.
		f.push(to, b, logW+f.expect[i][bothMove][x]+math.Ln2+f.logs[b.facts[1]])
		if gap < freeJoined/2 {
			return
		}
	}
	logW += f.expect[i][e.kind][x] - f.pace
	if f.slot > 0 {
		e.facts[1] = f.about(gapTerm, offSlot(f.down[i]-landed, f.slot))
		logW += f.logSlot + f.logs[e.facts[1]]
	}
	f.push(to, e, logW)
}

// join adds that press i is the second of foot x's contact, in a bracket or in a roll.
func (f *lattice) join(from, i int32, x pad.Foot) {
	key := f.states[from].stateKey
	mine := key.stand[x]
	first := f.stands[mine].press[0]
	if mine == 0 || f.stands[mine].kind != drill.Step || f.presses[first].Panel == f.presses[i].Panel {
		return
	}
	gap := f.down[i] - f.down[first]
	for _, kind := range [2]moveKind{bracketMove, rollMove} {
		s := &f.stands[mine]
		if kind == bracketMove && gap >= freeJoined ||
			kind == rollMove && (gap < freeLeast || gap >= freeRolled || s.over != None || s.taken != None) {
			continue
		}
		id := f.joined(mine, i, kind.contact())
		if id == None {
			continue
		}
		e := freeEdge{from: from, kind: kind, foot: x, with: first, facts: [3]int32{None, None, None}}
		logW := f.stands[id].guess - f.stands[mine].guess + f.expect[i][kind][x] - freeKind*f.stances.Contact(f.stands[id].place)
		if kind == bracketMove {
			e.facts[0] = f.about(bracketTerm, gap)
			logW += math.Ln2
			if a, b := f.up[first], f.up[i]; a != inf && b != inf {
				e.facts[1] = f.about(partTerm, b-a)
			}
		} else {
			logW -= f.pace
			if a := f.up[first]; a != inf {
				e.facts[0] = f.about(overlapTerm, a-f.down[i])
			}
			if f.slot > 0 {
				e.facts[1] = f.about(lagTerm, offSlot(gap, f.slot))
				logW += f.logSlot
			}
		}
		for _, k := range e.facts {
			if k != None {
				logW += f.logs[k]
			}
		}
		to := stateKey{last: x}
		to.stand[x], to.stand[x.Other()] = id, f.touch(key.stand[x.Other()], i, false)
		f.push(to, e, logW+f.stance(&to)-f.stance(&key))
	}
}

// push adds an edge to the state with the key given.
func (f *lattice) push(to stateKey, e freeEdge, logW float64) {
	if e.weight = math.Exp(freeTemper * logW); e.weight == 0 {
		return
	}
	s, ok := f.index[to]
	if !ok {
		s = int32(len(f.states))
		f.index[to] = s
		f.states = append(f.states, freeState{stateKey: to})
	}
	e.to = s
	f.states[s].alpha += f.states[e.from].alpha * e.weight
	f.edges = append(f.edges, e)
}

// stance gives what the places of both feet say once the last one has come down.
func (f *lattice) stance(k *stateKey) float64 {
	load, can, wide := f.stances.Stand(f.stands[k.stand[pad.Left]].place, f.stands[k.stand[pad.Right]].place)
	logW := -freeTurn * load
	if !can[k.last] {
		logW -= freeTwisted
	}
	if wide {
		logW -= freeTwisted
	}
	return logW
}

// add adds a stand and works out what follows from its presses.
func (f *lattice) add(s stand) int32 {
	var set pad.PanelSet
	s.spot = [2]float64{}
	presses := s.contacted()
	for _, p := range presses {
		x, y := f.l.Panels[f.presses[p].Panel].Rect.Centre()
		s.spot[0] += x / 1000 / float64(len(presses))
		s.spot[1] += y / 1000 / float64(len(presses))
		set = set.With(f.presses[p].Panel)
	}
	s.place, _ = f.stances.Place(s.kind, set)
	over := inf
	for _, d := range f.down[s.latest()+1:] {
		if d > s.at+freeJoined {
			over = d
			break
		}
	}
	s.guess = 0
	if r, ok := f.release(&s, inf, over, inf, 0); ok {
		s.guess = f.law.log(&r, nil)
	}
	f.stands, f.memo = append(f.stands, s), append(f.memo, memo{press: None})
	return int32(len(f.stands) - 1)
}

// visit gives the memo of a stand at press i.
func (f *lattice) visit(id, i int32) *memo {
	m := &f.memo[id]
	if m.press != i {
		*m = memo{press: i, touched: [2]int32{None, None}, joined: [3]int32{None, None, None}, fact: None}
	}
	return m
}

// touch gives the stand that one is after press i of the other foot, with which that came down anew or not.
func (f *lattice) touch(id, i int32, anew bool) int32 {
	if id == 0 {
		return 0
	}
	way := 0
	if anew {
		way = 1
	}
	if m := f.visit(id, i); m.touched[way] != None {
		return m.touched[way]
	}
	s, to := f.stands[id], id
	over := anew && s.over == None && f.down[i] > s.at+freeJoined
	taken := s.taken == None && slices.ContainsFunc(s.contacted(), func(p int32) bool { return f.presses[p].Panel == f.presses[i].Panel })
	if over {
		s.over = i
	}
	if taken {
		s.taken = i
	}
	if over || taken {
		to = int32(len(f.stands))
		f.stands, f.memo = append(f.stands, s), append(f.memo, memo{press: None})
	}
	f.memo[id].touched[way] = to
	return to
}

// joined gives the stand that one becomes if press i is its second, None where no foot gets there.
func (f *lattice) joined(id, i int32, kind drill.ContactKind) int32 {
	if m := f.visit(id, i); m.joined[kind] != None {
		return m.joined[kind]
	}
	first := f.stands[id].press[0]
	if _, ok := f.stances.Place(kind, pad.SetOf(f.presses[first].Panel, f.presses[i].Panel)); !ok {
		return None
	}
	s := stand{press: [2]int32{first, i}, kind: kind, over: None, taken: None, at: f.down[i]}
	if kind == drill.Bracket {
		s.at = (f.down[first] + f.down[i]) / 2
	}
	to := f.add(s)
	f.memo[id].joined[kind] = to
	return to
}

// leave gives what the release of a stand says if its foot comes down again with press i, or not again if
// that is after the last.
func (f *lattice) leave(id, i int32) *memo {
	m := f.visit(id, i)
	if m.left {
		return m
	}
	m.left = true
	s := &f.stands[id]
	free, way := inf, 0.0
	if int(i) < len(f.presses) {
		x, y := f.l.Panels[f.presses[i].Panel].Rect.Centre()
		free, way = f.down[i], math.Hypot(x/1000-s.spot[0], y/1000-s.spot[1])
	}
	if r, ok := f.release(s, free, f.moment(s.over), f.moment(s.taken), way); ok {
		m.fact = f.fact(r)
		m.gain = f.logs[m.fact] - s.guess
	}
	return m
}

// moment gives when a press was, +Inf of None.
func (f *lattice) moment(press int32) float64 {
	if press == None {
		return inf
	}
	return f.down[press]
}

// release gives the fact of a stand's release where its foot comes down again at free, some way off in
// metres, the other foot came down at over and took a panel of it at taken; false where it was not seen.
func (f *lattice) release(s *stand, free, over, taken, way float64) (r fact, ok bool) {
	presses := s.contacted()
	if s.kind == drill.Roll {
		presses = presses[1:]
	}
	up, n := 0.0, 0
	var own [2]Param
	for _, p := range presses {
		if f.up[p] == inf {
			continue
		}
		if panel := f.presses[p].Panel; panel < dwellPanels {
			if own[1] = PanelDwell + Param(panel); n == 0 {
				own[0] = own[1]
			}
		}
		up, n = up+f.up[p], n+1
	}
	if n == 0 {
		return r, false
	}
	swing := swingShare(way)
	if taken-usualSwing*clearShare < free-usualSwing*swing {
		free, swing = taken, clearShare
	}
	r = newRelease(up/float64(n)-s.at, free-s.at, swing)
	if over < free {
		r.over = over - s.at
	}
	r.own = own
	return r, true
}

// about gives the fact of a kind about one time, each once a layer.
func (f *lattice) about(kind termKind, ms float64) int32 {
	for _, k := range f.single {
		if f.facts[k].kind == kind && f.facts[k].x == ms {
			return k
		}
	}
	k := f.fact(fact{kind: kind, x: ms})
	f.single = append(f.single, k)
	return k
}

func (f *lattice) fact(of fact) int32 {
	f.facts, f.logs = append(f.facts, of), append(f.logs, f.law.log(&of, nil))
	return int32(len(f.facts) - 1)
}

// prune ends a layer: it lets go of states that are too faint, and scales the others.
func (f *lattice) prune(states, edges int32) {
	layerOf := f.states[states:]
	most := 0.0
	for i := range layerOf {
		most = max(most, layerOf[i].alpha)
	}
	floor := most * latticeFaint
	if len(layerOf) > latticeWidth {
		var count [24]int // by how many times a state can be doubled until it is the likeliest
		for i := range layerOf {
			if a := layerOf[i].alpha; a >= floor {
				count[min(len(count)-1, int(math.Log2(most/a)))]++
			}
		}
		n := 0
		for k, c := range count {
			if n += c; n > latticeWidth && k > 0 {
				floor = max(floor, most*math.Exp2(-float64(k)))
				break
			}
		}
	}
	to := make([]int32, len(layerOf))
	n, sum := states, 0.0
	for i := range layerOf {
		s := layerOf[i]
		to[i] = None
		if s.alpha >= floor {
			to[i], f.states[n] = n, s
			sum += s.alpha
			n++
		}
	}
	f.states = f.states[:n]
	for i := states; i < n; i++ {
		f.states[i].alpha /= sum
	}
	f.logP += math.Log(sum)
	m := edges
	for i := int(edges); i < len(f.edges); i++ {
		e := f.edges[i]
		if p := to[e.to-states]; p != None {
			e.to = p
			e.weight /= sum
			f.edges[m] = e
			m++
		}
	}
	f.edges = f.edges[:m]
	f.layers = append(f.layers, layer{[2]int32{states, n}, [2]int32{edges, m}})
}

// backward works out what was played, and how much each fact was part of it.
func (f *lattice) backward(m *marginals, share float64) {
	const faint = 1e-9 // of an edge's probability: below it it counts for nothing
	f.weight = resize(f.weight, len(f.facts))
	clear(f.weight)
	clear(f.played)
	end := f.layers[len(f.layers)-1].states
	for s := end[0]; s < end[1]; s++ {
		st := &f.states[s]
		for _, id := range st.stand {
			if k := f.memo[id].fact; id != 0 && k != None {
				f.weight[k] += st.alpha * st.beta
			}
		}
	}
	for i := int32(len(f.presses) - 1); i >= 0; i-- {
		ly := &f.layers[i+1]
		for k := ly.edges[0]; k < ly.edges[1]; k++ {
			e := &f.edges[k]
			from := &f.states[e.from]
			after := e.weight * f.states[e.to].beta
			from.beta += after
			p := from.alpha * after
			if p < faint {
				continue
			}
			for _, k := range e.facts {
				if k != None {
					f.weight[k] += p
				}
			}
			f.played[i][e.kind][e.foot] += p
			if m != nil {
				m.add(i, e, from.last, share*p)
			}
		}
	}
}
