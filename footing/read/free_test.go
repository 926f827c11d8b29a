package read_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/footing/pad"
	"heeltoe/footing/read"
	"heeltoe/footing/read/walker"
	"heeltoe/judge/drill"
)

// freeCount counts presses that were read with no drill to go by.
type freeCount struct {
	presses, kinds float64
	feet, left     float64                             // feet relative to each other in any eight presses in a row, and left and right as they are
	byP            [10]struct{ n, sum, right float64 } // by tenths of P: of contacts, and of feet relative to the press before
}

func (c *freeCount) String() string {
	return fmt.Sprintf("contacts %.3f, feet %.3f, left and right %.3f of %5.0f presses", c.kinds/c.presses, c.feet/c.presses, c.left/c.presses, c.presses)
}

// calibration gives the calibration error of P.
func (c *freeCount) calibration() (of float64) {
	for _, b := range c.byP {
		of += math.Abs(b.sum-b.right) / c.presses
	}
	return of
}

// add counts a run. Presses that were for no note are left out.
func (c *freeCount) add(got []read.Tread, touches []walker.Touch) {
	before := -1
	same, all := 0.0, 0.0
	for j := range got {
		if g, is := &got[j], &touches[j]; is.Note >= 0 {
			kind, foot := g.Kind == is.Kind, g.Foot == is.Foot
			all++
			if kind {
				c.kinds++
			}
			if foot {
				same++
			}
			b := &c.byP[min(9, int(g.P*10))]
			b.n, b.sum = b.n+1, b.sum+g.P
			if kind && (before < 0 || (g.Foot == got[before].Foot) == (is.Foot == touches[before].Foot)) {
				b.right++
			}
			if !g.Stray {
				before = j
			}
		}
		if j%8 == 7 || j == len(got)-1 {
			c.presses, c.feet, c.left = c.presses+all, c.feet+max(same, all-same), c.left+same
			same, all = 0, 0
		}
	}
}

// playFree lets a player play p by one technique and gives the presses, with what they truly were: of a
// contact of which only one panel was pressed nobody can say more than that it was a step.
func (p *pattern) playFree(technique string, h walker.Habits, r *rand.Rand) (touches []walker.Touch, presses []pad.Press) {
	f := p.ways[technique]
	reps := make([]walker.Rep, p.d.Reps)
	for i := range reps {
		reps[i].Footing = f
	}
	touches = walker.Play(p.d, reps, h, lead, r)
	pressed := make(map[[2]int32]bool)
	for _, t := range touches {
		pressed[[2]int32{t.Rep, t.Note}] = true
	}
	for i := range touches {
		t := &touches[i]
		for k := range f.Contacts {
			c := &f.Contacts[k]
			if slices.Contains(c.NoteIndices(), t.Note) && slices.ContainsFunc(c.NoteIndices(), func(n int32) bool { return !pressed[[2]int32{t.Rep, n}] }) {
				t.Kind = drill.Step
			}
		}
		presses = append(presses, t.Press)
	}
	return touches, presses
}

// Whatever is pressed is read: each press as a contact of one or of two that agree, a stray or a
// bounce, with a probability.
func TestFreeReadingTakesAnything(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := rapid.SampledFrom([]*pad.Layout{pad.Single, pad.Double}).Draw(t, "layout")
		var presses []pad.Press
		at := pad.Time(0)
		for range rapid.IntRange(0, 40).Draw(t, "presses") {
			at += pad.Time(rapid.SampledFrom([]int{0, 1, 3_000, 30_000, 120_000, 400_000, 60_000_000, 4_000_000_000}).Draw(t, "gap"))
			p := pad.Press{Panel: pad.Panel(rapid.IntRange(0, len(l.Panels)-1).Draw(t, "panel")), Down: at, Up: pad.Never}
			if stay := rapid.SampledFrom([]int{-1, 0, 1, 5_000, 90_000, 700_000, 100_000_000}).Draw(t, "stay"); stay >= 0 {
				p.Up = at + pad.Time(stay)
			}
			presses = append(presses, p)
		}
		got := read.Free(l, presses)
		if len(got) != len(presses) {
			t.Fatalf("%d of %d presses", len(got), len(presses))
		}
		for i, g := range got {
			if g.Press != presses[i] || !(g.P >= 0 && g.P <= 1) || g.Foot > pad.Right {
				t.Fatalf("press %d, %+v: %+v", i, presses[i], g)
			}
			if (g.With == read.None) != (g.Kind == drill.Step) || g.With != read.None && (got[g.With].With != i || got[g.With].Kind != g.Kind || got[g.With].Foot != g.Foot) {
				t.Fatalf("press %d: %+v", i, g)
			}
		}
	})
}

// Without a drill most contacts and feet are read right, of a player of every kind.
func TestFreeReading(t *testing.T) { freeReading(t, 7, 7, .9, .9, .85, .1) }

// Of many, P is what it says, too.
func TestLongFreeReading(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	freeReading(t, 7, 13, .88, .88, .8, .05)
}

