package input_test

import (
	"testing"

	"pgregory.net/rapid"

	"heeltoe/footing/pad"
	"heeltoe/input"
)

// A device with a counter: what was dropped is told exactly, however the reads
// are late, up to the rounds that time tells apart.
func TestWatchCounts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := input.NewWatch(pad.Millisecond)
		at := rapid.IntRange(0, 4).Draw(t, "byte")
		now, n := pad.Time(0), rapid.IntRange(0, 1000).Draw(t, "start")
		read := func() uint32 {
			r := []byte{1, 2, byte(n / 7), 4, 5}
			r[at] = byte(n)
			return w.Read(now, r)
		}
		for range 300 {
			if missing := read(); missing != 0 {
				t.Fatalf("%d missing of what came in turn", missing)
			}
			n, now = n+1, now+pad.Millisecond
		}
		for range rapid.IntRange(1, 20).Draw(t, "losses") {
			lost := rapid.IntRange(0, 1000).Draw(t, "lost")
			n, now = n+lost, now+pad.Time(lost)*pad.Millisecond+pad.Time(rapid.IntRange(-400, 400).Draw(t, "jitter"))
			if missing := read(); missing != uint32(lost) {
				t.Fatalf("%d missing of %d that were lost", missing, lost)
			}
			n, now = n+1, now+pad.Millisecond
			if missing := read(); missing != 0 {
				t.Fatalf("then %d are missing", missing)
			}
			n, now = n+1, now+pad.Millisecond
		}
	})
}

// A device without a counter: nothing is missing while the reader comes back in
// time; where it does not, never less is told than can have come in the time.
func TestWatchBounds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		interval := pad.Time(rapid.SampledFrom([]int{1000, 2000, 8000, 10_000}).Draw(t, "interval"))
		w := input.NewWatch(interval)
		now := pad.Time(0)
		w.Read(now, nil)
		for range rapid.IntRange(1, 50).Draw(t, "reads") {
			away := pad.Time(rapid.IntRange(0, 300_000).Draw(t, "away"))
			now += away
			var r []byte
			could := int64(away / interval)
			if rapid.Bool().Draw(t, "report") {
				r = []byte{byte(rapid.IntRange(0, 255).Draw(t, "value")), 7}
				could = max(could-1, 0)
			}
			want := uint32(0)
			if away > input.Patience {
				want = uint32(could)
			}
			if missing := w.Read(now, r); missing != want {
				t.Fatalf("after %d µs at %d µs: %d missing, want %d", away, interval, missing, want)
			}
		}
	})
}

// A byte that counts to less than 255, and one that stops, are no counters.
func TestWatchIsNotFooled(t *testing.T) {
	for name, value := range map[string]func(n int) byte{
		"to 99":  func(n int) byte { return byte(n % 100) },
		"stops":  func(n int) byte { return byte(min(n, 400)) },
		"by two": func(n int) byte { return byte(2 * n) },
	} {
		w := input.NewWatch(0)
		for n := range 2000 {
			if missing := w.Read(pad.Time(n)*pad.Millisecond, []byte{value(n), 0}); missing != 0 {
				t.Errorf("%s: %d missing at report %d", name, missing, n)
				break
			}
		}
	}
}

// A device that was opened again begins anew.
func TestWatchBegins(t *testing.T) {
	w := input.NewWatch(0)
	for n := range 300 {
		w.Read(pad.Time(n)*pad.Millisecond, []byte{byte(n)})
	}
	w.Begin()
	if missing := w.Read(10*pad.Second, []byte{7}); missing != 0 {
		t.Errorf("%d missing after it was opened again", missing)
	}
}

func TestWatchDoesNotAllocate(t *testing.T) {
	w := input.NewWatch(0)
	r := []byte{0, 1, 2, 3}
	now := pad.Time(0)
	w.Read(now, r)
	if n := testing.AllocsPerRun(1000, func() {
		r[0]++
		now += pad.Millisecond
		w.Read(now, r)
		w.Read(now, nil)
	}); n != 0 {
		t.Errorf("%v allocations a report", n)
	}
}
