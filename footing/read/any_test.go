package read_test

import (
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/footing/pad"
	"heeltoe/footing/read"
	"heeltoe/footing/read/walker"
	"heeltoe/judge/drill"
)

// sound checks that a reading says something sensible of every rep and note.
func sound(t rapid.TB, d *drill.Drill, reps []read.Rep) {
	t.Helper()
	for i := range reps {
		g := &reps[i]
		total := 0.0
		for _, p := range g.Chances {
			total += p
			if !(p >= 0 && p <= 1) {
				t.Fatalf("rep %d has a chance of %v", i, p)
			}
		}
		if total != 0 && math.Abs(total-1) > 1e-6 {
			t.Fatalf("the chances of rep %d come to %v", i, total)
		}
		if (g.Technique == read.Unclear) != (g.P < .5) {
			t.Fatalf("rep %d is %s, p %v", i, g.Technique, g.P)
		}
		if len(g.Notes) != len(d.Notes) {
			t.Fatalf("rep %d has %d notes of %d", i, len(g.Notes), len(d.Notes))
		}
		for _, n := range g.Notes {
			if !(n.P >= 0 && n.P <= 1) {
				t.Fatalf("a note's p is %v", n.P)
			}
		}
	}
}

// Whatever is pressed, the reading is sound; and a rep read by itself with frozen
// parameters is too.
func TestLongAnyPresses(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	rapid.Check(t, func(t *rapid.T) {
		steps := rapid.SampledFrom([]string{"sw", "sw se nw ne", "c c", "sw+se+nw+ne . c", "sw=2 . c . ."}).Draw(t, "steps")
		d, err := drill.New(drill.Spec{Name: "any", Layout: "single", BPM: 120, PerBeat: 4, Reps: 4, Steps: steps}, nil)
		if err != nil {
			t.Fatal(err)
		}
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 2))
		var touches []walker.Touch
		var free [pad.MaxPanels]pad.Time
		for at := lead - pad.Second/2; at < lead+pad.Time(d.RepSlots()*4+4)*125*pad.Millisecond; at += pad.Time(r.Int64N(200_000)) + 1 {
			p := pad.Panel(r.IntN(5))
			if at <= free[p] {
				continue
			}
			up := at + 1 + pad.Time(r.Int64N(400_000))
			free[p] = up
			touches = append(touches, walker.Touch{Press: pad.Press{Panel: p, Down: at, Up: up}})
		}
		rd, err := read.New(d, drill.DefaultWindows)
		if err != nil {
			t.Fatal(err)
		}
		run := judged(d, touches)
		got := rd.Read(run)
		if len(got.Reps) != 4 {
			t.Fatalf("%d reps of 4 are read", len(got.Reps))
		}
		sound(t, d, got.Reps)
		for k := range 4 {
			sound(t, d, rd.At(run, got.Values, k, k+1))
		}
	})
}

// A drill of thousands of notes, whose footings differ in load by more than an exponential can hold.
func TestLongDrillOfThousandsOfNotes(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	r := rand.New(rand.NewPCG(1, 2))
	ids := strings.Fields("nw sw c ne se")
	var steps []string
	for range 2000 {
		steps = append(steps, ids[r.IntN(5)])
	}
	d, err := drill.New(drill.Spec{Name: "long", Layout: "single", BPM: 130, PerBeat: 4, Reps: 2, Steps: strings.Join(steps, " ")}, nil)
	if err != nil {
		t.Fatal(err)
	}
	rd, err := read.New(d, drill.DefaultWindows)
	if err != nil {
		t.Fatal(err)
	}
	g := d.Grid(lead)
	run := &read.Run{Lead: lead, Reps: 2}
	for rep := range 2 {
		for i, n := range d.Notes {
			at := g.Due(int64(rep), int64(n.Slot))
			run.Presses = append(run.Presses, read.Press{Press: pad.Press{Panel: n.Panel, Down: at, Up: at + 90_000}, Rep: int32(rep), Note: int32(i)})
		}
	}
	sound(t, d, rd.Read(run).Reps)
}
