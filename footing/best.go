package footing

import (
	"cmp"
	"math"
	"slices"

	"heeltoe/judge/drill"
)

// best finds the footings of least load, each the best of its kind.
//
// It is a best-first search over kinds. A prefix is the kinds of the landings up
// to some group, with every state that a footing of these kinds can be in by then, for
// each start. The least load with which a prefix can be ended where it
// started is known exactly from toEnd; so prefixes are taken up in the order of the
// footings that they lead to, and the first k that are whole are the k best
// (n-best strings of a weighted automaton, made deterministic on the way: Mohri and Riley 2002).
type best struct {
	s     *search
	k     *kept
	ahead [][]float64 // by start: toEnd
	bound float64

	// queue has the prefixes that can still lead to one of the footings wanted, in order,
	// the next one last. None begins another, so each leads to a footing that no other
	// leads to: as many as are wanted are enough.
	queue  []*prefix
	wanted int

	labels []uint32 // of extend, kept for the next time
	wholes []float64
}

// prefix is the kinds of a footing's first landings.
type prefix struct {
	group  int32
	items  []item
	parent *prefix
	whole  float64 // least load of a footing that begins so
}

// item is a state that a prefix can be in.
type item struct {
	start  int32 // index in kept.starts
	node   int32
	load   float64
	before int32 // index in the parent's items
	option int32 // that led here
}

// newBest puts all starts into the first prefix.
func newBest(s *search, k *kept, bound float64, wanted int) *best {
	b := &best{s: s, k: k, bound: bound, wanted: wanted, ahead: make([][]float64, len(k.starts))}
	root := &prefix{whole: math.Inf(1)}
	for i, v := range k.starts {
		load := make([]float64, len(k.nodes))
		k.toEnd(k.endsOf[i], load)
		if load[v] > bound {
			continue
		}
		b.ahead[i] = load
		root.items = append(root.items, item{start: int32(i), node: v})
		root.whole = min(root.whole, load[v])
	}
	if len(root.items) > 0 {
		b.queue = []*prefix{root}
	}
	return b
}

// all gives the footings that are wanted, or as many as there are within the bound.
func (b *best) all() (ways [][]drill.Contact) {
	for b.wanted > 0 {
		way := b.next()
		if way == nil {
			break
		}
		ways = append(ways, way)
	}
	return ways
}

// next gives the next footing, or nil where none is left within the bound.
func (b *best) next() []drill.Contact {
	for len(b.queue) > 0 {
		p := b.queue[len(b.queue)-1]
		b.queue = b.queue[:len(b.queue)-1]
		if int(p.group) == len(b.s.options) {
			b.wanted--
			return b.contacts(p)
		}
		b.extend(p)
	}
	return nil
}

// extend puts the prefixes that are one landing longer into the queue.
func (b *best) extend(p *prefix) {
	labels, wholes := b.labels[:0], b.wholes[:0]
	for _, it := range p.items {
		ahead := b.ahead[it.start]
		for _, e := range b.k.nodes[it.node].edges {
			whole := it.load + e.load + ahead[e.to]
			if i := slices.Index(labels, e.label); i >= 0 {
				wholes[i] = min(wholes[i], whole)
			} else if whole <= b.bound {
				labels, wholes = append(labels, e.label), append(wholes, whole)
			}
		}
	}
	b.labels, b.wholes = labels, wholes
	for i, label := range labels {
		if len(b.queue) < b.wanted || wholes[i] < b.queue[0].whole {
			b.insert(b.child(p, label, wholes[i]))
		}
	}
}

// child gives p with one landing more.
func (b *best) child(p *prefix, label uint32, whole float64) *prefix {
	c := &prefix{parent: p, whole: whole}
	for i, it := range p.items {
		for _, e := range b.k.nodes[it.node].edges {
			if load := it.load + e.load; e.label == label && load+b.ahead[it.start][e.to] <= b.bound {
				c.group = b.k.nodes[e.to].group
				c.add(item{it.start, e.to, load, int32(i), e.option})
			}
		}
	}
	return c
}

// insert puts p into the queue, and drops the worst if it has more than are wanted.
func (b *best) insert(p *prefix) {
	at, _ := slices.BinarySearchFunc(b.queue, p, func(q, p *prefix) int {
		return cmp.Or(-cmp.Compare(q.whole, p.whole), cmp.Compare(q.group, p.group)) // of equals the one nearer to its end is next
	})
	b.queue = slices.Insert(b.queue, at, p)
	if len(b.queue) > b.wanted {
		b.queue = slices.Delete(b.queue, 0, 1)
	}
}

// add adds a state, or gives it the least of its loads.
func (p *prefix) add(it item) {
	for i := range p.items {
		if o := &p.items[i]; o.start == it.start && o.node == it.node {
			if it.load < o.load {
				*o = it
			}
			return
		}
	}
	p.items = append(p.items, it)
}

// contacts gives the best footing of a whole prefix.
func (b *best) contacts(p *prefix) []drill.Contact {
	at := int32(-1)
	for i, it := range p.items {
		if slices.Contains(b.k.endsOf[it.start], it.node) && (at < 0 || it.load < p.items[at].load) {
			at = int32(i)
		}
	}
	var options []*option
	for ; p.parent != nil; p = p.parent {
		options = append(options, &b.s.options[p.parent.group][p.items[at].option])
		at = p.items[at].before
	}
	slices.Reverse(options)
	var contacts []drill.Contact
	for landing, o := range options {
		for f := range o.contacts {
			if o.feet>>f&1 == 1 {
				c := o.contacts[f]
				c.Landing = landing
				contacts = append(contacts, c)
			}
		}
	}
	return contacts
}
