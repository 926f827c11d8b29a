package footing_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
	"heeltoe/trainer/drills"
)

// plan is Plan with what a test can draw.
func plan(t rapid.TB, d *drill.Drill, b footing.Body, f footing.Filter, count int) []*footing.Footing {
	footings, err := footing.Plan(d, b, drill.DefaultWindows, f, count)
	if err != nil {
		t.Fatal(err)
	}
	return footings
}

func check(t rapid.TB, d *drill.Drill, contacts []drill.Contact, b footing.Body) *footing.Footing {
	f, err := footing.Check(d, contacts, b, drill.DefaultWindows)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// What holds of every footing of every drill: it plays every note once and reads
// back from its text, works if and only if nothing fails and its tempo range has
// the drill's tempo, comes in order, is of its own kind, keeps what its contacts
// can reach, and its figures are in their ranges.
func TestFootingsOfAny(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := someDrill(t, 12, rapid.Bool().Draw(t, "holds"))
		count := rapid.IntRange(1, 12).Draw(t, "count")
		footings := plan(t, d, body(), footing.Filter{}, count)
		if len(footings) == 0 || len(footings) > count {
			t.Fatalf("%s: %d footings", d.Steps, len(footings))
		}
		kinds := make(map[string]bool)
		for i, f := range footings {
			s := d.Spec
			s.Footing = drill.FootingText(d, f.Contacts)
			e, err := drill.New(s, nil)
			if err != nil || !slices.Equal(e.Footing, f.Contacts) {
				t.Fatalf("%s: %s reads back as %+v, %v", d.Steps, s.Footing, e, err)
			}
			if f.Feasible != (len(f.WhyNot) == 0) || f.Feasible != f.Tempo[drill.Outer].Has(d.BPM) {
				t.Fatalf("%s at %g: %s feasible %v, %v, outer %v", d.Steps, d.BPM, s.Footing, f.Feasible, f.WhyNot, f.Tempo[drill.Outer])
			}
			if i > 0 && footing.Compare(footings[i-1], f) > 0 || i > 0 && f.Feasible && !footings[i-1].Feasible {
				t.Fatalf("%s: number %d is better than the one before", d.Steps, i)
			}
			if w := wayOf(f.Contacts); kinds[w] {
				t.Fatalf("%s: %s comes twice", d.Steps, w)
			} else {
				kinds[w] = true
			}
			for j := range i {
				if footing.SameKind(f.Contacts, footings[j].Contacts) {
					t.Fatalf("%s: numbers %d and %d are of one kind", d.Steps, i, j)
				}
			}
			if f.Landings != f.Contacts[len(f.Contacts)-1].Landing+1 || len(f.FacingDeg) != f.Landings || !(f.MaxTurnDeg >= 0 && f.MaxTurnDeg <= 180) || !(f.EffortJ > 0) || !(f.Load > 0) {
				t.Fatalf("%s: %+v", d.Steps, f)
			}
			for b := 1; b < 3; b++ { // a wider band has all tempi of a tighter one
				if in, out := f.Tempo[b-1], f.Tempo[b]; !in.None() && (out.Slowest > in.Slowest || out.Fastest != in.Fastest) {
					t.Fatalf("%s: tempo %v", d.Steps, f.Tempo)
				}
			}
		}
	})
}

// The figures of a footing against the pad: every foot lies over its panels, in
// so far as no fault says otherwise.
func TestContactsArePossible(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := someDrill(t, 10, false)
		for _, f := range plan(t, d, body(), footing.Filter{}, 10) {
			for i := range f.Contacts {
				c := &f.Contacts[i]
				if c.Kind == drill.Step || !f.Feasible {
					continue
				}
				a, b := d.Layout.Panels[d.Notes[c.Notes[0]].Panel].Rect, d.Layout.Panels[d.Notes[c.Notes[1]].Panel].Rect
				dx := max(a.X0-b.X1, b.X0-a.X1, 0)
				dy := max(a.Y0-b.Y1, b.Y0-a.Y1, 0)
				most := 310.0
				if c.Kind == drill.Roll {
					most += 30
				}
				if way := math.Hypot(float64(dx), float64(dy)); way > most {
					t.Fatalf("%s: %s over %g mm", d.Steps, drill.FootingText(d, f.Contacts[i:i+1]), way)
				}
			}
		}
	})
}

