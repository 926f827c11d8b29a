package capture_test

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
	"heeltoe/trainer/capture"
)

// stomp is a pattern as somebody stomps it: slots of ms length, each onset off
// by its own normal jitter, each interval by that of an inner clock, the tempo
// drifting evenly by a share from start to end.
type stomp struct {
	layout  *pad.Layout
	notes   []drill.Note // joined ones in one slot
	slots   int64        // of a rep
	times   int
	slotMS  float64
	jitter  float64 // SD of each onset, ms
	clock   float64 // SD of each interval, ms
	drift   float64 // 0.05: the last slot is 5 % longer than the first
	spread  float64 // joined presses lie within this many ms
	dwellMS float64
}

func (s *stomp) edges(rng *rand.Rand) []pad.Edge {
	total := float64(s.slots) * float64(s.times)
	walk := 0.0
	when := func(slot float64) float64 { // the integral of the slot's length
		return 1000 + s.slotMS*(slot+s.drift*slot*slot/(2*total))
	}
	var edges []pad.Edge
	at, was := 0.0, int64(-1)
	for rep := range s.times {
		for _, n := range s.notes {
			slot := int64(rep)*s.slots + int64(n.Slot)
			if slot != was {
				walk += s.clock * rng.NormFloat64()
				at = when(float64(slot)) + walk + s.jitter*rng.NormFloat64()
				was = slot
			}
			t := pad.Time(1000 * (at + s.spread*rng.Float64()))
			up := t + pad.Time(1000*s.dwellMS)
			if n.Hold > 0 {
				up = pad.Time(1000 * (when(float64(slot)+float64(n.Hold)) + walk))
			}
			edges = append(edges, pad.Edge{T: t, Panel: n.Panel, Kind: pad.Down}, pad.Edge{T: up, Panel: n.Panel, Kind: pad.Up})
		}
	}
	slices.SortStableFunc(edges, func(a, b pad.Edge) int { return int(a.T - b.T) })
	return edges
}

// pattern draws notes whose gaps have no common divisor, so that the largest
// slot that explains them is the one meant.
func pattern(rng *rand.Rand, layout *pad.Layout) ([]drill.Note, int64) {
	for {
		n := 5 + rng.IntN(10)
		var notes []drill.Note
		slot, last, one := int32(0), pad.NoPanel, false
		for range n {
			p := pad.Panel(rng.IntN(len(layout.Panels)))
			for p == last {
				p = pad.Panel(rng.IntN(len(layout.Panels)))
			}
			notes = append(notes, drill.Note{Slot: slot, Panel: p})
			if q := pad.Panel(rng.IntN(len(layout.Panels))); q != p && rng.IntN(8) == 0 {
				notes = append(notes, drill.Note{Slot: slot, Panel: q})
			}
			last = p
			gap := []int32{1, 1, 1, 1, 2, 2, 3, 4}[rng.IntN(8)]
			slot += gap
			one = one || gap == 1
		}
		if one && whole(notes) {
			return notes, int64(slot)
		}
	}
}

// whole tells whether the onsets are no smaller pattern several times over, and
// some gap within it is one slot.
func whole(notes []drill.Note) bool {
	for i := 1; i < len(notes); i++ {
		if notes[i].Slot-notes[i-1].Slot == 1 {
			return notes[0].Panel != notes[len(notes)-1].Panel // ends otherwise than it begins: no plain repetition by chance
		}
	}
	return false
}

func key(d *drill.Drill) string {
	notes := slices.Clone(d.Notes)
	slices.SortFunc(notes, func(a, b drill.Note) int {
		if a.Slot != b.Slot {
			return int(a.Slot - b.Slot)
		}
		return int(a.Panel) - int(b.Panel)
	})
	return fmt.Sprint(notes)
}

