package view

import (
	"time"

	"heeltoe/footing/pad"
)

// PadCheck is what a check of a pad found. Its JSON is that of pads check --json.
type PadCheck struct {
	Pad    string      `json:"pad"` // its name
	Layout *pad.Layout `json:"-"`
	Made   time.Time   `json:"made"`

	Devices  []PadDevice `json:"devices"`
	Panels   []PadPanel  `json:"panels"`      // in the layout's order
	Debounce pad.Time    `json:"debounce_us"` // proposed
	Tapped   int         `json:"taps_asked"`
	Taps     int         `json:"taps"`
	Overlap  *pad.Time   `json:"overlap_us"` // shortest that was seen, nil where none was
	Overlaps Spread      `json:"-"`          // all that were seen
	Seam     *SeamDelay  `json:"seam,omitempty"`

	Finest  pad.Time `json:"finest_us"` // within which two moments cannot be told apart; 0: not known
	Verdict []string `json:"verdict"`   // in words, the worst first
	Means   []string `json:"means"`     // for the figures of a run
}

// PadDevice is how a device reports.
type PadDevice struct {
	Interval pad.Time `json:"interval_us"` // median between two reports that follow each other
	Told     bool     `json:"told"`        // it reports changes only: the interval is what the system says
	Jitter   pad.Time `json:"jitter_us"`   // half of the middle 90 per cent's width; 0 where Told
	Worst    pad.Time `json:"worst_us"`    // largest between two reports; 0 where Told

	// Quantisation is the standard deviation that the interval alone gives to a
	// moment, interval/√12: where the moment is equally likely at every point of it.
	Quantisation pad.Time `json:"quantisation_us"`

	Reports     int        `json:"reports"`
	Percentiles []pad.Time `json:"interval_percentiles_us,omitempty"` // of the times between reports, 0 to 100; none where Told
}

// PadPanel is what was found of a panel.
type PadPanel struct {
	Panel   string   `json:"panel"`
	Asked   int      `json:"asked"`
	Presses int      `json:"presses"`         // chatter merged
	Chatter int      `json:"chatter"`         // presses that were merged
	Bounce  pad.Time `json:"bounce_us"`       // longest time up within a press
	Dead    bool     `json:"dead"`            // asked for, and never down
	Stuck   bool     `json:"stuck"`           // down while nobody stood on the pad
	Fires   []string `json:"fires_with"`      // panels that went down while only this one was asked for
	Press   *int32   `json:"press,omitempty"` // proposed thresholds of an analogue panel
	Release *int32   `json:"release,omitempty"`
}

// SeamDelay is how the two pads stand to each other.
type SeamDelay struct {
	Panels  [2]string `json:"panels"`
	Strikes int       `json:"strikes"`
	Delay   pad.Time  `json:"delay_us"`  // of the second panel's pad against the first's: median
	Spread  pad.Time  `json:"spread_us"` // median absolute deviation
	Delays  Spread    `json:"-"`         // of all strikes
}
