package view

// Standing is whether the player drifted over the pad during a run, as far as presses tell.
type Standing struct {
	Reps     int      `json:"reps"`     // that were looked at
	Probably []string `json:"probably"` // back or forward, left or right; empty: cannot be told
	Back     Lean     `json:"back"`     // below 0: forward
	Left     Lean     `json:"left"`     // below 0: right
	WhyNot   string   `json:"why_not,omitempty"`
}

// Lean is how much presses speak for a drift along one line.
type Lean struct {
	Signs int    `json:"signs"` // how many of lateness, dwell and half-pressed brackets say something
	Z     Number `json:"z"`     // standard score
	P     Number `json:"p"`     // probability of one as far from 0, of a player who stands still
}
