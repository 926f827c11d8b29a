package click_test

import (
	"fmt"
	"math/big"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
	"heeltoe/trainer/click"
)

// one is a click as the reference has it.
type one struct {
	due   pad.Time
	level click.Level
}

// byHand lists the clicks of a run one after the other, slot by slot, in the
// exact fractions of math/big. It shares nothing with the package but the rules
// in its comment.
func byHand(s drill.Spec, slots int64, lead pad.Time, o click.Options) []one {
	bpm, ok := new(big.Rat).SetString(strconv.FormatFloat(s.BPM, 'f', -1, 64))
	if !ok {
		panic(s.BPM)
	}
	slotUS := new(big.Rat).Quo(big.NewRat(60_000_000, 1), bpm.Mul(bpm, big.NewRat(s.PerBeat, 1)))
	at := func(slot int64) pad.Time {
		x := new(big.Rat).Mul(slotUS, big.NewRat(slot, 1))
		x.Add(x, big.NewRat(int64(lead), 1))
		floor := new(big.Int).Div(x.Num(), x.Denom())
		half := new(big.Rat).Sub(x, new(big.Rat).SetInt(floor)).Cmp(big.NewRat(1, 2))
		if half > 0 || half == 0 && floor.Bit(0) == 1 {
			floor.Add(floor, big.NewInt(1))
		}
		return pad.Time(floor.Int64())
	}
	var out []one
	for b := -*s.CountInBeats; b < 0; b++ {
		out = append(out, one{at(b * s.PerBeat), click.Beat})
	}
	silent := func(rep int64) bool {
		n := o.Before + rep + 1 // counted from 1
		return o.SilentAfter != 0 && n > o.SilentAfter || o.SilentEvery != 0 && n%o.SilentEvery == 0
	}
	sub := max(o.Subdivide, 1)
	start := int64(0)
	for rep := range s.Reps {
		for slot := range slots {
			switch {
			case slot*sub%s.PerBeat != 0:
			case silent(rep):
				out = append(out, one{at(start + slot), click.Silent})
			case slot == 0:
				out = append(out, one{at(start), click.Accent})
			case slot%s.PerBeat == 0:
				out = append(out, one{at(start + slot), click.Beat})
			default:
				out = append(out, one{at(start + slot), click.Part})
			}
		}
		start += slots
		if rep == s.Reps-1 {
			break
		}
		for slot := range s.RestBeats * s.PerBeat {
			switch {
			case slot*sub%s.PerBeat != 0:
			case silent(rep) && silent(rep+1):
				out = append(out, one{at(start + slot), click.Silent})
			case slot%s.PerBeat == 0:
				out = append(out, one{at(start + slot), click.Beat})
			default:
				out = append(out, one{at(start + slot), click.Part})
			}
		}
		start += s.RestBeats * s.PerBeat
	}
	return out
}

func steps(n int64) string { return "nw" + strings.Repeat(" .", int(n-1)) }

func TestClicksAreThoseOfTheRules(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		countIn := rapid.Int64Range(0, 9).Draw(t, "count in")
		perBeat := rapid.OneOf(rapid.SampledFrom([]int64{1, 2, 3, 4, 6, 12, 48}), rapid.Int64Range(1, drill.MaxPerBeat)).Draw(t, "per beat")
		slots := rapid.Int64Range(1, 40).Draw(t, "slots")
		spec := drill.Spec{Name: "g", Layout: "single", PerBeat: perBeat, Steps: steps(slots), CountInBeats: &countIn,
			BPM: rapid.OneOf(rapid.Float64Range(drill.MinBPM, drill.MaxBPM), rapid.Map(rapid.IntRange(100, 10_000), func(i int) float64 { return float64(i) / 10 }),
				rapid.SampledFrom([]float64{128, 64, 512, 224, 130, 1000.0 / 7})).Draw(t, "bpm"),
			Reps: rapid.Int64Range(1, 12).Draw(t, "reps"), RestBeats: rapid.Int64Range(0, 3).Draw(t, "rest")}
		lead := pad.Time(rapid.Int64Range(-1<<40, 1<<40).Draw(t, "lead"))
		o := click.Options{
			Subdivide:   rapid.Int64Range(0, perBeat+1).Draw(t, "subdivide"),
			SilentAfter: rapid.Int64Range(0, 8).Draw(t, "silent after"),
			SilentEvery: rapid.Int64Range(0, 5).Draw(t, "silent every"),
			Before:      rapid.Int64Range(0, 5).Draw(t, "before"),
		}
		d, err := drill.New(spec, nil)
		if err != nil {
			t.Fatal(err)
		}
		s, err := click.New(d, lead, o)
		if fits := o.Subdivide == 0 || perBeat%o.Subdivide == 0; fits != (err == nil) {
			t.Fatalf("%d clicks in a beat of %d slots: %v", o.Subdivide, perBeat, err)
		}
		if err != nil {
			return
		}
		want := byHand(spec, slots, lead, o)
		if s.Len() != int64(len(want)) || s.CountIn() != countIn {
			t.Fatalf("%d clicks, %d of the count-in; want %d and %d", s.Len(), s.CountIn(), len(want), countIn)
		}
		for k, w := range want {
			if due, level := s.At(int64(k)); due != w.due || level != w.level {
				t.Fatalf("click %d is %v at %d, want %v at %d", k, level, due, w.level, w.due)
			}
		}
		// The first click at or after a moment, by looking at one after the other.
		for range 10 {
			at := lead + pad.Time(rapid.Int64Range(-10_000_000, 200_000_000).Draw(t, "at"))
			if len(want) > 0 && rapid.Bool().Draw(t, "on a click") {
				at = want[rapid.IntRange(0, len(want)-1).Draw(t, "which")].due + pad.Time(rapid.Int64Range(-1, 1).Draw(t, "off by"))
			}
			first := int64(0)
			for first < int64(len(want)) && want[first].due < at {
				first++
			}
			if got := s.From(at); got != first {
				t.Fatalf("from %d on: click %d, want %d", at, got, first)
			}
		}
	})
}

