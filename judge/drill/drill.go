// Package drill holds what is to be played: the notes of a looped pattern, when
// each is due, with which feet, and how far off a press may be. It reads and
// writes drill files; the formats are those of the contract in DEVELOPERS.md.
package drill

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill/tomldoc"
)

// Limits of a drill.
const (
	MinBPM, MaxBPM = 10.0, 1000.0
	MaxPerBeat     = 48
	MaxReps        = 100_000
	MaxNotes       = 1_000_000 // over all reps
	MaxBeats       = 1_000     // of the count-in, and of the rest between two reps
	MaxNameBytes   = 200
	MaxRun         = 1 << 60 * pad.Microsecond // from the first slot to the end of the last rep

	DefaultCountInBeats = 4
)

// Techniques are the ways to play a rep that a drill can ask for.
var Techniques = []string{"foot-switch", "hop", "roll", "double-step", "jump", "alternate"}

// Spec is a drill as it is written: in a drill file, or in the header of a run log.
type Spec struct {
	Name         string  `toml:"name" json:"name"`
	Layout       string  `toml:"layout" json:"layout"`
	BPM          float64 `toml:"bpm" json:"bpm"`
	PerBeat      int64   `toml:"per_beat" json:"per_beat"`
	Reps         int64   `toml:"reps" json:"reps"`
	CountInBeats *int64  `toml:"count_in_beats,omitempty" json:"count_in_beats,omitempty"` // nil: DefaultCountInBeats
	RestBeats    int64   `toml:"rest_beats,omitempty" json:"rest_beats,omitempty"`
	Steps        string  `toml:"steps" json:"steps"`
	Technique    string  `toml:"technique,omitempty" json:"technique,omitempty"`
	Footing      string  `toml:"footing,omitempty" json:"footing,omitempty"`
}

// Keys are the keys of a Spec, in the order in which they are written;
// the first Required of them must be given.
var (
	Keys     = []string{"name", "layout", "bpm", "per_beat", "reps", "steps", "count_in_beats", "rest_beats", "technique", "footing"}
	Required = Keys[:6]
)

// Fault is what is wrong with a Spec: the key, and for a string the byte in it,
// or -1 where it is the value as a whole.
type Fault struct {
	Key    string
	Offset int
	Msg    string
}

func (f *Fault) Error() string { return f.Key + ": " + f.Msg }

func fault(key, format string, args ...any) *Fault {
	return &Fault{Key: key, Offset: -1, Msg: fmt.Sprintf(format, args...)}
}

// Note is one press that a drill asks for.
type Note struct {
	Slot  int32     // counted from the start of the rep
	Hold  int32     // slots that the panel stays down, 0 where it need not
	Panel pad.Panel // index in the drill's layout
}

// Drill is a Spec that has been checked, with its notes. It is not changed once made.
type Drill struct {
	Spec
	Layout  *pad.Layout
	Slots   int64  // of a rep, rests between reps not counted
	Notes   []Note // of one rep, in due order, joined notes in the order written
	Footing []Contact
}

// New checks a Spec against a layout (nil: the built-in layout that it names)
// and gives the drill, or a *Fault.
func New(s Spec, layout *pad.Layout) (*Drill, error) {
	if layout == nil {
		l, ok := pad.ByName(s.Layout)
		if !ok {
			return nil, fault("layout", "there is no layout %q; the built-in ones are single and double", s.Layout)
		}
		layout = l
	}
	d := &Drill{Spec: s, Layout: layout}
	switch {
	case strings.TrimSpace(s.Name) == "" || len(s.Name) > MaxNameBytes:
		return nil, fault("name", "takes 1 to %d bytes, not all blank", MaxNameBytes)
	case strings.ContainsFunc(s.Name, func(r rune) bool { return r < ' ' || r == 0x7f }):
		return nil, fault("name", "holds a control character")
	case !(s.BPM >= MinBPM && s.BPM <= MaxBPM):
		return nil, fault("bpm", "%v is not from %v to %v", s.BPM, MinBPM, MaxBPM)
	case s.PerBeat < 1 || s.PerBeat > MaxPerBeat:
		return nil, fault("per_beat", "%d is not from 1 to %d", s.PerBeat, MaxPerBeat)
	case s.Reps < 1 || s.Reps > MaxReps:
		return nil, fault("reps", "%d is not from 1 to %d", s.Reps, MaxReps)
	case s.CountInBeats != nil && (*s.CountInBeats < 0 || *s.CountInBeats > MaxBeats):
		return nil, fault("count_in_beats", "%d is not from 0 to %d", *s.CountInBeats, MaxBeats)
	case s.RestBeats < 0 || s.RestBeats > MaxBeats:
		return nil, fault("rest_beats", "%d is not from 0 to %d", s.RestBeats, MaxBeats)
	case s.Technique != "" && !slices.Contains(Techniques, s.Technique):
		return nil, fault("technique", "%q is none of %s", s.Technique, strings.Join(Techniques, ", "))
	}
	if err := d.parseSteps(); err != nil {
		return nil, err
	}
	if int64(len(d.Notes))*s.Reps > MaxNotes {
		return nil, fault("reps", "%d reps of %d notes are more than %d notes in all", s.Reps, len(d.Notes), MaxNotes)
	}
	if slots := float64(d.RepSlots()) * float64(s.Reps); slots*60e6/(s.BPM*float64(s.PerBeat)) > float64(MaxRun) {
		return nil, fault("reps", "%d reps of %d slots last longer than the clock can count", s.Reps, d.RepSlots())
	}
	if s.Footing != "" {
		c, err := parseFooting(d, s.Footing)
		if err != nil {
			return nil, err
		}
		d.Footing = c
	}
	return d, nil
}

