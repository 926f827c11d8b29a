package played_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/input/record"
	"heeltoe/input/synth"
	"heeltoe/trainer/consistency"
	"heeltoe/trainer/drills"
	"heeltoe/trainer/played"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/view"
)

// play writes the log of a synthetic run of a drill, with a shift, strays, misses and chatter.
func play(t testing.TB, id string, seed uint64) string {
	t.Helper()
	d, err := drills.Load(id)
	if err != nil {
		t.Fatal(err)
	}
	if d, err = d.WithReps(10); err != nil {
		t.Fatal(err)
	}
	contacts := d.Footing
	if contacts == nil {
		contacts = footing.Default(d)
	}
	habits := synth.Defaults()
	habits.MissRate, habits.StrayRate, habits.ChatterRate = 0.08, 0.08, 0.05
	h := record.Header{Layout: d.Layout.Name, Lead: 2 * pad.Second, Drill: d.Spec, Shift: -7 * pad.Millisecond, Debounce: 10 * pad.Millisecond}
	player, err := synth.New(d, contacts, h.Lead, habits, seed)
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), fmt.Sprintf("%s-%d.jsonl", id, seed))
	f, err := os.Create(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	w, err := record.NewLogWriter(f, h)
	if err != nil {
		t.Fatal(err)
	}
	for {
		e, err := player.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if err := w.Write(e); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Flush(); err != nil {
		t.Fatal(err)
	}
	return file
}

func middle(x []float64) float64 {
	slices.Sort(x)
	return (x[(len(x)-1)/2] + x[len(x)/2]) / 2
}

// Bars, overlaps and panels equal what plain loops over the log and the review
// find: one bar a press, in the rep of its note, and the median overlap of each
// step from the releases as they stand in the log.
func TestAgainstPlainLoops(t *testing.T) {
	for i, id := range []string{"corner-hook", "stair-ten", "run-five-lower", "corner-jumps", "switched-centre", "held-corner"} {
		file := play(t, id, uint64(i)+1)
		p, err := played.Of(file, practice.Review)
		if err != nil {
			t.Fatal(err)
		}
		l, err := record.ReadLog(file)
		if err != nil {
			t.Fatal(err)
		}
		// A press again within the debounce time is the same press.
		release := func(panel string, down view.Moment) pad.Time {
			want, _ := l.Layout.Lookup(panel)
			up := pad.Never
			for _, e := range l.Edges {
				if e.Panel != want || e.T <= pad.Time(down) {
					continue
				}
				if e.Kind == pad.Down && (up == pad.Never || e.T-up > l.Header.Debounce) {
					break
				}
				if up = pad.Never; e.Kind == pad.Up {
					up = e.T
				}
			}
			return up
		}
		// Overlaps.
		notes := p.Report.Notes
		spans := map[int][]float64{}
		for k := range notes[:len(notes)-1] {
			a, b := &notes[k], &notes[k+1]
			if !a.Press.Defined() || !b.Press.Defined() {
				continue
			}
			if up := release(a.Panel, a.Press); up != pad.Never {
				spans[a.Note] = append(spans[a.Note], float64(up)-float64(b.Press))
			}
		}
		st := p.Report.Statistics
		if len(spans) != len(st.Overlaps) {
			t.Errorf("%s: %d steps, want %d", id, len(st.Overlaps), len(spans))
		}
		for _, o := range st.Overlaps {
			s := o.Time.Spread()
			if w := spans[o.From]; s.N != len(w) || math.Abs(float64(s.Median)-middle(w)) > 0.5 || s.Low > s.Median || s.Median > s.High ||
				o.To != (o.From+1)%len(l.Drill.Notes) {
				t.Errorf("%s: step %d overlaps by %v of %d, want %v of %d", id, o.From, s.Median, s.N, middle(w), len(w))
			}
		}
		// Dwell.
		lasted := map[string][]float64{}
		for _, n := range notes {
			if n.Press.Defined() && n.Hold == nil && release(n.Panel, n.Press) != pad.Never {
				lasted[n.Panel] = append(lasted[n.Panel], float64(release(n.Panel, n.Press))-float64(n.Press))
			}
		}
		for _, k := range st.Panels {
			if w := lasted[k.Panel]; k.Dwell.N != len(w) || len(w) > 0 && math.Abs(float64(k.Dwell.Median.Value)-middle(w)) > 0.5 {
				t.Errorf("%s: presses on %s last %v of %d, want %v of %d", id, k.Panel, k.Dwell.Median.Value, k.Dwell.N, middle(w), len(w))
			}
		}
		// Bars.
		g := l.Drill.Grid(l.Header.Lead)
		var downs []pad.Time
		for _, e := range l.Edges {
			if e.Kind == pad.Down {
				downs = append(downs, e.T)
			}
		}
		if len(p.Bars) != len(downs) {
			t.Fatalf("%s: %d bars of %d presses", id, len(p.Bars), len(downs))
		}
		at := map[string]int{} // rep of each press that belongs to a note
		for _, n := range notes {
			if n.Press.Defined() {
				at[fmt.Sprint(n.Panel, n.Press)] = n.Rep
			}
		}
		for k, b := range p.Bars {
			if start := g.Due(b.Rep, 0) + l.Header.Shift; b.Down+start != downs[k] || b.Up < b.Down {
				t.Errorf("%s: bar %d begins at %d, want %d", id, k, b.Down+start, downs[k])
			}
			if rep, ok := at[fmt.Sprint(l.Layout.ID(b.Panel), downs[k])]; ok && int64(rep) != b.Rep {
				t.Errorf("%s: bar %d is in rep %d, its note in rep %d", id, k, b.Rep, rep)
			} else if !ok && b.Foot != view.AnyFoot {
				t.Errorf("%s: a press of no note has a foot", id)
			}
		}
		// Panels.
		for _, s := range st.Panels {
			var off []float64
			for _, n := range notes {
				if n.Offset.Defined() && n.Panel == s.Panel {
					off = append(off, float64(n.Offset))
				}
			}
			if s.N != len(off) || s.N > 0 && math.Abs(float64(s.Median.Value)-middle(off)) > 0.5 {
				t.Errorf("%s: panel %s has %v of %d", id, s.Panel, s.Median.Value, s.N)
			}
		}
		whole, err := practice.Review(file)
		if err != nil {
			t.Fatal(err)
		}
		a, err1 := json.Marshal(p.Report.Statistics)
		b, err2 := json.Marshal(consistency.Of(whole))
		if err1 != nil || err2 != nil || !bytes.Equal(a, b) {
			t.Errorf("%s: the statistics are not the review's", id)
		}
		if p.RepLength != g.Due(1, 0)-g.Due(0, 0) {
			t.Errorf("%s: the length is wrong", id)
		}
	}
}

func TestFaults(t *testing.T) {
	if _, err := played.Of(filepath.Join(t.TempDir(), "none.jsonl"), practice.Review); !pad.IsBadInput(err) {
		t.Errorf("a log that is not there: %v", err)
	}
}
