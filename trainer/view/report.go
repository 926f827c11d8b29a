// Package view holds plain values for the screen and the page: what a run came
// to, ready to be shown or written as JSON. It computes nothing.
package view

import (
	"math"
	"strconv"

	"heeltoe/footing/pad"
)

// null is how JSON has what is undefined or missing.
const null = "null"

// Number is a figure that may be undefined: NaN, which JSON has as null.
type Number float64

// Undefined is the Number that says nothing.
var Undefined = Number(math.NaN())

// Defined tells whether n says anything.
func (n Number) Defined() bool { return !math.IsNaN(float64(n)) }

// MarshalJSON implements json.Marshaler.
func (n Number) MarshalJSON() ([]byte, error) {
	if !n.Defined() {
		return []byte(null), nil
	}
	return strconv.AppendFloat(nil, float64(n), 'f', -1, 64), nil
}

// UnmarshalJSON implements json.Unmarshaler.
func (n *Number) UnmarshalJSON(text []byte) error {
	if string(text) == null {
		*n = Undefined
		return nil
	}
	v, err := strconv.ParseFloat(string(text), 64)
	*n = Number(v)
	return err
}

// Moment is a time that may be missing: pad.Never, which JSON has as null.
type Moment pad.Time

// Defined tells whether m is a time.
func (m Moment) Defined() bool { return pad.Time(m) != pad.Never }

// MarshalJSON implements json.Marshaler.
func (m Moment) MarshalJSON() ([]byte, error) {
	if !m.Defined() {
		return []byte(null), nil
	}
	return strconv.AppendInt(nil, int64(m), 10), nil
}

// UnmarshalJSON implements json.Unmarshaler.
func (m *Moment) UnmarshalJSON(text []byte) error {
	if string(text) == null {
		*m = Moment(pad.Never)
		return nil
	}
	v, err := strconv.ParseInt(string(text), 10, 64)
	*m = Moment(v)
	return err
}

// Word is a word that may be missing: empty, which JSON has as null.
type Word string

// MarshalJSON implements json.Marshaler.
func (w Word) MarshalJSON() ([]byte, error) {
	if w == "" {
		return []byte(null), nil
	}
	return strconv.AppendQuote(nil, string(w)), nil
}

// Offsets sums up how far off presses were, in microseconds; negative is early.
type Offsets struct {
	Mean   Number `json:"mean"`
	SD     Number `json:"sd"` // sample standard deviation
	Median Number `json:"median"`
	MAD    Number `json:"mad"` // median absolute deviation
}

// Counts are the notes of each band, and the presses that belong to none.
type Counts struct {
	Notes  int `json:"notes"`
	Inner  int `json:"inner"`
	Middle int `json:"middle"`
	Outer  int `json:"outer"`
	Absent int `json:"absent"`
	Stray  int `json:"stray"`
}

// Report is a run reviewed. Its JSON is the contract's; keys beyond the
// contract are presses, merged, gaps, lost and ended_us of the summary, asked
// and good of the run, the counts, offsets, outcome and chances of reps, asked and
// contacts of landings, panels, bands, warnings, the ends of presses, a note's hold,
// a stray's regrab, and what is known of the pad.
type Report struct {
	Summary  Summary   `json:"summary"`
	Run      Technique `json:"run"`
	Reps     []Rep     `json:"reps"`
	Landings []Landing `json:"landings"`
	Notes    []Note    `json:"notes"`
	Strays   []Stray   `json:"strays"`
	Panels   []Panel   `json:"panels"`
	Bands    []Band    `json:"bands"`
	Warnings []string  `json:"warnings,omitempty"`
	Pad      *PadTells `json:"pad,omitempty"` // nil: not known

	Standing   *Standing   `json:"standing,omitempty"`   // nil: feet were not read
	Statistics *Statistics `json:"statistics,omitempty"` // nil: not worked out
	Setting    Setting     `json:"-"`

	Drill   string  `json:"-"`
	BPM     float64 `json:"-"`
	PerBeat int64   `json:"-"`
	Layout  string  `json:"-"`
}

// PadTells is how finely the pad of a run tells moments.
type PadTells struct {
	Interval     Moment `json:"interval_us"`     // between two reports
	Quantisation Number `json:"quantisation_us"` // standard deviation that it alone gives to a press
}