// A drill with held notes: the search finds nothing better than there is, and
// nothing worse than the best with at most three landings in a row of one foot.
func TestBestWithHolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := someDrill(t, 8, true)
		got, err := footing.Best(d, body(), drill.DefaultWindows, footing.Filter{}, 1)
		if err != nil || len(got) != 1 {
			t.Fatal(got, err)
		}
		var best, short *footing.Footing
		for _, contacts := range everyFooting(t, d, body()) {
			f := check(t, d, contacts, body())
			if best == nil || footing.Compare(f, best) < 0 {
				best = f
			}
			if !tooLong(contacts) && (short == nil || footing.Compare(f, short) < 0) {
				short = f
			}
		}
		const eps = 1e-9
		if g := got[0]; footing.Compare(g, best) < 0 && g.Load < best.Load-eps || short != nil && footing.Compare(short, g) < 0 && (short.Feasible != g.Feasible || short.Load < g.Load-eps) {
			t.Fatalf("%s: %s, %v; best %s, %v", d.Steps, drill.FootingText(d, g.Contacts), g.Load, drill.FootingText(d, best.Contacts), best.Load)
		}
	})
}

// A mirrored drill has the mirrored footings: as many, with the same figures;
// and each footing mirrored is as good.
func TestMirroredPlans(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := someDrill(t, 9, rapid.Bool().Draw(t, "holds"))
		m, err := d.Mirror()
		if err != nil {
			t.Fatal(err)
		}
		a, b := plan(t, d, body(), footing.Filter{}, 10), plan(t, m, body(), footing.Filter{}, 10)
		if len(a) != len(b) {
			t.Fatalf("%s: %d and %d footings", d.Steps, len(a), len(b))
		}
		for i := range a {
			if math.Abs(a[i].Load-b[i].Load) > 1e-9 || a[i].Feasible != b[i].Feasible {
				t.Fatalf("%s: number %d has load %v, mirrored %v", d.Steps, i, a[i].Load, b[i].Load)
			}
			f := check(t, d, a[i].Contacts, body()) // by hand it is as the plan says
			if footing.Compare(f, a[i]) != 0 || !slices.Equal(f.WhyNot, a[i].WhyNot) {
				t.Fatalf("%s: %+v, by hand %+v", d.Steps, a[i], f)
			}
			f = check(t, m, mirroredFooting(a[i]).Contacts, body())
			if math.Abs(f.Load-a[i].Load) > 1e-9 || f.Tempo != a[i].Tempo || f.MaxTurnDeg-a[i].MaxTurnDeg > 1e-9 || math.Abs(f.EffortJ-a[i].EffortJ) > 1e-9 || f.Technique != a[i].Technique || !slices.Equal(f.Aims, a[i].Aims) {
				t.Fatalf("%s: %+v, mirrored %+v", d.Steps, a[i], f)
			}
			for j := range f.FacingDeg {
				if l, r := f.FacingDeg[j], a[i].FacingDeg[j]; math.Abs(math.Remainder(l+r, 360)) > 1e-9 {
					t.Fatalf("%s: facing %v, mirrored %v", d.Steps, r, l)
				}
			}
		}
	})
}

// A smaller shoe never gives more: what works with it works with a larger one.
func TestSmallerShoeNeverGivesMore(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := someDrill(t, 8, false)
		small, large := body(), body()
		small.ShoeMM = float64(rapid.IntRange(200, 380).Draw(t, "small"))
		large.ShoeMM = small.ShoeMM + float64(rapid.IntRange(1, 60).Draw(t, "more"))
		for _, f := range plan(t, d, small, footing.Filter{}, 10) {
			if g := check(t, d, f.Contacts, large); f.Feasible && !g.Feasible {
				t.Fatalf("%s: %s works with %g mm, not with %g mm: %v", d.Steps, drill.FootingText(d, f.Contacts), small.ShoeMM, large.ShoeMM, g.WhyNot)
			}
		}
	})
}

