package view

import (
	"math"
	"time"
)

// Estimate is a figure made from many, with how sure it is: the interval that
// holds the true value nine times in ten, Undefined where there are too few to
// tell, and the number of observations behind it.
type Estimate struct {
	Value Number `json:"value"`
	Low   Number `json:"low"`
	High  Number `json:"high"`
	N     int    `json:"n"`
}

// EstimateOf gives an estimate; a figure or an end that is not finite says nothing.
func EstimateOf(value, low, high float64, n int) Estimate {
	finite := func(v float64) Number {
		if math.IsInf(v, 0) {
			return Undefined
		}
		return Number(v)
	}
	return Estimate{Value: finite(value), Low: finite(low), High: finite(high), N: n}
}

// NoEstimate is an estimate of n observations that tell nothing.
func NoEstimate(n int) Estimate {
	return Estimate{Value: Undefined, Low: Undefined, High: Undefined, N: n}
}

// Known tells whether the estimate has an interval.
func (e Estimate) Known() bool { return e.Low.Defined() && e.High.Defined() }

// Progress is runs compared over weeks, like with like.
type Progress struct {
	Groups  []Group `json:"groups"`  // the one played last comes first
	Undated int     `json:"undated"` // runs left out, since their logs do not say when they were played

	// Of one drill with its mirror image, by conditions, those played last first; else nil.
	Limits   []Limits  `json:"limits,omitempty"`
	Recovery *Recovery `json:"recovery,omitempty"`
}

// Group is runs that are like one another: one drill on one side, one technique
// and footing, one player, the same conditions and nearly one tempo.
type Group struct {
	Drill     string `json:"drill"`     // name, as the newest run has it
	Key       string `json:"key"`       // of what is played
	Mirror    string `json:"mirror"`    // of its mirror image
	Layout    string `json:"layout"`    // of the pad
	Technique string `json:"technique"` // empty: neither read nor asked for
	Read      bool   `json:"read"`      // Technique is what the feet did, not what was asked for
	Footing   string `json:"footing"`
	Player    string `json:"player"`
	Pad       string `json:"pad"`
	Bar       string `json:"bar"`
	ShoeMM    int64  `json:"shoe_mm"` // 0: not given
	Windows   string `json:"windows_us"`
	Tempo     Tempo  `json:"tempo"`

	Runs  int       `json:"runs"`
	Notes int       `json:"notes"`
	First time.Time `json:"first"`
	Last  time.Time `json:"last"`

	// Scatter is the number to follow: in the newest week, half of the notes hit lay
	// within so many µs of their own note's median over the run. Unlike Steadiness it goes
	// on telling a player apart who is inner nearly always, and unlike the spread of all
	// offsets it does not count that notes gathered into one landing are struck early and
	// late. Trend is by how much it changes in a week, over all runs.
	Scatter    Estimate `json:"scatter_us"`
	Trend      Estimate `json:"scatter_us_a_week"`
	Verdict    Verdict  `json:"verdict"`
	Steadiness Estimate `json:"steadiness"` // of the newest week, 0 to 1
	Weeks      []Week   `json:"weeks"`      // those with runs, in order
	All        Week     `json:"all"`        // all of them together; its Monday is the first's

	// Day is how the runs of a day went in turn: the first ones of all days, the
	// second ones, and so on. What gets worse from turn to turn may be tiredness.
	Day []Turn `json:"day"`
}

// Tempo is a band of tempi in beats a minute: From is in it, Below is not.
type Tempo struct {
	From  float64 `json:"from_bpm"`
	Below float64 `json:"below_bpm"`
}

// Verdict says what a trend shows.
type Verdict string

// Verdicts.
const (
	Steadier   Verdict = "steadier"
	Unsteadier Verdict = "less steady"
	NoChange   Verdict = "no change shown"
	TooFew     Verdict = "too few runs to tell"
)

// Week is what a group did in a week.
type Week struct {
	Monday string `json:"monday"` // its date, year-month-day
	Runs   int    `json:"runs"`
	Counts
	Steadiness Estimate `json:"steadiness"`
	Median     Estimate `json:"offset_median_us"` // the runs' medians, averaged
	Scatter    Estimate `json:"scatter_us"`       // the runs' scatters, averaged
	SD         Estimate `json:"offset_sd_us"`     // the runs' standard deviations, averaged
	InnerShare Estimate `json:"inner_share"`      // of all notes, 0 to 1
	Missed     Estimate `json:"absent_share"`     // of all notes, 0 to 1

	// Interval is the longest between two reports of a pad that runs were on, 0 where no pad was
	// checked. A figure that is finer than that pad tells may be more the pad's than the player's.
	Interval Moment `json:"interval_us"`
}

// Turn is the runs that came at one place among those of their day.
type Turn struct {
	Place      int      `json:"place"` // from 1
	Scatter    Estimate `json:"scatter_us"`
	InnerShare Estimate `json:"inner_share"`
	Missed     Estimate `json:"absent_share"`
}
