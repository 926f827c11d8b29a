package view

import "heeltoe/footing/pad"

// Sheet is a footing drawn for somebody who is to play it: landing by landing
// from above, and what is down when. Moments are counted from the rep's first slot.
type Sheet struct {
	Drill     string
	Layout    *pad.Layout
	BPM       float64
	Which     string // footing it is, such as "footing 2 of 10"
	Technique string
	Notes     int // of a rep

	Feasible bool // at BPM
	WhyNot   []string
	Tempo    [3]Tempi // at which it works and all notes can be inner, middle, outer

	MaxTurnDeg float64 // of the hips from straight ahead
	EffortJ    float64 // estimate, of a rep
	Measured   bool    // what was measured of the player stands behind it

	Landings  []SheetLanding // in the footing's order
	RepLength pad.Time       // with its rest; never 0
	Downs     []Down         // in order of From
	Free      []Span         // with no panel down, if every foot stays as long as it can
}

// Tempi is the tempi in beats a minute from the slowest to the fastest; both 0: none.
type Tempi struct{ Slowest, Fastest float64 }

// SheetLanding is contacts that come down as one movement.
type SheetLanding struct {
	T        pad.Time       // when it comes down
	Contacts []SheetContact // one or two
	Resting  []Outsole      // feet that do not come down, where they last stood
	Free     bool           // no panel is down just before it
	Aim      *Aim           // where it gathers notes of different slots
}

// SheetContact is one foot coming down.
type SheetContact struct {
	Outsole
	Kind   string // step, bracket, roll
	Panels []pad.Panel
	Notes  []int       // that it plays, from 0 within the rep; of each panel one
	Keeps  []pad.Panel // of a note that it holds meanwhile
}

// Outsole is where a foot stands, seen from above: the middle of its outline in mm, as
// a layout's rectangles, and where the toes point, in degrees anticlockwise from
// straight ahead.
type Outsole struct {
	Foot              pad.Foot
	X, Y              float64
	TurnDeg           float64
	LengthMM, WidthMM float64
}

// Aim is when a landing that gathers notes should come down.
type Aim struct {
	Band  string   // the tightest that all its notes can be in; absent: none
	T     pad.Time // from its first note's due moment
	Slack pad.Time // how far it may stray either way before a note leaves the band
}

// Down is one panel under one foot. Where Up is past the rep's length it goes round
// into the next rep.
type Down struct {
	Panel    pad.Panel
	Foot     pad.Foot
	Note     int // that it plays, from 0 within the rep
	From, Up pad.Time
}

// Span is a part of a rep. Where To is past the rep's length it goes round.
type Span struct{ From, To pad.Time }

// Ranges is which footing works at which tempo, and which is the easiest.
type Ranges struct {
	Drill    string
	From, To float64 // beats a minute
	Rows     []RangeRow
	Measured bool // what was measured of the player stands behind some of it; else only defaults speak
}

// RangeRow is one footing.
type RangeRow struct {
	Number    int // from 1
	Technique string
	Text      string   // the contacts as a drill file has them
	Tempo     [3]Tempi // at which it works and all notes can be inner, middle, outer
	Easiest   []Tempi  // at which it is the easiest of those that work
}