// At every tempo of its range a footing works, and at none outside; where it is
// too slow only notes struck at once fail, where it is too fast never these.
func TestTempoRanges(t *testing.T) {
	gathers := func(why []string) (gather, other bool) {
		for _, w := range why {
			if strings.HasPrefix(w, "notes struck at once span") {
				gather = true
			} else {
				other = true
			}
		}
		return gather, other
	}
	rapid.Check(t, func(t *rapid.T) {
		d := someDrill(t, 8, rapid.Bool().Draw(t, "holds"))
		for _, f := range plan(t, d, body(), footing.Filter{}, 6) {
			r := f.Tempo[drill.Outer]
			bpm := rapid.Float64Range(drill.MinBPM, drill.MaxBPM).Draw(t, "bpm")
			if !r.None() && rapid.Bool().Draw(t, "in range") {
				bpm = rapid.Float64Range(r.Slowest, r.Fastest).Draw(t, "bpm in range")
			}
			e, err := d.WithTempo(bpm)
			if err != nil {
				t.Fatal(err)
			}
			g := check(t, e, f.Contacts, body())
			gather, other := gathers(g.WhyNot)
			switch {
			case g.Tempo != f.Tempo:
				t.Fatalf("%s: ranges %v at %g, %v at %g", drill.FootingText(d, f.Contacts), f.Tempo, d.BPM, g.Tempo, bpm)
			case r.Has(bpm) != g.Feasible:
				t.Fatalf("%s: feasible %v at %g, range %v, %v", drill.FootingText(d, f.Contacts), g.Feasible, bpm, r, g.WhyNot)
			case !r.None() && bpm < r.Slowest && (other || !gather), !r.None() && bpm > r.Fastest && (gather || !other):
				t.Fatalf("%s at %g, range %v: %v", drill.FootingText(d, f.Contacts), bpm, r, g.WhyNot)
			}
		}
	})
}

// A slower tempo never makes a lift too fast.
func TestSlowerIsNeverTooFast(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := someDrill(t, 8, rapid.Bool().Draw(t, "holds"))
		slower, err := d.WithTempo(rapid.Float64Range(drill.MinBPM, d.BPM).Draw(t, "slower"))
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range plan(t, d, body(), footing.Filter{}, 8) {
			was := make(map[string]bool)
			for _, w := range f.WhyNot {
				what, _, _ := strings.Cut(w, " within ")
				was[what] = true
			}
			for _, w := range check(t, slower, f.Contacts, body()).WhyNot {
				if what, _, ok := strings.Cut(w, " within "); ok && !was[what] {
					t.Fatalf("%s: at %g %v, at %g %s", drill.FootingText(d, f.Contacts), d.BPM, f.WhyNot, slower.BPM, w)
				}
			}
		}
	})
}

// A landing at its aim, and up to its slack beside it, keeps every note in the
// aim's band, by the due moments of a run; a little beyond, a note leaves it.
// At every tempo of a band's range the aims reach the band, just below it one does not.
func TestAimsAreInTheirBands(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := someDrill(t, 8, false)
		w := drill.DefaultWindows
		for _, f := range plan(t, d, body(), footing.Filter{}, 6) {
			for band, r := range f.Tempo {
				if r.None() || len(f.Aims) == 0 {
					continue
				}
				bpm := rapid.Float64Range(r.Slowest, r.Fastest).Draw(t, "bpm")
				e, err := d.WithTempo(bpm)
				if err != nil {
					t.Fatal(err)
				}
				for _, a := range check(t, e, f.Contacts, body()).Aims {
					if a.Band > drill.Band(band) && bpm > r.Slowest*1.00001 { // at the bound itself rounding may decide
						t.Fatalf("%s at %g: the aim of landing %d is in %v, the range of %v is %v", drill.FootingText(d, f.Contacts), bpm, a.Landing, a.Band, drill.Band(band), r)
					}
					landingInBand(t, e, f.Contacts, a, &w)
				}
				if slow := r.Slowest * 0.9999; slow >= drill.MinBPM {
					e, err := d.WithTempo(slow)
					if err != nil {
						t.Fatal(err)
					}
					beyond := slices.ContainsFunc(check(t, e, f.Contacts, body()).Aims, func(a footing.Aim) bool { return a.Band > drill.Band(band) })
					if !beyond {
						t.Fatalf("%s: at %g every aim is in %v, whose slowest tempo is %g", drill.FootingText(d, f.Contacts), slow, drill.Band(band), r.Slowest)
					}
				}
			}
		}
	})
}

