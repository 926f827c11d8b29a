package input_test

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/footing/pad"
	"heeltoe/input"
)

// tester is what is needed of a testing.T or a rapid.T.
type tester interface {
	Helper()
	Fatal(args ...any)
}

// bench is a pad to be taught: its reports for the panels that are down.
type bench struct {
	t       *input.Teacher
	now     pad.Time
	report  func(tick int, panel pad.Panel, down bool) []byte // panel: of the phase, input.Rest at rest
	layout  *pad.Layout
	presses map[pad.Panel]int // other than three
	lead    pad.Time          // into the phase before the first press
}

func newBench(report func(tick int, panel pad.Panel, down bool) []byte) *bench {
	return &bench{t: input.NewTeacher(pad.Single, 3), layout: pad.Single, report: report, presses: map[pad.Panel]int{}, lead: 100 * pad.Millisecond}
}

// run feeds reports each 4 ms for the time given.
func (b *bench) run(tb tester, p pad.Panel, down bool, d pad.Time) {
	tb.Helper()
	for end := b.now + d; b.now < end; b.now += 4000 {
		if err := b.t.Feed(b.now, 0, b.report(int(b.now/4000), p, down)); err != nil {
			tb.Fatal(err)
		}
	}
}

func (b *bench) phase(tb tester, p pad.Panel) {
	tb.Helper()
	if err := b.t.Phase(p); err != nil {
		tb.Fatal(err)
	}
	if p == input.Rest {
		b.run(tb, p, false, pad.Second)
		return
	}
	b.run(tb, p, false, b.lead)
	n, ok := b.presses[p]
	if !ok {
		n = 3
	}
	for range n {
		b.run(tb, p, true, 120*pad.Millisecond)
		b.run(tb, p, false, 200*pad.Millisecond)
	}
}

func (b *bench) all(tb tester) {
	tb.Helper()
	b.phase(tb, input.Rest)
	for p := range b.layout.Panels {
		b.phase(tb, pad.Panel(p))
	}
}

// bitsOf makes reports of which the bit with the panel's number follows it.
func bitsOf(size int, also func(tick int, panel pad.Panel, down bool, r []byte)) func(int, pad.Panel, bool) []byte {
	return func(tick int, panel pad.Panel, down bool) []byte {
		r := make([]byte, size)
		if down {
			r[panel/8] |= 1 << (panel % 8)
		}
		if also != nil {
			also(tick, panel, down, r)
		}
		return r
	}
}

func TestTeacherRefuses(t *testing.T) {
	for _, c := range []struct {
		name  string
		bench func() *bench
		panel pad.Panel
		says  []string
	}{
		{"a bit that follows two panels", func() *bench {
			return newBench(func(_ int, p pad.Panel, down bool) []byte {
				r := []byte{0}
				if p == 3 {
					p = 1 // ne is wired to sw
				}
				if down {
					r[0] = 1 << p
				}
				return r
			})
		}, 3, []string{"bit 1", "sw as well", "wiring"}},
		{"a panel that does nothing", func() *bench {
			return newBench(bitsOf(1, func(_ int, p pad.Panel, _ bool, r []byte) {
				if p == 2 {
					r[0] = 0
				}
			}))
		}, 2, []string{"nothing in the reports followed it", "sensor"}},
		{"two things that disagree", func() *bench {
			b := newBench(nil)
			b.report = bitsOf(2, func(tick int, p pad.Panel, down bool, r []byte) {
				// A second bit rises three times, between the presses.
				if p == 4 && !down && tick%80 >= 20 && tick%80 < 25 {
					r[1] |= 0x20
				}
			})
			return b
		}, 4, []string{"two unrelated things", "byte 0, bit 4", "byte 1, bit 5"}},
		{"too few presses", func() *bench {
			b := newBench(bitsOf(1, nil))
			b.presses[1] = 2
			return b
		}, 1, []string{"2 times, not 3", "press it 3 times"}},
		{"too many presses", func() *bench {
			b := newBench(bitsOf(1, nil))
			b.presses[0] = 5
			return b
		}, 0, []string{"5 times, not 3"}},
		{"down to the end", func() *bench {
			n := 0
			return newBench(bitsOf(1, func(_ int, p pad.Panel, down bool, r []byte) {
				if p == 2 && down {
					n++
				}
				if p == 2 && n > 70 {
					r[0] |= 4 // it sticks during the third press
				}
			}))
		}, 2, []string{"still down at the end"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := c.bench()
			b.all(t)
			_, _, err := b.t.Map(oneDevice())
			var u *input.Unclear
			if !errors.As(err, &u) {
				t.Fatalf("it was taught: %v", err)
			}
			i := slices.IndexFunc(u.Refusals, func(r input.Refusal) bool { return r.Panel == c.panel })
			if i < 0 {
				t.Fatalf("panel %d was taught: %v", c.panel, err)
			}
			for _, s := range c.says {
				if !strings.Contains(u.Refusals[i].Why, s) {
					t.Errorf("%q lacks %q", u.Refusals[i].Why, s)
				}
			}
			if !strings.HasPrefix(err.Error(), pad.Single.ID(u.Refusals[0].Panel)+": ") {
				t.Errorf("the error does not name the panel: %v", err)
			}
		})
	}
}

