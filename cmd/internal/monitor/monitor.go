// Package monitor joins runs to their metrics, for both programs that play: the
// flag, the server, and what of a run is counted.
package monitor

import (
	"fmt"
	"net"
	"slices"
	"sync"
	"time"

	"heeltoe/footing/pad"
	"heeltoe/input"
	"heeltoe/input/record"
	"heeltoe/judge"
	"heeltoe/judge/drill"
	"heeltoe/trainer/live"
	"heeltoe/trainer/metrics"
	"heeltoe/trainer/practice"
)

// Flags are the flag of the command line.
type Flags struct {
	Metrics string `placeholder:"HOST:PORT" help:"Give metrics to Prometheus at this address, such as 127.0.0.1:9117; off where not given."`
}

// Monitor counts what happens in runs.
type Monitor struct {
	*metrics.Metrics
	server *metrics.Server
}

// Start begins to serve what Flags ask for and says where; it gives nil where
// they ask for nothing.
func (f *Flags) Start(say, warn practice.Say) (*Monitor, error) {
	if f.Metrics == "" {
		return nil, nil
	}
	if _, _, err := net.SplitHostPort(f.Metrics); err != nil {
		return nil, practice.Wrongf("--metrics takes host:port, such as 127.0.0.1:9117: %v", err)
	}
	m := &Monitor{Metrics: metrics.New()}
	var err error
	if m.server, err = m.Serve(f.Metrics); err != nil {
		return nil, fmt.Errorf("the metrics cannot be given: %w; name another address with --metrics", err)
	}
	say("Metrics are at %s", m.server.URL())
	if m.server.Open() {
		warn("the metrics can be read by everyone who reaches %s; 127.0.0.1 keeps them to this machine", f.Metrics)
	}
	return m, nil
}

// Close ends the serving. It may be called of nil.
func (m *Monitor) Close() error {
	if m == nil {
		return nil
	}
	return m.server.Close()
}

// keep is how many offsets the steadiness is of, the newest: a scrape sorts them.
const keep = 4096

// Watch makes c's run count. It is a practice.Choice's Watch. What c has for
// events and edges already is called first.
func (m *Monitor) Watch(c *live.Config, h *record.Header) {
	r := &run{m: m.Metrics, layout: c.Drill.Layout, clock: c.Clock.Now, inner: drill.DefaultWindows[drill.Inner]}
	if c.Options.Windows != nil {
		r.inner = c.Options.Windows[drill.Inner]
	}
	for i := range r.up {
		r.up[i] = pad.Never
	}
	info := metrics.Run{Layout: c.Drill.Layout.Name, Bar: h.Bar, Source: kind(c.Sources), BPM: c.Drill.BPM, Began: time.Now()}
	for _, p := range c.Drill.Layout.Panels {
		info.Panels = append(info.Panels, p.ID)
	}
	m.Begin(info, r.steadiness)
	events, fed := c.Events, c.Fed
	c.Events = func(e live.Event) {
		if events != nil {
			events(e)
		}
		r.event(e)
	}
	c.Fed = func(e pad.Edge) {
		if fed != nil {
			fed(e)
		}
		r.fed(e)
	}
}

// kind gives the kind of the sources, a word of a short list.
func kind(sources []input.Source) string {
	for _, s := range sources {
		switch s.(type) {
		case *input.Paced:
			return "script" // the synthetic player, a run log or a recording
		case *input.Pushed:
			return "keys"
		}
	}
	return "pad"
}

// run counts what happens in one run. event and fed are never called at once.
type run struct {
	m      *metrics.Metrics
	layout *pad.Layout
	clock  func() pad.Time
	inner  drill.Bound
	up     [pad.MaxPanels]pad.Time // when each panel went up last, or Never
	spans  []time.Duration

	mu      sync.Mutex // guards offsets
	offsets []pad.Time
}

// fed implements live.Config.Fed.
func (r *run) fed(e pad.Edge) {
	switch e.Kind {
	case pad.Up:
		r.up[e.Panel] = e.T
	case pad.Down:
		since := time.Duration(-1)
		if up := r.up[e.Panel]; up != pad.Never {
			since = (e.T - up).Duration()
		}
		r.m.Press(r.layout.ID(e.Panel), (r.clock() - e.T).Duration(), since)
	}
}

// event implements live.Config.Events.
func (r *run) event(e live.Event) {
	switch e := e.(type) {
	case live.RepDone:
		v := &e.Rep
		r.spans = r.spans[:0]
		for _, o := range e.Offsets {
			r.spans = append(r.spans, o.Duration())
		}
		r.m.Rep([4]int{v.Inner, v.Middle, v.Outer, v.Absent}, v.Stray, r.spans)
		r.mu.Lock()
		r.offsets = append(r.offsets, e.Offsets...)
		r.offsets = slices.Delete(r.offsets, 0, max(0, len(r.offsets)-keep))
		r.mu.Unlock()
	case live.RepRead:
		r.m.Technique(e.Technique)
	case live.Missed:
		r.m.Gap(e.Lost)
	case live.SourceEnded:
		if e.Err != nil {
			r.m.SourceFailed()
		}
	}
}

// steadiness is asked by the server.
func (r *run) steadiness() float64 {
	r.mu.Lock()
	offsets := slices.Clone(r.offsets)
	r.mu.Unlock()
	share, _ := judge.Steadiness(offsets, r.inner)
	return share
}