// The limits that the package states, and how often a pattern is then taken
// down note for note and slot for slot. A refusal is no recovery; a wrong
// pattern is worse, and counted apart.
func TestRecovery(t *testing.T) {
	for _, c := range []struct {
		name                 string
		jitter, clock, drift float64
		times                int
		exact, wrong         float64 // at least, at most
	}{
		// Measured, in the order written: 100, 99.9, 98.1 (0.33 wrong), 100, 99.1, 99.8, 99.8, 95.1 (0.60 wrong), 100 and 100 %.
		{"as even as it gets", 0, 0, 0, 1, 1, 0},
		{"jitter 15 ms", 15, 0, 0, 1, 0.995, 0.001},
		{"jitter 25 ms", 25, 0, 0, 1, 0.975, 0.006},
		{"clock 15 ms", 0, 15, 0, 1, 0.995, 0.001},
		{"clock 25 ms", 0, 25, 0, 1, 0.985, 0.002},
		{"jitter 15 ms, slowing by 5 %", 15, 0, 0.05, 1, 0.995, 0.001},
		{"jitter 15 ms, hurrying by 5 %", 15, 0, -0.05, 1, 0.995, 0.001},
		{"jitter 25 ms, hurrying by 5 %", 25, 0, -0.05, 1, 0.945, 0.008},
		{"jitter 15 ms, three times", 15, 0, 0.05, 3, 0.995, 0.001},
		{"jitter 20 ms, clock 10 ms, twice", 20, 10, 0, 2, 0.99, 0.002},
	} {
		t.Run(c.name, func(t *testing.T) {
			const n = 1500
			exact, wrong := 0, 0
			for seed := range uint64(n) {
				rng := rand.New(rand.NewPCG(seed, 99))
				layout := []*pad.Layout{pad.Single, pad.Double}[seed%2]
				notes, slots := pattern(rng, layout)
				s := stomp{layout: layout, notes: notes, slots: slots, times: c.times, slotMS: 300 + 300*rng.Float64(),
					jitter: c.jitter, clock: c.clock, drift: c.drift, spread: 20, dwellMS: 150}
				// Repetitions are found, or said, by turns; once is always said, since
				// what is drawn may repeat itself.
				times := c.times * int(seed%2)
				if c.times == 1 {
					times = 1
				}
				r, err := capture.FromEdges(s.edges(rng), layout, capture.Options{Times: times})
				if err != nil {
					continue
				}
				if key(r.Drill) == key(&drill.Drill{Notes: notes}) && r.Times == c.times && (c.times == 1 || r.Drill.Slots == slots) {
					exact++
				} else {
					wrong++
				}
			}
			t.Logf("%.2f %% exact, %.2f %% wrong, the rest refused", 100*float64(exact)/n, 100*float64(wrong)/n)
			if float64(exact) < c.exact*n || float64(wrong) > c.wrong*n {
				t.Errorf("want at least %v exact and at most %v wrong", c.exact, c.wrong)
			}
		})
	}
}

// With the tempo given a pattern is found where it could not be otherwise: no gap is one slot.
func TestTempoGiven(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	notes := []drill.Note{{Slot: 0, Panel: 1}, {Slot: 2, Panel: 2}, {Slot: 4, Panel: 3}, {Slot: 6, Panel: 4}}
	s := stomp{layout: pad.Single, notes: notes, slots: 8, times: 1, slotMS: 300, jitter: 15, dwellMS: 200}
	edges := s.edges(rng)
	r, err := capture.FromEdges(edges, pad.Single, capture.Options{BPM: 50, PerBeat: 4})
	if err != nil {
		t.Fatal(err)
	}
	if r.Drill.Steps != "sw . c . ne . se ." || r.Drill.BPM != 50 || r.Drill.PerBeat != 4 {
		t.Errorf("%+v", r.Drill.Spec)
	}
	if r, err = capture.FromEdges(edges, pad.Single, capture.Options{}); err != nil {
		t.Fatal(err)
	}
	if r.Drill.Steps != "sw c ne se" {
		t.Errorf("%+v", r.Drill.Spec)
	}
	if want := 60e6 / (r.Drill.BPM * 4); want < 580e3 || want > 620e3 {
		t.Errorf("the slot was 600 ms, the drill has %v bpm in %d", r.Drill.BPM, r.Drill.PerBeat)
	}
	if _, err := capture.FromEdges(edges, pad.Single, capture.Options{BPM: 37, PerBeat: 4}); err == nil || !strings.Contains(err.Error(), "405 ms") {
		t.Errorf("a tempo that does not fit: %v", err)
	}
}