// A phase that went wrong is done again and only that one.
func TestTeacherTakesAPhaseAgain(t *testing.T) {
	b := newBench(bitsOf(1, nil))
	b.presses[1] = 1
	b.all(t)
	if _, _, err := b.t.Map(oneDevice()); err == nil {
		t.Fatal("one press was enough")
	}
	delete(b.presses, 1)
	b.phase(t, 1)
	m, _, err := b.t.Map(oneDevice())
	if err != nil {
		t.Fatal(err)
	}
	if s := m.Sensors[1]; s.Offset != 0 || s.Mask != 2 {
		t.Errorf("sw is read at %s", s)
	}
}

func TestTeacherWantsRestFirst(t *testing.T) {
	tt := input.NewTeacher(pad.Single, 0)
	if err := tt.Phase(0); err == nil {
		t.Error("a panel was taught before the rest phase")
	}
	if err := tt.Phase(9); err == nil {
		t.Error("a panel was taught that the layout does not have")
	}
	_, _, err := tt.Map(oneDevice())
	if err == nil || !strings.Contains(err.Error(), "not asked for") {
		t.Errorf("nothing was taught, and the answer is %v", err)
	}
}

// Bits that always agree are one sensor; the lowest is taken, and said.
func TestTeacherMentionsRedundantBits(t *testing.T) {
	b := newBench(bitsOf(3, func(_ int, p pad.Panel, down bool, r []byte) {
		if down {
			r[2] = 1 << (7 - p)
		}
	}))
	b.all(t)
	m, remarks, err := b.t.Map(oneDevice())
	if err != nil {
		t.Fatal(err)
	}
	for p, s := range m.Sensors {
		if s.Offset != 0 || s.Mask != 1<<p {
			t.Errorf("panel %d is read at %s", p, s)
		}
	}
	if len(remarks) != 5 || !strings.Contains(remarks[3], "ne: these always agree: byte 0, bit 3 and byte 2, bit 4") {
		t.Errorf("remarks %q", remarks)
	}
}

// Contact chatter of a few milliseconds is not counted as presses.
func TestTeacherForgivesChatter(t *testing.T) {
	was, since := false, 0
	b := newBench(bitsOf(1, func(tick int, p pad.Panel, down bool, r []byte) {
		if down != was {
			was, since = down, tick
		}
		if down && tick-since == 2 {
			r[0] = 0
		}
	}))
	b.all(t)
	if _, _, err := b.t.Map(oneDevice()); err != nil {
		t.Error(err)
	}
}

