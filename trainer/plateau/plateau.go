// Package plateau tells whether a player has come to a plateau with a drill: over
// weeks neither the tempo at which it breaks nor the scatter of the presses moves. That
// is more than "no change shown": the intervals must leave out any change that counts.
package plateau

import (
	"cmp"
	"math"
	"slices"
	"time"

	"heeltoe/trainer/estimate"
	"heeltoe/trainer/success"
	"heeltoe/trainer/trend"
)

// The conditions of a plateau. All are design values.
const (
	Window     = 8 * 7 * 24 * time.Hour // what is looked at, up to the newest run
	LeastSpan  = 3 * 7 * 24 * time.Hour // from the first run looked at to the last, at least
	LeastDays  = estimate.LeastN        // with runs in the band of tempo that has most days
	TempoMoves = 0.05                   // change of the limit from one half of the days to the other that counts, as a share of it
	// ScatterMoves is the change of the scatter that counts over the time looked at,
	// as a share of it.
	ScatterMoves = 0.25

	tempoBand = 10 // beats a minute within which scatters are compared, as for progress over weeks
)

// Run is what is needed of one run of the drill. A rep that is not clear counts
// in neither Good nor Clear.
type Run struct {
	Started     time.Time
	BPM         float64 // beats a minute
	ScatterUS   float64 // scatter in µs: half of the notes lie so near to their own median; NaN of none
	Good, Clear int     // reps
}

// Move is whether something changes.
type Move string

// Moves.
const (
	Still Move = "still" // every change in the interval is too small to count
	Up    Move = "up"
	Down  Move = "down"
	Open  Move = "open" // the interval is too wide to tell
)

// Finding is what was found.
type Finding struct {
	Runs int           // looked at
	Span time.Duration // from the first to the last of them

	Limits   [2]estimate.Figure // tempo in beats a minute at which the share of reps is good, in the first and the second half of the days
	Gain     estimate.Figure    // second less first, as a share of the first; an end may be infinite
	Tempo    Move
	TempoWhy error // why Gain cannot be told

	Days       int             // on which the scatter was looked at
	FromBPM    float64         // band of tempo in which it was, ten beats a minute wide
	Scatter    estimate.Figure // its change over Span as a share, by the Theil–Sen line through the days' medians
	Steady     Move            // Down: steadier
	ScatterWhy error           // why Scatter cannot be told
}

// Plateau tells whether this is a plateau.
func (f *Finding) Plateau() bool { return f.Tempo == Still && f.Steady == Still }

// Of looks at the runs of one drill under like conditions, in the order in which
// they were begun; days begin at midnight in loc. share is that of good reps at the limit. It
// refuses runs that lie too near to one another in time.
func Of(runs []Run, share float64, loc *time.Location) (Finding, error) {
	if len(runs) > 0 {
		last := runs[len(runs)-1].Started
		runs = slices.Clone(runs)
		runs = slices.DeleteFunc(runs, func(r Run) bool { return last.Sub(r.Started) > Window })
	}
	f := Finding{Runs: len(runs), Tempo: Open, Steady: Open, Gain: estimate.Untold(0), Scatter: estimate.Untold(0),
		Limits: [2]estimate.Figure{estimate.Untold(0), estimate.Untold(0)}}
	if len(runs) == 0 {
		return f, estimate.Refusef("there is no run")
	}
	first := runs[0].Started
	if f.Span = runs[len(runs)-1].Started.Sub(first); f.Span < LeastSpan {
		return f, estimate.Refusef("the runs lie within %.0f days: a plateau shows over %.0f days and more", f.Span.Hours()/24, LeastSpan.Hours()/24)
	}
	f.TempoWhy = f.tempo(runs, share, loc)
	f.ScatterWhy = f.scatter(runs, loc)
	return f, nil
}

// tempo compares the limits of the two halves of the days with clear reps.
func (f *Finding) tempo(runs []Run, share float64, loc *time.Location) error {
	var days []int64
	slowest, fastest := math.Inf(1), math.Inf(-1)
	for _, r := range runs {
		if r.Clear > 0 {
			days = append(days, trend.Day(r.Started, loc))
			slowest, fastest = min(slowest, r.BPM), max(fastest, r.BPM)
		}
	}
	if days = slices.Compact(days); len(days) < 2 {
		return estimate.Refusef("clear reps of %d days are too few", len(days))
	}
	var trials [2][]success.Trials
	for _, r := range runs {
		if r.Clear == 0 {
			continue
		}
		k := 0
		if trend.Day(r.Started, loc) >= days[len(days)/2] {
			k = 1
		}
		trials[k] = success.Add(trials[k], success.Trials{BPM: r.BPM, Good: r.Good, N: r.Clear})
	}
	half := [2]*success.Posterior{success.Believe(trials[0], slowest, fastest), success.Believe(trials[1], slowest, fastest)}
	var why [2]error
	for k := range half {
		f.Limits[k], why[k] = half[k].Within(share, slowest, fastest)
	}
	d, err := success.Difference(half[0], half[1], share, estimate.Level, slowest, fastest)
	if err != nil {
		return cmp.Or(why[0], why[1], err)
	}
	scale := 1 / f.Limits[0].Value
	f.Gain = estimate.Figure{Value: d.Value * scale, N: d.N, Interval: estimate.Interval{Low: d.Low * scale, High: d.High * scale}}
	f.Tempo = move(f.Gain, TempoMoves)
	return nil
}

// scatter follows the scatter from day to day in the band of tempo with the most days.
func (f *Finding) scatter(runs []Run, loc *time.Location) error {
	bands := map[int]map[int64][]float64{}
	for _, r := range runs {
		if !(r.ScatterUS > 0) {
			continue
		}
		b := int(math.Floor(r.BPM / tempoBand))
		if bands[b] == nil {
			bands[b] = map[int64][]float64{}
		}
		d := trend.Day(r.Started, loc)
		bands[b][d] = append(bands[b][d], math.Log(r.ScatterUS))
	}
	best := 0
	for b, days := range bands {
		if n, m := len(days), len(bands[best]); n > m || n == m && b < best {
			best = b
		}
	}
	f.Days, f.FromBPM = len(bands[best]), float64(best*tempoBand)
	if f.Days < LeastDays {
		return estimate.Refusef("runs on %d days at nearly one tempo are too few: %d are needed", f.Days, LeastDays)
	}
	var x, y []float64
	for d, of := range bands[best] {
		x, y = append(x, float64(d)), append(y, estimate.Quantile(of, 0.5))
	}
	line, err := trend.TheilSen(x, y, estimate.Level)
	if err != nil {
		return err
	}
	days := f.Span.Hours() / 24
	change := func(slope float64) float64 { return math.Expm1(slope * days) }
	s := line.Slope
	f.Scatter = estimate.Figure{Value: change(s.Value), N: f.Days, Interval: estimate.Interval{Low: change(s.Low), High: change(s.High)}}
	f.Steady = move(f.Scatter, ScatterMoves)
	return nil
}

// move tells whether a change is shown, is shown to be smaller than counts, or neither.
func move(f estimate.Figure, counts float64) Move {
	switch {
	case f.Low > -counts && f.High < counts:
		return Still
	case f.Low > 0:
		return Up
	case f.High < 0:
		return Down
	}
	return Open
}
