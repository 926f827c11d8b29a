package input

import (
	"context"
	"sync"

	"heeltoe/footing/pad"
)

// Pushed is a source whose edges are given to it from outside, such as the keys
// of a window, which only the window's own goroutine can read.
type Pushed struct {
	name string

	mu    sync.Mutex
	clock Clock
	q     *Queue // nil while nobody listens
	down  pad.PanelSet
}

// NewPushed makes a source called name.
func NewPushed(name string) *Pushed { return &Pushed{name: name} }

// Describe implements Source.
func (p *Pushed) Describe() string { return p.name }

// Run implements Source: it waits for ctx to end while edges are put in.
func (p *Pushed) Run(ctx context.Context, clock Clock, q *Queue) error {
	p.mu.Lock()
	p.clock, p.q = clock, q
	p.down = 0
	p.mu.Unlock()
	<-ctx.Done()
	p.mu.Lock()
	if p.q == q {
		p.q = nil
	}
	p.mu.Unlock()
	return nil
}

// Set says that a panel is down or up now. What was so already changes nothing;
// while nobody listens it is dropped, and a panel that was down before someone
// did counts from its next press on. It does not allocate.
func (p *Pushed) Set(panel pad.Panel, down bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.q == nil || p.down.Has(panel) == down {
		return
	}
	e := pad.Edge{T: p.clock.Now(), Panel: panel, Kind: pad.Up}
	if p.down = p.down.Without(panel); down {
		p.down, e.Kind = p.down.With(panel), pad.Down
	}
	p.q.Put(e)
}