// freeReading reads players of every style and kind, of seeds from one to another, on pads that work
// and on pads that do not, with no drill to go by. At least so many contacts, feet, and feet of players of any one
// style must be right, and P at most so far from the share that is. The second player
// (read/walker) is the truth. The reading's design values were chosen on other drills and other players.
func freeReading(t *testing.T, from, to uint64, contacts, feet, style, calibration float64) {
	styles := [...]string{walker.Tap: "leaves at once", walker.Walk: "hands over", walker.Stand: "stays"}
	var all, faulty freeCount
	var byStyle [len(styles)]freeCount
	byTechnique := make(map[string]*freeCount)
	strays, told, taken := 0.0, 0.0, 0.0
	ps := patterns(t, []string{"anchor-corner", "square-walk", "crossing-lower", "corner-jumps", "corner-roll", "run-eight"}, []float64{1}, 16)
	runs := 0
	for i := range ps {
		p := &ps[i]
		for _, technique := range p.techniques() {
			for seed := from; seed <= to; seed++ {
				kind := &walker.Kinds[runs%len(walker.Kinds)]
				r := rand.New(rand.NewPCG(seed, uint64(runs)))
				runs++
				h := walker.Draw(r, kind.Faulty)
				kind.Change(&h, r)
				touches, presses := p.playFree(technique, h, r)
				got := read.Free(p.d.Layout, presses)
				if len(got) != len(presses) {
					t.Fatalf("of %d presses %d were read", len(presses), len(got))
				}
				for j, g := range got {
					if g.Press != presses[j] || !(g.P >= 0 && g.P <= 1) || (g.With == read.None) != (g.Kind == drill.Step) ||
						g.With != read.None && (got[g.With].With != j || got[g.With].Foot != g.Foot || got[g.With].Kind != g.Kind) {
						t.Fatalf("%s by %s, press %d: %+v", p.id, technique, j, g)
					}
					if touches[j].Note < 0 && !g.Bounce {
						strays++
						if g.Stray {
							told++
						}
					} else if g.Stray {
						taken++
					}
				}
				if byTechnique[technique] == nil {
					byTechnique[technique] = new(freeCount)
				}
				counts := []*freeCount{&all, &byStyle[h.Style], byTechnique[technique]}
				if kind.Faulty {
					counts = append(counts, &faulty)
				}
				for _, c := range counts {
					c.add(got, touches)
				}
			}
		}
	}
	for s := range styles {
		c := &byStyle[s]
		t.Logf("%-14s %v", styles[s], c)
		if !(c.kinds/c.presses >= style && c.feet/c.presses >= style) {
			t.Errorf("a player who %s: %v; both are to be at least %v", styles[s], c, style)
		}
	}
	for _, technique := range read.Labels {
		if c := byTechnique[technique]; c != nil {
			t.Logf("%-14s %v", technique, c)
		}
	}
	t.Logf("%-14s %v", "faulty pads", &faulty)
	t.Logf("%-14s %v in %d runs", "all", &all, runs)
	t.Logf("of %.0f strays %.0f were told, %.0f other presses were taken for some", strays, told, taken)
	for _, b := range all.byP {
		if b.n > 0 {
			t.Logf("p %.2f: right %.2f of %.0f", b.sum/b.n, b.right/b.n, b.n)
		}
	}
	t.Logf("calibration error %.3f", all.calibration())
	for _, c := range []*freeCount{&all, &faulty} {
		if !(c.kinds/c.presses >= contacts && c.feet/c.presses >= feet) {
			t.Errorf("%v; contacts are to be at least %v, feet %v", c, contacts, feet)
		}
	}
	if !(all.left/all.presses >= .75) {
		t.Errorf("left and right are told of %.3f of the presses, less than 0.75", all.left/all.presses)
	}
	if strays > 20 && !(told >= .7*strays) || !(taken <= .03*all.presses) {
		t.Errorf("of %v strays %v were told, and %v presses were taken for some", strays, told, taken)
	}
	if c := all.calibration(); !(c <= calibration) {
		t.Errorf("the calibration error of P is %.3f, above %v", c, calibration)
	}
}

// Where there is little or nothing to read, or edges were lost, it is still read.
func TestFreeReadingOfLittle(t *testing.T) {
	l, ok := pad.ByName("single")
	if !ok {
		t.Fatal("there is no single pad")
	}
	if got := read.Free(l, nil); len(got) != 0 {
		t.Errorf("nothing is read as %v", got)
	}
	one := pad.Press{Panel: 1, Down: 5 * pad.Second, Up: pad.Never}
	if got := read.Free(l, []pad.Press{one}); len(got) != 1 || got[0].Press != one || got[0].Kind != drill.Step || !(got[0].P > .5 && got[0].P <= 1) {
		t.Errorf("a single press is read as %+v", got)
	}
	// A switch that bounces is one press, and its second half its foot's.
	at := func(ms pad.Time) pad.Time { return ms * pad.Millisecond }
	got := read.Free(l, []pad.Press{{Panel: 0, Down: at(0), Up: at(5)}, {Panel: 0, Down: at(9), Up: at(150)}, {Panel: 3, Down: at(400), Up: at(560)}})
	if got[0].Bounce || !got[1].Bounce || got[2].Bounce || got[1].Foot != got[0].Foot || got[2].Foot == got[0].Foot {
		t.Errorf("a bounce is read as %+v", got)
	}
}