// By hand: reps of five slots in beats of four, a rest of one beat.
func TestRepsThatAreNoWholeBeats(t *testing.T) {
	two := int64(2)
	d, err := drill.New(drill.Spec{Name: "odd", Layout: "single", BPM: 150, PerBeat: 4, Reps: 2, RestBeats: 1, CountInBeats: &two, Steps: steps(5)}, nil)
	if err != nil {
		t.Fatal(err)
	}
	s, err := click.New(d, 1_000_000, click.Options{}) // a slot of 100 ms
	if err != nil {
		t.Fatal(err)
	}
	want := "200 beat, 600 beat, 1000 accent, 1400 beat, 1500 beat, 1900 accent, 2300 beat, "
	got := ""
	for k := range s.Len() {
		due, level := s.At(k)
		got += fmt.Sprintf("%d %v, ", due/pad.Millisecond, level)
	}
	if got != want {
		t.Errorf("clicks %s\nwant   %s", got, want)
	}
}

// The longest run there can be: the last click is where the last beat is.
func TestLongestRun(t *testing.T) {
	none := int64(0)
	d, err := drill.New(drill.Spec{Name: "long", Layout: "single", BPM: 10, PerBeat: 48, Reps: drill.MaxReps, RestBeats: drill.MaxBeats, CountInBeats: &none, Steps: steps(48)}, nil)
	if err != nil {
		t.Fatal(err)
	}
	s, err := click.New(d, 0, click.Options{Subdivide: 48})
	if err != nil {
		t.Fatal(err)
	}
	due, level := s.At(s.Len() - 1)
	// A beat lasts 6 s; before the last slot lie 100,000 beats of reps and 99,999,000 of rests, less that slot.
	if want := pad.Time(100_000+99_999_000)*6*pad.Second - 125*pad.Millisecond; due != want || level != click.Part {
		t.Errorf("the last click is %v at %d, want %d", level, due, want)
	}
	if got := s.From(due); got != s.Len()-1 || s.From(due+1) != s.Len() {
		t.Errorf("from the last click on: %d of %d", got, s.Len())
	}
}

func TestWrongOptions(t *testing.T) {
	d, err := drill.New(drill.Spec{Name: "g", Layout: "single", BPM: 100, PerBeat: 4, Reps: 1, Steps: steps(4)}, nil)
	if err != nil {
		t.Fatal(err)
	}
	for want, o := range map[string]click.Options{
		"3 clicks a beat do not fit a beat of 4 slots; 1, 2 and 4 do": {Subdivide: 3},
		"silent after -1":  {SilentAfter: -1},
		"silent every -2":  {SilentEvery: -2},
		"-1 reps cannot":   {Before: -1},
		"-4 clicks a beat": {Subdivide: -4},
	} {
		if _, err := click.New(d, 0, o); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%+v: %v, want %q", o, err, want)
		}
	}
}

func TestAtDoesNotAllocate(t *testing.T) {
	s := longSchedule(t)
	var sum pad.Time
	if n := testing.AllocsPerRun(100, func() {
		due, _ := s.At(77_777)
		sum += due + pad.Time(s.From(due))
	}); n != 0 {
		t.Errorf("%v allocations", n)
	}
}

func longSchedule(t testing.TB) *click.Schedule {
	d, err := drill.New(drill.Spec{Name: "g", Layout: "single", BPM: 133.7, PerBeat: 4, Reps: drill.MaxReps, RestBeats: 1, Steps: steps(7)}, nil)
	if err != nil {
		t.Fatal(err)
	}
	s, err := click.New(d, 0, click.Options{Subdivide: 2, SilentEvery: 4})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// One click: at most 50 ns.
func BenchmarkAt(b *testing.B) {
	s := longSchedule(b)
	var sum pad.Time
	var k int64
	for b.Loop() {
		due, _ := s.At(k % s.Len())
		sum += due
		k++
	}
	_ = sum
}
