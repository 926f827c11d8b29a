package footing_test

import (
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// way is a footing that a fact speaks of: what it says of the landings, and whether it
// is the easiest. Where a field is left out the fact does not say.
type way struct {
	name    string
	notes   []int  // notes of each landing
	kinds   string // first letter of each contact's kind: s, b, r
	feet    string // foot of each contact
	easiest bool
	atMost  float64 // largest turn, degrees
	facing  int     // 1: towards the right after the last landing, -1: towards the left
	tells   func(d *drill.Drill, f *footing.Footing) bool
}

// facts of the trade (common practice, no source), as they are told for the
// pattern that goes to the right. The tempo is one at which the ways named are played.
var facts = []struct {
	name, layout, steps string
	rest                int64
	bpm                 float64
	ways                []way
}{
	{"stair of ten", "double", "1sw 1nw 1c 1ne 1se 2sw 2nw 2c 2ne 2se . .", 2, 190, []way{
		{name: "five landings, facing forward", notes: []int{1, 3, 2, 3, 1}, atMost: 45},
	}},
	{"stair of ten and back", "double", "1sw 1nw 1c 1ne 1se 2sw 2nw 2c 2ne 2se . . 2se 2ne 2c 2nw 2sw 1se 1ne 1c 1nw 1sw . .", 2, 190, []way{
		{name: "five landings each way, facing forward", notes: []int{1, 3, 2, 3, 1, 1, 3, 2, 3, 1}, atMost: 45},
	}},
	{"middle six of the stair", "double", "1c 1ne 1se 2sw 2nw 2c . .", 2, 170, []way{
		{name: "two landings of two, then two steps", notes: []int{2, 2, 1, 1}, kinds: "bbss"},
	}},
	{"middle six of the stair, slower", "double", "1c 1ne 1se 2sw 2nw 2c . .", 2, 110, []way{
		{name: "the first two as rolls", notes: []int{2, 2, 1, 1}, kinds: "rrss"},
	}},
	{"nine slots, without 1se", "double", "1sw 1nw 1c 1ne 2sw 2nw 2c 2ne 2se . . .", 2, 190, []way{
		{name: "the right foot takes 2sw", notes: []int{1, 3, 1, 3, 1}, tells: footOn("2sw", pad.Right)},
	}},
	{"nine slots, without 2sw", "double", "1sw 1nw 1c 1ne 1se 2nw 2c 2ne 2se . . .", 2, 190, []way{
		{name: "the left foot takes 1se and pushes off", notes: []int{1, 3, 1, 3, 1}, tells: footOn("1se", pad.Left)},
	}},
	{"crossing from an upper corner", "double", "1nw 1c 1se 2sw . . . .", 2, 170, []way{
		{name: "two brackets, facing the way it goes", notes: []int{2, 2}, kinds: "bb", facing: 1, easiest: true},
	}},
	{"crossing from a lower corner", "double", "1sw 1c 1ne 2nw . . . .", 2, 170, []way{
		{name: "two brackets, facing away", notes: []int{2, 2}, kinds: "bb", facing: -1, easiest: true},
	}},
	{"crossover from a lower corner", "single", "sw c ne se . . . .", 0, 150, []way{
		{name: "one, then three", notes: []int{1, 3}},
		{name: "two rolls", notes: []int{2, 2}, kinds: "rr"},
		{name: "turned alternation", notes: []int{1, 1, 1, 1}, feet: "LRLR"},
	}},
	{"crossover from an upper corner", "single", "nw c se ne . . . .", 0, 130, []way{
		{name: "one, two, one", notes: []int{1, 2, 1}, easiest: true},
		{name: "one, then three", notes: []int{1, 3}},
		{name: "two rolls", notes: []int{2, 2}, kinds: "rr"},
	}},
	{"crossover from an upper corner, slower", "single", "nw c se ne . . . .", 0, 90, []way{
		{name: "left, left, right, right", notes: []int{1, 1, 1, 1}, feet: "LLRR"},
	}},
	{"run of five through the centre", "single", "sw nw c ne se . . .", 0, 190, []way{
		{name: "one, three, one", notes: []int{1, 3, 1}},
	}},
	{"run of five through the centre, slower", "single", "sw nw c ne se . . .", 0, 110, []way{
		{name: "rolls in pairs, a side and the centre with a corner", notes: []int{2, 2, 1}, kinds: "rrs"},
		{name: "rolls in pairs, the centre with a corner and a side", notes: []int{1, 2, 2}, kinds: "srr"},
	}},
	{"diagonal of three", "single", "sw c ne .", 0, 90, []way{
		{name: "double-step", notes: []int{1, 1, 1}, easiest: true, tells: func(_ *drill.Drill, f *footing.Footing) bool { return f.Technique == "double-step" }},
	}},
	{"diagonal of three, faster", "single", "sw c ne .", 0, 170, []way{
		{name: "one, two", notes: []int{1, 2}, kinds: "sb"},
		{name: "two, one", notes: []int{2, 1}, kinds: "bs"},
		{name: "all three at once, slightly late", notes: []int{3}, tells: slightlyLate},
	}},
	{"two panels that one foot can bracket", "single", "sw c sw c", 0, 170, []way{
		{name: "switched brackets at half the rate a foot", notes: []int{2, 2}, kinds: "bb", easiest: true,
			tells: func(_ *drill.Drill, f *footing.Footing) bool {
				return f.Technique == "foot-switch" && len(f.Contacts) == 2
			}},
	}},
	{"two panels over the seam", "double", "1se 2sw 1se 2sw", 0, 170, []way{
		{name: "switched brackets at half the rate a foot", notes: []int{2, 2}, kinds: "bb", easiest: true,
			tells: func(_ *drill.Drill, f *footing.Footing) bool {
				return f.Technique == "foot-switch" && len(f.Contacts) == 2
			}},
	}},
	{"one panel", "single", "c c c c", 0, 170, []way{
		{name: "the feet in turn", easiest: true,
			tells: func(_ *drill.Drill, f *footing.Footing) bool {
				return f.Technique == "foot-switch" && len(f.Contacts) == 4
			}},
	}},
}

// footOn tells whether a panel is played by a foot.
func footOn(id string, foot pad.Foot) func(*drill.Drill, *footing.Footing) bool {
	return func(d *drill.Drill, f *footing.Footing) bool {
		for i := range f.Contacts {
			for _, n := range f.Contacts[i].NoteIndices() {
				if d.Layout.ID(d.Notes[n].Panel) == id {
					return f.Contacts[i].Foot == foot
				}
			}
		}
		return false
	}
}

// slightlyLate tells whether the aim of the only landing lies after the middle
// of its notes.
func slightlyLate(d *drill.Drill, f *footing.Footing) bool {
	span := d.Notes[len(d.Notes)-1].Slot - d.Notes[0].Slot
	middle := pad.Time(float64(span) * 60e6 / (d.BPM * float64(d.PerBeat)) / 2)
	return len(f.Aims) == 1 && f.Aims[0].Aim > middle && f.Aims[0].Aim < middle+50*pad.Millisecond
}

// is tells whether f is the way spoken of; mirrored, left stands for right.
func (w *way) is(d *drill.Drill, f *footing.Footing, mirrored bool) bool {
	var notes []int
	var kinds, feet strings.Builder
	for i := range f.Contacts {
		c := &f.Contacts[i]
		if c.Landing == len(notes) {
			notes = append(notes, 0)
		}
		notes[c.Landing] += len(c.NoteIndices())
		kinds.WriteByte(c.Kind.String()[0])
		foot := c.Foot
		if mirrored {
			foot = foot.Other()
		}
		feet.WriteString(foot.String())
	}
	last := f.FacingDeg[len(f.FacingDeg)-1]
	if mirrored {
		last = -last
	}
	return (w.notes == nil || slices.Equal(notes, w.notes)) &&
		(w.kinds == "" || kinds.String() == w.kinds) &&
		(w.feet == "" || feet.String() == w.feet) &&
		(w.atMost == 0 || f.MaxTurnDeg <= w.atMost) &&
		(w.facing == 0 || float64(w.facing)*last < 0) // degrees count to the left
}

func TestLongFacts(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	for _, fact := range facts {
		d, err := drill.New(drill.Spec{Name: fact.name, Layout: fact.layout, BPM: fact.bpm, PerBeat: 4, Reps: 8, RestBeats: fact.rest, Steps: fact.steps}, nil)
		if err != nil {
			t.Fatal(err)
		}
		m, err := d.Mirror()
		if err != nil {
			t.Fatal(err)
		}
		for mirrored, d := range map[bool]*drill.Drill{false: d, true: m} {
			footings, err := footing.Plan(d, footing.DefaultBody(), drill.DefaultWindows, footing.Filter{}, 300)
			if err != nil {
				t.Fatal(err)
			}
			for _, w := range fact.ways {
				at := slices.IndexFunc(footings, func(f *footing.Footing) bool {
					// What a fact tells of panels and feet is said of the unmirrored drill.
					g, e := f, d
					if mirrored {
						g, e = mirroredFooting(f), mustMirror(t, d)
					}
					return w.is(d, f, mirrored) && (w.tells == nil || w.tells(e, g))
				})
				switch {
				case at < 0:
					t.Errorf("%s, mirrored %v: %s is not found", fact.name, mirrored, w.name)
				case !footings[at].Feasible:
					t.Errorf("%s, mirrored %v: %s does not work at %g: %v", fact.name, mirrored, w.name, fact.bpm, footings[at].WhyNot)
				case w.easiest && at != 0:
					t.Errorf("%s, mirrored %v: %s is number %d, first is %s", fact.name, mirrored, w.name, at, drill.FootingText(d, footings[0].Contacts))
				default:
					t.Logf("%s, mirrored %v: %s is number %d: %s, %.0f°", fact.name, mirrored, w.name, at, drill.FootingText(d, footings[at].Contacts), footings[at].MaxTurnDeg)
				}
			}
		}
	}
}

func mustMirror(t *testing.T, d *drill.Drill) *drill.Drill {
	m, err := d.Mirror()
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// mirroredFooting gives f with the feet exchanged.
func mirroredFooting(f *footing.Footing) *footing.Footing {
	g := *f
	g.Contacts = slices.Clone(f.Contacts)
	for i := range g.Contacts {
		g.Contacts[i].Foot = g.Contacts[i].Foot.Other()
	}
	return &g
}

// Rolls and brackets between lower and upper corners want large feet; those
// between a corner and the centre do not.
func TestLargeFeet(t *testing.T) {
	d := makeDrill(t, "single", "sw nw . . se ne . .")
	count := func(shoe float64) (rolls, brackets int) {
		body := footing.DefaultBody()
		body.ShoeMM = shoe
		footings, err := footing.Plan(d, body, drill.DefaultWindows, footing.Filter{}, 300)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range footings {
			for i := range f.Contacts {
				switch {
				case !f.Feasible:
				case f.Contacts[i].Kind == drill.Roll:
					rolls++
				case f.Contacts[i].Kind == drill.Bracket:
					brackets++
				}
			}
		}
		return rolls, brackets
	}
	for _, c := range []struct {
		shoe            float64
		rolls, brackets bool
	}{{250, false, false}, {269, false, false}, {285, true, false}, {299, true, false}, {300, true, true}, {310, true, true}} {
		rolls, brackets := count(c.shoe)
		if rolls > 0 != c.rolls || brackets > 0 != c.brackets {
			t.Errorf("a shoe of %g mm: %d rolls, %d brackets", c.shoe, rolls, brackets)
		}
	}
}

// More than two lifts in a row of one foot do not keep up at speed: at slots
// of 160 ms a foot comes down twice in a row, but not three times.
func TestThirdLiftDoesNotKeepUp(t *testing.T) {
	for text, want := range map[string]bool{"L:c L:c R:c R:c": true, "L:c L:c L:c R:c": false, "L:c L:c L:c L:c": false} {
		d, err := drill.New(drill.Spec{Name: "x", Layout: "single", BPM: 60e3 / 160 / 4, PerBeat: 4, Reps: 1, Steps: "c c c c", Footing: text}, nil)
		if err != nil {
			t.Fatal(err)
		}
		f, err := footing.Check(d, d.Footing, footing.DefaultBody(), drill.DefaultWindows)
		if err != nil {
			t.Fatal(err)
		}
		if f.Feasible != want || want != (len(f.WhyNot) == 0) {
			t.Errorf("%s: feasible %v, %v", text, f.Feasible, f.WhyNot)
		}
	}
}

// Thirty-six notes at eighteen a second: by alternation each foot has 111 ms,
// which is too short; in landings of three, one every 167 ms, they can be played.
func TestThirtySixNotesAtEighteenASecond(t *testing.T) {
	for _, steps := range []string{"nw c se", "sw c ne", "nw ne c", "sw se c", "nw sw c"} {
		d, err := drill.New(drill.Spec{Name: "x", Layout: "single", BPM: 270, PerBeat: 4, Reps: 1, Steps: strings.TrimSpace(strings.Repeat(steps+" ", 12))}, nil)
		if err != nil {
			t.Fatal(err)
		}
		if slot := 60e6 / (d.BPM * 4); math.Abs(slot-1e6/18) > 1e-6 {
			t.Fatalf("a slot lasts %g µs", slot)
		}
		turns := make([]drill.Contact, 36)
		for i := range turns {
			turns[i] = drill.Contact{Foot: pad.Foot(i % 2), Landing: i, Notes: [2]int32{int32(i), 0}}
		}
		f, err := footing.Check(d, turns, footing.DefaultBody(), drill.DefaultWindows)
		if err != nil {
			t.Fatal(err)
		}
		if f.Feasible || f.Technique != "alternate" || !strings.Contains(strings.Join(f.WhyNot, "; "), "within 111 ms") {
			t.Errorf("%s: alternation: feasible %v, %v", steps, f.Feasible, f.WhyNot)
		}
		footings, err := footing.Plan(d, footing.DefaultBody(), drill.DefaultWindows, footing.Filter{}, 10)
		if err != nil {
			t.Fatal(err)
		}
		found := false
		for _, f := range footings {
			threes := f.Feasible && f.Landings == 12
			for _, a := range f.Aims {
				threes = threes && a.Band < drill.Absent
			}
			found = found || threes
			if f.Feasible && f.Technique == "alternate" {
				t.Errorf("%s: %s is feasible", steps, drill.FootingText(d, f.Contacts))
			}
		}
		if !found {
			t.Errorf("%s: no twelve landings of three work; first %s %v", steps, drill.FootingText(d, footings[0].Contacts), footings[0].WhyNot)
		}
	}
}
