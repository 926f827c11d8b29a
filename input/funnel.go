package input

import "heeltoe/footing/pad"

// Funnel makes of the reports of a pad's devices edges in one order of time and
// puts them into a queue. Every source that reads devices has one; its methods
// are never called at once.
type Funnel struct {
	m     *Map
	q     *Queue
	held  func(pad.PanelSet)
	dec   *Decoder
	order Order
	hold  pad.Time
	edges []pad.Edge
}

// NewFunnel makes the funnel of a run. jitter is how late a report of one device
// may be handed over after a later one of the other. held is called where panels
// are down when a device is opened; it may be nil. It gives Check's error where
// the map is not sound.
func NewFunnel(m *Map, q *Queue, jitter pad.Time, held func(pad.PanelSet)) (*Funnel, error) {
	dec, err := NewDecoder(m)
	if err != nil {
		return nil, err
	}
	f := &Funnel{m: m, q: q, held: held, dec: dec, hold: m.Hold(), edges: make([]pad.Edge, 0, 2*pad.MaxPanels)}
	if len(m.Devices) > 1 {
		f.hold += jitter
	}
	return f, nil
}

// Opened says that a device was opened at t, at the start or again, after a gap.
func (f *Funnel) Opened(t pad.Time, device int, again bool) {
	if again {
		f.Gap(t, device, 0)
	}
	f.dec.Begin(t, device)
	f.Idle(t)
}

// Gap says that up to lost reports of a device may be missing before t, 0 where
// it is not known how many.
func (f *Funnel) Gap(t pad.Time, device int, lost uint32) {
	f.order.Put(pad.Edge{T: t - f.m.Devices[device].Delay, Kind: pad.Gap, Panel: pad.NoPanel, Lost: lost})
}

// Report takes a report that was read at t. It does not keep it.
func (f *Funnel) Report(t pad.Time, device int, report []byte) {
	f.edges = f.dec.Decode(f.edges[:0], t, device, report)
	for _, e := range f.edges {
		f.order.Put(e)
	}
	if held := f.dec.Held(); held != 0 && f.held != nil {
		f.held(held)
	}
	f.Idle(t)
}

// Idle says that the time is t, where no report came.
func (f *Funnel) Idle(t pad.Time) { f.hand(t - f.hold) }

// End hands on what waits and gives what became of the reports, and how many
// edges came too late to be put before those of the other device.
func (f *Funnel) End() (c Counts, late uint64) {
	f.hand(pad.Never)
	return f.dec.Counts(), f.order.Late()
}

// hand hands on the edges until a moment.
func (f *Funnel) hand(until pad.Time) {
	for e, ok := f.order.Next(until); ok; e, ok = f.order.Next(until) {
		f.q.Put(e)
	}
}
