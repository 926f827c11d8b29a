package drill_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

func TestMirrorByHand(t *testing.T) {
	d := parse(t, contract)
	m, err := d.Mirror()
	if err != nil {
		t.Fatal(err)
	}
	if m.Steps != "sw nw c se . ne . ." || m.Spec.Footing != "L:sw>nw R:c L:se R:ne" {
		t.Errorf("%q, %q", m.Steps, m.Spec.Footing)
	}
	text := strings.Replace(with("steps = '1sw=2+2ne 1c . 2nw'"), "single", "double", 1)
	text = strings.Replace(text, "footing = ", "# ", 1)
	m, err = parse(t, text).Mirror()
	if err != nil {
		t.Fatal(err)
	}
	if m.Steps != "2se=2+1nw 2c . 1ne" {
		t.Errorf("%q", m.Steps)
	}
}

func TestReverseByHand(t *testing.T) {
	r, err := parse(t, contract).Reverse()
	if err != nil {
		t.Fatal(err)
	}
	if r.Steps != ". . nw . sw c ne se" || r.Spec.Footing != "L:nw R:sw L:c R:ne>se" {
		t.Errorf("%q, %q", r.Steps, r.Spec.Footing)
	}
	head := "name = 'a'\nlayout = 'single'\nbpm = 100\nper_beat = 1\nreps = 2\n"
	for _, c := range []struct{ steps, footing, wantSteps, wantFooting string }{
		{"nw=3 . c .", "", ". nw=3+c . .", ""}, // nw is down over slots 0 to 2 of 4, so over 1 to 3
		// A hold that outlasts the roll's second panel: reversed, it goes down first.
		{"nw=4 sw . .", "L:nw>sw", "nw=4 . sw .", "L:nw>sw"},
		{"nw=2 sw=3 . .", "L:nw>sw", "sw=3 . nw=2 .", "L:sw>nw"},
		{"nw sw . c", "(L:nw&sw) R:c", "c . sw nw", "R:c L:nw&sw"},
		{"nw c sw", "(L:nw R:c) L:sw", "sw c nw", "L:sw (L:nw R:c)"},
	} {
		text := head + "steps = '" + c.steps + "'\n"
		if c.footing != "" {
			text += "footing = '" + c.footing + "'\n"
		}
		r, err := parse(t, text).Reverse()
		if err != nil {
			t.Errorf("%s: %v", c.steps, err)
			continue
		}
		if r.Steps != c.wantSteps || r.Spec.Footing != c.wantFooting {
			t.Errorf("%s, %s: reversed %q, %q; want %q, %q", c.steps, c.footing, r.Steps, r.Spec.Footing, c.wantSteps, c.wantFooting)
		}
	}
	if _, err := parse(t, head+"steps = 'c nw=2'").Reverse(); err == nil || !strings.Contains(err.Error(), "past the end") {
		t.Errorf("a hold past the end: %v", err)
	}
}

// played says what a footing plays without regard to the order of writing:
// each contact as its foot, its kind and its notes' slots and panels.
func played(d *drill.Drill, change func(foot pad.Foot, n drill.Note) (pad.Foot, drill.Note)) []string {
	var all []string
	for _, c := range d.Footing {
		foot, _ := change(c.Foot, d.Notes[0])
		var notes []string
		for _, i := range c.NoteIndices() {
			_, n := change(c.Foot, d.Notes[i])
			notes = append(notes, fmt.Sprint(n.Slot, d.Layout.ID(n.Panel), n.Hold))
		}
		slices.Sort(notes)
		all = append(all, fmt.Sprint(foot, c.Kind, notes))
	}
	slices.Sort(all)
	return all
}

func plain(f pad.Foot, n drill.Note) (pad.Foot, drill.Note) { return f, n }

func TestMirrorOfAny(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := aDrill(t)
		m, err := d.Mirror()
		if err != nil {
			t.Fatal(err)
		}
		other := func(f pad.Foot, n drill.Note) (pad.Foot, drill.Note) {
			n.Panel, _ = d.Layout.Mirror(n.Panel)
			return f.Other(), n
		}
		if got, want := played(m, plain), played(d, other); !slices.Equal(got, want) {
			t.Fatalf("%q mirrored is %q\n%v\nwant\n%v", d.Spec.Footing, m.Spec.Footing, got, want)
		}
		// The centre of each panel lies where the mirror image's would.
		for i, n := range d.Notes {
			x, y := d.Layout.Panels[n.Panel].Rect.Centre()
			mx, my := d.Layout.Panels[m.Notes[i].Panel].Rect.Centre()
			last := d.Layout.Panels[len(d.Layout.Panels)-1].Rect
			if x+mx != float64(last.X1) || y != my || m.Notes[i].Slot != n.Slot || m.Notes[i].Hold != n.Hold {
				t.Fatalf("note %d: %v and %v", i, n, m.Notes[i])
			}
		}
		back, err := m.Mirror()
		if err != nil {
			t.Fatal(err)
		}
		if back.Name != d.Name || !slices.Equal(back.Notes, d.Notes) || !slices.Equal(back.Footing, d.Footing) {
			t.Fatalf("mirrored twice\n%+v\nis\n%+v", d, back)
		}
	})
}

