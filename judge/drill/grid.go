package drill

import (
	"fmt"
	"math/big"
	"math/bits"
	"strconv"
	"strings"

	"heeltoe/footing/pad"
)

// Grid gives the due moment of every slot of a run, exactly: a slot lasts
// 60e6 / (bpm × per_beat) microseconds, kept as a fraction, so that nothing is
// summed up and no error grows with the length of the run.
type Grid struct {
	lead     pad.Time
	repSlots int64  // slots from the start of a rep to that of the next, rests included
	whole    int64  // whole microseconds of a slot
	rem, den uint64 // and the rest of it, rem/den with rem < den
}

// newGrid makes the grid of a tempo. The tempo is taken as the shortest decimal
// number that gives the same float64: what a file of up to 15 digits says.
func newGrid(bpm float64, perBeat, repSlots int64, lead pad.Time) Grid {
	text := strconv.FormatFloat(bpm, 'g', -1, 64)
	r, ok := new(big.Rat).SetString(strings.TrimSpace(text))
	if !ok {
		panic(fmt.Sprintf("drill: tempo %q is not a number", text)) // FormatFloat of a finite number
	}
	r.Mul(r, big.NewRat(perBeat, 1))
	r.Quo(big.NewRat(60_000_000, 1), r)
	whole, rem := new(big.Int).QuoRem(r.Num(), r.Denom(), new(big.Int))
	return Grid{lead: lead, repSlots: repSlots, whole: whole.Int64(), rem: rem.Uint64(), den: r.Denom().Uint64()}
}

// Due gives the moment of a slot of a rep, rounded at the end to the nearest
// microsecond, ties to even. Slots past the rep's last are those of the rest
// and of the next rep, slots below 0 lie before the rep (the count-in's clicks,
// say). It does not allocate.
func (g *Grid) Due(rep, slot int64) pad.Time {
	k := rep*g.repSlots + slot
	t := int64(g.lead) + g.whole*k
	if g.rem == 0 {
		return pad.Time(t)
	}
	// rem < den, so the high word is below den and Div64 cannot overflow.
	hi, lo := bits.Mul64(uint64(max(k, -k)), g.rem)
	q, rest := bits.Div64(hi, lo, g.den)
	switch {
	case k >= 0:
		t += int64(q)
	case rest == 0:
		t -= int64(q)
	default: // down to the next whole one below
		t -= int64(q) + 1
		rest = g.den - rest
	}
	// Compare rest with den/2 without leaving 64 bits.
	switch half := g.den - rest; {
	case rest > half, rest == half && t&1 == 1:
		t++
	}
	return pad.Time(t)
}

// Lead gives the moment of the first slot of the first rep.
func (g *Grid) Lead() pad.Time { return g.lead }

// SlotDuration gives the length of a slot, rounded to the nearest microsecond.
func (g *Grid) SlotDuration() pad.Time {
	z := *g
	z.lead = 0
	return z.Due(0, 1)
}