func landingInBand(t *rapid.T, d *drill.Drill, contacts []drill.Contact, a footing.Aim, w *drill.Windows) {
	if a.Band == drill.Absent {
		return
	}
	g := d.Grid(0)
	for rep := range int64(3) {
		var dues []pad.Time
		for i := range contacts {
			if contacts[i].Landing != a.Landing {
				continue
			}
			for j, n := range contacts[i].NoteIndices() {
				if contacts[i].Kind != drill.Roll || j == 0 {
					dues = append(dues, g.Due(rep, int64(d.Notes[n].Slot)))
				}
			}
		}
		all := func(at pad.Time) bool {
			for _, due := range dues {
				if w.Band(slices.Min(dues)+at-due) > a.Band {
					return false
				}
			}
			return true
		}
		const rounding = 2 * pad.Microsecond
		if !all(a.Aim) || a.Slack > rounding && (!all(a.Aim-a.Slack+rounding) || !all(a.Aim+a.Slack-rounding)) {
			t.Fatalf("landing %d, dues %v: %+v leaves its band", a.Landing, dues, a)
		}
		if all(a.Aim-a.Slack-2*rounding) || all(a.Aim+a.Slack+2*rounding) {
			t.Fatalf("landing %d, dues %v: beyond the slack of %+v all notes are still in the band", a.Landing, dues, a)
		}
	}
}

// Filters leave out what they say and nothing else is lost: with all of them the
// best that passes is the first that passes without them.
func TestLongFilters(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	rapid.Check(t, func(t *rapid.T) {
		d := someDrill(t, 8, false)
		filter := footing.Filter{NoLongShoe: rapid.Bool().Draw(t, "no long shoe"), MaxTurnDeg: float64(rapid.IntRange(0, 6).Draw(t, "turn") * 30)}
		if rapid.Bool().Draw(t, "by foot") {
			filter.Foot = map[pad.Panel]pad.Foot{d.Notes[0].Panel: pad.Foot(rapid.IntRange(0, 1).Draw(t, "foot"))}
		}
		passes := func(f *footing.Footing) bool {
			if filter.MaxTurnDeg > 0 && f.MaxTurnDeg > filter.MaxTurnDeg+1e-9 {
				return false
			}
			for i := range f.Contacts {
				c := &f.Contacts[i]
				for _, n := range c.NoteIndices() {
					if want, ok := filter.Foot[d.Notes[n].Panel]; ok && want != c.Foot {
						return false
					}
				}
				if c.Kind != drill.Step && filter.NoLongShoe {
					a, b := d.Layout.Panels[d.Notes[c.Notes[0]].Panel].Rect, d.Layout.Panels[d.Notes[c.Notes[1]].Panel].Rect
					if max(a.X0-b.X1, b.X0-a.X1) > 150 || max(a.Y0-b.Y1, b.Y0-a.Y1) > 150 {
						return false
					}
				}
			}
			return true
		}
		got := plan(t, d, body(), filter, 8)
		for _, f := range got {
			if !passes(f) {
				t.Fatalf("%s, %+v: %s", d.Steps, filter, drill.FootingText(d, f.Contacts))
			}
		}
		var best *footing.Footing
		for _, contacts := range everyFooting(t, d, body()) {
			if f := check(t, d, contacts, body()); !tooLong(contacts) && passes(f) && (best == nil || footing.Compare(f, best) < 0) {
				best = f
			}
		}
		if best != nil && (len(got) == 0 || math.Abs(got[0].Load-best.Load) > 1e-9) {
			t.Fatalf("%s, %+v: %d footings, the best that passes is %s", d.Steps, filter, len(got), drill.FootingText(d, best.Contacts))
		}
	})
}