func TestReverseOfAny(t *testing.T) {
	reversed := 0
	rapid.Check(t, func(t *rapid.T) {
		d := aDrill(t)
		past := slices.ContainsFunc(d.Notes, func(n drill.Note) bool { return int64(n.Slot)+int64(n.Hold) > d.Slots })
		r, err := d.Reverse()
		if err != nil {
			if !past && !strings.Contains(err.Error(), "interleave") {
				t.Fatalf("%s, %s: %v", d.Steps, d.Spec.Footing, err)
			}
			return
		}
		reversed++
		back := func(f pad.Foot, n drill.Note) (pad.Foot, drill.Note) {
			n.Slot = int32(d.Slots) - n.Slot - max(n.Hold, 1)
			return f, n
		}
		if got, want := played(r, plain), played(d, back); !slices.Equal(got, want) {
			t.Fatalf("%q, %q reversed is %q, %q", d.Steps, d.Spec.Footing, r.Steps, r.Spec.Footing)
		}
		if len(r.Notes) != len(d.Notes) || r.Slots != d.Slots {
			t.Fatalf("%q reversed is %q", d.Steps, r.Steps)
		}
		again, err := r.Reverse()
		if err != nil {
			if strings.Contains(err.Error(), "interleave") {
				return
			}
			t.Fatal(err)
		}
		key := func(a, b drill.Note) int {
			if a.Slot != b.Slot {
				return int(a.Slot - b.Slot)
			}
			return int(a.Panel) - int(b.Panel)
		}
		if again.Name != d.Name || !slices.Equal(slices.SortedFunc(slices.Values(again.Notes), key), slices.SortedFunc(slices.Values(d.Notes), key)) {
			t.Fatalf("%q reversed twice is %q", d.Steps, again.Steps)
		}
	})
	if reversed == 0 {
		t.Error("no drill was reversed")
	}
}

func TestNamesOfChanges(t *testing.T) {
	d := parse(t, with(`name = "`+strings.Repeat("é", drill.MaxNameBytes/2)+`"`))
	m, err := d.Mirror()
	if err != nil {
		t.Fatal(err)
	}
	if !strings.HasSuffix(m.Name, "é, mirrored") || len(m.Name) > drill.MaxNameBytes {
		t.Errorf("%q", m.Name)
	}
	d = parse(t, contract)
	for _, change := range []func(*drill.Drill) (*drill.Drill, error){
		(*drill.Drill).Reverse, (*drill.Drill).Mirror,
		func(d *drill.Drill) (*drill.Drill, error) { return d.Within("c", "c") },
		func(d *drill.Drill) (*drill.Drill, error) { return d.Within("nw", "nw") },
	} {
		if d, err = change(d); err != nil {
			t.Fatal(err)
		}
	}
	if d.Name != "corner hook, mirrored, reversed, within a stream" {
		t.Errorf("%q", d.Name)
	}
}

func TestWithin(t *testing.T) {
	d := parse(t, contract)
	w, err := d.Within("c . ", " nw+ne .")
	if err != nil {
		t.Fatal(err)
	}
	if w.Slots != 12 || len(w.Notes) != 8 || w.Footing != nil || w.Spec.Footing != "" {
		t.Errorf("%+v", w)
	}
	for i, n := range d.Notes {
		if got := w.Notes[i+1]; got.Slot != n.Slot+2 || got.Panel != n.Panel {
			t.Errorf("note %d is %v", i, got)
		}
	}
	if _, err := d.Within("zz", ""); err == nil {
		t.Error("a lead-in of no panel is taken")
	}
}

func TestWithRepsAndTempo(t *testing.T) {
	d := parse(t, contract)
	r, err := d.WithReps(3)
	if err != nil || r.Total() != 15 || d.Total() != 80 {
		t.Errorf("%v, %v", r, err)
	}
	q, err := d.WithTempo(260)
	if err != nil {
		t.Fatal(err)
	}
	if a, b := d.Grid(0), q.Grid(0); a.Due(1, 0) != 923_077 || b.Due(1, 0) != 461_538 {
		t.Errorf("a rep lasts %d and %d µs", a.Due(1, 0), b.Due(1, 0))
	}
	for _, bpm := range []float64{0, 9, 1001} {
		if _, err := d.WithTempo(bpm); err == nil {
			t.Errorf("%v bpm is taken", bpm)
		}
	}
	if _, err := d.WithReps(0); err == nil {
		t.Error("0 reps are taken")
	}
}

func TestNoMirrorImage(t *testing.T) {
	at := func(x int32) pad.Rect { return pad.Rect{X0: x, Y0: 0, X1: x + 100, Y1: 100} }
	l, err := pad.NewLayout("lop", []pad.Plate{{ID: "a", Rect: at(0)}, {ID: "b", Rect: at(100)}, {ID: "d", Rect: at(500)}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	d, err := drill.New(drill.Spec{Name: "x", Layout: "lop", BPM: 100, PerBeat: 1, Reps: 1, Steps: "a b d"}, l)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := d.Mirror(); err == nil || !strings.Contains(err.Error(), "not symmetrical") {
		t.Errorf("%v", err)
	}
}

// Must reach: 0.5 million notes a second for each, for long ones as for short ones.
func BenchmarkLongDrill(b *testing.B) {
	for _, notes := range []int{10_000, 1_000_000} {
		text := fmt.Sprintf("name='m'\nlayout='single'\nbpm=100\nper_beat=4\nreps=1\nsteps='%s'\nfooting='%s'",
			strings.Repeat("nw c ", notes/2), strings.Repeat("L:nw R:c ", notes/2))
		d := parse(b, text)
		for name, f := range map[string]func() error{
			"parse":   func() error { _, err := drill.Parse("m.toml", []byte(text)); return err },
			"mirror":  func() error { _, err := d.Mirror(); return err },
			"reverse": func() error { _, err := d.Reverse(); return err },
		} {
			b.Run(fmt.Sprintf("%s/%d", name, notes), func(b *testing.B) {
				for b.Loop() {
					if err := f(); err != nil {
						b.Fatal(err)
					}
				}
				b.ReportMetric(float64(notes)*float64(b.N)/b.Elapsed().Seconds()/1e6, "Mnotes/s")
			})
		}
	}
}
