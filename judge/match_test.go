package judge_test

import (
	"os"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/footing/pad"
	"heeltoe/judge"
	"heeltoe/judge/drill"
)

// matching is the press of each note, -1 where it has none.
type matching []int

// bruteMatch tries every matching of presses to notes, crossing ones too, and
// gives the one that the contract asks for: most notes, then least total
// |offset|, then not crossing, then the earliest note has the earliest press.
func bruteMatch(due, press []pad.Time, w drill.Bound) matching {
	var best matching
	var bestCount int
	var bestCost pad.Time
	cur := make(matching, len(due))
	used := make([]bool, len(press))
	crosses := func(m matching) bool {
		last := -1
		for _, p := range m {
			if p < 0 {
				continue
			}
			if p < last {
				return true
			}
			last = p
		}
		return false
	}
	earlier := func(a, b matching) bool {
		for i := range a {
			if a[i] == b[i] {
				continue
			}
			if a[i] < 0 || b[i] < 0 {
				return b[i] < 0
			}
			return a[i] < b[i]
		}
		return false
	}
	var try func(i, count int, cost pad.Time)
	try = func(i, count int, cost pad.Time) {
		if i == len(due) {
			if crosses(cur) {
				return // a matching that does not cross is never worse; see TestUncrossing
			}
			if best == nil || count > bestCount || count == bestCount &&
				(cost < bestCost || cost == bestCost && earlier(cur, best)) {
				best, bestCount, bestCost = slices.Clone(cur), count, cost
			}
			return
		}
		cur[i] = -1
		try(i+1, count, cost)
		for p, t := range press {
			if o := t - due[i]; !used[p] && w.Early <= o && o <= w.Late {
				cur[i], used[p] = p, true
				try(i+1, count+1, cost+o.Abs())
				used[p] = false
			}
		}
		cur[i] = -1
	}
	try(0, 0, 0)
	return best
}

// crossFree tells whether allowing crossings would match more or cost less.
func bruteTotals(due, press []pad.Time, w drill.Bound) (count int, cost pad.Time) {
	used := make([]bool, len(press))
	best, bestCost := -1, pad.Time(0)
	var try func(i, count int, cost pad.Time)
	try = func(i, count int, cost pad.Time) {
		if i == len(due) {
			if count > best || count == best && cost < bestCost {
				best, bestCost = count, cost
			}
			return
		}
		try(i+1, count, cost)
		for p, t := range press {
			if o := t - due[i]; !used[p] && w.Early <= o && o <= w.Late {
				used[p] = true
				try(i+1, count+1, cost+o.Abs())
				used[p] = false
			}
		}
	}
	try(0, 0, 0)
	return best, bestCost
}

