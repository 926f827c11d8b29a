// Package capture makes a drill of a pattern that was stomped slowly on a pad:
// presses are joined to notes, notes are snapped to a grid whose slot is found
// or given, repetitions are folded into one rep.
package capture

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"slices"
	"strings"

	"github.com/google/renameio/v2"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// Limits of what is captured. Slots between 300 and 600 ms with a jitter of 15
// to 25 ms are told safely; outside them the same rules hold in proportion.
const (
	DefaultJoin = 40 * pad.Millisecond // presses no further apart are one slot's
	MinSlot     = 150 * pad.Millisecond
	MaxSlot     = 2 * pad.Second

	defaultPerBeat = 4
	defaultReps    = 16
)

// Options say how to take a pattern down. The zero value finds everything.
type Options struct {
	Name    string   // of the drill; "captured pattern" where empty
	Join    pad.Time // DefaultJoin where 0
	BPM     float64  // tempo that was stomped to; 0: found
	PerBeat int64    // slots in a beat, 0: 4 (fewer where the tempo would be too slow for a drill)
	Holds   bool     // write panels that stay down two slots and more as held
	Times   int      // how often the pattern was stomped, 0: found
}

// Result is a drill and how it was found.
type Result struct {
	Drill    *drill.Drill
	Slot     pad.Time // length of a slot as stomped, the mean
	Jitter   pad.Time // root mean square distance of the notes from the grid
	Times    int      // how often the pattern was stomped
	Warnings []string
}

// onset is the notes of one slot.
type onset struct {
	at     float64 // mean of its presses, µs
	panels pad.PanelSet
	dwell  [pad.MaxPanels]float64 // how long each panel stayed down, µs
	slot   int64
}

// FromEdges takes down the pattern in edges, which are in time order. It fails,
// and says what would help, where there are too few notes, where the grid cannot
// be told, or where repetitions differ.
func FromEdges(edges []pad.Edge, layout *pad.Layout, o Options) (*Result, error) {
	if o.Join == 0 {
		o.Join = DefaultJoin
	}
	r := &Result{}
	onsets := r.onsets(edges, layout, o.Join)
	if len(onsets) < 2 {
		return nil, fmt.Errorf("%d of the two notes or more that it takes to tell a pattern", len(onsets))
	}
	g, err := r.grid(onsets, &o)
	if err != nil {
		return nil, err
	}
	for i, k := range g.steps {
		onsets[i+1].slot = onsets[i].slot + k
	}
	r.Slot, r.Jitter = pad.Time(g.slot), pad.Time(g.rms)
	notes, slots, err := r.fold(onsets, &o)
	if err != nil {
		return nil, err
	}
	s := drill.Spec{Name: o.Name, Layout: layout.Name, BPM: o.BPM, PerBeat: o.PerBeat, Reps: defaultReps}
	if s.Name == "" {
		s.Name = "captured pattern"
	}
	if r.Times < 2 {
		slots = (slots + s.PerBeat - 1) / s.PerBeat * s.PerBeat
	}
	s.Steps = drill.StepsText(layout, notes, slots)
	if r.Drill, err = drill.New(s, layout); err != nil {
		return nil, err
	}
	return r, nil
}

// onsets joins presses that came together.
func (r *Result) onsets(edges []pad.Edge, layout *pad.Layout, join pad.Time) []onset {
	var out []onset
	var first, last pad.Time // of the presses of the last onset, and of all edges
	var sum float64          // of its press times after the first
	owner := make([]int, len(layout.Panels))
	since := make([]pad.Time, len(layout.Panels))
	for p := range owner {
		owner[p] = -1
	}
	bounces := 0
	for _, e := range edges {
		last = max(last, e.T)
		switch {
		case e.Kind == pad.Gap:
			r.Warnings = append(r.Warnings, fmt.Sprintf("reports are missing at %.3f s: notes may be too", e.T.Duration().Seconds()))
			for p := range owner {
				owner[p] = -1
			}
		case int(e.Panel) >= len(owner):
		case e.Kind == pad.Up:
			if k := owner[e.Panel]; k >= 0 {
				out[k].dwell[e.Panel] = float64(e.T - since[e.Panel])
				owner[e.Panel] = -1
			}
		default:
			k := len(out) - 1
			switch {
			case k >= 0 && e.T-first <= join && out[k].panels.Has(e.Panel):
				bounces++
			case k >= 0 && e.T-first <= join:
				out[k].panels = out[k].panels.With(e.Panel)
				sum += float64(e.T - first)
				out[k].at = float64(first) + sum/float64(out[k].panels.Len())
			default:
				out = append(out, onset{at: float64(e.T), panels: pad.SetOf(e.Panel)})
				first, sum = e.T, 0
				k++
			}
			if owner[e.Panel] != k {
				owner[e.Panel], since[e.Panel] = k, e.T
			}
		}
	}
	for p, k := range owner {
		if k >= 0 { // never seen going up
			out[k].dwell[p] = float64(last - since[p])
		}
	}
	if bounces > 0 {
		r.Warnings = append(r.Warnings, fmt.Sprintf("%d presses of a panel again within %v were taken as bounces", bounces, join.Duration()))
	}
	return out
}