// parseSteps reads the steps: one token a slot.
func (d *Drill) parseSteps() error {
	bad := func(at int, format string, args ...any) error {
		return &Fault{Key: "steps", Offset: at, Msg: fmt.Sprintf(format, args...)}
	}
	text := d.Steps
	offsets := []int{} // of each note, for what is found only at the end
	for i := 0; i < len(text); {
		if isBlank(text[i]) {
			i++
			continue
		}
		start := i
		for i < len(text) && !isBlank(text[i]) {
			i++
		}
		token := text[start:i]
		slot := d.Slots
		d.Slots++
		if d.Slots > math.MaxInt32 {
			return bad(start, "there are too many slots")
		}
		if token == "." {
			continue
		}
		var here pad.PanelSet
		at := start
		for part := range strings.SplitSeq(token, "+") {
			id, hold, held := strings.Cut(part, "=")
			p, ok := d.Layout.Lookup(id)
			if !ok {
				return bad(at, "%s is not a panel of the layout %s; it has %s", quote(id), d.Layout.Name, d.Layout.IDs(1<<len(d.Layout.Panels)-1, " "))
			}
			if here.Has(p) {
				return bad(at, "panel %s stands twice in one slot", id)
			}
			here = here.With(p)
			n := Note{Slot: int32(slot), Panel: p}
			if held {
				v, err := strconv.ParseInt(hold, 10, 32)
				if err != nil || v < 1 || hold[0] == '+' {
					return bad(at+len(id)+1, "%s is not a number of slots to hold, 1 or more", quote(hold))
				}
				n.Hold = int32(v)
			}
			d.Notes = append(d.Notes, n)
			offsets = append(offsets, at)
			at += len(part) + 1
		}
		if len(d.Notes) > MaxNotes {
			return bad(start, "there are more than %d notes", MaxNotes)
		}
	}
	if len(d.Notes) == 0 {
		return bad(-1, "there is no note; write a panel such as %s for each press and . for each rest", d.Layout.ID(0))
	}
	return d.checkHolds(bad, offsets)
}

// checkHolds refuses a panel that is to go down while it is still to be held,
// over the rep's edge too.
func (d *Drill) checkHolds(bad func(int, string, ...any) error, offsets []int) error {
	const none = -1
	var first, last [pad.MaxPanels]int
	for p := range first {
		first[p], last[p] = none, none
	}
	for i, n := range d.Notes {
		if j := last[n.Panel]; j != none {
			if h := d.Notes[j]; int64(h.Slot)+int64(h.Hold) > int64(n.Slot) {
				return bad(offsets[i], "panel %s is still held here, from slot %d for %d slots", d.Layout.ID(n.Panel), h.Slot, h.Hold)
			}
		} else {
			first[n.Panel] = i
		}
		last[n.Panel] = i
	}
	if d.Reps < 2 {
		return nil
	}
	for p, j := range last {
		if j == none {
			continue
		}
		h, next := d.Notes[j], d.Notes[first[p]]
		if int64(h.Slot)+int64(h.Hold) > d.RepSlots()+int64(next.Slot) {
			return bad(offsets[j], "panel %s is held into the next rep, where it is due again at slot %d", d.Layout.ID(pad.Panel(p)), next.Slot)
		}
	}
	return nil
}

func isBlank(c byte) bool { return c == ' ' || c == '\t' || c == '\n' || c == '\r' || c == '|' }

// quote gives s in quotes, cut where it is long, so that a message stays readable.
func quote(s string) string {
	if len(s) > 24 {
		return strconv.Quote(s[:24]) + "…"
	}
	return strconv.Quote(s)
}

// CountIn gives the number of clicks before the first note.
func (d *Drill) CountIn() int64 {
	if d.CountInBeats == nil {
		return DefaultCountInBeats
	}
	return *d.CountInBeats
}

// RepSlots gives the slots from the start of a rep to that of the next, rests included.
func (d *Drill) RepSlots() int64 { return d.Slots + d.RestBeats*d.PerBeat }

// Moments gives the number of moments in a rep at which notes are due.
func (d *Drill) Moments() (n int64) {
	last := int32(-1)
	for i := range d.Notes {
		if s := d.Notes[i].Slot; s != last {
			n, last = n+1, s
		}
	}
	return n
}

// Grid gives the due moments for a run whose first slot is at lead.
func (d *Drill) Grid(lead pad.Time) Grid {
	return newGrid(d.BPM, d.PerBeat, d.RepSlots(), lead)
}

// Total gives the number of notes over all reps.
func (d *Drill) Total() int { return len(d.Notes) * int(d.Reps) }

// Parse reads a drill file. Faults are *pad.BadInput that name file, line and column.
func Parse(file string, text []byte) (*Drill, error) {
	var s Spec
	doc, err := tomldoc.Decode(file, text, &s)
	if err != nil {
		return nil, err
	}
	for _, k := range Required {
		if !doc.Has(k) {
			return nil, doc.Errorf(k, "the key %q is missing", k)
		}
	}
	d, err := New(s, nil)
	if err != nil {
		f := err.(*Fault)
		return nil, doc.ErrorAt(f.Key, f.Offset, "%s", f.Error())
	}
	return d, nil
}

// ReadFile reads the named drill file.
func ReadFile(file string) (*Drill, error) {
	text, err := tomldoc.ReadFile(file, tomldoc.MaxBytes)
	if err != nil {
		return nil, err
	}
	return Parse(file, text)
}

// MarshalTOML gives the drill as a drill file; Parse of it gives an equal drill.
func (s Spec) MarshalTOML() ([]byte, error) { return toml.Marshal(s) }