// Quiet practice: at every landing a foot stays on a panel that no contact
// of the landing presses anew.
func TestQuiet(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := someDrill(t, 7, false)
		for _, f := range plan(t, d, body(), footing.Filter{Quiet: true}, 6) {
			on := [2]pad.PanelSet{}
			for range 2 { // the second time round the feet stand as in the loop
				for l := range f.Landings {
					var now pad.PanelSet
					var feet [2]bool
					was := on
					for i := range f.Contacts {
						if c := &f.Contacts[i]; c.Landing == l {
							feet[c.Foot] = true
							on[c.Foot] = 0
							for _, n := range c.NoteIndices() {
								on[c.Foot] = on[c.Foot].With(d.Notes[n].Panel)
							}
							now |= on[c.Foot]
						}
					}
					if feet[0] && feet[1] || !feet[0] && was[0]&now != 0 || !feet[1] && was[1]&now != 0 {
						t.Fatalf("%s: landing %d of %s leaves no panel down", d.Steps, l, drill.FootingText(d, f.Contacts))
					}
				}
			}
		}
	})
}

// The contract's figures: a landing whose notes span 3/8 of a beat has its
// slowest tempi at 250, 140.625 and 93.75; three notes in slots of a quarter beat at 125.
func TestSlowestTempiByHand(t *testing.T) {
	for _, c := range []struct {
		perBeat int64
		steps   string
		text    string
		want    [3]float64
	}{
		{8, "sw c . ne . . . . . . . . . . . .", "(L:sw&c R:ne)", [3]float64{250, 140.625, 93.75}},
		{4, "sw c ne . . . . .", "(L:sw&c R:ne)", [3]float64{1000.0 / 3, 187.5, 125}},
		{4, "sw c . . ne . . .", "L:sw&c R:ne", [3]float64{500.0 / 3, 93.75, 62.5}},
		{4, "sw . . . ne . . .", "L:sw R:ne", [3]float64{10, 10, 10}},
	} {
		d, err := drill.New(drill.Spec{Name: "x", Layout: "single", BPM: 120, PerBeat: c.perBeat, Reps: 1, Steps: c.steps, Footing: c.text}, nil)
		if err != nil {
			t.Fatal(err)
		}
		f := check(t, d, d.Footing, body())
		for b, want := range c.want {
			if math.Abs(f.Tempo[b].Slowest-want) > 1e-9 {
				t.Errorf("%s: the slowest tempo of %v is %g, want %g", c.steps, drill.Band(b), f.Tempo[b].Slowest, want)
			}
		}
	}
}

