package input

import "heeltoe/footing/pad"

// Order puts the edges of two devices into one order of time. Their delays
// differ and their readers run side by side, so an edge can come after one that
// is later than it. Edges wait here until no earlier one can come. It is for
// one goroutine at a time. The zero value is ready.
type Order struct {
	edges []pad.Edge // by T, equals as they came
	last  pad.Time   // of the last edge given out
	begun bool
	late  uint64
}

// Put takes an edge in. One that is earlier than what Next gave out already
// gets the time of that, and is counted.
func (o *Order) Put(e pad.Edge) {
	if o.begun && e.T < o.last {
		e.T = o.last
		o.late++
	}
	i := len(o.edges)
	o.edges = append(o.edges, e)
	for ; i > 0 && o.edges[i-1].T > e.T; i-- {
		o.edges[i] = o.edges[i-1]
	}
	o.edges[i] = e
}

// Next gives the oldest edge where its T is at most until, and takes it out.
func (o *Order) Next(until pad.Time) (e pad.Edge, ok bool) {
	if len(o.edges) == 0 || o.edges[0].T > until {
		return pad.Edge{}, false
	}
	e = o.edges[0]
	o.edges = o.edges[:copy(o.edges, o.edges[1:])]
	o.last, o.begun = e.T, true
	return e, true
}

// Late gives how many edges came too late to be put in their place.
func (o *Order) Late() uint64 { return o.late }

// Hold gives how long after an edge's T an earlier one may still come from
// another device of the map, by the delays alone: 0 for one device.
func (m *Map) Hold() pad.Time {
	if len(m.Devices) < 2 {
		return 0
	}
	return m.maxDelay()
}
