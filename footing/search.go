package footing

import (
	"math"
	"math/bits"
	"slices"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// search finds the footings of least load. A layer holds the states that the
// feet can be in before a group of notes; the options at the group lead to later
// layers. Each is worked through once, so the time grows with the number of groups.
type search struct {
	w       *walk
	turns   bool       // no foot comes down twice in a row within the rep
	options [][]option // by group
	from    []int32    // slot of the latest note before each group, and at the end
	layers  []layer    // one more than there are groups
	thins   bool
	longer  bool    // the more often feet come down in a row, the longer they need
	margin  float64 // of thin; +Inf: nothing is taken out
	twins   twins
	kin     kin
}

// layer is states, each once, with the least load of a way to it from any start, +Inf for
// those that were taken out.
type layer struct {
	states []state
	load   []float64
	table  []int32 // open addressing by hash: index of a state plus one
}

// hash mixes a state into 64 bits (multiply and shift, as in splitmix64).
func (s *state) hash() uint64 {
	const m = 0x9e3779b97f4a7c15
	h := uint64(s.at[0])<<48 | uint64(s.at[1])<<32 | uint64(s.last)<<16 | uint64(s.seen)<<8 | uint64(s.run)
	for _, word := range [...]uint64{
		uint64(uint32(s.rest[0]))<<32 | uint64(uint32(s.rest[1])),
		uint64(s.pins[0][0])<<32 | uint64(s.pins[0][1]),
		uint64(s.pins[1][0])<<32 | uint64(s.pins[1][1]),
	} {
		h = (h ^ h>>29) * m
		h ^= word
	}
	h = (h ^ h>>29) * m
	return h ^ h>>32
}

// find gives the index of s in l, which it is added to where it is not there.
func (l *layer) find(s *state) int32 {
	if len(l.states)*2 >= len(l.table) {
		l.grow()
	}
	mask := uint64(len(l.table) - 1)
	for h := s.hash() & mask; ; h = (h + 1) & mask {
		i := l.table[h]
		if i == 0 {
			l.states = append(l.states, *s)
			l.load = append(l.load, math.Inf(1))
			l.table[h] = int32(len(l.states))
			return int32(len(l.states)) - 1
		}
		if l.states[i-1] == *s {
			return i - 1
		}
	}
}

// lookup is find without adding: -1 where s is not there.
func (l *layer) lookup(s *state) int32 {
	if len(l.table) == 0 {
		return -1
	}
	mask := uint64(len(l.table) - 1)
	for h := s.hash() & mask; ; h = (h + 1) & mask {
		i := l.table[h]
		if i == 0 {
			return -1
		}
		if l.states[i-1] == *s {
			return i - 1
		}
	}
}

// reserve makes room for as many states as the layer before had, and some more.
func (l *layer) reserve(n int) {
	n += n/4 + 16
	l.states, l.load = make([]state, 0, n), make([]float64, 0, n)
	l.table = make([]int32, 1<<bits.Len(uint(2*n)))
}

func (l *layer) grow() {
	l.table = make([]int32, max(64, 2*len(l.table)))
	mask := uint64(len(l.table) - 1)
	for i := range l.states {
		h := l.states[i].hash() & mask
		for l.table[h] != 0 {
			h = (h + 1) & mask
		}
		l.table[h] = int32(i) + 1
	}
}

// newSearch prepares a search among the options of every group that a vocabulary has. Where it
// thins its layers it works through them for each bound anew.
func newSearch(w *walk, groups [][]int32, options [][]option, v vocabulary, thins bool) *search {
	s := &search{w: w, turns: v == inTurn, options: options, from: make([]int32, len(groups)+1), thins: thins, margin: math.Inf(1),
		longer: slices.IsSorted(w.alone[:]) && slices.IsSorted(w.together[:])}
	if v != everything {
		s.options = make([][]option, len(groups))
		for i := range options {
			for k := range options[i] {
				if o := &options[i][k]; v.has(&o.landing) {
					s.options[i] = append(s.options[i], *o)
				}
			}
		}
	}
	for i, g := range groups {
		s.from[i+1] = w.d.Notes[g[0]].Slot
	}
	s.from[0] = s.from[len(groups)] - int32(w.d.RepSlots())
	return s
}

// lookBack is how many groups before the end the feet are followed first, to
// learn how they can stand there. It only saves time: loop goes on until no
// state is new.
const lookBack = 24

// loop fills the layers so that the first has every state in which a rep can
// begin, since a rep can end in it; but see thin.
func (s *search) loop() {
	n := len(s.options)
	stood := start()
	s.layers = make([]layer, n+1)
	from := max(0, n-lookBack)
	for at := from; at < min(from+mostNotes, n); at++ { // a landing may reach over one of these groups
		s.layers[at].find(&stood)
		s.layers[at].load[0] = 0
	}
	margin := s.margin
	s.w.unknown, s.margin = true, math.Inf(1)
	ends := s.forward(from)
	s.w.unknown, s.margin = false, margin
	starts := layer{}
	for s.merge(&starts, ends) {
		s.layers = make([]layer, n+1)
		s.layers[0] = starts
		s.layers[0].load = make([]float64, len(starts.states))
		ends = s.forward(0)
	}
}

// merge adds the states in which a rep ends to those in which the next can begin; it
// tells whether one was new.
func (s *search) merge(starts *layer, ends *layer) bool {
	was := len(starts.states)
	for i := range ends.states {
		next := s.w.nextRep(ends.states[i])
		starts.find(&next)
	}
	return len(starts.states) > was
}

// forward fills the layers after a group, and gives the last one.
func (s *search) forward(at int) *layer {
	n := len(s.options)
	var to state
	var stay []int32
	for ; at < n; at++ {
		from := &s.layers[at]
		stay = s.thin(from, stay[:0])
		s.kin.sort(from.states, stay, s.w.holds)
		// All states take one landing before the next is looked at: so what the
		// processor guesses and keeps at hand stays right for longer.
		for k := range s.options[at] {
			o := &s.options[at][k]
			l := &s.layers[o.next]
			if l.table == nil {
				l.reserve(len(stay))
			}
			// Kin become one state: it is looked up once, and what cannot improve it is passed over.
			after, kin := s.kin.of(o.feet)
			least := o.load + float64(o.faults)*faultLoad
			for m, i := range stay {
				known := after[kin[m]]
				if known > 0 && l.load[known-1] <= from.load[i]+least {
					continue
				}
				load, faults, ok := s.w.advance(&from.states[i], &to, s.from[at], &o.landing, nil)
				if !ok || s.turns && at > 0 && relation(from.states[i].last, o.feet) == sameFoot {
					continue
				}
				if known == 0 {
					known = l.find(&to) + 1
					after[kin[m]] = known
				}
				l.load[known-1] = min(l.load[known-1], from.load[i]+load+float64(faults)*faultLoad)
			}
		}
	}
	return &s.layers[n]
}

// grouping numbers things of equal key from 0, in the order in which they are first met.
type grouping struct {
	class []int32  // by thing
	keys  []uint64 // by class
	table []int32  // open addressing by key: class plus one
}

// sort groups n things.
func (g *grouping) sort(n int, key func(i int) uint64) {
	size := 1 << bits.Len(uint(2*n))
	if cap(g.table) < size {
		g.table = make([]int32, size)
	}
	table := g.table[:size]
	clear(table)
	g.class, g.keys = g.class[:0], g.keys[:0]
	for i := range n {
		const m = 0x9e3779b97f4a7c15
		v := key(i)
		h := v * m >> 32 & uint64(size-1)
		for table[h] > 0 && g.keys[table[h]-1] != v {
			h = (h + 1) & uint64(size-1)
		}
		if table[h] == 0 {
			g.keys = append(g.keys, v)
			table[h] = int32(len(g.keys))
		}
		g.class = append(g.class, table[h]-1)
	}
}

// kin are states that become one whenever certain feet come down: what came before differs
// only in those feet. Where notes are held none is taken for another's.
type kin struct {
	groups [bothFeet + 1]grouping // by feet, of the states listed
	after  []int32                // by class: index of the state that they become plus one, 0 where it is not known
}

// sort finds the kin among the states listed.
func (k *kin) sort(states []state, list []int32, holds bool) {
	for feet := footSet(1); feet <= bothFeet; feet++ {
		k.groups[feet].sort(len(list), func(i int) uint64 {
			if holds {
				return uint64(i)
			}
			v := &states[list[i]]
			key := uint64(min(v.runOf(feet), mostRuns)) | uint64(v.seen|feet)<<2
			for f := range pad.Foot(2) {
				if !feet.has(f) {
					key |= uint64(v.at[f])<<8 | uint64(uint32(v.rest[f]))<<24
				}
			}
			return key
		})
	}
}

// of gives the classes of the states listed, when the feet given come down.
func (k *kin) of(feet footSet) (after, class []int32) {
	n := len(k.groups[feet].keys)
	k.after = slices.Grow(k.after[:0], n)[:n]
	clear(k.after)
	return k.after, k.groups[feet].class
}

// twins are the states of a layer that differ in nothing but rests and runs, where nothing is held.
type twins struct {
	groups grouping
	last   []int32 // by class: index of its latest state plus one
	next   []int32 // by state: index of the one before it among its twins plus one
}

// thin takes states out of a layer, and appends those that stay to the list given. A state is
// taken out if a twin whose feet have rested no less, and have not come down more often in
// a row, is better by more than the margin. For whatever goes on from the one goes on from the other,
// with no more load: more rest never makes a move harder. So each way through a state that is taken out has
// a load more than the margin above the least of all ways from any start to any end,
// and no way whose load is within the margin of that is lost. That such a way begins where a way
// can end is still found: from where it is known to stand at its end it can be gone with no more load.
func (s *search) thin(l *layer, stay []int32) []int32 {
	if math.IsInf(s.margin, 1) {
		for i := range l.states {
			stay = append(stay, int32(i))
		}
		return stay
	}
	t := &s.twins
	t.groups.sort(len(l.states), func(i int) uint64 {
		v := &l.states[i]
		return uint64(v.at[0]) | uint64(v.at[1])<<16 | uint64(v.last)<<32 | uint64(v.seen)<<34
	})
	t.last = slices.Grow(t.last[:0], len(t.groups.keys))[:len(t.groups.keys)]
	clear(t.last)
	t.next = slices.Grow(t.next[:0], len(l.states))[:len(l.states)]
	for i, class := range t.groups.class {
		v := &l.states[i]
		out := false
		for j := t.last[class]; j > 0; j = t.next[j-1] {
			switch o := &l.states[j-1]; {
			case l.load[j-1]+s.margin < l.load[i] && s.freer(o, v):
				out = true
			case l.load[i]+s.margin < l.load[j-1] && s.freer(v, o):
				l.load[j-1] = math.Inf(1)
			}
		}
		if out {
			l.load[i] = math.Inf(1)
			continue
		}
		t.next[i], t.last[class] = t.last[class], int32(i)+1
	}
	for i := range l.states {
		if !math.IsInf(l.load[i], 1) {
			stay = append(stay, int32(i))
		}
	}
	return stay
}

// freer tells whether no move is harder from v than from its twin o.
func (s *search) freer(v, o *state) bool {
	return v.rest[0] >= o.rest[0] && v.rest[1] >= o.rest[1] && (v.run == o.run || s.longer && v.run < o.run)
}

// edge is an option taken from a state.
type edge struct {
	to     int32 // index in the kept nodes
	option int32
	label  uint32 // equal for landings of one kind
	load   float64
}

// node is a state that is on a way whose load is not above a bound, if only the feet
// could stand at its start as they do at its end.
type node struct {
	group   int32
	state   int32
	edges   []edge
	onwards float64 // least load to the end, wherever that is
}

// kept is the part of the search below a bound. Nodes are in order of falling
// group: ends come first and starts last.
type kept struct {
	nodes  []node
	starts []int32   // nodes before the first group
	endsOf [][]int32 // for each of starts the ends from which the next rep begins there, one or more
}

// keep gives the nodes below the bound. A node's load to it and onwards are least
// ones over all starts and all ends, so that no footing whose load is within the bound is lost.
func (s *search) keep(bound float64) *kept {
	n := len(s.options)
	k := &kept{}
	index := make([][]int32, n+1) // of the states of a layer: node plus one
	least := make([]float64, n+1) // of onwards in a layer
	for at := n; at >= 0; at-- {
		l := &s.layers[at]
		index[at] = make([]int32, len(l.states))
		least[at] = math.Inf(1)
		ahead := 0.0
		if at < n {
			ahead = math.Inf(1)
			for i := range s.options[at] {
				ahead = min(ahead, s.options[at][i].least(least))
			}
		}
		for i := range l.states {
			if l.load[i]+ahead > bound {
				continue
			}
			node := node{group: int32(at), state: int32(i), onwards: math.Inf(1)}
			if at == n {
				node.onwards = 0
			} else {
				s.expand(k, &node, index, least, l.load[i], bound)
			}
			if l.load[i]+node.onwards > bound {
				continue
			}
			k.nodes = append(k.nodes, node)
			index[at][i] = int32(len(k.nodes))
			least[at] = min(least[at], node.onwards)
		}
	}
	begin := &s.layers[0]
	ends := make(map[int32][]int32) // start state to end nodes
	for j, e := range index[n] {
		if e > 0 {
			next := s.w.nextRep(s.layers[n].states[j])
			if i := begin.lookup(&next); i >= 0 {
				ends[i] = append(ends[i], e-1)
			}
		}
	}
	for i, v := range index[0] {
		if e := ends[int32(i)]; e != nil && v > 0 {
			k.starts = append(k.starts, v-1)
			k.endsOf = append(k.endsOf, e)
		}
	}
	return k
}

// least gives less than any way onwards with the option can have, from the least
// loads onwards of the layers after it.
func (o *option) least(onwards []float64) float64 {
	return o.load + float64(o.faults)*faultLoad + onwards[o.next]
}

// expand gives a node its edges to kept nodes.
func (s *search) expand(k *kept, v *node, index [][]int32, least []float64, sofar, bound float64) {
	at := v.group
	was := &s.layers[at].states[v.state]
	var to state
	for i := range s.options[at] {
		o := &s.options[at][i]
		if sofar+o.least(least) > bound {
			continue
		}
		load, faults, ok := s.w.advance(was, &to, s.from[at], &o.landing, nil)
		if !ok || s.turns && at > 0 && relation(was.last, o.feet) == sameFoot {
			continue
		}
		j := s.layers[o.next].lookup(&to)
		if j < 0 || index[o.next][j] == 0 {
			continue
		}
		load += float64(faults) * faultLoad
		w := index[o.next][j] - 1
		onwards := load + k.nodes[w].onwards
		if sofar+onwards > bound {
			continue
		}
		label := o.comp << 2
		if at > 0 { // the feet before the rep are not part of its kind
			label |= relation(was.last, o.feet)
		}
		v.edges = append(v.edges, edge{w, int32(i), label, load})
		v.onwards = min(v.onwards, onwards)
	}
}

// toEnd gives for each kept node the least load of a way to one of the ends given,
// +Inf where there is none.
func (k *kept) toEnd(ends []int32, load []float64) {
	for i := range k.nodes {
		load[i] = math.Inf(1)
	}
	for _, e := range ends {
		load[e] = 0
	}
	for i := range k.nodes { // later groups come first
		for _, e := range k.nodes[i].edges {
			load[i] = min(load[i], e.load+load[e.to])
		}
	}
}

// best gives the count best ways, each the best of its kind, and as many of the best
// shapes as are wanted, each by its best way. A shape says which groups a landing takes
// and whether a foot rolls, and leaves out how the feet share the landing.
func (s *search) best(count, wanted int) (ways, shapes [][]drill.Contact) {
	// All ways without faults come before those with some. They are few among all that
	// is possible and soon searched.
	s.w.sound = true
	if ways, shapes = s.bestWithin(count, wanted); len(ways) < count || len(shapes) < wanted {
		s.w.sound = false
		ways, shapes = s.bestWithin(count, wanted)
	}
	return ways, shapes
}

// bestWithin gives the best that the walk allows. It searches below a bound, which it
// widens until enough are found: what lies below the bound is found for certain.
func (s *search) bestWithin(count, wanted int) (ways, shapes [][]drill.Contact) {
	least := 0.0
	for i, more := range bounds {
		if s.thins {
			s.margin = more + marginEps
		}
		if s.thins || i == 0 {
			s.loop()
			ends := s.layers[len(s.options)].load
			if len(ends) == 0 {
				return nil, nil
			}
			least = slices.Min(ends)
		}
		k := s.keep(least + more)
		if len(ways) < count {
			ways = newBest(s, k, least+more, count).all()
		}
		if len(shapes) < wanted {
			k.label(s.shape)
			shapes = newBest(s, k, least+more, wanted).all()
		}
		if len(ways) == count && len(shapes) == wanted || s.w.sound && more > faultLoad { // no way without faults has as much load
			break
		}
	}
	return ways, shapes
}

// label gives every edge another label, by its group and the option that it takes.
func (k *kept) label(of func(group, option int32) uint32) {
	for i := range k.nodes {
		n := &k.nodes[i]
		for j := range n.edges {
			n.edges[j].label = of(n.group, n.edges[j].option)
		}
	}
}

// shape gives the same number to landings at a group that are of one shape.
func (s *search) shape(group, option int32) uint32 {
	o := &s.options[group][option]
	shape := uint32(o.next) << 1
	if o.rolls() {
		shape |= 1
	}
	return shape
}

// marginEps is what sums of loads may be off by rounding.
const marginEps = 1e-3

// bounds are how far above the least load the search goes, one after the other.
var bounds = []float64{1, 4, 32, faultLoad + 32, 3*faultLoad + 32, 10*faultLoad + 32, math.MaxFloat64}