// Aims by hand: two slots of 115 ms at 130 beats a minute in fours span
// 230,769.2 µs, which only the outer band of 240 ms holds: from 125,770 to 135,000.
func TestAimByHand(t *testing.T) {
	d, err := drill.New(drill.Spec{Name: "x", Layout: "single", BPM: 130, PerBeat: 4, Reps: 1, Steps: "sw c ne . . . . .", Footing: "(L:sw&c R:ne)"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	f := check(t, d, d.Footing, body())
	if want := (footing.Aim{Landing: 0, Band: drill.Outer, Aim: 130_385, Slack: 4615}); len(f.Aims) != 1 || f.Aims[0] != want {
		t.Errorf("aims %+v, want %+v", f.Aims, want)
	}
	// The aim lies (135 - 105)/2 = 15 ms after the middle, as for equal spans it should.
	if middle := pad.Time(115_385); f.Aims[0].Aim-middle != 15_000 {
		t.Errorf("the aim is %d µs after the middle", f.Aims[0].Aim-middle)
	}
}

// An anchored panel's foot: gathered, it comes down in every landing, which
// takes longer than every second one does, and so the fastest tempo falls.
func TestAnchorsHaveAPrice(t *testing.T) {
	d, err := drill.New(drill.Spec{Name: "x", Layout: "single", BPM: 160, PerBeat: 4, Reps: 1, Steps: "sw c sw ne sw se sw c"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	with := func(text string) *footing.Footing {
		s := d.Spec
		s.Footing = text
		e, err := drill.New(s, nil)
		if err != nil {
			t.Fatal(err)
		}
		return check(t, e, e.Footing, body())
	}
	turns, gathered := with("L:sw R:c L:sw R:ne L:sw R:se L:sw R:c"), with("(L:sw R:c) (L:sw R:ne) (L:sw R:se) (L:sw R:c)")
	if !(gathered.Tempo[drill.Outer].Fastest < turns.Tempo[drill.Outer].Fastest && gathered.Load > turns.Load) {
		t.Errorf("gathered %v, load %v; in turn %v, load %v", gathered.Tempo, gathered.Load, turns.Tempo, turns.Load)
	}
	fast, err := d.WithTempo(210)
	if err != nil {
		t.Fatal(err)
	}
	why := strings.Join(check(t, fast, gathered.Contacts, body()).WhyNot, "; ")
	if !strings.Contains(why, "left foot") || !strings.Contains(why, "in a row") || check(t, fast, turns.Contacts, body()).Feasible == false {
		t.Errorf("at 210: %s", why)
	}
}

// Held notes: a foot that holds a corner taps the centre beside it, or hands the
// corner to the other foot, or cannot come.
func TestHoldsByHand(t *testing.T) {
	for _, c := range []struct {
		steps, text string
		why         string // "" where it works
	}{
		{"sw=6 . c . c . . .", "L:sw L:c L:c", ""},                            // heel taps while the toe holds
		{"sw=6 . . . ne . . .", "L:sw L:ne", ""},                              // the right foot takes the corner over
		{"sw=6 . . . ne . se .", "L:sw L:ne L:se", ""},                        // and keeps it
		{"sw=8 . c . ne . . . se . . .", "L:sw R:c L:ne R:se", ""},            // handed over by the time of ne
		{"sw=8 se=7 . . ne . . . . . . .", "L:sw R:se L:ne", "holds a panel"}, // both feet hold
		{"sw=8 . . . ne+se . . . . .", "L:sw (L:ne R:se)", "holds a panel"},   // both are called at once
		{"sw=8 . c . ne . c . . .", "L:sw R:c R:ne R:c", ""},                  // the other foot plays
		{"sw=2 . nw . . . . .", "L:sw L:nw", ""},                              // after the hold, left a little early
		{"c=4 ne sw . . . . .", "R:c R:ne R:sw", "in a row within"},           // taps are lifts
	} {
		d, err := drill.New(drill.Spec{Name: "x", Layout: "single", BPM: 92, PerBeat: 4, Reps: 2, Steps: c.steps, Footing: c.text}, nil)
		if err != nil {
			t.Fatal(err)
		}
		f := check(t, d, d.Footing, body())
		if why := strings.Join(f.WhyNot, "; "); f.Feasible != (c.why == "") || !strings.Contains(why, c.why) {
			t.Errorf("%s, %s: feasible %v, %s; want %q", c.steps, c.text, f.Feasible, why, c.why)
		}
	}
}

// Every built-in drill gets footings; a footing written in one is found by the
// search, as a footing of its kind that is at least as good, and has the
// drill's technique.
func TestLongBuiltInDrills(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	for _, e := range drills.List() {
		d, err := drills.Load(e.ID)
		if err != nil {
			t.Fatal(err)
		}
		footings := plan(t, d, body(), footing.Filter{}, 10)
		if len(footings) == 0 || !footings[0].Feasible {
			t.Errorf("%s: no footing works at %g", e.ID, d.BPM)
		}
		if d.Footing == nil {
			continue
		}
		f := check(t, d, d.Footing, body())
		if !f.Feasible || d.Technique != "" && f.Technique != d.Technique {
			t.Errorf("%s: %s is %s, feasible %v, %v; want %s", e.ID, d.Spec.Footing, f.Technique, f.Feasible, f.WhyNot, d.Technique)
		}
		all, err := footing.Best(d, body(), drill.DefaultWindows, footing.Filter{}, 1000)
		if err != nil {
			t.Fatal(err)
		}
		if !slices.ContainsFunc(all, func(g *footing.Footing) bool {
			return footing.SameKind(f.Contacts, g.Contacts) && g.Load <= f.Load+1e-9
		}) {
			t.Errorf("%s: %s is not among the first %d footings", e.ID, d.Spec.Footing, len(all))
		}
	}
}

// Effort against the formula worked by hand: leg and foot of 70 kg weigh .061 × 70 = 4.27 kg
// (Winter 2009), lifted by 30 mm at 9.80665 m/s² take 1.2562 J; moved 280 mm
// in the 250 ms between two presses less 20 ms on the panel, 1.2174 m/s, half of 4.27 × 1.2174² more.
func TestEffortByHand(t *testing.T) {
	const lift = 4.27 * 9.80665 * .03
	for _, c := range []struct {
		steps, text string
		want        float64
	}{
		{"c . c .", "L:c R:c", 2 * lift},
		{"sw . . . nw . . .", "L:sw L:nw", 2*lift + 4.27*math.Pow(.56/.28, 2)}, // rest counts up to 300 ms
		{"sw . nw .", "L:sw L:nw", 2*lift + 4.27*math.Pow(.56/.23, 2)},
	} {
		d, err := drill.New(drill.Spec{Name: "x", Layout: "single", BPM: 120, PerBeat: 4, Reps: 1, Steps: c.steps, Footing: c.text}, nil)
		if err != nil {
			t.Fatal(err)
		}
		if f := check(t, d, d.Footing, body()); math.Abs(f.EffortJ-c.want) > 1e-9 {
			t.Errorf("%s: %v J, want %v", c.text, f.EffortJ, c.want)
		}
	}
}

// randomSteps gives single notes, some after a rest, none twice in a row.
func randomSteps(l *pad.Layout, notes int, seed uint64) string {
	r := rand.New(rand.NewPCG(seed, 4))
	var b strings.Builder
	last := -1
	for range notes {
		p := r.IntN(len(l.Panels))
		for p == last {
			p = r.IntN(len(l.Panels))
		}
		last = p
		fmt.Fprint(&b, l.ID(pad.Panel(p)), " ")
		if r.IntN(8) == 0 {
			b.WriteString(". ")
		}
	}
	return b.String()
}

// Long drills get as many footings as short ones.
func TestLongDrill(t *testing.T) {
	for _, l := range []*pad.Layout{pad.Single, pad.Double} {
		d, err := drill.New(drill.Spec{Name: "x", Layout: l.Name, BPM: 140, PerBeat: 4, Reps: 1, Steps: randomSteps(l, 2000, 1)}, nil)
		if err != nil {
			t.Fatal(err)
		}
		if footings := plan(t, d, body(), footing.Filter{}, 10); len(footings) != 10 {
			t.Errorf("%s: %d footings", l.Name, len(footings))
		}
	}
}

// Over covers every tempo once, changes from stretch to stretch, gives what works
// there, and nothing easier than the easiest there is.
func TestLongOver(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	rapid.Check(t, func(t *rapid.T) {
		d := someDrill(t, 6, false)
		from := float64(rapid.IntRange(10, 600).Draw(t, "from"))
		to := from + float64(rapid.IntRange(0, 60).Draw(t, "wide"))
		all, err := footing.Over(d, body(), drill.DefaultWindows, footing.Filter{}, from, to)
		if err != nil {
			t.Fatal(err)
		}
		at := from
		for i, s := range all {
			if s.Slowest != at || s.Fastest < s.Slowest {
				t.Fatalf("stretch %d is from %g to %g, the one before ends below %g", i, s.Slowest, s.Fastest, at)
			}
			at = s.Fastest + 1
			for _, bpm := range []float64{s.Slowest, s.Fastest} {
				e, err := d.WithTempo(bpm)
				if err != nil {
					t.Fatal(err)
				}
				best, err := footing.Best(e, body(), drill.DefaultWindows, footing.Filter{}, 1)
				if err != nil {
					t.Fatal(err)
				}
				if s.Footing == nil {
					continue
				}
				if f := check(t, e, s.Footing.Contacts, body()); !f.Feasible || f.Load < best[0].Load-1e-9 || f.Load > best[0].Load*1.1 {
					t.Fatalf("%s at %g: %s, load %v; the easiest %s, %v", d.Steps, bpm, drill.FootingText(d, f.Contacts), f.Load, drill.FootingText(d, best[0].Contacts), best[0].Load)
				}
			}
		}
		if at != to+1 {
			t.Fatalf("the last stretch ends below %g, not at %g", at, to)
		}
	})
	d := makeDrill(t, "single", "sw c ne")
	for _, c := range [][2]float64{{5, 80}, {80, 60}, {80, 1001}, {math.NaN(), 80}} {
		if _, err := footing.Over(d, body(), drill.DefaultWindows, footing.Filter{}, c[0], c[1]); err == nil {
			t.Errorf("%v is taken", c)
		}
	}
}

func TestPlanRefuses(t *testing.T) {
	d := makeDrill(t, "single", "sw c")
	bad := body()
	bad.ShoeMM = 50
	slow := body()
	slow.Cycle = time.Hour
	var windows drill.Windows
	windows[0].Early = 5
	for name, f := range map[string]func() error{
		"shoe":    func() error { _, err := footing.Plan(d, bad, drill.DefaultWindows, footing.Filter{}, 1); return err },
		"limit":   func() error { _, err := footing.Best(d, slow, drill.DefaultWindows, footing.Filter{}, 1); return err },
		"windows": func() error { _, err := footing.Plan(d, body(), windows, footing.Filter{}, 1); return err },
		"count":   func() error { _, err := footing.Plan(d, body(), drill.DefaultWindows, footing.Filter{}, 0); return err },
		"turn": func() error {
			_, err := footing.Plan(d, body(), drill.DefaultWindows, footing.Filter{MaxTurnDeg: 181}, 1)
			return err
		},
		"no notes": func() error { _, err := footing.Check(d, nil, body(), drill.DefaultWindows); return err },
		"twice": func() error {
			_, err := footing.Check(d, []drill.Contact{{}, {Landing: 1}}, body(), drill.DefaultWindows)
			return err
		},
	} {
		if f() == nil {
			t.Errorf("%s is taken", name)
		}
	}
}

// Must reach: 10 notes on two pads with ten footings in 20 ms; 2,000 notes in 0.2 s,
// linear in the number of notes. At 140 bpm some footings work, at 280 none does.
func BenchmarkPlan(b *testing.B) {
	for _, l := range []*pad.Layout{pad.Single, pad.Double} {
		for _, c := range []struct {
			notes int
			bpm   float64
		}{{10, 140}, {500, 140}, {1000, 140}, {2000, 140}, {2000, 280}} {
			b.Run(fmt.Sprintf("%s/%d/%gbpm", l.Name, c.notes, c.bpm), func(b *testing.B) {
				d, err := drill.New(drill.Spec{Name: "x", Layout: l.Name, BPM: c.bpm, PerBeat: 4, Reps: 1, Steps: randomSteps(l, c.notes, 1)}, nil)
				if err != nil {
					b.Fatal(err)
				}
				for b.Loop() {
					if footings := plan(b, d, body(), footing.Filter{}, 10); len(footings) != 10 {
						b.Fatal(len(footings))
					}
				}
				b.ReportMetric(b.Elapsed().Seconds()/float64(b.N)/float64(c.notes)*1e6, "µs/note")
			})
		}
	}
}
