package input_test

import (
	"context"
	"sync"
	"testing"
	"time"

	"heeltoe/footing/pad"
	"heeltoe/input"
)

// ticks is a clock that tells a later time each time it is asked.
type ticks struct {
	mu sync.Mutex
	t  pad.Time
}

func (c *ticks) Now() pad.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.t++
	return c.t
}

func (c *ticks) Until(ctx context.Context, _ pad.Time) error { return ctx.Err() }

// What is pushed while someone listens comes out, stamped by the listener's
// clock; what changes nothing, or comes while nobody listens, does not.
func TestPushed(t *testing.T) {
	p := input.NewPushed("keys")
	p.Set(1, true) // nobody listens
	listen := func(act func()) (got []pad.Edge) {
		ctx, cancel := context.WithCancel(t.Context())
		q := input.NewQueue(64)
		done := make(chan error)
		go func() { done <- p.Run(ctx, &ticks{}, q) }()
		for end := time.Now().Add(5 * time.Second); q.Dropped() == 0; { // until it listens
			p.Set(4, true)
			if e, ok := q.Get(); ok {
				got = append(got, e)
				break
			}
			if time.Now().After(end) {
				t.Fatal("it does not listen")
			}
		}
		act()
		cancel()
		if err := <-done; err != nil {
			t.Fatal(err)
		}
		p.Set(2, true) // nobody listens any more
		for e, ok := q.Get(); ok; e, ok = q.Get() {
			got = append(got, e)
		}
		return got
	}
	got := listen(func() {
		p.Set(1, false) // down before anyone listened: counts from its next press on
		p.Set(1, true)
		p.Set(1, true)
		p.Set(3, true)
		p.Set(1, false)
	})
	want := []pad.Edge{{T: 1, Panel: 4, Kind: pad.Down}, {T: 2, Panel: 1, Kind: pad.Down}, {T: 3, Panel: 3, Kind: pad.Down}, {T: 4, Panel: 1, Kind: pad.Up}}
	if len(got) != len(want) {
		t.Fatalf("got %+v", got)
	}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("edge %d is %+v, want %+v", i, got[i], want[i])
		}
	}
	if again := listen(func() {}); len(again) != 1 || again[0].T != 1 {
		t.Errorf("the second time: %+v", again)
	}
}

func TestPushedDoesNotAllocate(t *testing.T) {
	p := input.NewPushed("keys")
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	q := input.NewQueue(64)
	go func() { _ = p.Run(ctx, &ticks{}, q) }()
	down := false
	if n := testing.AllocsPerRun(1000, func() {
		down = !down
		p.Set(1, down)
		q.Get()
	}); n != 0 {
		t.Errorf("%v allocations an edge", n)
	}
}
