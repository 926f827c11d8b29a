package footing

import (
	"fmt"
	"math"
	"slices"
	"sync"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// Filter leaves out footings that are not wanted.
type Filter struct {
	Quiet      bool                   // no panel-free time: one foot stays on a panel while the other moves
	NoLongShoe bool                   // no bracket or roll over a gap between panels wider than Body.LongGapMM
	MaxTurnDeg float64                // largest turn of the hips, 0 for any
	Foot       map[pad.Panel]pad.Foot // the foot that a panel must be played by
}

// Limits of a plan.
const (
	MaxCount = 1000   // footings
	MaxNotes = 10_000 // of a rep, since a plan takes some 50 kB of memory a note

	// Shapes are looked for in reps of at most shapeGroups groups: the best of a
	// longer one differ here and there only.
	mostShapes  = 12
	shapeGroups = 64

	// In longer reps layers are thinned: in those of fewer groups it saves nothing.
	longGroups = 64
)

// Best gives the count footings of d of least load at its tempo, each the best of
// its kind, those that work first. It gives fewer where there are no more, and
// none where the filter leaves none. What is searched is written at the head of
// options.go; the search is exact.
func Best(d *drill.Drill, body Body, windows drill.Windows, filter Filter, count int) ([]*Footing, error) {
	p, err := newPlanner(d, body, windows, filter, count)
	if err != nil {
		return nil, err
	}
	p.ways, _ = p.bestOfAll(count, 0)
	return p.footings(count), nil
}

// Plan gives at most count footings of d to choose from, those that work at its
// tempo first, each in order of load. The best of all is among them. So that the
// others are more than small changes of it, there are also, if count allows,
//
//   - the best without gathering, the best by single steps, and the best by plain
//     alternation;
//   - where the steps repeat a shorter pattern, ways that repeat with it, up to half of count;
//   - in a rep of at most 64 groups of notes, the best way of each of the twelve best
//     shapes: a shape says which notes come down together and where a foot rolls, not
//     how the feet share them;
//   - and then the next best as Best gives them.
//
// No two are of one kind, nor would they be if left and right were exchanged or the
// loop were entered elsewhere, where the steps look the same from there.
func Plan(d *drill.Drill, body Body, windows drill.Windows, filter Filter, count int) ([]*Footing, error) {
	p, err := newPlanner(d, body, windows, filter, count)
	if err != nil {
		return nil, err
	}
	roomy := count >= 2*len(plainer)
	// The searches know nothing of each other, so they go on side by side.
	plain := make([][][]drill.Contact, len(plainer))
	var beside sync.WaitGroup
	if roomy {
		for i, v := range plainer {
			beside.Go(func() { plain[i] = p.best(v, 1) })
		}
	}
	wanted := min(count, mostShapes)
	if len(p.groups) > shapeGroups {
		wanted = 0
	}
	all, shapes := p.bestOfAll(count, wanted)
	beside.Wait()
	for _, ways := range slices.Backward(plain) {
		p.addBetter(ways)
	}
	p.addBetter(all[:min(1, len(all))])
	if s, times := shorter(d); roomy && s != nil {
		q, err := newPlanner(s, body, windows, filter, count)
		if err != nil {
			return nil, err
		}
		for _, way := range q.best(everything, count/2) {
			p.add(repeated(way, len(s.Notes), times))
		}
	}
	p.addBetter(shapes)
	for _, way := range all {
		p.add(way)
	}
	// Where ways only looked different, there is room for more.
	const widest = 8
	for n := 2 * count; len(p.ways) < count && len(all) >= n/2 && n <= widest*count; n *= 2 {
		all, _ = p.bestOfAll(n, 0)
		for _, way := range all {
			p.add(way)
		}
	}
	return p.footings(count), nil
}

// Easiest gives of ways in order the first that works and has the technique given or, where
// none has it, the first that works; nil where none does.
func Easiest(ways []*Footing, technique string) (best *Footing) {
	for _, w := range ways {
		if w.Feasible && (best == nil || best.Technique != technique && w.Technique == technique) {
			best = w
		}
	}
	return best
}

// planner collects ways to play a drill.
type planner struct {
	w       *walk
	windows drill.Windows
	filter  Filter
	groups  [][]int32
	options [][]option // by group
	images  []image
	seen    map[string]bool
	ways    [][]drill.Contact

	longFrom int // groups of a rep above which it is long
}

func newPlanner(d *drill.Drill, body Body, windows drill.Windows, filter Filter, count int) (*planner, error) {
	if err := body.Check(); err != nil {
		return nil, err
	}
	if err := windows.Check(); err != nil {
		return nil, err
	}
	if count < 1 || count > MaxCount {
		return nil, fmt.Errorf("%d footings are asked for, not 1 to %d", count, MaxCount)
	}
	if len(d.Notes) > MaxNotes {
		return nil, fmt.Errorf("a rep of %d notes is too long to plan: at most %d", len(d.Notes), MaxNotes)
	}
	if !(filter.MaxTurnDeg >= 0 && filter.MaxTurnDeg <= 180) {
		return nil, fmt.Errorf("the largest turn is %v, not from 0 to 180 degrees", filter.MaxTurnDeg)
	}
	p := &planner{windows: windows, filter: filter, groups: groupsOf(d), images: imagesOf(d), seen: make(map[string]bool), longFrom: longGroups}
	g := groundOf(d, &body, nil)
	if more := lastResorts(d, g, p.groups); more != nil {
		g = groundOf(d, &body, more)
	}
	p.w = newWalk(d, g, windows)
	for i := range p.groups {
		p.options = append(p.options, p.w.optionsAt(p.groups, i, &p.filter))
	}
	return p, nil
}

// bestOfAll gives the count best ways, and as many of the best shapes as are wanted.
func (p *planner) bestOfAll(count, wanted int) (ways, shapes [][]drill.Contact) {
	if ways, shapes = p.search(everything, mostRunFree, count, wanted); len(ways) > 0 {
		return ways, shapes
	}
	return p.search(everything, math.MaxUint16, count, wanted)
}

// best gives the count best ways of a vocabulary in which no foot comes down too often in a row.
func (p *planner) best(v vocabulary, count int) [][]drill.Contact {
	ways, _ := p.search(v, mostRunFree, count, 0)
	return ways
}

func (p *planner) search(v vocabulary, mostRun uint16, count, wanted int) (ways, shapes [][]drill.Contact) {
	w := *p.w
	w.capped = w.restCap()
	w.quiet = p.filter.Quiet
	if p.filter.MaxTurnDeg > 0 {
		w.maxTurn = p.filter.MaxTurnDeg
	}
	w.mostRun = mostRun
	// Where a foot is kept from moving, by a hold or a filter, what it needs to stay for more than a
	// rep's last groups might be thinned out.
	thins := len(p.groups) > p.longFrom && !w.quiet && !w.holds
	return newSearch(&w, p.groups, p.options, v, thins).best(count, wanted)
}

// add keeps a way unless one of its kind, or an image of one, is there.
func (p *planner) add(way []drill.Contact) {
	kind := kindOf(way)
	if p.seen[kind] {
		return
	}
	p.ways = append(p.ways, way)
	p.seen[kind] = true
	for i := range p.images {
		if same := p.images[i].of(p.w.d, way); same != nil {
			p.seen[kindOf(same)] = true
		}
	}
}

// addBetter keeps those ways that are better than all of their shape that are there.
// Of ways of one shape that are equally good a search may find any, and the mirrored
// drill's another; so what is kept does not hang on which it was.
func (p *planner) addBetter(ways [][]drill.Contact) {
	const eps = 1e-9 // of loads
	for _, way := range ways {
		shapes := []string{shapeOf(way)}
		for i := range p.images {
			if same := p.images[i].of(p.w.d, way); same != nil {
				shapes = append(shapes, shapeOf(same))
			}
		}
		asGood := func(other []drill.Contact) bool {
			if !slices.Contains(shapes, shapeOf(other)) {
				return false
			}
			f, g := p.w.check(way, p.windows), p.w.check(other, p.windows)
			return g.faults <= f.faults && g.Load <= f.Load+eps
		}
		if !slices.ContainsFunc(p.ways, asGood) {
			p.add(way)
		}
	}
}

// shapeOf writes a way's shape: how many notes come down in each landing and whether a foot rolls in it.
func shapeOf(way []drill.Contact) string {
	var shape []byte
	for c := range landingsOf(way) {
		notes, roll := 0, 0
		for i := range c {
			notes += len(c[i].NoteIndices())
			if c[i].Kind == drill.Roll {
				roll = 1
			}
		}
		shape = append(shape, byte(notes<<1|roll))
	}
	return string(shape)
}

// footings sums up the first count ways and puts them in order.
func (p *planner) footings(count int) []*Footing {
	footings := make([]*Footing, min(count, len(p.ways)))
	for i := range footings {
		footings[i] = p.w.check(p.ways[i], p.windows)
	}
	slices.SortStableFunc(footings, Compare)
	return footings
}

// restCap gives the half slots after which more rest changes nothing: no limit
// is longer, and the load counts no more.
func (w *walk) restCap() int32 {
	longest := max(restedUS, w.cycle, w.clear)
	for i := range 3 {
		longest = max(longest, w.alone[i], w.together[i])
	}
	way := 0.0
	for i := range w.ground.spots {
		way = max(way, w.ground.distance(0, place(i)))
	}
	longest = max(longest, w.press+w.swing+2*way*w.perMM) + w.stagger
	return int32(min(math.Ceil(longest/w.half), math.MaxInt32/4))
}
