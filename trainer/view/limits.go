package view

import "time"

// Limits is what runs at several tempi tell, those of one set of conditions together: where
// each way of playing breaks, where one overtakes another, how long a tempo can be kept.
type Limits struct {
	Player  string `json:"player"`
	Pad     string `json:"pad"`
	Bar     string `json:"bar"`
	ShoeMM  int64  `json:"shoe_mm"` // 0: not given
	Windows string `json:"windows_us"`

	Share     float64    `json:"share"` // of good reps that counts as playing it well
	Ways      []Way      `json:"ways"`
	Crossings []Crossing `json:"crossings"`
	Searches  []Search   `json:"searches"` // by when they were begun
	Unread    int        `json:"unread"`   // runs left out, since nobody asked yet what the feet did
}

// Way is all runs of one way of playing: a drill on one side with a technique.
type Way struct {
	Name      string       `json:"name"`
	Drill     string       `json:"drill"` // key of what is played
	Runs      int          `json:"runs"`
	Trials    []Trial      `json:"trials"`    // slowest first
	Limit     Estimate     `json:"limit_bpm"` // at which the share is reached; n clear reps
	WhyNot    string       `json:"why_not,omitempty"`
	Curve     []CurvePoint `json:"curve"`               // over the tempi that were played
	Endurance *Endurance   `json:"endurance,omitempty"` // nil: no run was held until it failed
}

// Trial is the clear reps at one tempo.
type Trial struct {
	BPM  float64  `json:"bpm"`
	Good int      `json:"good"`
	Reps Estimate `json:"share"` // of them that were good
}

// CurvePoint is the share of good reps that is believed of a tempo.
type CurvePoint struct {
	BPM   float64  `json:"bpm"`
	Share Estimate `json:"share"`
}

// Crossing is the tempo above which one way goes better than another.
type Crossing struct {
	Below string   `json:"below"` // the way that goes better below it
	Above string   `json:"above"`
	Tempo Estimate `json:"bpm"`
	P     Number   `json:"p"` // how probable it is that there is one
}

// Endurance is how long a way can be kept, by the critical-power model with landings a
// second as the power.
type Endurance struct {
	Bouts       []Bout    `json:"bouts"`
	Critical    Estimate  `json:"landings_per_second"` // that can be kept for long
	CriticalBPM Estimate  `json:"bpm"`                 // the same as a tempo
	Reserve     Estimate  `json:"reserve_landings"`    // that can be made above it
	Lasts       []Lasting `json:"lasts"`
	WhyNot      string    `json:"why_not,omitempty"`
}

// Bout is a run held until it failed.
type Bout struct {
	BPM     float64 `json:"bpm"`
	Rate    float64 `json:"landings_per_second"`
	Seconds float64 `json:"seconds"`
}

// Lasting is for how long a tempo can be kept. High is undefined where it may be for long.
type Lasting struct {
	BPM     float64  `json:"bpm"`
	Seconds Estimate `json:"seconds"`
	WhyNot  string   `json:"why_not,omitempty"`
}

// Search is what a plan of blocks came to: a tempo that was looked for (adapt, ladder), or
// bursts, or a run held until it failed.
type Search struct {
	Started time.Time `json:"started"`
	Plan    string    `json:"plan"`
	Way     string    `json:"way"`
	Blocks  int       `json:"blocks"`
	Tempo   Estimate  `json:"bpm"`               // at which the share is reached, of its reps alone
	Good    Estimate  `json:"good"`              // share of its clear reps
	Held    Number    `json:"held_bpm"`          // of a ladder: the fastest tempo before one failed
	Seconds Number    `json:"held_s"`            // of a run held until it failed
	Failed  bool      `json:"failed"`            // it ended by failing
	WhyNot  string    `json:"why_not,omitempty"` // why Tempo is not told
}

// Recovery is what rests do. Changes of the spread are shares of it: −0.1 is a tenth smaller.
type Recovery struct {
	Run      Estimate `json:"run"`               // of the spread, from the first third of a run to its last; n runs
	Pause    Estimate `json:"pause"`             // from there to the first third of the next run; n pauses
	ByRest   []Rested `json:"by_rest"`           // the same by how long the pause was
	Doubling Estimate `json:"doubling"`          // how the change differs where the pause is twice as long
	WhyNot   string   `json:"why_not,omitempty"` // why Doubling is not told
	Night    Estimate `json:"night"`             // of the spread from the last runs of a day to the first of the next; n nights
	Good     Estimate `json:"night_good"`        // of the share of good reps
	Day      Estimate `json:"day"`               // of the spread within a day; n days
}

// Rested is pauses of a length.
type Rested struct {
	From   float64  `json:"from_s"`
	Below  float64  `json:"below_s"`
	Change Estimate `json:"change"`
}