// Summary is a run as a whole.
type Summary struct {
	Counts
	Offset     Offsets `json:"offset_us"`
	Steadiness Number  `json:"steadiness"`    // share of matched notes, 0 to 1
	BestShift  Number  `json:"best_shift_us"` // positive: press later
	Scatter    Number  `json:"scatter_us"`    // half of the matched notes lie so near to their own note's median
	Presses    int     `json:"presses"`
	Merged     int     `json:"merged"`   // presses merged with the one before, as chatter
	Gaps       int     `json:"gaps"`     // times at which edges may be missing
	Lost       int     `json:"lost"`     // how many, where the gaps say so
	Ended      Moment  `json:"ended_us"` // the last edge
	RepsBegun  int     `json:"reps_begun"`
}

// Technique is what a run was read as.
type Technique struct {
	Technique string `json:"technique"` // as a rep's, or mixed
	P         Number `json:"p"`         // mean of its probability over the reps
	Asked     Word   `json:"asked"`     // by the drill
	Good      int    `json:"good"`      // reps
}

// Outcome is how a rep went.
type Outcome string

// Outcomes of a rep.
const (
	Good    Outcome = "good"    // every note inner or middle, no stray, and the technique that was asked for
	Bad     Outcome = "bad"     // one of them was not
	Unclear Outcome = "unclear" // the bands are right, the technique cannot be told
)

// Rep is one pass through the drill.
type Rep struct {
	Rep       int               `json:"rep"`
	Technique string            `json:"technique"`
	P         Number            `json:"p"`
	Outcome   Outcome           `json:"outcome"`
	Chances   map[string]Number `json:"chances"` // of every technique that has at least a thousandth
	Counts
	Offset    Offsets   `json:"offset_us"`
	Quartiles [2]Number `json:"quartiles_us"`
	Scatter   Number    `json:"scatter_us"` // root mean square distance from the notes' medians over the run
}

// Landing is contacts that came down as one movement, as it was read. Its moments are after
// the shift.
type Landing struct {
	Rep      int       `json:"rep"`
	Notes    []int     `json:"notes"`     // of the rep, in due order
	Aim      Moment    `json:"aim_us"`    // when it should have come down
	Centre   Moment    `json:"centre_us"` // midway between its first press and its last; null: none
	Offset   Moment    `json:"offset_us"` // centre less aim
	Spread   Moment    `json:"spread_us"` // from its first press to its last
	Missed   []int     `json:"missed"`    // its notes without a press
	Asked    *bool     `json:"asked"`     // whether the drill's footing has this landing; null: it has no footing
	Contacts []Contact `json:"contacts"`
}

// Contact is one foot's part of a landing.
type Contact struct {
	Foot  string `json:"foot"`
	Kind  string `json:"contact"`
	Notes []int  `json:"notes"` // of a roll in its order
	First Word   `json:"first"` // of a bracket: the panel that was pressed first
}

// Panel is what was done on one panel.
type Panel struct {
	Panel string `json:"panel"`
	Counts
	Merged int     `json:"merged"`
	Offset Offsets `json:"offset_us"`
}

// Band is what was done within one band.
type Band struct {
	Band   string  `json:"band"`
	Notes  int     `json:"notes"`
	Offset Offsets `json:"offset_us"`
}

// Note is one note of one rep.
type Note struct {
	Rep    int    `json:"rep"`
	Note   int    `json:"note"`
	Panel  string `json:"panel"`
	Due    Moment `json:"due_us"`
	Press  Moment `json:"press_us"`  // as the pad gave it
	Offset Moment `json:"offset_us"` // after the shift
	Up     Moment `json:"up_us"`     // the end of the press, as the pad gave it; null: not seen
	Band   string `json:"band"`

	// What was read: null where there is no press, or where it was mashed.
	Foot    Word   `json:"foot"`
	Contact Word   `json:"contact"`
	P       Number `json:"p"` // of both, up to the exchange of left and right

	Hold *Hold `json:"hold,omitempty"`
}

// Hold is how a note that is to be kept down was held.
type Hold struct {
	Duration  Moment `json:"duration_us"`   // asked for
	Cover     Moment `json:"cover_us"`      // of it, with the panel down
	StartLate Moment `json:"start_late_us"` // from due to first down; null: never down
	Drops     int    `json:"drops"`
	Regrabs   int    `json:"regrabs"`
	Release   Moment `json:"release_us"` // last up minus end; null: not let go in time, or never down
	Unknown   bool   `json:"edges_missing,omitempty"`
}

// Stray is a press that belongs to no note.
type Stray struct {
	T      Moment `json:"t"`     // as the pad gave it
	Up     Moment `json:"up_us"` // its end; null: not seen
	Panel  string `json:"panel"`
	Regrab bool   `json:"regrab,omitempty"` // it took up a held note again
}