// fit is how a slot's length explains the onsets.
type fit struct {
	slot       float64 // mean length, µs
	steps      []int64 // slots from each onset to the next
	rms, worst float64 // of the onsets' distances from where they were expected, µs
}

// The tracker's gains: how much of a distance from the expected moment it takes
// for a shift of the grid, and how much, per slot, for a change of tempo. They
// follow a drift of ±5 % over a dozen notes and more and smooth a jitter of 25 ms.
const (
	phaseGain = 0.5
	tempoGain = 0.1
)

// track follows the onsets with a grid that starts with the slot given and may
// drift, by no more than a fifth.
func track(onsets []onset, slot float64) fit {
	f := fit{steps: make([]int64, 0, len(onsets)-1)}
	at, s := onsets[0].at, slot
	sum, total := 0.0, int64(0)
	for _, o := range onsets[1:] {
		k := max(1, math.Round((o.at-at)/s))
		off := o.at - at - k*s
		f.steps = append(f.steps, int64(k))
		total += int64(k)
		sum += off * off
		f.worst = max(f.worst, math.Abs(off))
		at += k*s + phaseGain*off
		s = min(max(s+tempoGain*off/k, slot*0.8), slot*1.2)
	}
	f.slot = (onsets[len(onsets)-1].at - onsets[0].at) / float64(total)
	f.rms = math.Sqrt(sum / float64(len(onsets)-1))
	return f
}

// share gives the distances as a share of the slot. What a pad's own time steps
// could do is added, so that of grids that all fit exactly the coarsest wins.
func (f *fit) share() float64 { return (f.rms + 4_000) / f.slot }

// sound tells whether f explains the onsets: no worse than people step to a
// beat of their own (an SD of 25 ms, or 5 % of a long spacing, at each onset,
// by which an interval varies √2 times as much; half as much again for a few
// notes that happen to be off), and none so far off that it could as well
// belong to the slot beside.
func (f *fit) sound() bool {
	return f.rms <= max(55_000, 0.11*f.slot) && f.rms <= 0.17*f.slot &&
		f.worst <= max(150_000, 0.3*f.slot) && f.worst <= 0.42*f.slot
}

var errNoGrid = errors.New("the notes fit no even grid: stomp more evenly, no faster than three notes a second, or say --bpm and --per-beat")

// grid finds the slot and fills in o's tempo.
func (r *Result) grid(onsets []onset, o *Options) (fit, error) {
	if o.BPM != 0 {
		if o.PerBeat == 0 {
			o.PerBeat = defaultPerBeat
		}
		slot := 60e6 / (o.BPM * float64(o.PerBeat))
		f := track(onsets, slot)
		if !f.sound() || math.Abs(f.slot/slot-1) > 0.15 {
			return fit{}, fmt.Errorf("the notes do not fit slots of %.0f ms, as the tempo given has them", slot/1000)
		}
		return f, nil
	}
	shortest := math.Inf(1)
	for i := 1; i < len(onsets); i++ {
		shortest = min(shortest, onsets[i].at-onsets[i-1].at)
	}
	if shortest < float64(MinSlot)*0.6 {
		return fit{}, fmt.Errorf("two notes are only %.0f ms apart: stomp slower, or say --bpm and --per-beat", shortest/1000)
	}
	// Half a slot explains what a slot does, but is twice as far off in
	// proportion: the slot is the one with the least distance as a share of it.
	var all []fit
	const ratio = 1.015
	for slot := min(shortest*1.6, float64(MaxSlot)); slot >= float64(MinSlot); slot /= ratio {
		f := track(onsets, slot)
		all = append(all, track(onsets, f.slot)) // once more, begun with what the whole says
	}
	if len(all) == 0 {
		return fit{}, errNoGrid
	}
	best := slices.MinFunc(all, func(a, b fit) int { return cmp.Compare(a.share(), b.share()) })
	if !best.sound() {
		return fit{}, errNoGrid
	}
	for _, f := range all {
		if f.share() < 1.2*best.share() && !slices.Equal(f.steps, best.steps) {
			return fit{}, errors.New("two grids fit the notes about as well: stomp more evenly, or say --bpm and --per-beat")
		}
	}
	if best.slot > float64(MaxSlot) {
		return fit{}, errNoGrid
	}
	if o.PerBeat == 0 {
		o.PerBeat = defaultPerBeat
		for o.PerBeat > 1 && 60e6/(best.slot*float64(o.PerBeat)) < 15 {
			o.PerBeat /= 2
		}
	}
	o.BPM = math.Round(600e6/(best.slot*float64(o.PerBeat))) / 10
	if o.BPM < drill.MinBPM {
		return fit{}, fmt.Errorf("%d slots of %.0f ms make a beat that is too slow for a drill: say a smaller --per-beat", o.PerBeat, best.slot/1000)
	}
	return best, nil
}

