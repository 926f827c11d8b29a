package view

import (
	"encoding/json"

	"heeltoe/footing/pad"
)

// Statistics says how sure the figures of a report are, how they went over the
// run, and where the spread of the presses comes from. Its JSON stands under
// "statistics", a key beyond the contract.
type Statistics struct {
	Level      float64          `json:"level"` // share of intervals that hold the true value, over many uses
	Run        Figures          `json:"run"`
	Reps       []Figures        `json:"reps"` // empty where the run has very many
	Panels     []PanelFigures   `json:"panels"`
	Techniques []TechniqueTimes `json:"techniques"` // of the reps read as each, the most frequent first
	Landings   []LandingTimes   `json:"landings"`   // by the notes they play, in their order
	Contacts   []ContactTimes   `json:"contacts"`   // by kind
	Overlaps   []Overlap        `json:"overlaps"`   // by step from note to note
	Drift      Drift            `json:"drift"`
	Source     Source           `json:"spread_from"`
}

// Figures sums up the offsets of N presses, in µs, and the shares of them that came
// before and after their due moment and that would be inner after one shift.
type Figures struct {
	N          int      `json:"n"`
	Mean       Estimate `json:"mean_us"`
	SD         Estimate `json:"sd_us"`
	Median     Estimate `json:"median_us"`
	MAD        Estimate `json:"mad_us"`
	Early      Estimate `json:"early"`
	Late       Estimate `json:"late"`
	Steadiness Estimate `json:"steadiness"`
	BestShift  Estimate `json:"best_shift_us"`
}

// PanelFigures are the offsets on one panel, and how long its presses lasted, those of
// held notes left out.
type PanelFigures struct {
	Panel string `json:"panel"`
	Figures
	Quartiles [2]Number `json:"quartiles_us"`
	Dwell     Times     `json:"dwell_us"`
}

// TechniqueTimes are the offsets in the reps that were read as one technique.
type TechniqueTimes struct {
	Technique string `json:"technique"`
	Reps      int    `json:"reps"`
	Figures
}

// Times sums up times of one kind, in µs, each figure with its interval.
type Times struct {
	N         int       `json:"n"`
	Mean      Estimate  `json:"mean"`
	SD        Estimate  `json:"sd"`
	Median    Estimate  `json:"median"`
	MAD       Estimate  `json:"mad"`
	Quartiles [2]Number `json:"quartiles"`
}

// Spread gives what a chart shows of t.
func (t *Times) Spread() Spread {
	return Spread{N: t.N, Low: t.Quartiles[0], Median: t.Median.Value, High: t.Quartiles[1]}
}

// LandingTimes are the landings that played the same notes in the same way.
type LandingTimes struct {
	Notes  []int          `json:"notes"`     // of the rep
	Kinds  []string       `json:"contacts"`  // of its contacts
	Offset Times          `json:"offset_us"` // from its aim
	Spread Times          `json:"spread_us"` // from its first press to its last, of those with every press
	Half   Estimate       `json:"missed"`    // share of them with a note missed
	First  map[string]int `json:"first"`     // of brackets: how often each panel was pressed first
	Asked  *bool          `json:"asked"`     // whether the drill's footing has it; null: it has no footing
}

// ContactTimes are the contacts of one kind.
type ContactTimes struct {
	Kind  string `json:"contact"`
	Dwell Times  `json:"dwell_us"` // how long a press of it lasted, held notes left out
	// Between is from its first press to its second, and Uneven that less the time from
	// due moment to due moment: below 0 it came too fast. Of steps there are none.
	Between Times `json:"between_us"`
	Uneven  Times `json:"uneven_us"`
}

// Overlap is for how long the panel of a note was still down when that of the note after
// it came down, over the reps: below 0, how long none of the two was.
type Overlap struct {
	From int   `json:"from"` // notes of the rep; the last leads to the first of the next rep
	To   int   `json:"to"`
	Time Times `json:"overlap_us"`
}

// Range is an interval; both ends undefined where nothing can be said.
type Range struct{ Low, High Number }

// Known tells whether r says anything.
func (r Range) Known() bool { return r.Low.Defined() && r.High.Defined() }

// MarshalJSON writes [low,high], or null.
func (r Range) MarshalJSON() ([]byte, error) {
	if !r.Known() {
		return []byte("null"), nil
	}
	return json.Marshal([2]Number{r.Low, r.High})
}

// Drift is how the reps went over the run; WhyNot says why nothing is told.
type Drift struct {
	Offset Course `json:"offset_us"` // of each rep's median
	Spread Course `json:"spread_us"` // of each rep's standard deviation
	Inner  Course `json:"inner"`     // of each rep's share of inner notes
	Dwell  Course `json:"dwell_us"`  // of the median length of each rep's presses, held notes left out
	Free   Course `json:"free_us"`   // of each rep's time with no panel down, from its first note to the next rep's
	Tiring bool   `json:"tiring"`    // the spread rises or fewer notes are inner, as with tired feet
	WhyNot string `json:"why_not,omitempty"`
}

// Course is how a figure went over N reps.
type Course struct {
	N      int    `json:"n"`
	Slope  Number `json:"slope_per_rep"` // Theil–Sen
	Range  Range  `json:"slope_range"`
	P      Number `json:"p"`           // Mann–Kendall: how likely chance alone gives such a trend
	Change *int   `json:"changes_rep"` // first rep of a new level (Pettitt), from 0; null: none shown
}

// Source is where the spread comes from, over the reps with the click and over
// those in which it was silent.
type Source struct {
	WithClick Split `json:"with_click"`
	Silent    Split `json:"silent"`
	// Assumed says that the log does not tell whether the click sounded, and that
	// it was taken to have.
	Assumed bool `json:"click_assumed,omitempty"`
}

// Split is the spread taken apart, or why it cannot be.
type Split struct {
	N               int    `json:"n"`          // presses or intervals that it rests on
	Correction      Number `json:"correction"` // share of an offset that the next press takes back
	CorrectionRange Range  `json:"correction_range"`
	Clock           Number `json:"clock_us"` // standard deviation of the inner clock
	ClockRange      Range  `json:"clock_range"`
	Motor           Number `json:"motor_us"` // standard deviation of the delay from clock to foot
	MotorRange      Range  `json:"motor_range"`
	WhyNot          string `json:"why_not,omitempty"`
}

// Setting is what a run was played with, beyond its drill.
type Setting struct {
	Inner    Bound
	Click    Click
	Fineness pad.Fineness // of the pad; 0: not known
}

// Click is how the metronome was set.
type Click struct {
	Known       bool // the log says so
	Off         bool
	SilentAfter int64 // reps from the first that it accompanied; 0: all
	SilentEvery int64 // one rep in so many was silent; 0: none
	Before      int64 // reps played in earlier parts, which the two count too
}
