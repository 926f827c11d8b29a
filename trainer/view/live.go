package view

import "heeltoe/footing/pad"

// Live is a run that goes on, as the screen shows it. It is filled in place and
// belongs to the goroutine that draws; its slices are reused from frame to frame.
type Live struct {
	Drill   string
	Layout  *pad.Layout
	Source  string // where presses come from
	BPM     float64
	PerBeat int64
	Windows [3]Bound // inner, middle, outer

	Phase   Phase
	Now     pad.Time // of the run's clock
	Count   int64    // of the count-in: the beat that sounds, from 1; 0 before the first
	CountOf int64

	// The loop strip. Moments on it are counted from the rep's first slot, 0 to
	// RepLength; what lies before 0 or past the end goes round the drum.
	Rep       int64 // that goes on, from 0; -1 before the first
	Reps      int64
	InRep     pad.Time // how far the rep is
	RepLength pad.Time // with its rest; never 0
	From, To  pad.Time // the part of the rep that the strip shows
	Beats     []pad.Time
	Slots     []pad.Time
	Notes     []Due
	Bars      []Bar

	// The pad plan.
	Down   pad.PanelSet // panels down now
	Next   []Print      // the next landing, where the drill has a footing
	Orders []Order      // at rest: what holding a panel does

	// The timing chart: the last reps, the newest last.
	Lines []Line

	Figures []Figure
	Notice  string // what the player has to know now; empty: nothing
	Sound   string // how the click does; empty: it sounds
}

// Phase is how far a run is.
type Phase uint8

// Phases of a run.
const (
	AtRest  Phase = iota // no run goes on; what is shown is the last one, if any
	CountIn              // beats before the first note
	Playing
	Held // broken off by the player, to go on later
	Over // the last run is over
)

// Bound is how far off a press may be in a band: Early is not above 0, Late not below.
type Bound struct{ Early, Late pad.Time }

// AnyFoot stands for a foot that is not known.
const AnyFoot pad.Foot = 255

// Due is a note of a rep: when it is due from the rep's first slot, and the foot
// that the drill's footing gives it, or AnyFoot.
type Due struct {
	Panel pad.Panel
	Foot  pad.Foot
	T     pad.Time
	Hold  pad.Time // 0: not to be held
}

// Bar is one press on the strip, in moments counted from its rep's first slot.
// Up is pad.Never while the panel is down. Foot is the one that was read, or AnyFoot.
type Bar struct {
	Rep      int64
	Down, Up pad.Time
	Panel    pad.Panel
	Foot     pad.Foot
}

// Print is where a foot is to come down: on the panels of the set.
type Print struct {
	Foot   pad.Foot
	Panels pad.PanelSet
}

// Order is what holding a panel does while at rest.
type Order struct {
	Panel pad.Panel
	Text  string
	Share float64 // of the hold that has passed, 0 to 1
}

// Line is the timing of one rep, by panel in the layout's order.
type Line struct {
	Rep    int64
	Panels []Spread
}

// Spread is how far off a panel's presses were: N of them.
type Spread struct {
	N                 int
	Low, Median, High Number // quartiles, µs
}

// Figure is a number to be read from afar, with what it means.
type Figure struct {
	Name     string
	Unit     string
	Help     string
	Value    Number
	Text     string // shown instead of Value, where not empty
	Of       Number // "3 of 16": Undefined where it is of nothing
	Decimals int
	Signed   bool // shown with + where it is above 0
	Main     bool // large
	Faint    bool // finer than the pad can tell
}
