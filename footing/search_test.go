package footing

import (
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

func randomDrill(t *testing.T, l *pad.Layout, notes int) *drill.Drill {
	r := rand.New(rand.NewPCG(7, uint64(notes)))
	ids := make([]string, notes)
	for i := range ids {
		ids[i] = l.ID(pad.Panel(r.IntN(len(l.Panels))))
	}
	d, err := drill.New(drill.Spec{Name: "x", Layout: l.Name, BPM: 140, PerBeat: 4, Reps: 1, Steps: strings.Join(ids, " ")}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// The work of the search is linear in the number of notes, counted in landings
// tried: as many for a note in 250 as in 2,000, give or take a tenth.
func TestLongWorkIsLinear(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	for _, l := range []*pad.Layout{pad.Single, pad.Double} {
		var perNote []float64
		for _, notes := range []int{250, 500, 1000, 2000} {
			p, err := newPlanner(randomDrill(t, l, notes), DefaultBody(), drill.DefaultWindows, Filter{}, 1)
			if err != nil {
				t.Fatal(err)
			}
			w := *p.w
			w.capped, w.mostRun = w.restCap(), mostRunFree
			s := newSearch(&w, p.groups, p.options, everything, false)
			s.loop()
			tried := 0
			for i := range s.options {
				tried += len(s.layers[i].states) * len(s.options[i])
			}
			perNote = append(perNote, float64(tried)/float64(notes))
		}
		t.Logf("%s: landings tried a note %.0f", l.Name, perNote)
		for _, n := range perNote {
			if last := perNote[len(perNote)-1]; n < .9*last || n > 1.1*last {
				t.Errorf("%s: landings tried a note %.0f", l.Name, perNote)
			}
		}
	}
}

// A search that thins its layers finds ways as good as one that does not, as many of them.
func TestThinnedSearchLosesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := rapid.SampledFrom([]*pad.Layout{pad.Single, pad.Double}).Draw(t, "layout")
		var steps []string
		for range rapid.IntRange(1, 40).Draw(t, "slots") {
			step := l.ID(pad.Panel(rapid.IntRange(0, len(l.Panels)-1).Draw(t, "panel")))
			switch rapid.IntRange(0, 9).Draw(t, "as") {
			case 0:
				step = "."
			case 1:
				if other := l.ID(pad.Panel(rapid.IntRange(0, len(l.Panels)-1).Draw(t, "other"))); other != step {
					step += "+" + other
				}
			}
			steps = append(steps, step)
		}
		d, err := drill.New(drill.Spec{Name: "x", Layout: l.Name, BPM: float64(rapid.IntRange(60, 320).Draw(t, "bpm")), PerBeat: 4, Reps: 1,
			Steps: strings.Join(append(steps, l.ID(0)), " ")}, nil)
		if err != nil {
			t.Fatal(err)
		}
		filter := Filter{MaxTurnDeg: rapid.SampledFrom([]float64{0, 0, 95}).Draw(t, "turn"), NoLongShoe: rapid.Bool().Draw(t, "no long shoe")}
		if rapid.Bool().Draw(t, "given foot") {
			filter.Foot = map[pad.Panel]pad.Foot{2: pad.Left}
		}
		body := DefaultBody()
		if rapid.Bool().Draw(t, "measured") { // in any order
			for i := range body.Alone {
				body.Alone[i] = time.Duration(rapid.IntRange(120, 220).Draw(t, "alone")) * time.Millisecond
				body.Together[i] = time.Duration(rapid.IntRange(120, 220).Draw(t, "together")) * time.Millisecond
			}
		}
		count := rapid.IntRange(1, 20).Draw(t, "count")
		var loads [2][]float64
		var shapes [2]int
		for i, from := range []int{math.MaxInt, 0} {
			p, err := newPlanner(d, body, drill.DefaultWindows, filter, count)
			if err != nil {
				t.Fatal(err)
			}
			p.longFrom = from
			ways, of := p.bestOfAll(count, 5)
			shapes[i] = len(of)
			for _, v := range plainer {
				of = append(of, p.best(v, 3)...)
			}
			for _, way := range append(ways, of...) {
				f := p.w.check(way, drill.DefaultWindows)
				loads[i] = append(loads[i], f.Load+float64(f.faults)*faultLoad)
			}
		}
		if shapes[0] != shapes[1] || !slices.EqualFunc(loads[0], loads[1], func(a, b float64) bool { return math.Abs(a-b) < 1e-6 }) {
			t.Fatalf("%s: loads %v, thinned %v", d.Steps, loads[0], loads[1])
		}
	})
}

// Taking the feet through a landing does not allocate.
func TestAdvanceDoesNotAllocate(t *testing.T) {
	d := randomDrill(t, pad.Double, 40)
	p, err := newPlanner(d, DefaultBody(), drill.DefaultWindows, Filter{}, 1)
	if err != nil {
		t.Fatal(err)
	}
	sum := 0.0
	if n := testing.AllocsPerRun(100, func() {
		was, now := start(), state{}
		for at := 0; at < len(p.options); {
			o := &p.options[at][len(p.options[at])-1]
			load, _, _ := p.w.advance(&was, &now, max(0, d.Notes[p.groups[at][0]].Slot-1), &o.landing, nil)
			sum += load
			was, at = now, int(o.next)
		}
	}); n != 0 {
		t.Errorf("%v allocations", n)
	}
	if sum == 0 {
		t.Error("nothing was walked")
	}
}
