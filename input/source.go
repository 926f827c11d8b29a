// Package input turns what a pad reports into edges. It is pure code: the
// reports come from elsewhere (a device, a recording, a test), so everything
// here runs without hardware.
package input

import (
	"context"
	"io"
	"sync"

	"heeltoe/footing/pad"
)

// Clock tells the time of the run and waits on it.
type Clock interface {
	// Now gives the time on the run's monotonic clock. It may be called from
	// any goroutine.
	Now() pad.Time
	// Until waits until Now is at least t, or gives ctx's error where that
	// ends first.
	Until(ctx context.Context, t pad.Time) error
}

// Source is where edges come from while a run goes on.
type Source interface {
	// Run reads until ctx ends or there is no more to come, and puts each edge
	// into q with the time at which it was read. It owns its device: what it
	// opens it closes before it returns. It gives nil where the source came to
	// its end or ctx ended, and otherwise says why it stopped (unplugged, say).
	Run(ctx context.Context, clock Clock, q *Queue) error
	// Describe names the source in a few words, for the player.
	Describe() string
}

// Script is edges that are known beforehand: a run log, a recording, a
// synthetic player.
type Script interface {
	// Next gives the next edge in time order, and io.EOF after the last.
	Next() (pad.Edge, error)
}

// Paced plays a script in its own time: each edge is handed on when the clock
// reaches its T, and keeps that T.
type Paced struct {
	Script Script
	Name   string
}

// Describe implements Source.
func (p *Paced) Describe() string { return p.Name }

// Run implements Source.
func (p *Paced) Run(ctx context.Context, clock Clock, q *Queue) error {
	for {
		e, err := p.Script.Next()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		if clock.Until(ctx, e.T) != nil {
			return nil
		}
		q.Put(e)
	}
}

// Queue carries edges from the readers to the loop that judges them. It is
// bounded and a full queue never blocks the reader: what does not fit is
// dropped and counted, and the next edge that fits is preceded by a Gap.
// Put may be called by several readers, Get by one loop. Neither allocates.
type Queue struct {
	mu    sync.Mutex
	ring  []pad.Edge
	head  int // index of the oldest
	n     int
	lost  uint32 // dropped since the last gap was marked
	total uint64 // dropped since the start
	ready chan struct{}
	taken func() bool
}

// NewQueue makes a queue that holds capacity edges, at least 2.
func NewQueue(capacity int) *Queue {
	return &Queue{ring: make([]pad.Edge, max(capacity, 2)), ready: make(chan struct{}, 1)}
}

// OnPut has f called after each Put that fits, by the goroutine that put. Where f says that
// it took out what was there, Ready is not signalled: no other goroutine has to be woken for it.
// It is called before the first Put.
func (q *Queue) OnPut(f func() (taken bool)) { q.taken = f }

// Put hands e on, or drops and counts it where the queue is full.
func (q *Queue) Put(e pad.Edge) {
	q.mu.Lock()
	need := 1
	if q.lost > 0 {
		need = 2
	}
	if q.n+need > len(q.ring) {
		q.lost++
		q.total++
		q.mu.Unlock()
		return
	}
	if q.lost > 0 {
		q.push(pad.Edge{T: e.T, Kind: pad.Gap, Panel: pad.NoPanel, Lost: q.lost})
		q.lost = 0
	}
	q.push(e)
	q.mu.Unlock()
	if q.taken != nil && q.taken() {
		return
	}
	select {
	case q.ready <- struct{}{}:
	default:
	}
}

func (q *Queue) push(e pad.Edge) {
	q.ring[(q.head+q.n)%len(q.ring)] = e
	q.n++
}

// Get takes the oldest edge out; ok is false where there is none.
func (q *Queue) Get() (e pad.Edge, ok bool) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.n == 0 {
		return pad.Edge{}, false
	}
	e = q.ring[q.head]
	q.head = (q.head + 1) % len(q.ring)
	q.n--
	return e, true
}

// Ready is signalled after a Put; one signal may stand for many edges.
func (q *Queue) Ready() <-chan struct{} { return q.ready }

// Dropped gives how many edges did not fit since the start.
func (q *Queue) Dropped() uint64 {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.total
}