// fold makes the notes of one rep out of all, and gives its slots.
func (r *Result) fold(onsets []onset, o *Options) ([]drill.Note, int64, error) {
	n := len(onsets)
	r.Times = o.Times
	switch {
	case o.Times < 0 || o.Times > n:
		return nil, 0, fmt.Errorf("%d notes cannot be a pattern stomped %d times", n, o.Times)
	case o.Times > 1:
		if n%o.Times != 0 {
			return nil, 0, fmt.Errorf("%d notes cannot be divided by the %d times that the pattern was stomped", n, o.Times)
		}
		if i := differs(onsets, n/o.Times); i >= 0 {
			per := n / o.Times
			return nil, 0, fmt.Errorf("time %d differs from the one before it at its note %d: stomp it again", i/per+1, i%per+1)
		}
	case o.Times == 0:
		r.Times = 1
		for times := n / 2; times >= 2; times-- {
			if n%times == 0 && n/times >= 2 && differs(onsets, n/times) < 0 {
				r.Times = times
				break
			}
		}
	}
	per := n / r.Times
	var slots int64
	if r.Times > 1 {
		slots = onsets[per].slot - onsets[0].slot
	} else {
		slots = onsets[n-1].slot + 1
	}
	var notes []drill.Note
	for i := range per {
		for p := range onsets[i].panels.All() {
			note := drill.Note{Slot: int32(onsets[i].slot), Panel: p}
			if o.Holds {
				note.Hold = r.hold(onsets, i, per, p)
				if r.Times < 2 {
					slots = max(slots, int64(note.Slot)+int64(note.Hold))
				}
			}
			notes = append(notes, note)
		}
	}
	return notes, slots, nil
}

// differs gives the first onset that is not as the one per onsets before it, or -1.
func differs(onsets []onset, per int) int {
	period := onsets[per].slot - onsets[0].slot
	for i := per; i < len(onsets); i++ {
		if onsets[i].panels != onsets[i-per].panels || onsets[i].slot-onsets[i-per].slot != period {
			return i
		}
	}
	return -1
}

// hold gives for how many slots panel p of onset i stays down, the median over
// the repetitions, 0 where that is under two: a foot that stands where it
// stepped holds nothing. It never reaches the panel's next note.
func (r *Result) hold(onsets []onset, i, per int, p pad.Panel) int32 {
	var all []float64
	for j := i; j < len(onsets); j += per {
		all = append(all, onsets[j].dwell[p])
	}
	slices.Sort(all)
	n := int64(math.Round(all[len(all)/2] / float64(r.Slot)))
	for j := i + 1; j < len(onsets); j++ {
		if onsets[j].panels.Has(p) {
			n = min(n, onsets[j].slot-onsets[i].slot)
			break
		}
	}
	if n < 2 {
		return 0
	}
	return int32(n)
}

// Write writes the drill file, whole or not at all. It does not replace a file
// unless force is set.
func Write(file string, d *drill.Drill, force bool) error {
	if !force {
		if _, err := os.Lstat(file); err == nil {
			return &pad.BadInput{File: file, Msg: "is there already; --force replaces it"}
		} else if !errors.Is(err, fs.ErrNotExist) {
			return &pad.BadInput{File: file, Msg: "cannot be written: " + strings.TrimPrefix(err.Error(), "lstat "+file+": ")}
		}
	}
	text, err := d.MarshalTOML()
	if err != nil {
		return err
	}
	return renameio.WriteFile(file, text, 0o644)
}
