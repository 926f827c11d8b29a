package store

import (
	"database/sql/driver"
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"heeltoe/footing/pad"
	"heeltoe/input/record"
	"heeltoe/trainer/view"
)

// Run is what the index knows of one run. Moments and spans are in
// microseconds where their name ends in US.
type Run struct {
	ID      string    // the first 32 hexadecimal digits of the SHA-256 of its log
	Log     string    // the log's name within the folder of run logs, with slashes
	Started time.Time // to the microsecond; zero where the log does not say

	Drill    string // key of what is played, whatever the tempo and the number of reps; see Keys
	Mirror   string // key of its mirror image; the same where the two are one
	Name     string
	Layout   string
	BPM      float64
	PerBeat  int64
	Reps     int64  // begun
	Planned  int64  // reps that were to be played
	Asked    string // technique to be practised, or empty
	Footing  string // to be practised, as the drill writes it, or empty
	Continue bool   // it goes on with a run that was paused

	Moments  int64 // of a rep at which notes are due
	RepSlots int64 // of a rep, with its rest
	Block          // of a plan, where it is of one

	// Technique is what the feet did. It is empty until somebody asked: reading
	// feet takes far longer than judging. P is the reading's probability, and Outcomes
	// has a letter for each rep that was begun: g, b and u of good, bad and unclear.
	// Stale says that another version of the reader took the reading.
	Technique string
	P         view.Number
	Outcomes  string
	Stale     bool

	RepScatterUS []float64 // of each rep that was begun, to the whole µs; see view.Rep

	Player     string
	Pad        string
	Bar        string
	ShoeMM     int64
	Windows    string // the bands' bounds in µs: early,late of inner, middle and outer
	ShiftUS    int64
	DebounceUS int64
	IntervalUS int64 // between the pad's reports, as a check of the pad found it; 0: not known

	// A run that was broken off has only the notes up to its last press.
	view.Counts
	Offset      view.Offsets
	Steadiness  view.Number
	BestShiftUS view.Number
	ScatterUS   view.Number // half of the notes hit lie so near to their own note's median
	Presses     int
	Merged      int
	Gaps        int
	Lost        int
	EndedUS     view.Moment // the last edge, on the run's clock
}

// Block says which block of a plan a run is. It stands in a log's header under
// BlockKey.
type Block struct {
	Plan   string `json:"plan"`   // adapt, ladder, bursts, hold-out or against; empty: none
	Number int    `json:"number"` // from 1
	Way    int    `json:"way"`    // of playing, where there are several, from 0
	WarmUp bool   `json:"warm_up"`
}

// BlockKey is the key of a run log's header for a Block.
const BlockKey = "block"

// BlockOf gives the block that a header names; its zero value where it names none.
func BlockOf(h *record.Header) Block {
	var b Block
	for _, m := range h.Extra {
		if m.Key == BlockKey && json.Unmarshal(m.Value, &b) != nil {
			return Block{} // what another program wrote there is not ours to judge
		}
	}
	return b
}

// IntervalKey is the key of a run log's header that says how often the pad reports, in
// microseconds, as a check of the pad found it.
const IntervalKey = "interval_us"

// FinenessOf gives the fineness of the pad that a header names; 0 where it names none.
func FinenessOf(h *record.Header) pad.Fineness {
	for _, m := range h.Extra {
		var us int64
		if m.Key == IntervalKey && json.Unmarshal(m.Value, &us) == nil && us > 0 && us <= int64(pad.Second) {
			return pad.Fineness(us)
		}
	}
	return 0
}

// RepLength gives how long a rep lasts, with its rest.
func (r *Run) RepLength() time.Duration {
	return time.Duration(float64(r.RepSlots) * float64(time.Minute) / (r.BPM * float64(r.PerBeat)))
}

// Matched gives the number of notes that were pressed.
func (r *Run) Matched() int { return r.Notes - r.Absent }

// column is a column of the table of runs, and where a Run keeps it.
type column struct {
	name string
	at   any // pointer, for Scan and, through its value, for an INSERT
}