// oneLane makes a drill on one panel whose notes are due at multiples of step.
func oneLane(t interface{ Fatal(...any) }, step pad.Time, slots []bool, reps int64) *drill.Drill {
	text := ""
	for _, s := range slots {
		if s {
			text += "c "
		} else {
			text += ". "
		}
	}
	perBeat := int64(1)
	for 60e6/float64(int64(step)*perBeat) > drill.MaxBPM {
		perBeat++
	}
	d, err := drill.New(drill.Spec{Name: "lane", Layout: "single", BPM: 60e6 / float64(int64(step)*perBeat), PerBeat: perBeat, Reps: reps, Steps: text}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func dues(d *drill.Drill, lead pad.Time) []pad.Time {
	g := d.Grid(lead)
	var due []pad.Time
	for r := int64(0); r < d.Reps; r++ {
		for _, n := range d.Notes {
			due = append(due, g.Due(r, int64(n.Slot)))
		}
	}
	return due
}

// play judges presses of panel c and gives the press of each note, checking
// that each note and each press is decided once.
func play(t *rapid.T, d *drill.Drill, o judge.Options, press []pad.Time, steps func(j *judge.Judge, i int)) matching {
	j := judge.New(d, o)
	c, _ := d.Layout.Lookup("c")
	m := make(matching, d.Total())
	for i := range m {
		m[i] = -2
	}
	seen := make([]bool, len(press))
	at := func(raw pad.Time) int {
		for i, p := range press {
			if p == raw && !seen[i] {
				seen[i] = true
				return i
			}
		}
		t.Fatalf("press %d is decided twice or was never made", raw)
		return 0
	}
	take := func() {
		for _, v := range j.Verdicts() {
			if v.Stray {
				at(v.Press)
				continue
			}
			n := int(v.Rep)*len(d.Notes) + int(v.Note)
			if m[n] != -2 {
				t.Fatalf("note %d is decided twice", n)
			}
			m[n] = -1
			if v.Press != pad.Never {
				m[n] = at(v.Press)
			}
		}
	}
	for i, p := range press {
		j.Feed(pad.Edge{T: p, Panel: c, Kind: pad.Down})
		take()
		if steps != nil {
			steps(j, i)
			take()
		}
		j.Feed(pad.Edge{T: p, Panel: c, Kind: pad.Up})
		take()
	}
	j.Finish()
	take()
	for n, p := range m {
		if p == -2 {
			t.Fatalf("note %d is never decided", n)
		}
	}
	for i, s := range seen {
		if !s {
			t.Fatalf("press %d is never decided", i)
		}
	}
	return m
}

// Small grids make ties and crossings frequent.
func lanes(t *rapid.T) (d *drill.Drill, due, press []pad.Time, w drill.Windows) {
	step := pad.Time(rapid.SampledFrom([]int{10_000, 20_000, 30_000, 50_000}).Draw(t, "step"))
	slots := rapid.SliceOfN(rapid.Bool(), 1, 4).Draw(t, "slots")
	slots[0] = true
	d = oneLane(t, step, slots, rapid.Int64Range(1, 2).Draw(t, "reps"))
	due = dues(d, 200_000)
	unit := step / pad.Time(rapid.SampledFrom([]int{1, 2, 5}).Draw(t, "units"))
	first, last := due[0]-60_000, due[len(due)-1]+80_000
	n := rapid.IntRange(0, 5).Draw(t, "presses")
	for range n {
		k := rapid.Int64Range(0, int64((last-first)/unit)).Draw(t, "press")
		press = append(press, first+pad.Time(k)*unit)
	}
	slices.Sort(press)
	b := drill.Bound{Early: -unit * pad.Time(rapid.IntRange(0, 6).Draw(t, "early")), Late: unit * pad.Time(rapid.IntRange(0, 8).Draw(t, "late"))}
	return d, due, press, drill.Windows{b, b, b}
}

// The matching is the contract's, compared with every possible matching.
func TestMatchingEqualsBruteForce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, due, press, w := lanes(t)
		want := bruteMatch(due, press, w[drill.Outer])
		got := play(t, d, judge.Options{Lead: 200_000, Windows: &w}, press, nil)
		// Presses at one moment are not told apart.
		same := slices.EqualFunc(got, want, func(a, b int) bool {
			return a == b || a >= 0 && b >= 0 && press[a] == press[b]
		})
		if !same {
			t.Fatalf("due %v press %v window %v: got %v, want %v", due, press, w[2], got, want)
		}
		count, cost := bruteTotals(due, press, w[drill.Outer])
		var c int
		var s pad.Time
		for n, p := range got {
			if p >= 0 {
				c++
				s += (press[p] - due[n]).Abs()
			}
		}
		if c != count || s != cost {
			t.Fatalf("with crossings: got %d notes at %d, best is %d at %d", c, s, count, cost)
		}
	})
}

// A note and a press are decided as soon as every future agrees on them, and
// not sooner, compared with all futures of a grid.
func TestLongDecidedAsSoonAsEveryFutureAgrees(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	rapid.Check(t, func(t *rapid.T) {
		const unit = 10_000
		slots := rapid.SliceOfN(rapid.Bool(), 1, 3).Draw(t, "slots")
		slots[0] = true
		d := oneLane(t, pad.Time(rapid.IntRange(1, 4).Draw(t, "step"))*unit, slots, 1)
		due := dues(d, 200_000)
		b := drill.Bound{Early: -unit * pad.Time(rapid.IntRange(0, 4).Draw(t, "early")), Late: unit * pad.Time(rapid.IntRange(0, 5).Draw(t, "late"))}
		w := drill.Windows{b, b, b}
		first, last := due[0]+b.Early-unit, due[len(due)-1]+b.Late+unit
		var press []pad.Time
		for range rapid.IntRange(0, 3).Draw(t, "presses") {
			press = append(press, first+unit*pad.Time(rapid.Int64Range(0, int64((last-first)/unit)).Draw(t, "press")))
		}
		slices.Sort(press)
		press = slices.Compact(press) // presses at one moment could not be told apart here

		j := judge.New(d, judge.Options{Lead: 200_000, Windows: &w})
		c, _ := d.Layout.Lookup("c")
		decided := make(map[int]pad.Time) // note to press, Never where absent
		strays := 0
		take := func() {
			for _, v := range j.Verdicts() {
				if v.Stray {
					strays++
				} else {
					decided[int(v.Note)] = v.Press
				}
			}
		}
		known := 0
		for now := first; now <= last+unit; now += unit {
			j.Advance(now)
			take()
			for known < len(press) && press[known] == now {
				j.Feed(pad.Edge{T: now, Panel: c, Kind: pad.Down})
				take()
				known++
				j.Feed(pad.Edge{T: now, Panel: c, Kind: pad.Up})
			}
			var times []pad.Time
			for at := now; at <= last; at += unit {
				times = append(times, at)
			}
			want, wantStrays := agreed(due, press[:known], times, b)
			if len(want) != len(decided) || strays != wantStrays {
				t.Fatalf("due %v window %v press %v at %d: decided %v and %d strays, want %v and %d", due, b, press[:known], now, decided, strays, want, wantStrays)
			}
			for n, p := range want {
				if decided[n] != p {
					t.Fatalf("due %v window %v press %v at %d: note %d is %d, want %d", due, b, press[:known], now, n, decided[n], p)
				}
			}
		}
	})
}

