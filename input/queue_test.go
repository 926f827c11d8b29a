package input_test

import (
	"sync"
	"testing"

	"heeltoe/footing/pad"
	"heeltoe/input"
)

// A full queue drops and counts, and marks the gap before the next edge that fits.
func TestFullQueueMarksTheGap(t *testing.T) {
	q := input.NewQueue(4)
	for i := range 7 {
		q.Put(pad.Edge{T: pad.Time(i), Panel: 1, Kind: pad.Down})
	}
	for i := range 4 {
		if e, ok := q.Get(); !ok || e.T != pad.Time(i) {
			t.Fatalf("edge %d is %+v, %v", i, e, ok)
		}
	}
	q.Put(pad.Edge{T: 9, Panel: 1, Kind: pad.Up})
	gap, _ := q.Get()
	last, _ := q.Get()
	if want := (pad.Edge{T: 9, Kind: pad.Gap, Panel: pad.NoPanel, Lost: 3}); gap != want || last.T != 9 || last.Kind != pad.Up {
		t.Errorf("got %+v and %+v, want %+v and the edge", gap, last, want)
	}
	if _, ok := q.Get(); ok || q.Dropped() != 3 {
		t.Errorf("%d dropped, want 3", q.Dropped())
	}
}

// Edges that were put while another goroutine took them out are all there, in
// order, or counted.
func TestQueueLosesNothingSilently(t *testing.T) {
	q := input.NewQueue(64)
	const n = 200_000
	var wg sync.WaitGroup
	wg.Go(func() {
		for i := range n {
			q.Put(pad.Edge{T: pad.Time(i), Panel: 1, Kind: pad.Down})
		}
	})
	got, lost, last := 0, 0, pad.Time(-1)
	take := func() {
		for e, ok := q.Get(); ok; e, ok = q.Get() {
			if e.Kind == pad.Gap {
				lost += int(e.Lost)
				continue
			}
			if e.T <= last {
				t.Fatalf("edge %d after %d", e.T, last)
			}
			got, last = got+1, e.T
		}
	}
	done := make(chan struct{})
	go func() { wg.Wait(); close(done) }()
	for open := true; open; {
		select {
		case <-q.Ready():
		case <-done:
			open = false
		}
		take()
	}
	if dropped := int(q.Dropped()); got+dropped != n {
		t.Errorf("%d came through and %d were dropped, of %d", got, dropped, n)
	}
}

func TestQueueDoesNotAllocate(t *testing.T) {
	q := input.NewQueue(16)
	if a := testing.AllocsPerRun(1000, func() {
		q.Put(pad.Edge{T: 1})
		q.Get()
	}); a != 0 {
		t.Errorf("%v allocations an edge", a)
	}
}

// Whoever puts may take out what is there: then nobody else is woken; where that fails the loop is.
// Edges taken by several goroutines, one at a time, are all there, each reader's in order.
func TestWhoeverPutsMayTake(t *testing.T) {
	q := input.NewQueue(64)
	busy := false
	q.OnPut(func() bool {
		if busy {
			return false
		}
		_, ok := q.Get()
		return ok
	})
	woken := func() bool {
		select {
		case <-q.Ready():
			return true
		default:
			return false
		}
	}
	q.Put(pad.Edge{T: 1})
	if _, left := q.Get(); left || woken() {
		t.Error("what was taken is there still, or another goroutine was woken for it")
	}
	busy = true
	q.Put(pad.Edge{T: 2})
	if e, ok := q.Get(); !ok || e.T != 2 || !woken() {
		t.Error("what was not taken is lost, or nobody was woken for it")
	}

	const readers, n = 3, 50_000
	q = input.NewQueue(readers * n)
	var mu sync.Mutex // of last and got
	var last [readers]pad.Time
	got := 0
	drain := func() {
		for e, ok := q.Get(); ok; e, ok = q.Get() {
			if e.T != last[e.Panel]+1 {
				t.Errorf("edge %d of reader %d after %d", e.T, e.Panel, last[e.Panel])
			}
			last[e.Panel], got = e.T, got+1
		}
	}
	q.OnPut(func() bool {
		if !mu.TryLock() {
			return false
		}
		drain()
		mu.Unlock()
		return true
	})
	var wg sync.WaitGroup
	for r := range readers {
		wg.Go(func() {
			for i := range n {
				q.Put(pad.Edge{T: pad.Time(i + 1), Panel: pad.Panel(r), Kind: pad.Down})
			}
		})
	}
	done := make(chan struct{})
	go func() { wg.Wait(); close(done) }()
	for over := false; !over; {
		select {
		case <-q.Ready():
		case <-done:
			over = true
		}
		mu.Lock()
		drain()
		mu.Unlock()
	}
	if got != readers*n {
		t.Errorf("%d edges of %d", got, readers*n)
	}
}
