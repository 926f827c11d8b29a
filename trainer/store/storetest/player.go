package storetest

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"time"

	"heeltoe/footing/pad"
	"heeltoe/input/record"
	"heeltoe/input/synth"
	"heeltoe/judge/drill"
	"heeltoe/trainer/adapt"
	"heeltoe/trainer/limits"
	"heeltoe/trainer/store"
	"heeltoe/trainer/success"
)

// Player is a player of known limits, who drills for some weeks: on some evenings of each,
// every way at every tempo, on the first of each week a search for the tempo of each way,
// and on the first evenings of all a run of the first way that is held until it fails.
type Player struct {
	Dir       string // folder of run logs
	From      time.Time
	Weeks     int
	Evenings  int // of a week, up to 3
	Ways      []Way
	Tempi     []float64
	Reps      int64 // of a run
	Windows   *drill.Windows
	Late      pad.Time   // of what is not good: beyond the middle window, within the outer
	ClockSDMS [2]float64 // spread of the inner clock in the first and in the last week

	Held     []float64 // tempi of the runs that are held; one an evening, on the first ones
	Critical float64   // landings a second that are kept for ever
	Reserve  float64   // landings that can be made above it
	Seed     uint64
}

// Way is a way of playing, with the share of its reps that are good over the tempo.
type Way struct {
	Drill drill.Spec
	Curve success.Curve
}

// Make writes the player's logs. A rep that is not good has its last press Late.
func (p Player) Make() error {
	rng := rand.New(rand.NewPCG(p.Seed, 1))
	evenings := p.Evenings * p.Weeks
	for e := range evenings {
		at := p.From.AddDate(0, 0, e/p.Evenings*7+e%p.Evenings*2)
		part := float64(e) / float64(max(1, evenings-1))
		n := 0
		write := func(w *Way, bpm float64, outcomes []adapt.Outcome, block store.Block) error {
			d, err := drill.New(w.Drill, nil)
			if err == nil {
				d, err = d.WithTempo(bpm)
			}
			if err == nil {
				d, err = d.WithReps(int64(len(outcomes)))
			}
			if err != nil {
				return err
			}
			n++
			habits := synth.Defaults()
			habits.ClockSDMS = p.ClockSDMS[0] + part*(p.ClockSDMS[1]-p.ClockSDMS[0])
			h := record.Header{Layout: d.Layout.Name, Lead: 2 * pad.Second, Drill: d.Spec, Started: at, Windows: p.Windows}
			if block.Plan != "" {
				mark, err := json.Marshal(block)
				if err != nil {
					return err
				}
				h.Extra = append(h.Extra, record.Member{Key: store.BlockKey, Value: mark})
			}
			g := d.Grid(h.Lead)
			at = at.Add(g.Due(d.Reps, 0).Duration() + 90*time.Second)
			return p.write(d, h, habits, outcomes, fmt.Sprintf("%02d-%03d", e, n))
		}
		for i := range p.Ways {
			w := &p.Ways[i]
			for _, bpm := range p.Tempi {
				if err := write(w, bpm, w.play(rng, bpm, p.Reps), store.Block{}); err != nil {
					return err
				}
			}
			if e%p.Evenings > 0 {
				continue
			}
			search, err := adapt.NewSearch(adapt.SearchOptions{Target: 0.8, Start: p.Tempi[len(p.Tempi)/2], Slowest: p.Tempi[0], Fastest: p.Tempi[len(p.Tempi)-1],
				Reps: 6, MostReps: 48, Precision: 0.03})
			if err != nil {
				return err
			}
			for k := 1; ; k++ {
				b, ok := search.Next()
				if !ok {
					break
				}
				outcomes := w.play(rng, b.BPM, b.Reps)
				if err := write(w, b.BPM, outcomes, store.Block{Plan: limits.Adapt, Number: k}); err != nil {
					return err
				}
				search.Played(outcomes)
			}
		}
		if e < len(p.Held) {
			bpm := p.Held[e]
			if err := write(&p.Ways[0], bpm, p.hold(rng, bpm), store.Block{Plan: limits.HoldOut, Number: 1}); err != nil {
				return err
			}
		}
	}
	return nil
}

// play gives how reps at a tempo go.
func (w *Way) play(rng *rand.Rand, bpm float64, reps int64) []adapt.Outcome {
	out := make([]adapt.Outcome, reps)
	for i := range out {
		if rng.Float64() >= w.Curve.At(bpm) {
			out[i] = adapt.Bad
		}
	}
	return out
}

// hold gives the reps of a run of the first way that is held until it fails, after
// W/(P − C) seconds, give or take 3 in a hundred.
func (p *Player) hold(rng *rand.Rand, bpm float64) []adapt.Outcome {
	d, err := drill.New(p.Ways[0].Drill, nil)
	if err != nil {
		return nil // it was played before
	}
	rep := adapt.RepLength(d.RepSlots(), d.PerBeat, bpm).Seconds()
	seconds := p.Reserve / (float64(d.Moments())/rep - p.Critical) * (1 + 0.03*rng.NormFloat64())
	out := make([]adapt.Outcome, int(math.Round(seconds/rep)))
	for i := range adapt.Slips + 1 {
		out[len(out)-1-i] = adapt.Bad
	}
	return out
}

// write writes a log in which the last press of each rep that is not good is moved to Late
// after its due moment.
func (p *Player) write(d *drill.Drill, h record.Header, habits synth.Params, outcomes []adapt.Outcome, name string) error {
	player, err := synth.New(d, d.Footing, h.Lead, habits, p.Seed+uint64(h.Started.Unix()))
	if err != nil {
		return err
	}
	last, g := d.Notes[len(d.Notes)-1], d.Grid(h.Lead)
	var edges []pad.Edge
	rep, moved := -1, pad.Time(0)
	for {
		e, err := player.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return err
		}
		if e.Panel == last.Panel {
			if e.Kind == pad.Down {
				if rep++; rep >= len(outcomes) {
					return fmt.Errorf("%s: more presses of the last note than reps", name)
				}
				moved = 0
				if outcomes[rep] == adapt.Bad {
					moved = g.Due(int64(rep), int64(last.Slot)) + p.Late - e.T
				}
			}
			e.T += moved
		}
		edges = append(edges, e)
	}
	slices.SortStableFunc(edges, func(a, b pad.Edge) int { return cmp.Compare(a.T, b.T) })
	var text bytes.Buffer
	w, err := record.NewLogWriter(&text, h)
	if err != nil {
		return err
	}
	for _, e := range edges {
		if err := w.Write(e); err != nil {
			return err
		}
	}
	if err := w.Flush(); err != nil {
		return err
	}
	file := filepath.Join(p.Dir, h.Started.UTC().Format("2006"), name+".jsonl")
	if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
		return err
	}
	return os.WriteFile(file, text.Bytes(), 0o644)
}