func TestHoldsAreTaken(t *testing.T) {
	notes := []drill.Note{{Slot: 0, Panel: 1, Hold: 4}, {Slot: 1, Panel: 2}, {Slot: 2, Panel: 3}, {Slot: 3, Panel: 2}, {Slot: 4, Panel: 4, Hold: 2}, {Slot: 5, Panel: 2}, {Slot: 6, Panel: 3}}
	for _, times := range []int{1, 3} {
		s := stomp{layout: pad.Single, notes: notes, slots: 8, times: times, slotMS: 400, jitter: 15, dwellMS: 380}
		edges := s.edges(rand.New(rand.NewPCG(5, 5)))
		for holds, want := range map[bool]string{true: "sw=4 c ne c se=2 c ne .", false: "sw c ne c se c ne ."} {
			r, err := capture.FromEdges(edges, pad.Single, capture.Options{Holds: holds})
			if err != nil {
				t.Fatal(err)
			}
			if r.Drill.Steps != want || r.Times != times {
				t.Errorf("%d times, holds %v: %q, %d times", times, holds, r.Drill.Steps, r.Times)
			}
		}
	}
}

// edge sequences written by hand: panel, down and up in ms.
func taps(list ...[3]int) []pad.Edge {
	var edges []pad.Edge
	for _, x := range list {
		edges = append(edges, pad.Edge{T: pad.Time(x[1]) * 1000, Panel: pad.Panel(x[0]), Kind: pad.Down},
			pad.Edge{T: pad.Time(x[2]) * 1000, Panel: pad.Panel(x[0]), Kind: pad.Up})
	}
	slices.SortStableFunc(edges, func(a, b pad.Edge) int { return int(a.T - b.T) })
	return edges
}

func TestOddEdges(t *testing.T) {
	four := [][3]int{{1, 0, 200}, {2, 400, 600}, {3, 800, 1000}, {4, 1200, 1400}}
	steps := func(edges []pad.Edge, o capture.Options) (string, []string) {
		r, err := capture.FromEdges(edges, pad.Single, o)
		if err != nil {
			return err.Error(), nil
		}
		return r.Drill.Steps, r.Warnings
	}
	bounce := append([]pad.Edge{}, taps(append(four, [3]int{2, 406, 600})...)...)
	if got, w := steps(bounce, capture.Options{}); got != "sw c ne se" || len(w) != 1 || !strings.Contains(w[0], "bounce") {
		t.Errorf("a bounce: %q, %v", got, w)
	}
	joined := taps(append(four, [3]int{0, 440, 600}, [3]int{1, 1241, 1300})...)
	if got, _ := steps(joined, capture.Options{}); got == "sw nw+c ne sw+se" { // 41 ms are too far apart, 40 are not
		t.Errorf("presses 41 ms apart are joined: %q", got)
	}
	if got, _ := steps(joined, capture.Options{Join: 50 * pad.Millisecond}); got != "sw nw+c ne sw+se" {
		t.Errorf("presses within 50 ms: %q", got)
	}
	gap := taps(four...)
	gap = slices.Insert(gap, 2, pad.Edge{T: 300_000, Panel: pad.NoPanel, Kind: pad.Gap, Lost: 3})
	if got, w := steps(gap, capture.Options{}); got != "sw c ne se" || len(w) != 1 || !strings.Contains(w[0], "0.300 s") {
		t.Errorf("a gap: %q, %v", got, w)
	}
	open := taps(four...)
	if got, _ := steps(open[:len(open)-1], capture.Options{Holds: true}); got != "sw c ne se" {
		t.Errorf("a panel down at the end: %q", got)
	}
	if got, _ := steps(append([]pad.Edge{{T: 0, Panel: 4, Kind: pad.Up}, {T: 0, Panel: 31, Kind: pad.Down}}, taps(four...)...), capture.Options{}); got != "sw c ne se" {
		t.Errorf("a panel up at the start and one that is none: %q", got)
	}
	for name, c := range map[string]struct {
		edges []pad.Edge
		o     capture.Options
		says  string
	}{
		"nothing":    {nil, capture.Options{}, "0 of the two notes"},
		"one":        {taps(four[:1]...), capture.Options{}, "1 of the two notes"},
		"too fast":   {taps([3]int{1, 0, 20}, [3]int{2, 60, 80}, [3]int{1, 120, 140}), capture.Options{}, "60 ms apart"},
		"uneven":     {taps([3]int{1, 0, 20}, [3]int{2, 300, 320}, [3]int{1, 740, 760}, [3]int{2, 1010, 1020}, [3]int{1, 1570, 1600}, [3]int{2, 1980, 2000}, [3]int{1, 2500, 2600}), capture.Options{}, "--bpm"},
		"times":      {taps(four...), capture.Options{Times: 3}, "cannot be divided"},
		"many times": {taps(four...), capture.Options{Times: 9}, "cannot be a pattern"},
		"differs":    {taps(four...), capture.Options{Times: 2}, "time 2 differs from the one before it at its note 1"},
	} {
		if got, _ := steps(c.edges, c.o); !strings.Contains(got, c.says) {
			t.Errorf("%s: %q, want %q", name, got, c.says)
		}
	}
}

