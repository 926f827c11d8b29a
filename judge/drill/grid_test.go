package drill_test

import (
	"math/big"
	"math/rand/v2"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// dueBig is the contract's formula in the exact arithmetic of math/big:
// lead + (rep × repSlots + slot) × 60e6/(bpm × perBeat), rounded to the nearest, ties to even.
func dueBig(bpm float64, perBeat, repSlots int64, lead pad.Time, rep, slot int64) pad.Time {
	b, ok := new(big.Rat).SetString(strconv.FormatFloat(bpm, 'f', -1, 64))
	if !ok {
		panic(bpm)
	}
	x := new(big.Rat).Quo(big.NewRat(60_000_000, 1), b.Mul(b, big.NewRat(perBeat, 1)))
	k := new(big.Int).Mul(big.NewInt(rep), big.NewInt(repSlots))
	k.Add(k, big.NewInt(slot))
	x.Mul(x, new(big.Rat).SetInt(k))
	x.Add(x, new(big.Rat).SetInt64(int64(lead)))
	// floor(x), then by the rest.
	floor := new(big.Int).Div(x.Num(), x.Denom()) // Euclidean: for a positive divisor the floor
	rest := new(big.Rat).Sub(x, new(big.Rat).SetInt(floor))
	switch rest.Cmp(big.NewRat(1, 2)) {
	case 1:
		floor.Add(floor, big.NewInt(1))
	case 0:
		if floor.Bit(0) == 1 {
			floor.Add(floor, big.NewInt(1))
		}
	}
	if !floor.IsInt64() {
		panic("out of range")
	}
	return pad.Time(floor.Int64())
}

func gridDrill(t interface{ Fatal(...any) }, bpm float64, perBeat, rest int64, slots int) *drill.Drill {
	steps := "nw"
	for range slots - 1 {
		steps += " ."
	}
	d, err := drill.New(drill.Spec{Name: "g", Layout: "single", BPM: bpm, PerBeat: perBeat, Reps: drill.MaxReps, RestBeats: rest, Steps: steps}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func TestDueIsExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		// Tempi as people write them, as programs compute them, and those whose slots end in a half.
		bpm := rapid.OneOf(
			rapid.Map(rapid.IntRange(10, 1000), func(i int) float64 { return float64(i) }),
			rapid.Map(rapid.IntRange(100, 10_000), func(i int) float64 { return float64(i) / 10 }),
			rapid.Map(rapid.IntRange(10_000, 1_000_000), func(i int) float64 { return float64(i) / 1000 }),
			rapid.Float64Range(drill.MinBPM, drill.MaxBPM),
			rapid.SampledFrom([]float64{128, 64, 512, 102.4, 25.6, 224, 130, 1000.0 / 7, 999.9999999999999, 10.000000000000002}),
		).Draw(t, "bpm")
		perBeat := rapid.Int64Range(1, drill.MaxPerBeat).Draw(t, "per_beat")
		rest := rapid.Int64Range(0, drill.MaxBeats).Draw(t, "rest")
		slots := rapid.IntRange(1, 64).Draw(t, "slots")
		lead := pad.Time(rapid.Int64Range(-1<<40, 1<<40).Draw(t, "lead"))
		d := gridDrill(t, bpm, perBeat, rest, slots)
		g := d.Grid(lead)
		for range 20 {
			rep := rapid.Int64Range(0, drill.MaxReps).Draw(t, "rep")
			slot := rapid.Int64Range(-4*drill.MaxBeats, 100).Draw(t, "slot")
			if got, want := g.Due(rep, slot), dueBig(bpm, perBeat, d.RepSlots(), lead, rep, slot); got != want {
				t.Fatalf("bpm %v, per_beat %d, %d slots a rep, lead %d: rep %d slot %d is due at %d, want %d", bpm, perBeat, d.RepSlots(), lead, rep, slot, got, want)
			}
		}
	})
}

// Every slot of long runs, halves among them: at 128 bpm in fours a slot lasts
// 117,187.5 µs, at 224 in sixteens 16,741 + 1/14 µs.
func TestDueOverLongRuns(t *testing.T) {
	for _, c := range []struct {
		bpm     float64
		perBeat int64
	}{{128, 4}, {64, 4}, {512, 1}, {224, 16}, {130, 4}, {1000, 48}, {10, 1}, {333.333, 7}, {1000.0 / 7, 3}} {
		d := gridDrill(t, c.bpm, c.perBeat, 0, 16)
		for _, lead := range []pad.Time{0, 1, 2_000_001} {
			g := d.Grid(lead)
			for k := int64(-200); k < 20_000; k++ {
				if got, want := g.Due(0, k), dueBig(c.bpm, c.perBeat, 16, lead, 0, k); got != want {
					t.Fatalf("bpm %v × %d: slot %d is due at %d, want %d", c.bpm, c.perBeat, k, got, want)
				}
			}
			rng := rand.New(rand.NewPCG(1, 2))
			for range 5000 {
				rep, slot := rng.Int64N(drill.MaxReps), rng.Int64N(16)
				if got, want := g.Due(rep, slot), dueBig(c.bpm, c.perBeat, 16, lead, rep, slot); got != want {
					t.Fatalf("bpm %v × %d: rep %d slot %d is due at %d, want %d", c.bpm, c.perBeat, rep, slot, got, want)
				}
			}
		}
	}
	// Ties to even, by hand: odd slots of 117,187.5 µs end in a half.
	d := gridDrill(t, 128, 4, 0, 16)
	g := d.Grid(0)
	for k, want := range map[int64]pad.Time{1: 117_188, 3: 351_562, 5: 585_938, 7: 820_312, -1: -117_188, -3: -351_562} {
		if got := g.Due(0, k); got != want {
			t.Errorf("slot %d is due at %d, want %d", k, got, want)
		}
	}
	if g.Lead() != 0 || g.SlotDuration() != 117_188 {
		t.Errorf("lead %d, slot %d", g.Lead(), g.SlotDuration())
	}
	g = d.Grid(1)
	if got := g.Due(0, 1); got != 117_188 { // 117,188.5
		t.Errorf("with a lead of 1 slot 1 is due at %d", got)
	}
}

func TestDueDoesNotAllocate(t *testing.T) {
	g := gridDrill(t, 130, 4, 1, 8).Grid(5)
	var sum pad.Time
	if n := testing.AllocsPerRun(100, func() { sum += g.Due(77, 3) }); n != 0 {
		t.Errorf("%v allocations", n)
	}
}

func BenchmarkDue(b *testing.B) {
	d, err := drill.New(drill.Spec{Name: "g", Layout: "single", BPM: 130, PerBeat: 4, Reps: drill.MaxReps, Steps: "nw c"}, nil)
	if err != nil {
		b.Fatal(err)
	}
	g := d.Grid(0)
	var sum pad.Time
	var k int64
	for b.Loop() {
		sum += g.Due(k, 1)
		k++
	}
	_ = sum
}