// Progress counts presses as they come and says when the phase is done.
func TestTeacherProgress(t *testing.T) {
	b := newBench(bitsOf(1, nil))
	if err := b.t.Phase(input.Rest); err != nil {
		t.Fatal(err)
	}
	b.run(t, input.Rest, false, pad.Second)
	if _, done := b.t.Progress(b.now); done {
		t.Error("a second of rest was enough")
	}
	b.run(t, input.Rest, false, input.RestTime)
	if _, done := b.t.Progress(b.now); !done {
		t.Error("the rest phase does not end")
	}
	if err := b.t.Phase(2); err != nil {
		t.Fatal(err)
	}
	for i := range 3 {
		b.run(t, 2, true, 100*pad.Millisecond)
		if n, done := b.t.Progress(b.now); n != i+1 || done {
			t.Errorf("press %d: %d, %v", i+1, n, done)
		}
		b.run(t, 2, false, 200*pad.Millisecond)
	}
	if n, done := b.t.Progress(b.now); n != 3 || done {
		t.Errorf("200 ms after the last press: %d, %v", n, done)
	}
	b.run(t, 2, false, 300*pad.Millisecond)
	if n, done := b.t.Progress(b.now); n != 3 || !done {
		t.Errorf("500 ms after the last press: %d, %v", n, done)
	}
}

// A pad that speaks of changes only is silent while it rests.
func TestTeacherRestsWithoutReports(t *testing.T) {
	tt := input.NewTeacher(pad.Single, 1)
	if err := tt.Phase(input.Rest); err != nil {
		t.Fatal(err)
	}
	if _, done := tt.Progress(5 * pad.Second); done {
		t.Error("the rest phase ends as it begins")
	}
	if _, done := tt.Progress(5*pad.Second + input.RestTime); !done {
		t.Error("the rest phase does not end")
	}
	now := 10 * pad.Second
	for p := range 5 {
		if err := tt.Phase(pad.Panel(p)); err != nil {
			t.Fatal(err)
		}
		for _, b := range []byte{1 << p, 0} {
			now += 200 * pad.Millisecond
			if err := tt.Feed(now, 0, []byte{b, 9}); err != nil {
				t.Fatal(err)
			}
		}
		now += pad.Second
		if n, done := tt.Progress(now); n != 1 || !done {
			t.Errorf("panel %d: %d, %v", p, n, done)
		}
	}
	m, _, err := tt.Map(oneDevice())
	if err != nil {
		t.Fatal(err)
	}
	for p, s := range m.Sensors {
		if s.Offset != 0 || s.Mask != 1<<p || s.ActiveLow {
			t.Errorf("panel %d is read at %s", p, s)
		}
	}
}

// Any pad whose panels are distinct bits is taught, whatever else its reports
// hold: constants, counters, jitter, inverted bits.
func TestTeacherFindsAnyBits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size := rapid.IntRange(2, 8).Draw(t, "size")
		places := rapid.SliceOfNDistinct(rapid.IntRange(0, 8*size-1), 5, 5, rapid.ID).Draw(t, "bits")
		low := rapid.SliceOfN(rapid.Bool(), 5, 5).Draw(t, "low")
		base := rapid.SliceOfN(rapid.Byte(), size, size).Draw(t, "base")
		jitter := rapid.SliceOfN(rapid.Byte(), size, size).Draw(t, "jitter")
		for _, bit := range places {
			jitter[bit/8] &^= 1 << (bit % 8)
		}
		b := newBench(func(tick int, panel pad.Panel, down bool) []byte {
			r := slices.Clone(base)
			for i := range r {
				r[i] ^= jitter[i] & byte(tick*(7+2*i)>>i)
			}
			for p, bit := range places {
				mask := byte(1) << (bit % 8)
				r[bit/8] &^= mask
				if (down && int(panel) == p) != low[p] {
					r[bit/8] |= mask
				}
			}
			return r
		})
		b.phase(t, input.Rest)
		for p := range 5 {
			b.phase(t, pad.Panel(p))
		}
		m, _, err := b.t.Map(oneDevice())
		if err != nil {
			t.Fatal(err)
		}
		for p, s := range m.Sensors {
			if s.Format != input.Bits || s.Offset != places[p]/8 || s.Mask != 1<<(places[p]%8) || s.ActiveLow != low[p] || s.Report != 0 {
				t.Fatalf("panel %d is read at %s, want bit %d", p, s, places[p])
			}
		}
	})
}