// Notes at random moments fit no grid: they are refused nearly always.
func TestRandomMomentsAreRefused(t *testing.T) {
	const n = 500
	taken := 0
	for seed := range uint64(n) {
		rng := rand.New(rand.NewPCG(seed, 3))
		at := 0.0
		var list [][3]int
		for i := range 16 {
			list = append(list, [3]int{i % 5, int(at), int(at) + 100})
			at += 300 + 900*rng.Float64()
		}
		if _, err := capture.FromEdges(taps(list...), pad.Single, capture.Options{}); err == nil {
			taken++
		}
	}
	t.Logf("%.1f %% taken for a pattern", 100*float64(taken)/n)
	if taken > n/50 {
		t.Errorf("%d of %d are taken for a pattern", taken, n)
	}
}

// Whatever the edges, an answer is a sound drill or an error, never a crash.
func TestAnyEdges(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		now := pad.Time(0)
		var edges []pad.Edge
		for range rapid.IntRange(0, 40).Draw(t, "edges") {
			now += pad.Time(rapid.Int64Range(0, 800_000).Draw(t, "after"))
			kind := rapid.SampledFrom([]pad.EdgeKind{pad.Down, pad.Up, pad.Down, pad.Up, pad.Gap}).Draw(t, "kind")
			edges = append(edges, pad.Edge{T: now, Panel: pad.Panel(rapid.IntRange(0, 6).Draw(t, "panel")), Kind: kind})
		}
		o := capture.Options{Holds: rapid.Bool().Draw(t, "holds"), Times: rapid.IntRange(-1, 5).Draw(t, "times"),
			BPM: rapid.SampledFrom([]float64{0, 0, 5, 60, 200, 2000}).Draw(t, "bpm"), PerBeat: rapid.Int64Range(-1, 50).Draw(t, "per_beat")}
		r, err := capture.FromEdges(edges, pad.Single, o)
		if err != nil {
			return
		}
		text, err := r.Drill.MarshalTOML()
		if err != nil {
			t.Fatal(err)
		}
		if _, err := drill.Parse("x.toml", text); err != nil {
			t.Fatalf("%v\n%s", err, text)
		}
	})
}

func TestWrite(t *testing.T) {
	r, err := capture.FromEdges(taps([3]int{1, 0, 200}, [3]int{2, 400, 600}, [3]int{3, 800, 900}), pad.Single, capture.Options{Name: "a hook"})
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	file := filepath.Join(dir, "hook.toml")
	if err := capture.Write(file, r.Drill, false); err != nil {
		t.Fatal(err)
	}
	d, err := drill.ReadFile(file)
	if err != nil || d.Name != "a hook" || d.Steps != "sw c ne ." {
		t.Errorf("%+v, %v", d, err)
	}
	before, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	m, err := r.Drill.Mirror()
	if err != nil {
		t.Fatal(err)
	}
	if err := capture.Write(file, m, false); !pad.IsBadInput(err) {
		t.Errorf("a file that is there: %v", err)
	}
	if after, err := os.ReadFile(file); err != nil || string(after) != string(before) {
		t.Errorf("the file was changed: %s, %v", after, err)
	}
	if err := capture.Write(file, m, true); err != nil {
		t.Fatal(err)
	}
	if d, err := drill.ReadFile(file); err != nil || d.Steps != "se c nw ." {
		t.Errorf("%+v, %v", d, err)
	}
	if err := capture.Write(filepath.Join(dir, "no", "such.toml"), m, true); err == nil {
		t.Error("a folder that is not there")
	}
	if files, err := os.ReadDir(dir); err != nil || len(files) != 1 {
		t.Errorf("left behind: %v, %v", files, err)
	}
}
