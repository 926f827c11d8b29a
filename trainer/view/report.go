// Package view holds plain values for the screen and the page: what a run came
// to, ready to be shown or written as JSON. It computes nothing.
package view

import (
	"math"
	"strconv"

	"heeltoe/footing/pad"
)

// Number is a figure that may be undefined: NaN, which JSON has as null.
type Number float64

// Undefined is the Number that says nothing.
var Undefined = Number(math.NaN())

// Defined tells whether n says anything.
func (n Number) Defined() bool { return !math.IsNaN(float64(n)) }

// MarshalJSON implements json.Marshaler.
func (n Number) MarshalJSON() ([]byte, error) {
	if !n.Defined() {
		return []byte("null"), nil
	}
	return strconv.AppendFloat(nil, float64(n), 'f', -1, 64), nil
}

// Moment is a time that may be missing: pad.Never, which JSON has as null.
type Moment pad.Time

// Defined tells whether m is a time.
func (m Moment) Defined() bool { return pad.Time(m) != pad.Never }

// MarshalJSON implements json.Marshaler.
func (m Moment) MarshalJSON() ([]byte, error) {
	if !m.Defined() {
		return []byte("null"), nil
	}
	return strconv.AppendInt(nil, int64(m), 10), nil
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
// contract are presses, merged, gaps, lost and ended_us of the summary, the
// counts and offsets of reps, panels, bands, warnings, a note's hold and a
// stray's regrab.
type Report struct {
	Summary  Summary  `json:"summary"`
	Reps     []Rep    `json:"reps"`
	Notes    []Note   `json:"notes"`
	Strays   []Stray  `json:"strays"`
	Panels   []Panel  `json:"panels"`
	Bands    []Band   `json:"bands"`
	Warnings []string `json:"warnings,omitempty"`

	Drill   string  `json:"-"`
	BPM     float64 `json:"-"`
	PerBeat int64   `json:"-"`
	Layout  string  `json:"-"`
}

// Summary is a run as a whole.
type Summary struct {
	Counts
	Offset     Offsets `json:"offset_us"`
	Steadiness Number  `json:"steadiness"`    // share of matched notes, 0 to 1
	BestShift  Number  `json:"best_shift_us"` // positive: press later
	Presses    int     `json:"presses"`
	Merged     int     `json:"merged"`   // presses merged with the one before, as chatter
	Gaps       int     `json:"gaps"`     // times at which edges may be missing
	Lost       int     `json:"lost"`     // how many, where the gaps say so
	Ended      Moment  `json:"ended_us"` // the last edge
	RepsBegun  int     `json:"reps_begun"`
}

// Rep is one pass through the drill.
type Rep struct {
	Rep int `json:"rep"`
	Counts
	Offset    Offsets   `json:"offset_us"`
	Quartiles [2]Number `json:"quartiles_us"`
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
	Band   string `json:"band"`
	Hold   *Hold  `json:"hold,omitempty"`
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
	T      Moment `json:"t"` // as the pad gave it
	Panel  string `json:"panel"`
	Regrab bool   `json:"regrab,omitempty"` // it took up a held note again
}
