package judge

import (
	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// holdLane follows the notes of one panel that ask for it to be kept down. All
// its times are shifted. Holds of a panel do not overlap (package drill sees to
// that), but one press may cover several.
type holdLane struct {
	sink  *Judge
	panel pad.Panel
	early pad.Time // an up edge later than End + early (which is negative) is a release, not a drop
	late  pad.Time

	index []int32 // notes of the panel that are held, within a rep
	rep   int32
	at    int
	more  bool
	cur   Hold
	any   bool // the panel was down in this hold

	down    pad.Time // since when, Never while up or unknown
	pending pad.Time // an up edge that a press may still merge with, Never where none
	seen    pad.Time // cover is counted up to here
	blind   bool     // after a gap, until the panel's next edge
}

func newHoldLane(j *Judge, p pad.Panel) *holdLane {
	h := &holdLane{sink: j, panel: p, early: j.windows[drill.Outer].Early, late: j.windows[drill.Outer].Late,
		down: pad.Never, pending: pad.Never}
	for i, n := range j.drill.Notes {
		if n.Panel == p && n.Hold > 0 {
			h.index = append(h.index, int32(i))
		}
	}
	if len(h.index) == 0 {
		return nil
	}
	h.more = true
	h.begin()
	return h
}

// begin sets up the hold that comes next.
func (h *holdLane) begin() {
	n := &h.sink.drill.Notes[h.index[h.at]]
	h.cur = Hold{
		Panel: h.panel, Rep: h.rep, Note: h.index[h.at],
		Due:       h.sink.grid.Due(int64(h.rep), int64(n.Slot)),
		End:       h.sink.grid.Due(int64(h.rep), int64(n.Slot)+int64(n.Hold)),
		StartLate: pad.Never, Release: pad.Never,
	}
	h.seen, h.any = h.cur.Due, false
}

// cover counts the time that the panel was down until t.
func (h *holdLane) cover(t pad.Time) {
	if h.down == pad.Never || !h.more {
		return
	}
	from, to := max(h.down, h.seen), min(t, h.cur.End)
	if to > from {
		if !h.any {
			h.any = true
			h.cur.StartLate = from - h.cur.Due
		}
		h.cur.Cover += to - from
		h.seen = to
	}
}

// advance ends the holds whose late bound has passed before now.
func (h *holdLane) advance(now pad.Time) {
	if h.pending != pad.Never && now > h.pending+h.sink.debounce {
		h.commit()
	}
	until := now
	if h.pending != pad.Never {
		until = min(until, h.pending) // what comes after hangs on whether the press goes on
	}
	for h.more && h.cur.End+h.late < until {
		h.cover(h.cur.End)
		h.cur.Unknown = h.cur.Unknown || h.blind
		h.sink.held = append(h.sink.held, h.cur)
		if h.at++; h.at == len(h.index) {
			h.at = 0
			h.rep++
		}
		if h.more = int64(h.rep) < h.sink.drill.Reps; h.more {
			h.begin()
		}
	}
}

func (h *holdLane) press(t pad.Time) {
	if h.pending != pad.Never {
		h.commit()
	}
	h.advance(t)
	h.see(t)
	if h.more && h.any && t < h.cur.End {
		h.cur.Regrabs++
	}
	h.down = t
}

func (h *holdLane) release(t pad.Time) {
	h.advance(t)
	h.see(t)
	if h.down == pad.Never {
		return
	}
	h.pending = t
	if h.sink.debounce == 0 {
		h.commit()
	}
}

// merge says that the press goes on over the release that waits.
func (h *holdLane) merge() { h.pending = pad.Never }

// commit makes the release that waits a fact.
func (h *holdLane) commit() {
	t := h.pending
	h.pending = pad.Never
	h.advance(t)
	h.cover(t)
	if h.more && h.down < h.cur.End && t > h.cur.Due {
		h.cur.Release = t - h.cur.End
		if t < h.cur.End+h.early {
			h.cur.Drops++
		}
	}
	h.down = pad.Never
}

// see says that the panel's state is known again from t on.
func (h *holdLane) see(t pad.Time) {
	if h.blind && h.more && t > h.cur.Due {
		h.cur.Unknown = true
	}
	h.blind = false
}

// gap says that the panel's state is unknown from t on.
func (h *holdLane) gap(t pad.Time) {
	if h.pending != pad.Never {
		h.commit()
	}
	h.advance(t)
	h.cover(t)
	if h.more && t >= h.cur.Due {
		h.cur.Unknown = true
	}
	h.down, h.blind = pad.Never, true
}
