package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
	"heeltoe/trainer/drills"
	"heeltoe/trainer/view"
)

// keysOf gives the keys of a JSON object, sorted.
func keysOf(t *testing.T, raw json.RawMessage) []string {
	var m map[string]json.RawMessage
	if err := json.Unmarshal(raw, &m); err != nil {
		t.Fatal(err)
	}
	var keys []string
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

// plan --json of every built-in drill has the contract's keys and nothing else, lists
// what works first and plays every note once.
func TestPlanJSON(t *testing.T) {
	home(t)
	for _, e := range drills.List() {
		d, err := drills.Load(e.ID)
		if err != nil {
			t.Fatal(err)
		}
		text := must(t, "plan", e.ID, "--json")
		if got := keysOf(t, json.RawMessage(text)); !slices.Equal(got, []string{"bpm", "drill", "footings"}) {
			t.Fatalf("%s: keys %v", e.ID, got)
		}
		var p struct {
			Drill    string
			BPM      float64
			Footings []json.RawMessage
		}
		if err := json.Unmarshal([]byte(text), &p); err != nil {
			t.Fatal(err)
		}
		if p.Drill != d.Name || p.BPM != d.BPM || len(p.Footings) == 0 || len(p.Footings) > 10 {
			t.Errorf("%s: %s at %g, %d footings", e.ID, p.Drill, p.BPM, len(p.Footings))
		}
		worked := true
		for _, raw := range p.Footings {
			if got := keysOf(t, raw); !slices.Equal(got, []string{"aims", "contacts", "effort_j", "feasible", "landings", "max_turn_deg", "technique", "tempo", "why_not"}) {
				t.Fatalf("%s: keys %v", e.ID, got)
			}
			var f struct {
				Technique string
				Feasible  bool
				Landings  int
				Tempo     map[string][]float64
				Contacts  []json.RawMessage
				Aims      []json.RawMessage
				WhyNot    []string `json:"why_not"`
			}
			if err := json.Unmarshal(raw, &f); err != nil {
				t.Fatal(err)
			}
			var outer []float64
			for _, band := range []string{"inner", "middle", "outer"} {
				r, ok := f.Tempo[band]
				if outer = r; !ok || len(r) != 0 && (len(r) != 2 || r[0] > r[1]) {
					t.Errorf("%s: tempo %v", e.ID, f.Tempo)
				}
			}
			if f.Feasible && !worked || f.Feasible != (len(f.WhyNot) == 0) || f.WhyNot == nil || f.Aims == nil ||
				f.Feasible != (len(outer) == 2 && outer[0] <= d.BPM && d.BPM <= outer[1]) {
				t.Errorf("%s: feasible %v, %v, outer %v", e.ID, f.Feasible, f.WhyNot, outer)
			}
			worked = f.Feasible
			var played []int32
			for _, raw := range f.Contacts {
				if got := keysOf(t, raw); !slices.Equal(got, []string{"foot", "kind", "landing", "notes", "panels"}) {
					t.Fatalf("%s: keys %v", e.ID, got)
				}
				var c struct {
					Notes   []int32
					Foot    string
					Panels  []string
					Kind    string
					Landing int
				}
				if err := json.Unmarshal(raw, &c); err != nil {
					t.Fatal(err)
				}
				if c.Foot != "L" && c.Foot != "R" || !slices.Contains([]string{"step", "bracket", "roll"}, c.Kind) || c.Landing >= f.Landings || len(c.Panels) != len(c.Notes) {
					t.Errorf("%s: %+v", e.ID, c)
				}
				for i, n := range c.Notes {
					if d.Layout.ID(d.Notes[n].Panel) != c.Panels[i] {
						t.Errorf("%s: note %d is not on %s", e.ID, n, c.Panels[i])
					}
				}
				played = append(played, c.Notes...)
			}
			slices.Sort(played)
			for i, n := range played {
				if int32(i) != n || len(played) != len(d.Notes) {
					t.Fatalf("%s: played are %v", e.ID, played)
				}
			}
			for _, raw := range f.Aims {
				if got := keysOf(t, raw); !slices.Equal(got, []string{"aim_us", "band", "landing", "slack_us"}) {
					t.Fatalf("%s: keys %v", e.ID, got)
				}
			}
		}
	}
}

// The contract's example of a slowest tempo: notes that span 3/8 of a beat and
// are struck at once need 250, 140.625 and 93.75 beats a minute. A tempo is rounded inwards.
func TestPlanTempi(t *testing.T) {
	home(t)
	file := filepath.Join(t.TempDir(), "span.toml")
	text := "name = \"span\"\nlayout = \"single\"\nbpm = 260\nper_beat = 8\nreps = 2\nrest_beats = 1\nsteps = \"sw c . ne . . . .\"\n"
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	if got := must(t, "plan", file, "--json"); !strings.Contains(got, `"tempo":{"inner":[250,`) || !strings.Contains(got, `"middle":[140.625,`) || !strings.Contains(got, `"outer":[93.75,`) {
		t.Error(got)
	}
	if got := must(t, "plan", "diagonal-three", "--bpm", "400", "--windows", "30/40,60/80,105/135", "--json"); !strings.Contains(got, `"inner":[214.286,`) { // 15,000/70
		t.Error(got)
	}
}

func TestPlanText(t *testing.T) {
	home(t)
	got := must(t, "plan", "corner-roll")
	for _, want := range []string{"written in the drill", "L:sw>c R:se>c", "slack, ms", "not measured", view.Caution} {
		if !strings.Contains(got, want) {
			t.Errorf("%q is missing in\n%s", want, got)
		}
	}
	got = must(t, "plan", "corner-pair", "--bpm", "600")
	if !strings.Contains(got, "written in the drill does not work: left foot again within 100 ms, needs 125 ms") {
		t.Errorf("no reason is given:\n%s", got)
	}
}

// The filters reach the planner.
func TestPlanFilters(t *testing.T) {
	home(t)
	if got := must(t, "plan", "corner-pair", "--foot", "sw=R", "--foot", "se=R", "--json"); strings.Contains(got, `"foot":"L"`) || !strings.Contains(got, `"foot":"R"`) {
		t.Errorf("the left foot plays: %s", got)
	}
	if got := must(t, "plan", "corner-jumps", "--quiet", "--json"); strings.Contains(got, `"technique":"jump"`) {
		t.Errorf("quiet practice jumps: %s", got)
	}
	if got := must(t, "plan", "side-pairs", "--no-long-shoe", "--json"); strings.Contains(got, `"panels":["sw","nw"]`) {
		t.Errorf("a long foot is asked for: %s", got)
	}
	if got := must(t, "plan", "side-pairs", "--shoe", "250", "--json"); strings.Contains(got, `"panels":["sw","nw"]`) {
		t.Errorf("a short foot lies over both: %s", got)
	}
	if got := must(t, "plan", "side-pairs", "--json"); !strings.Contains(got, `"panels":["sw","nw"]`) {
		t.Errorf("no long foot: %s", got)
	}
	if got := must(t, "plan", "crossover-lower", "--max-turn", "45", "--json"); strings.Contains(got, `"max_turn_deg":90`) {
		t.Errorf("the hips turn: %s", got)
	}
	if got := must(t, "plan", "corner-jumps", "--quiet", "--no-long-shoe"); !strings.Contains(got, "No footing passes these filters.") {
		t.Errorf("%s", got)
	}
}

// --over joins tempo to tempo without a gap, each with one footing.
func TestPlanOver(t *testing.T) {
	home(t)
	got := must(t, "plan", "crossover-upper", "--over", "60..260")
	if !strings.Contains(got, "double-step") || !strings.Contains(got, "hop") || !strings.Contains(got, "not measured") || !strings.Contains(got, "\n60 ") || !strings.Contains(got, "  260 ") {
		t.Error(got)
	}
	if got := must(t, "plan", "corner-pair", "--over", "900..1000"); !strings.Contains(got, "none works") {
		t.Error(got)
	}
}

// A footing written by number is what the drill file then has.
func TestPlanWrite(t *testing.T) {
	home(t)
	file := filepath.Join(t.TempDir(), "mine.toml")
	must(t, "plan", "crossover-lower-hop", "--write", "2", "--out", file)
	d, err := drill.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	var p struct{ Footings []struct{ Technique string } }
	if err := json.Unmarshal([]byte(must(t, "plan", "crossover-lower-hop", "--json")), &p); err != nil {
		t.Fatal(err)
	}
	if d.Footing == nil || d.Technique != p.Footings[1].Technique {
		t.Errorf("%+v", d.Spec)
	}
	if got := must(t, "plan", file); !strings.Contains(got, "written in the drill") {
		t.Error(got)
	}
	if code, out, errText := heeltoe("", "plan", "crossover-lower-hop", "--write", "1", "--out", file); code != exitInput || out != "" || !strings.Contains(errText, "--force") {
		t.Errorf("exit %d, %q, %q", code, out, errText)
	}
	must(t, "plan", "crossover-lower-hop", "--write", "1", "--out", file, "--force")
}

func TestPlanWrongInput(t *testing.T) {
	home(t)
	for _, args := range [][]string{
		{"--shoe", "50"}, {"--shoe", "NaN"}, {"--count", "0"}, {"--count", "1001"}, {"--max-turn", "181"}, {"--windows", "1/2"}, {"--bpm", "5"},
		{"--foot", "sw"}, {"--foot", "sw=X"}, {"--foot", "up=L"}, {"--foot", "sw=L", "--foot", "sw=R"},
		{"--over", "80"}, {"--over", "300..80"}, {"--over", "5..80"}, {"--over", "a..b"}, {"--over", "80..300", "--json"},
		{"--write", "1"}, {"--out", "x.toml"}, {"--write", "11", "--out", "x.toml"}, {"--write", "1", "--out", "x"}, {"--write", "1", "--out", "x.toml", "--json"},
	} {
		code, out, errText := heeltoe("", append([]string{"plan", "corner-pair"}, args...)...)
		if code != exitInput || out != "" || !strings.HasPrefix(errText, "heeltoe: ") {
			t.Errorf("%v: exit %d, %q, %q", args, code, out, errText)
		}
	}
	if _, err := os.Stat("x.toml"); err == nil {
		t.Error("a file was written")
	}
}

func TestParseFoot(t *testing.T) {
	for text, want := range map[string]struct {
		panel pad.Panel
		foot  pad.Foot
	}{"nw=L": {0, pad.Left}, "se=R": {4, pad.Right}} {
		if p, f, err := parseFoot(pad.Single, text); err != nil || p != want.panel || f != want.foot {
			t.Errorf("%s: %d %v %v", text, p, f, err)
		}
	}
}
