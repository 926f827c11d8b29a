package profile_test

import (
	"bytes"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
	"heeltoe/trainer/profile"
)

const measured = `player = 'Mx Example'

[[limit]]
of = 'cycle'
time_us = 150000
reached = true
drill = 'square walk'
bpm = 200.5
reps = 120

[[limit]]
of = 'swing'
time_us = 90000
reached = false
drill = 'square walk'
bpm = 200.5
reps = 120
`

// What was learnt of a run stands once, and is taken back.
func TestLearnAndForget(t *testing.T) {
	var p profile.Player
	p.Learn(profile.Fit{Run: "a", Reps: 4, Values: map[string]float64{"dwell": 80}})
	p.Learn(profile.Fit{Run: "b", Reps: 8, Values: map[string]float64{"dwell": 90}})
	p.Learn(profile.Fit{Run: "a", Reps: 5, Values: map[string]float64{"dwell": 85}})
	if len(p.Fits) != 2 || p.Fits[1].Reps != 5 {
		t.Errorf("learnt is %v", p.Fits)
	}
	if !p.Forget("a") || p.Forget("a") || len(p.Fits) != 1 {
		t.Errorf("left is %v", p.Fits)
	}
	if _, err := profile.ParsePlayer("p", []byte("[[fit]]\nrun = 'a'\nreps = 0\n")); err == nil {
		t.Error("a fit of no reps is taken")
	}
}

// Any player is read from the file as it was written.
func TestAnyPlayerRoundTrips(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := &profile.Player{Name: rapid.SampledFrom([]string{"", "Mx Example", "木"}).Draw(t, "name")}
		for _, of := range rapid.SliceOfNDistinct(rapid.SampledFrom(footing.Limits()), 0, -1, rapid.ID).Draw(t, "limits") {
			p.Keep(profile.Limit{Of: of, Time: pad.Time(rapid.Int64Range(1, int64(10*pad.Second)).Draw(t, "time")), Reached: rapid.Bool().Draw(t, "reached"),
				Drill: rapid.SampledFrom([]string{"x", "a drill, mirrored"}).Draw(t, "drill"), BPM: rapid.Float64Range(drill.MinBPM, drill.MaxBPM).Draw(t, "bpm"),
				Reps: rapid.Int64Range(1, drill.MaxReps).Draw(t, "reps")})
		}
		for _, run := range rapid.SliceOfNDistinct(rapid.SampledFrom([]string{"a", "b", "c d"}), 0, -1, rapid.ID).Draw(t, "runs") {
			p.Learn(profile.Fit{Run: run, Reps: rapid.Int64Range(1, drill.MaxReps).Draw(t, "fit reps"),
				Values: map[string]float64{"dwell": rapid.Float64Range(-1e6, 1e6).Draw(t, "dwell"), "a panel's": 1}})
		}
		text, err := p.Text()
		if err != nil {
			t.Fatal(err)
		}
		q, err := profile.ParsePlayer("p", text)
		if err != nil || !reflect.DeepEqual(p, q) {
			t.Fatalf("got %+v, %v, want %+v", q, err, p)
		}
		if again, err := q.Text(); err != nil || !bytes.Equal(again, text) {
			t.Fatalf("written again it is\n%s, not\n%s", again, text)
		}
	})
}

// What is wrong is told with its place.
func TestBadPlayer(t *testing.T) {
	for _, c := range []struct{ old, new, place, says string }{
		{"'Mx Example'", "' '", "p:1:10: ", "a name takes"},
		{"'cycle'", "'flight'", "p:4:6: ", "none of cycle, alone-2"},
		{"'swing'", "'cycle'", "p:12:6: ", "stands there already"},
		{"150000", "0", "p:5:11: ", "not from 1 to 10000000"},
		{"'square walk'", "''", "p:7:9: ", "a name takes"},
		{"200.5", "2000.5", "p:8:7: ", "not from 10 to 1000"},
		{"reps = 120", "reps = 0", "p:9:8: ", "not from 1"},
		{"reps = 120", "lift = 120", "p:9:1: ", "lift"},
	} {
		_, err := profile.ParsePlayer("p", []byte(strings.Replace(measured, c.old, c.new, 1)))
		if !pad.IsBadInput(err) || !strings.HasPrefix(err.Error(), c.place) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: got %v, want %s…%s", c.new, err, c.place, c.says)
		}
	}
}

// What was reached replaces a body's limit; what was not only shortens it.
func TestPlayerApplies(t *testing.T) {
	p, err := profile.ParsePlayer("p", []byte(measured))
	if err != nil {
		t.Fatal(err)
	}
	b := footing.DefaultBody()
	p.Apply(&b)
	if b.Cycle != 150*time.Millisecond || b.Limit(footing.LimitSwing).Round(time.Millisecond) != 90*time.Millisecond || b.Measured != 1<<footing.LimitCycle|1<<footing.LimitSwing {
		t.Errorf("measured %+v", b)
	}
	p.Limits[0].Reached, p.Limits[1].Time = false, 130*pad.Millisecond
	b = footing.DefaultBody()
	if p.Apply(&b); b != footing.DefaultBody() {
		t.Errorf("slower than the defaults and not reached, but %+v", b)
	}
	// The newest measurement is kept, unless it says less than the one before.
	p.Keep(profile.Limit{Of: footing.LimitCycle, Time: 160 * pad.Millisecond})
	p.Keep(profile.Limit{Of: footing.LimitSwing, Time: 120 * pad.Millisecond})
	p.Keep(profile.Limit{Of: footing.LimitAlone2, Time: 170 * pad.Millisecond, Reached: true})
	var got []pad.Time
	for _, l := range p.Limits {
		got = append(got, l.Time)
	}
	if want := []pad.Time{150_000, 170_000, 120_000}; !reflect.DeepEqual(got, want) {
		t.Errorf("kept %v, want %v", got, want)
	}
}

func TestSaveAndLoadPlayer(t *testing.T) {
	dir := home(t)
	if p, err := profile.LoadPlayer("Mx Example"); err != nil || p.Name != "Mx Example" || p.Limits != nil {
		t.Errorf("nothing was measured: %+v, %v", p, err)
	}
	for name, file := range map[string]string{"Mx Example": "players/mx-example.toml", "": "player.toml"} {
		p, err := profile.ParsePlayer("p", []byte(measured))
		if err != nil {
			t.Fatal(err)
		}
		p.Name = name
		got, err := profile.SavePlayer(p)
		if err != nil || got != filepath.Join(dir, "heeltoe", filepath.FromSlash(file)) {
			t.Errorf("saved as %s, %v", got, err)
		}
		if q, err := profile.LoadPlayer(name); err != nil || !reflect.DeepEqual(p, q) {
			t.Errorf("%q: %+v, %v", name, q, err)
		}
	}
	if err := os.WriteFile(profile.PlayerFile(""), []byte("limit = 3"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := profile.LoadPlayer(""); !pad.IsBadInput(err) {
		t.Errorf("a broken file: %v", err)
	}
}

func FuzzPlayer(f *testing.F) {
	f.Add([]byte(measured))
	f.Fuzz(func(t *testing.T, text []byte) {
		p, err := profile.ParsePlayer("f", text)
		if err != nil {
			if !pad.IsBadInput(err) {
				t.Fatalf("%v is no *pad.BadInput", err)
			}
			return
		}
		once, err := p.Text()
		if err != nil {
			t.Fatal(err)
		}
		if q, err := profile.ParsePlayer("f", once); err != nil || !reflect.DeepEqual(p, q) {
			t.Fatalf("%q gives %+v, %v", once, q, err)
		}
	})
}
