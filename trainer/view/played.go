package view

import (
	"time"

	"heeltoe/footing/pad"
)

// Played is one run with all that a page shows of it. Moments of Notes and Bars
// are counted from the rep's first slot, after the shift.
type Played struct {
	Started time.Time // zero: not known
	Player  string
	Pad     string
	Bar     string // hands on it
	ShoeMM  int64  // 0: not given
	Asked   string // technique to be practised, or empty
	Footing string // to be practised, or empty

	Layout    *pad.Layout
	Windows   [3]Bound
	RepLength pad.Time // with its rest
	Notes     []Due
	Bars      []Bar   // every press
	Report    *Report // with its statistics
}
