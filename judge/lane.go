package judge

import (
	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// A lane matches the presses of one panel to that panel's notes.
//
// Among all matchings within the outermost window it looks for one with the
// most notes matched, of those the least total |offset|, and of equals the one
// that does not cross and in which the earliest note takes the earliest press.
// Windows of one size on a line can be uncrossed at no loss, so a dynamic
// programme over "the notes before i are used up" finds it: presses come in
// time order, and a state holds the best matching of the presses so far to the
// notes before i.
//
// A state survives while some future still makes it the best. Future presses
// come at now or later, so the future that favours state i most against every
// state k > i presses each note from i on at its cheapest: at its due moment,
// or now where that has passed. With Cn = matched − i and
// key = cost − Σ max(0, now − due) over the notes before i, state k > i beats
// state i in every future exactly where Cn(k) > Cn(i), or Cn is equal and
// key(k) < key(i), or both are equal and k is earlier in the tie order. The rest
// is pruned, and what all survivors agree on is decided.
//
// Solutions are paths in a tree of nodes (note, press). A node's prefix is the
// best one there was when it was made, so two survivors that share a node share
// all before it: what is decided is where the tree has a single branch at its root.
type lane struct {
	panel pad.Panel
	early pad.Time // outermost window, as offsets
	late  pad.Time
	shift pad.Time
	grid  *drill.Grid
	reps  int64
	slots []int32 // of the panel's notes in a rep
	index []int32 // and their numbers within the rep

	now pad.Time // shifted; nothing earlier will come

	// Notes are counted from 0 over the whole run. Those from first to entered
	// are in the ring; those before lo can no longer be reached.
	notes          []openNote
	first, lo      int32
	entered, total int32
	enterRep       int64
	enterAt        int
	enterDue       pad.Time // of note entered, where there is one

	presses            []openPress // ring
	firstPress, pastPr int32

	nodes   []node
	free    int32
	root    int32
	states  []state
	scratch []state
	passed  int32 // notes before it have been looked at for being absent

	// The plain case, one press that can reach one note, keeps out of the tree:
	// an early press waits here until no later one could be nearer.
	waiting   bool
	waitRaw   pad.Time
	waitNote  int32
	waitUntil pad.Time // shifted: from then on it is decided

	loose     []int32 // notes that lost their last node since
	sink      *Judge
	noteMask  int32
	pressMask int32
}

type openNote struct {
	due     pad.Time
	rep     int32
	index   int32
	live    int32 // nodes that match it
	decided bool
}

type openPress struct {
	t       pad.Time // raw
	live    int32    // nodes that match it
	decided bool
}

type node struct {
	note, press int32
	parent      int32
	jump        int32 // an ancestor further up, so that common ancestors are found in logarithmic time
	jumpDepth   int32
	depth       int32
	kids        int32
	kidXor      int32 // all kids' indices, xored: the kid itself where there is one
	held        int32 // states that end here
}

type state struct {
	upTo  int32 // the notes before it are used up
	count int32
	node  int32
	cost  pad.Time
	key   pad.Time
}

const none = -1

func newLane(j *Judge, p pad.Panel) *lane {
	l := &lane{
		panel: p, early: j.windows[drill.Outer].Early, late: j.windows[drill.Outer].Late,
		shift: j.shift, grid: &j.grid, reps: j.drill.Reps, sink: j, now: -pad.Never,
		notes: make([]openNote, 8), noteMask: 7,
		presses: make([]openPress, 8), pressMask: 7,
		nodes: make([]node, 1, 16), free: none,
		states: make([]state, 1, 8), scratch: make([]state, 0, 8),
	}
	for i, n := range j.drill.Notes {
		if n.Panel == p {
			l.slots = append(l.slots, n.Slot)
			l.index = append(l.index, int32(i))
		}
	}
	l.total = int32(len(l.slots)) * int32(l.reps)
	l.nodes[0] = node{parent: none, held: 1}
	if l.total > 0 {
		l.enterDue = l.grid.Due(0, int64(l.slots[0]))
	}
	return l
}

func (l *lane) note(n int32) *openNote   { return &l.notes[n&l.noteMask] }
func (l *lane) press(p int32) *openPress { return &l.presses[p&l.pressMask] }

// enter takes the next note into the ring.
func (l *lane) enter() {
	if l.entered-l.first > l.noteMask {
		grown := make([]openNote, 2*len(l.notes))
		for n := l.first; n < l.entered; n++ {
			grown[n&int32(len(grown)-1)] = *l.note(n)
		}
		l.notes, l.noteMask = grown, int32(len(grown)-1)
	}
	*l.note(l.entered) = openNote{due: l.enterDue, rep: int32(l.enterRep), index: l.index[l.enterAt]}
	l.entered++
	if l.enterAt++; l.enterAt == len(l.slots) {
		l.enterAt = 0
		l.enterRep++
	}
	if l.entered < l.total {
		l.enterDue = l.grid.Due(l.enterRep, int64(l.slots[l.enterAt]))
	}
}

// advance says that no press before now (shifted) will come.
func (l *lane) advance(now pad.Time) {
	if now <= l.now {
		return
	}
	l.now = now
	if l.waiting && now >= l.waitUntil {
		l.waiting = false
		l.matchPlain(l.waitNote, l.waitRaw)
	}
	moved := false
	for {
		if l.lo == l.entered {
			if l.entered == l.total || l.enterDue+l.late >= now {
				break
			}
			if moved && l.entered-l.first > l.noteMask {
				l.collapse() // a long silence: hand on what is absent, do not pile it up
				l.settle()
			}
			l.enter()
		}
		if l.note(l.lo).due+l.late >= now {
			break
		}
		l.lo++
		moved = true
	}
	if moved {
		l.collapse()
	}
	if len(l.states) > 1 {
		l.prune()
	} else if !moved {
		return
	} else if l.states[0].node == l.root && l.passed == l.states[0].upTo && len(l.loose) == 0 && l.firstPress == l.pastPr {
		l.first = l.lo // all before it are decided
		return
	}
	l.settle()
}

// matchPlain decides that the press at raw is the only open note's.
func (l *lane) matchPlain(m int32, raw pad.Time) {
	n := l.note(m)
	n.decided = true
	l.sink.match(l, n, raw)
	s := &l.states[0]
	s.upTo = m + 1
	l.passed = m + 1
}

// collapse keeps of the states that end before lo only the best, the last.
func (l *lane) collapse() {
	keep := 0
	for keep+1 < len(l.states) && l.states[keep+1].upTo <= l.lo {
		l.drop(l.states[keep].node)
		keep++
	}
	if keep > 0 {
		l.states = l.states[:copy(l.states, l.states[keep:])]
	}
	l.states[0].upTo = max(l.states[0].upTo, l.lo)
}

// feed matches a press at the raw time t; presses come in time order.
func (l *lane) feed(raw pad.Time) {
	t := raw - l.shift
	l.advance(t)
	for l.entered < l.total && l.enterDue+l.early <= t {
		l.enter()
	}
	if l.lo == l.entered || l.states[0].upTo >= l.entered {
		l.sink.stray(l.panel, raw)
		return
	}
	if l.waiting {
		// A second press while one waits: both go into the tree.
		l.waiting = false
		l.plant(l.waitNote, l.waitRaw)
	} else if s := &l.states[0]; len(l.states) == 1 && s.node == l.root && l.entered-max(s.upTo, l.lo) == 1 &&
		l.passed >= l.entered-1 && len(l.loose) == 0 && l.firstPress == l.pastPr {
		m := l.entered - 1
		if due := l.note(m).due; t >= due {
			l.matchPlain(m, raw)
		} else {
			l.waiting, l.waitRaw, l.waitNote = true, raw, m
			l.waitUntil = min(due+(due-t), due+l.late+1)
		}
		return
	}
	l.branch(raw)
}

// plant puts a press that waited for note m into the tree, as if branch had
// taken it when it came.
func (l *lane) plant(m int32, raw pad.Time) {
	p := l.newPress(raw)
	s := l.states[0]
	l.states[0].upTo = min(s.upTo, m)
	l.states = append(l.states, state{upTo: m + 1, count: s.count + 1, cost: s.cost + (raw - l.shift - l.note(m).due).Abs(), node: l.grow(s.node, m, p)})
	l.press(p).live--
}

// newPress takes a press into the ring and keeps it alive for the caller.
func (l *lane) newPress(raw pad.Time) int32 {
	p := l.pastPr
	if p-l.firstPress > l.pressMask {
		grown := make([]openPress, 2*len(l.presses))
		for q := l.firstPress; q < p; q++ {
			grown[q&int32(len(grown)-1)] = *l.press(q)
		}
		l.presses, l.pressMask = grown, int32(len(grown)-1)
	}
	*l.press(p) = openPress{t: raw, live: 1}
	l.pastPr++
	return p
}

// branch extends every state by the press at raw.
func (l *lane) branch(raw pad.Time) {
	t := raw - l.shift
	p := l.newPress(raw)
	// What the states end at must outlive the loop, since matches build on it.
	for i := range l.states {
		l.nodes[l.states[i].node].held++
	}
	next := l.scratch[:0]
	old := 0
	for m := max(l.lo, l.states[0].upTo); m < l.entered; m++ {
		// States that end at m or before go on as they are; the best of them,
		// the last, is what a match of note m builds on.
		for old < len(l.states) && l.states[old].upTo <= m {
			next = l.keep(next, l.states[old])
			old++
		}
		from := &l.states[old-1]
		cost := from.cost + (t - l.note(m).due).Abs()
		next = l.keep(next, state{upTo: m + 1, count: from.count + 1, cost: cost, node: l.grow(from.node, m, p)})
	}
	for ; old < len(l.states); old++ {
		next = l.keep(next, l.states[old])
	}
	for i := range l.states {
		l.drop(l.states[i].node)
	}
	l.scratch, l.states = l.states, next
	if len(l.states) > 1 {
		l.prune()
	}
	pr := l.press(p)
	if pr.live--; pr.live == 0 {
		l.strayPress(p)
	}
	l.settle()
}

// keep appends s where it is better than the last, and lets go of what is not kept.
func (l *lane) keep(list []state, s state) []state {
	if n := len(list); n > 0 {
		last := &list[n-1]
		better := s.count > last.count ||
			s.count == last.count && (s.cost < last.cost ||
				s.cost == last.cost && l.before(s.node, last.node))
		switch {
		case !better:
			l.drop(s.node)
			return list
		case last.upTo == s.upTo:
			l.drop(last.node)
			*last = s
			return list
		}
	}
	return append(list, s)
}

// prune lets go of the states that no future makes the best.
func (l *lane) prune() {
	var past pad.Time // Σ max(0, now − due) over the notes from lo to upTo
	m := l.lo
	for i := range l.states {
		s := &l.states[i]
		for ; m < s.upTo; m++ {
			if over := l.now - l.note(m).due; over > 0 {
				past += over
			}
		}
		s.key = s.cost - past
	}
	n := len(l.states)
	best := l.states[n-1]
	to := n - 1
	for i := n - 2; i >= 0; i-- {
		s := l.states[i]
		a, b := best.count-best.upTo, s.count-s.upTo
		if a > b || a == b && (best.key < s.key || best.key == s.key && l.before(best.node, s.node)) {
			l.drop(s.node)
			continue
		}
		best = s
		to--
		l.states[to] = s
	}
	if to > 0 {
		l.states = l.states[:copy(l.states, l.states[to:])]
	}
}

// settle hands on what all survivors agree on.
func (l *lane) settle() {
	for {
		r := &l.nodes[l.root]
		if r.held != 0 || r.kids != 1 {
			break
		}
		kid := r.kidXor
		l.nodes[l.root].parent = l.free
		l.free = l.root
		l.root = kid
		k := &l.nodes[kid]
		k.parent = none
		n, p := l.note(k.note), l.press(k.press)
		n.decided, p.decided = true, true
		l.sink.match(l, n, p.t)
	}
	for _, m := range l.loose {
		if m < l.passed {
			l.absentIfFree(m)
		}
	}
	l.loose = l.loose[:0]
	for upTo := l.states[0].upTo; l.passed < upTo; l.passed++ {
		l.absentIfFree(l.passed)
	}
	for l.first < min(l.passed, l.lo) && l.note(l.first).decided {
		l.first++
	}
	for l.firstPress < l.pastPr && l.press(l.firstPress).decided {
		l.firstPress++
	}
}

func (l *lane) absentIfFree(m int32) {
	if m < l.first {
		return
	}
	if n := l.note(m); n.live == 0 && !n.decided {
		n.decided = true
		l.sink.absent(l, n)
	}
}

func (l *lane) strayPress(p int32) {
	pr := l.press(p)
	pr.decided = true
	l.sink.stray(l.panel, pr.t)
}

// grow makes the node that adds note n, press p to what parent stands for.
func (l *lane) grow(parent, n, p int32) int32 {
	x := l.free
	if x == none {
		l.nodes = append(l.nodes, node{})
		x = int32(len(l.nodes) - 1)
	} else {
		l.free = l.nodes[x].parent
	}
	up := &l.nodes[parent]
	up.kids++
	up.kidXor ^= x
	nd := node{note: n, press: p, parent: parent, depth: up.depth + 1, held: 1, jump: parent, jumpDepth: up.depth}
	if top := l.nodes[l.root].depth; parent != l.root && up.jumpDepth >= top {
		if far := &l.nodes[up.jump]; up.jump != l.root && far.jumpDepth >= top && up.depth-up.jumpDepth == up.jumpDepth-far.jumpDepth {
			nd.jump, nd.jumpDepth = far.jump, far.jumpDepth
		}
	}
	l.nodes[x] = nd
	l.note(n).live++
	l.press(p).live++
	return x
}

// drop lets a state go: its node, and each ancestor that nothing else needs.
func (l *lane) drop(x int32) {
	l.nodes[x].held--
	for x != l.root {
		nd := &l.nodes[x]
		if nd.held != 0 || nd.kids != 0 {
			return
		}
		if n := l.note(nd.note); n.live == 1 {
			n.live = 0
			l.loose = append(l.loose, nd.note)
		} else {
			n.live--
		}
		if pr := l.press(nd.press); pr.live == 1 {
			pr.live = 0
			l.strayPress(nd.press)
		} else {
			pr.live--
		}
		up := nd.parent
		l.nodes[up].kids--
		l.nodes[up].kidXor ^= x
		nd.parent = l.free
		l.free = x
		x = up
	}
}

// before tells whether the matching that ends at node a comes before that of b
// in the tie order: at the first note in which they differ, a has the earlier
// press, or b has none.
func (l *lane) before(a, b int32) bool {
	if a == b {
		return false
	}
	da, db := l.nodes[a].depth, l.nodes[b].depth
	if da > db {
		if a = l.ancestor(a, db); a == b {
			return true
		}
	} else if db > da {
		if b = l.ancestor(b, da); a == b {
			return false
		}
	}
	top := l.nodes[l.root].depth
	for l.nodes[a].parent != l.nodes[b].parent {
		x, y := &l.nodes[a], &l.nodes[b]
		// Nodes of one depth have jumps of one depth, but for those that were
		// made after the root moved on.
		if x.jumpDepth == y.jumpDepth && x.jumpDepth > top && x.jump != y.jump {
			a, b = x.jump, y.jump
		} else {
			a, b = x.parent, y.parent
		}
	}
	x, y := &l.nodes[a], &l.nodes[b]
	if x.note != y.note {
		return x.note < y.note
	}
	return x.press < y.press
}

// ancestor gives the ancestor of x at a depth, which is the root's or below.
func (l *lane) ancestor(x, depth int32) int32 {
	for {
		nd := &l.nodes[x]
		switch {
		case nd.depth == depth:
			return x
		case nd.jumpDepth >= depth:
			x = nd.jump
		default:
			x = nd.parent
		}
	}
}

// current walks the matching that is best so far, from its newest note to the
// oldest that is not decided, at most limit of them.
func (l *lane) current(limit int, visit func(n *openNote, raw pad.Time)) {
	if l.waiting {
		visit(l.note(l.waitNote), l.waitRaw)
	}
	x := l.states[len(l.states)-1].node
	for ; x != l.root && limit > 0; limit-- {
		nd := &l.nodes[x]
		visit(l.note(nd.note), l.press(nd.press).t)
		x = nd.parent
	}
}