// columns gives the table's columns in order, bound to r. It is the one place
// that joins the two.
func (r *Run) columns() []column {
	return []column{
		{"id", &r.ID}, {"started_us", (*instant)(&r.Started)},
		{"drill", &r.Drill}, {"mirror", &r.Mirror}, {"name", &r.Name}, {"layout", &r.Layout},
		{"bpm", &r.BPM}, {"per_beat", &r.PerBeat}, {"reps", &r.Reps}, {"planned", &r.Planned},
		{"asked", &r.Asked}, {"footing", &r.Footing}, {"continues", &r.Continue},
		{"moments", &r.Moments}, {"rep_slots", &r.RepSlots},
		{"plan", &r.Plan}, {"block", &r.Number}, {"way", &r.Way}, {"warm_up", &r.WarmUp},
		{"player", &r.Player}, {"pad", &r.Pad}, {"bar", &r.Bar}, {"shoe_mm", &r.ShoeMM},
		{"windows_us", &r.Windows}, {"shift_us", &r.ShiftUS}, {"debounce_us", &r.DebounceUS}, {"interval_us", &r.IntervalUS},
		{"notes", &r.Notes}, {"inner", &r.Inner}, {"middle", &r.Middle}, {"outer", &r.Outer},
		{"absent", &r.Absent}, {"stray", &r.Stray},
		{"offset_mean_us", (*number)(&r.Offset.Mean)}, {"offset_sd_us", (*number)(&r.Offset.SD)},
		{"offset_median_us", (*number)(&r.Offset.Median)}, {"offset_mad_us", (*number)(&r.Offset.MAD)},
		{"steadiness", (*number)(&r.Steadiness)}, {"best_shift_us", (*number)(&r.BestShiftUS)},
		{"presses", &r.Presses}, {"merged", &r.Merged}, {"gaps", &r.Gaps}, {"lost", &r.Lost},
		{"ended_us", (*moment)(&r.EndedUS)}, {"scatter_us", (*number)(&r.ScatterUS)}, {"rep_scatter_us", (*series)(&r.RepScatterUS)},
	}
}

// instant is a time.Time as a column: microseconds since 1970, NULL for zero.
type instant time.Time

// Value implements driver.Valuer.
func (i *instant) Value() (driver.Value, error) {
	if t := time.Time(*i); !t.IsZero() {
		return t.UnixMicro(), nil
	}
	return nil, nil
}

// Scan implements sql.Scanner.
func (i *instant) Scan(src any) error {
	switch v := src.(type) {
	case nil:
		*i = instant{}
	case int64:
		*i = instant(time.UnixMicro(v).UTC())
	default:
		return fmt.Errorf("%T is no moment", src)
	}
	return nil
}

// number is a view.Number as a column: NULL where it is undefined.
type number view.Number

// Value implements driver.Valuer.
func (n *number) Value() (driver.Value, error) {
	if !view.Number(*n).Defined() {
		return nil, nil
	}
	return float64(*n), nil
}

// Scan implements sql.Scanner.
func (n *number) Scan(src any) error {
	switch v := src.(type) {
	case nil:
		*n = number(view.Undefined)
	case float64:
		*n = number(v)
	default:
		return fmt.Errorf("%T is no number", src)
	}
	return nil
}

// series is numbers as a column: whole ones as text with blanks between, - for NaN.
type series []float64

// Value implements driver.Valuer.
func (s *series) Value() (driver.Value, error) {
	var text []byte
	for i, v := range *s {
		if i > 0 {
			text = append(text, ' ')
		}
		if math.IsNaN(v) {
			text = append(text, '-')
		} else {
			text = strconv.AppendInt(text, int64(math.Round(v)), 10)
		}
	}
	return string(text), nil
}

// Scan implements sql.Scanner.
func (s *series) Scan(src any) error {
	text, ok := src.(string)
	if !ok {
		return fmt.Errorf("%T is no text", src)
	}
	*s = nil
	for word := range strings.FieldsSeq(text) {
		v, err := strconv.ParseFloat(word, 64)
		if word == "-" {
			v, err = math.NaN(), nil
		}
		if err != nil {
			return err
		}
		*s = append(*s, v)
	}
	return nil
}

// moment is a view.Moment as a column: NULL where it is missing.
type moment view.Moment

// Value implements driver.Valuer.
func (m *moment) Value() (driver.Value, error) {
	if !view.Moment(*m).Defined() {
		return nil, nil
	}
	return int64(*m), nil
}

// Scan implements sql.Scanner.
func (m *moment) Scan(src any) error {
	switch v := src.(type) {
	case nil:
		*m = moment(pad.Never)
	case int64:
		*m = moment(v)
	default:
		return fmt.Errorf("%T is no moment", src)
	}
	return nil
}
