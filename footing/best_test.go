package footing_test

import (
	"fmt"
	"maps"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// all gives every footing of the space that options.go describes, written without
// regard to how the search goes about it: notes are handed to feet one by one.
type all struct {
	d       *drill.Drill
	reach   map[string]bool // contact texts such as "nw&c" that a foot can do
	groups  [][]int32
	outerUS float64
	out     [][]drill.Contact
}

func everyFooting(t rapid.TB, d *drill.Drill, body footing.Body) [][]drill.Contact {
	a := &all{d: d, outerUS: 240_000}
	for i, n := range d.Notes {
		if i == 0 || n.Slot != d.Notes[i-1].Slot {
			a.groups = append(a.groups, nil)
		}
		a.groups[len(a.groups)-1] = append(a.groups[len(a.groups)-1], int32(i))
	}
	a.reach = reachAlone(t, d.Layout, body)
	a.from(0, nil, 0)
	return a.out
}

var reachSeen = make(map[string]map[string]bool) // by layout and body

// reachAlone asks Check what some foot can do by itself, the other foot nowhere: contacts
// such as "nw&c".
func reachAlone(t rapid.TB, l *pad.Layout, body footing.Body) map[string]bool {
	key := fmt.Sprint(l.Name, body)
	if r, ok := reachSeen[key]; ok && body.Pairs == nil {
		return r
	}
	reach := make(map[string]bool)
	for p := range l.Panels {
		for q := range l.Panels {
			if p == q {
				continue
			}
			for _, sign := range []string{"&", ">"} {
				text := l.ID(pad.Panel(p)) + sign + l.ID(pad.Panel(q))
				for _, foot := range []string{"L:", "R:"} {
					e, err := drill.New(drill.Spec{Name: "x", Layout: l.Name, BPM: 30, PerBeat: 4, Reps: 1,
						Steps: l.ID(pad.Panel(p)) + " . " + l.ID(pad.Panel(q)) + strings.Repeat(" .", 8), Footing: foot + text}, nil)
					if err != nil {
						t.Fatal(err)
					}
					f, err := footing.Check(e, e.Footing, body, drill.Windows{2: {Early: -drill.MaxWindow, Late: drill.MaxWindow}})
					if err != nil {
						t.Fatal(err)
					}
					reach[text] = reach[text] || f.Feasible
				}
			}
		}
	}
	reachSeen[key] = reach
	return reach
}

// from hands out the groups from one on.
func (a *all) from(at int, sofar []drill.Contact, landing int) {
	if at == len(a.groups) {
		a.out = append(a.out, slices.Clone(sofar))
		return
	}
	var notes []int32
	for next := at + 1; next <= len(a.groups); next++ {
		notes = append(notes, a.groups[next-1]...)
		var panels pad.PanelSet
		for _, n := range notes {
			panels = panels.With(a.d.Notes[n].Panel)
		}
		if len(notes) > 4 || panels.Len() < len(notes) {
			return
		}
		if !a.hand(at, next, notes, sofar, landing, false) && next == at+1 {
			a.hand(at, next, notes, sofar, landing, true) // joined notes that feet cannot press
		}
	}
}

// hand plays notes in one landing, in every way, and goes on from there; it tells
// whether there was one. anyhow lets feet bracket what they cannot.
func (a *all) hand(at, next int, notes []int32, sofar []drill.Contact, landing int, anyhow bool) (some bool) {
	first, last := a.d.Notes[notes[0]].Slot, a.d.Notes[notes[len(notes)-1]].Slot
	for mask := range 1 << len(notes) { // bit set: the right foot
		var of [2][]int32
		for i, n := range notes {
			of[mask>>i&1] = append(of[mask>>i&1], n)
		}
		for kinds := range 4 { // bit set: the foot rolls
			var contacts []drill.Contact
			ok, rolled, struck := true, 0, int32(-1)
			for f, ns := range of {
				roll := kinds>>f&1 == 1
				if len(ns) == 0 && !roll {
					continue
				}
				if len(ns) > 2 || roll && len(ns) != 2 {
					ok = false
					break
				}
				c := drill.Contact{Foot: pad.Foot(f), Landing: landing, Notes: [2]int32{ns[0], 0}}
				if len(ns) == 2 {
					c.Notes[1] = ns[1]
					c.Kind = drill.Bracket
					sign := "&"
					if roll {
						c.Kind, sign = drill.Roll, ">"
						rolled++
						ok = ok && a.d.Notes[ns[0]].Slot == first && a.d.Notes[ns[1]].Slot == last && first < last
					}
					ok = ok && (anyhow && !roll || a.reach[a.d.Layout.ID(a.d.Notes[ns[0]].Panel)+sign+a.d.Layout.ID(a.d.Notes[ns[1]].Panel)])
				}
				if !roll {
					for _, n := range ns {
						struck = max(struck, a.d.Notes[n].Slot)
					}
				}
				contacts = append(contacts, c)
			}
			switch {
			case !ok:
			case rolled > 0 && (next != at+2 || struck > first):
			case rolled == 0 && float64(last-first)*60e6/(a.d.BPM*float64(a.d.PerBeat)) > 2*a.outerUS+1e-3:
			default:
				some = true
				a.from(next, append(slices.Clip(sofar), contacts...), landing+1)
			}
		}
	}
	return some
}

// tooLong tells whether a foot comes down more than three landings in a row, over
// the rep's edge too.
func tooLong(contacts []drill.Contact) bool {
	feet := make([]int, contacts[len(contacts)-1].Landing+1)
	for _, c := range contacts {
		feet[c.Landing] |= 1 << c.Foot
	}
	run := 0
	for i := range 2*len(feet) + 4 {
		a, b := feet[i%len(feet)], feet[(i+1)%len(feet)]
		if a == b && a != 3 {
			run++
		} else {
			run = 0
		}
		if run >= 3 {
			return true
		}
	}
	return false
}

// wayOf writes what makes a footing a way of its own: contacts without feet, and
// for one foot after one foot whether it is the same.
func wayOf(contacts []drill.Contact) string {
	var landings [][]string
	var feet []int
	for _, c := range contacts {
		if c.Landing == len(landings) {
			landings, feet = append(landings, nil), append(feet, 0)
		}
		notes := slices.Clone(c.NoteIndices())
		slices.Sort(notes)
		landings[c.Landing] = append(landings[c.Landing], fmt.Sprint(c.Kind, notes))
		feet[c.Landing] |= 1 << c.Foot
	}
	var b strings.Builder
	for i, l := range landings {
		slices.Sort(l)
		switch {
		case i > 0 && feet[i] != 3 && feet[i] == feet[i-1]:
			b.WriteString("same ")
		case i > 0 && feet[i] != 3 && feet[i-1] != 3:
			b.WriteString("other ")
		}
		fmt.Fprintln(&b, l)
	}
	return b.String()
}

// someDrill draws a drill of up to the number of notes given.
func someDrill(t *rapid.T, most int, holds bool) *drill.Drill {
	layout := rapid.SampledFrom([]*pad.Layout{pad.Single, pad.Double}).Draw(t, "layout")
	notes := rapid.IntRange(1, most).Draw(t, "notes")
	held := make([]int, len(layout.Panels)) // slot up to which a panel is held
	var steps []string
	for n := 0; n < notes; {
		k := rapid.SampledFrom([]int{0, 0, 1, 1, 1, 1, 1, 1, 2, 3}).Draw(t, "joined")
		var slot []string
		for _, p := range rapid.Permutation(slices.Collect(pad.PanelSet(1<<len(layout.Panels)-1).All())).Draw(t, "panels") {
			if k == 0 || n == notes {
				break
			}
			if held[p] > len(steps) {
				continue
			}
			id := layout.ID(p)
			if holds && rapid.IntRange(0, 3).Draw(t, "held") == 0 {
				h := rapid.IntRange(1, 4).Draw(t, "hold")
				held[p] = len(steps) + h
				id += fmt.Sprintf("=%d", h)
			}
			slot = append(slot, id)
			k--
			n++
		}
		if slot == nil {
			slot = []string{"."}
		}
		steps = append(steps, strings.Join(slot, "+"))
	}
	if holds { // so that no hold reaches the panel's note in the next rep
		steps = append(steps, ".", ".", ".", ".")
	}
	d, err := drill.New(drill.Spec{Name: "x", Layout: layout.Name, PerBeat: 4, Reps: 2,
		BPM:       float64(rapid.IntRange(60, 300).Draw(t, "bpm")),
		RestBeats: rapid.Int64Range(0, 1).Draw(t, "rest"), Steps: strings.Join(steps, " ")}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func body() footing.Body { return footing.DefaultBody() }

// measured gives the default body with some pairs measured, each foot for itself.
func measured(t *rapid.T, l *pad.Layout) footing.Body {
	b := body()
	b.Pairs = footing.NewPairs(l)
	for range rapid.IntRange(1, 12).Draw(t, "pairs") {
		p := rapid.IntRange(0, len(l.Panels)-2).Draw(t, "a")
		q := rapid.IntRange(p+1, len(l.Panels)-1).Draw(t, "b")
		b.Pairs.Set(pad.Foot(rapid.IntRange(0, 1).Draw(t, "foot")), pad.Panel(p), pad.Panel(q), rapid.Bool().Draw(t, "can"))
	}
	return b
}

// The search gives what trying all footings gives: the same loads in the same
// order, each the best of its way, for all drills of up to eight notes, whatever
// was measured of the feet.
func TestLongBestIsExact(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	defaults := func(*rapid.T, *pad.Layout) footing.Body { return body() }
	check := func(most int, bodyOn func(*rapid.T, *pad.Layout) footing.Body) func(t *rapid.T) {
		return func(t *rapid.T) {
			d := someDrill(t, most, false)
			body := bodyOn(t, d.Layout)
			const count = 12
			got, err := footing.Best(d, body, drill.DefaultWindows, footing.Filter{}, count)
			if err != nil {
				t.Fatal(err)
			}
			best := make(map[string]*footing.Footing)
			every := everyFooting(t, d, body)
			if short := slices.DeleteFunc(slices.Clone(every), tooLong); len(short) > 0 {
				every = short
			}
			for _, contacts := range every {
				f, err := footing.Check(d, contacts, body, drill.DefaultWindows)
				if err != nil {
					t.Fatal(err)
				}
				w := wayOf(contacts)
				if b := best[w]; b == nil || footing.Compare(f, b) < 0 {
					best[w] = f
				}
			}
			var want []*footing.Footing
			for _, f := range best {
				want = append(want, f)
			}
			slices.SortFunc(want, footing.Compare)
			want = want[:min(count, len(want))]
			if len(got) != len(want) {
				t.Fatalf("%s: %d footings, trying all gives %d", d.Steps, len(got), len(want))
			}
			seen := make(map[string]bool)
			for i := range got {
				g, w := got[i], want[i]
				if math.Abs(g.Load-w.Load) > 1e-9 || g.Feasible != w.Feasible {
					t.Fatalf("%s at %g: number %d is %s, %v, load %v; trying all gives %s, %v, %v", d.Steps, d.BPM, i,
						drill.FootingText(d, g.Contacts), g.Feasible, g.Load, drill.FootingText(d, w.Contacts), w.Feasible, w.Load)
				}
				way := wayOf(g.Contacts)
				if seen[way] || math.Abs(best[way].Load-g.Load) > 1e-9 {
					t.Fatalf("%s: %s is not the best of its way", d.Steps, drill.FootingText(d, g.Contacts))
				}
				seen[way] = true
			}
		}
	}
	t.Run("five", rapid.MakeCheck(check(5, defaults)))
	t.Run("eight", rapid.MakeCheck(check(8, defaults)))
	t.Run("measured pairs", rapid.MakeCheck(check(6, measured)))
}

// shapeOf writes the shape of a footing: the notes of each landing and whether a foot rolls in it.
func shapeOf(contacts []drill.Contact) string {
	var notes [][]int32
	var rolled []bool
	for _, c := range contacts {
		if c.Landing == len(notes) {
			notes, rolled = append(notes, nil), append(rolled, false)
		}
		notes[c.Landing] = append(notes[c.Landing], c.NoteIndices()...)
		rolled[c.Landing] = rolled[c.Landing] || c.Kind == drill.Roll
	}
	for i := range notes {
		slices.Sort(notes[i])
	}
	return fmt.Sprint(notes, rolled)
}

// The ways to choose from have each of the twelve best shapes that there are, by the best
// way of it.
func TestPlanHasTheBestShapes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := someDrill(t, 6, false)
		offered, err := footing.Plan(d, body(), drill.DefaultWindows, footing.Filter{}, 60)
		if err != nil {
			t.Fatal(err)
		}
		every := everyFooting(t, d, body())
		if short := slices.DeleteFunc(slices.Clone(every), tooLong); len(short) > 0 {
			every = short
		}
		best := make(map[string]*footing.Footing)
		for _, contacts := range every {
			f, err := footing.Check(d, contacts, body(), drill.DefaultWindows)
			if err != nil {
				t.Fatal(err)
			}
			if b := best[shapeOf(contacts)]; b == nil || footing.Compare(f, b) < 0 {
				best[shapeOf(contacts)] = f
			}
		}
		want := slices.SortedFunc(maps.Values(best), footing.Compare)
		for i, w := range want[:min(12, len(want))] {
			if !slices.ContainsFunc(offered, func(f *footing.Footing) bool {
				return f.Feasible == w.Feasible && math.Abs(f.Load-w.Load) < 1e-9
			}) {
				t.Fatalf("%s at %g: shape %d, %s, load %v, is not offered", d.Steps, d.BPM, i, drill.FootingText(d, w.Contacts), w.Load)
			}
		}
	})
}