// Any pad of load cells is taught, with bytes or words, rising or falling, as
// long as a press is well above the noise: its map then gives each press of
// another performance once, and none besides.
func TestTeacherFindsAnyValues(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		wide := rapid.Bool().Draw(t, "words")
		top := 255
		if wide {
			top = rapid.SampledFrom([]int{1023, 4095, 65535}).Draw(t, "top")
		}
		var idle, press, noise [5]int
		for p := range 5 {
			noise[p] = rapid.IntRange(0, top/64).Draw(t, "noise")
			swing := rapid.IntRange(max(24, top/8, 8*noise[p]), top/2).Draw(t, "swing")
			idle[p] = rapid.IntRange(0, top-noise[p]-swing).Draw(t, "idle")
			press[p] = idle[p] + swing
			if rapid.Bool().Draw(t, "falling") {
				idle[p], press[p] = press[p], idle[p]
			}
		}
		seed := uint64(rapid.Uint32().Draw(t, "seed"))
		var level [5]int // of 4: a load comes and goes over a few reports
		report := func(_ int, panel pad.Panel, down bool) []byte {
			r := []byte{0xa5}
			for p := range 5 {
				if down && int(panel) == p {
					level[p] = min(level[p]+1, 4)
				} else {
					level[p] = max(level[p]-1, 0)
				}
				v := idle[p] + (press[p]-idle[p])*level[p]/4
				seed = seed*6364136223846793005 + 1442695040888963407
				v += int(seed>>33) % (noise[p] + 1)
				r = append(r, byte(v))
				if wide {
					r = append(r, byte(v>>8))
				}
			}
			return r
		}
		b := newBench(report)
		b.phase(t, input.Rest)
		for p := range 5 {
			b.phase(t, pad.Panel(p))
		}
		m, _, err := b.t.Map(oneDevice())
		if err != nil {
			t.Fatal(err)
		}
		d, err := input.NewDecoder(m)
		if err != nil {
			t.Fatal(err)
		}
		for p := range 5 {
			var edges []pad.Edge
			for k := range 600 {
				edges = d.Decode(edges, pad.Time(k*1000), 0, report(k, pad.Panel(p), k%200 >= 100))
			}
			if len(edges) != 6 && len(edges) != 5 { // the last press goes on
				t.Fatalf("panel %d: %d edges; map %v", p, len(edges), m.Sensors)
			}
			for i, e := range edges {
				if i > 0 || e.Kind == pad.Down {
					if int(e.Panel) != p {
						t.Fatalf("panel %d: edge of panel %d; map %v", p, e.Panel, m.Sensors)
					}
				}
			}
			for k := range 5 {
				edges = d.Decode(edges[:0], pad.Time(600_000+1000*k), 0, report(600, pad.Panel(p), false))
			}
		}
	})
}

// BenchmarkProgress is what asking costs after 20 s of a phase at 1000 Hz with
// 64 bytes a report. It is asked ten times a second: it must stay under 10 ms.
func BenchmarkProgress(b *testing.B) {
	w := newBench(func(tick int, panel pad.Panel, down bool) []byte {
		r := make([]byte, 64)
		r[0], r[5] = byte(tick), byte(tick>>3)
		if down {
			r[9] = 1 << panel
		}
		return r
	})
	w.t.Phase(input.Rest)
	at := pad.Time(0)
	feed := func(p pad.Panel, n int, down bool) {
		for range n {
			at += 1000
			w.t.Feed(at, 0, w.report(int(at/1000), p, down))
		}
	}
	feed(input.Rest, 2000, false)
	w.t.Phase(0)
	for range 3 {
		feed(0, 500, true)
		feed(0, 6000, false)
	}
	for b.Loop() {
		if n, done := w.t.Progress(at); n != 3 || !done {
			b.Fatal(n, done)
		}
	}
}