// The moment of decision is right to the microsecond: presses lie anywhere, and
// time goes through all moments at which a decision can fall. The futures that
// matter press a note at its due moment, or as soon as may be.
func TestLongDecidedToTheMicrosecond(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	rapid.Check(t, func(t *rapid.T) {
		d := oneLane(t, 5_000, []bool{true, true, rapid.Bool().Draw(t, "third")}, 1)
		due := dues(d, 200_000)
		b := drill.Bound{Early: -pad.Time(rapid.IntRange(0, 9_000).Draw(t, "early")), Late: pad.Time(rapid.IntRange(0, 9_000).Draw(t, "late"))}
		w := drill.Windows{b, b, b}
		var press []pad.Time
		for range rapid.IntRange(1, 3).Draw(t, "presses") {
			press = append(press, pad.Time(rapid.IntRange(191_000, 216_000).Draw(t, "press")))
		}
		slices.Sort(press)
		press = slices.Compact(press)
		var moments []pad.Time
		for _, u := range due {
			moments = append(moments, u+b.Late, u+b.Late+1)
			for _, p := range press {
				for _, v := range due {
					// Where an early press and a later one cost the same, alone or in a chain.
					for _, m := range []pad.Time{u + (u - p).Abs(), u + (v - p).Abs(), u + v - p} {
						moments = append(moments, m-1, m, m+1)
					}
				}
			}
		}
		slices.Sort(moments)
		moments = slices.Compact(moments)
		j := judge.New(d, judge.Options{Lead: 200_000, Windows: &w})
		decided := make(map[int]pad.Time)
		take := func() {
			for _, v := range j.Verdicts() {
				if !v.Stray {
					decided[int(v.Note)] = v.Press
				}
			}
		}
		known := 0
		for _, now := range moments {
			for known < len(press) && press[known] <= now {
				j.Feed(pad.Edge{T: press[known], Panel: 2, Kind: pad.Down})
				take()
				j.Feed(pad.Edge{T: press[known], Panel: 2, Kind: pad.Up})
				known++
			}
			j.Advance(now)
			take()
			times := []pad.Time{now}
			for _, u := range due {
				if u > now {
					times = append(times, u)
				}
			}
			want, _ := agreed(due, press[:known], times, b)
			for n := range due {
				g, ok := decided[n]
				wt, should := want[n]
				if ok != should || g != wt {
					t.Fatalf("due %v window %v press %v at %d: note %d decided %v (%d), want %v (%d)", due, b, press[:known], now, n, ok, g, should, wt)
				}
			}
		}
	})
}

// agreed gives what every future of presses at the times given, up to as many as
// there are notes, makes of the notes and of the presses known.
func agreed(due, known, times []pad.Time, w drill.Bound) (map[int]pad.Time, int) {
	notes := make(map[int]pad.Time)
	stray := make(map[int]bool)
	begun := false
	var future func(from int, press []pad.Time, left int)
	future = func(from int, press []pad.Time, left int) {
		m := bruteMatch(due, press, w)
		used := make(map[int]bool)
		for n, p := range m {
			t := pad.Never
			if p >= 0 {
				t = press[p]
				used[p] = true
				if p >= len(known) {
					t = -1 // a future press: another future lacks it
				}
			}
			if !begun {
				notes[n] = t
			} else if was, ok := notes[n]; ok && was != t {
				delete(notes, n)
			}
		}
		for p := range known {
			if !begun {
				stray[p] = !used[p]
			} else if used[p] {
				stray[p] = false
			}
		}
		begun = true
		if left == 0 {
			return
		}
		for k := from; k < len(times); k++ {
			future(k, append(slices.Clip(press), times[k]), left-1)
		}
	}
	future(0, known, len(due))
	n := 0
	for _, s := range stray {
		if s {
			n++
		}
	}
	return notes, n
}
