package drills_test

import (
	"maps"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
	"heeltoe/trainer/drills"
)

func TestLibrary(t *testing.T) {
	families := make(map[string]bool)
	layouts := make(map[string]int)
	ids := make(map[string]bool)
	patterns := make(map[string]string) // what is played, and how, is in the library once
	for _, e := range drills.List() {
		d, err := drills.Load(e.ID)
		if err != nil {
			t.Errorf("%s: %v", e.ID, err)
			continue
		}
		if ids[e.ID] || e.ID != strings.ToLower(e.ID) || strings.ContainsAny(e.ID, " _./") {
			t.Errorf("%q is no good id", e.ID)
		}
		ids[e.ID] = true
		if e.Family == "" || e.Help == "" || len(e.Help) > 110 || e.Name != d.Name || e.Layout != d.Spec.Layout {
			t.Errorf("%s: %+v", e.ID, e)
		}
		families[e.Family] = true
		layouts[e.Layout]++
		key := d.Layout.Name + d.Steps + d.Technique + d.Spec.Footing
		if was := patterns[key]; was != "" {
			t.Errorf("%s and %s are the same", e.ID, was)
		}
		patterns[key] = e.ID
		if d.RepSlots()%d.PerBeat != 0 {
			t.Errorf("%s: a rep of %d slots is not whole beats of %d", e.ID, d.RepSlots(), d.PerBeat)
		}
		if d.Footing != nil && technique(d) != d.Technique && d.Technique != "" {
			t.Errorf("%s: the footing is %s, the technique %s", e.ID, technique(d), d.Technique)
		}
	}
	if len(families) < 20 {
		t.Errorf("%d families: %v", len(families), slices.Sorted(maps.Keys(families)))
	}
	if layouts["single"] == 0 || layouts["double"] == 0 || len(layouts) != 2 {
		t.Errorf("layouts %v", layouts)
	}
	if _, err := drills.Load("no-such"); err == nil {
		t.Error("an unknown id is loaded")
	}
	if _, err := drills.Load("../drills"); err == nil {
		t.Error("a path is loaded")
	}
}

// technique labels a footing by the contract's rules, in its order.
func technique(d *drill.Drill) string {
	slot := func(i int32) int32 { return d.Notes[i].Slot }
	landings := make(map[int][]drill.Contact)
	for _, c := range d.Footing {
		landings[c.Landing] = append(landings[c.Landing], c)
	}
	panels := func(c drill.Contact) (s pad.PanelSet) {
		for _, n := range c.NoteIndices() {
			s = s.With(d.Notes[n].Panel)
		}
		return s
	}
	switched := len(d.Footing) > 1
	for i, c := range d.Footing {
		if panels(c) != panels(d.Footing[0]) || c.Kind == drill.Roll || len(landings[c.Landing]) > 1 || i > 0 && c.Foot == d.Footing[i-1].Foot {
			switched = false
		}
	}
	hop, roll, double, jump := false, false, false, false
	for i, c := range d.Footing {
		roll = roll || c.Kind == drill.Roll
		double = double || i > 0 && c.Foot == d.Footing[i-1].Foot && c.Landing != d.Footing[i-1].Landing
	}
	for _, l := range landings {
		var slots []int32
		for _, c := range l {
			for _, n := range c.NoteIndices() {
				if c.Kind != drill.Roll {
					slots = append(slots, slot(n))
				}
			}
		}
		hop = hop || len(slots) > 0 && slices.Min(slots) != slices.Max(slots)
		jump = jump || len(l) == 2 && slices.Min(slots) == slices.Max(slots)
	}
	switch {
	case switched:
		return "foot-switch"
	case hop:
		return "hop"
	case roll:
		return "roll"
	case double:
		return "double-step"
	case jump:
		return "jump"
	}
	return "alternate"
}

// The facts of the trade that the library holds (common practice, no source).
func TestStairs(t *testing.T) {
	steps := func(id string) []string {
		d, err := drills.Load(id)
		if err != nil {
			t.Fatal(err)
		}
		return slices.DeleteFunc(strings.Fields(d.Steps), func(s string) bool { return s == "." })
	}
	ten := steps("stair-ten")
	if len(ten) != 10 || len(slices.Compact(slices.Sorted(slices.Values(ten)))) != 10 {
		t.Errorf("the ten-panel stair is %v", ten)
	}
	if got := strings.Join(ten[2:8], " "); got != "1c 1ne 1se 2sw 2nw 2c" || got != strings.Join(steps("stair-middle-six"), " ") {
		t.Errorf("its middle six are %s", got)
	}
	for _, missing := range []string{"1se", "2sw"} {
		d, err := drills.Load("stair-nine-without-" + missing)
		if err != nil {
			t.Fatal(err)
		}
		want := slices.DeleteFunc(slices.Clone(ten), func(s string) bool { return s == missing })
		if got := strings.Fields(d.Steps)[:9]; !slices.Equal(got, want) || len(d.Notes) != 9 {
			t.Errorf("without %s: %v", missing, got)
		}
	}
	// From either end the stair is the same to the feet: its mirror image, reversed, is itself.
	d, err := drills.Load("stair-ten")
	if err != nil {
		t.Fatal(err)
	}
	m, err := d.Mirror()
	if err != nil {
		t.Fatal(err)
	}
	if m, err = m.Reverse(); err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(slices.DeleteFunc(strings.Fields(m.Steps), func(s string) bool { return s == "." }), ten) {
		t.Errorf("mirrored and reversed: %s", m.Steps)
	}
}

func TestChangesOfAll(t *testing.T) {
	for _, e := range drills.List() {
		d, err := drills.Load(e.ID)
		if err != nil {
			t.Fatal(err)
		}
		m, err := d.Mirror()
		if err != nil {
			t.Errorf("%s: %v", e.ID, err)
			continue
		}
		twice, err := m.Mirror()
		if err != nil || twice.Spec != d.Spec || !slices.Equal(twice.Notes, d.Notes) || !slices.Equal(twice.Footing, d.Footing) {
			t.Errorf("%s mirrored twice is %+v, %v", e.ID, twice, err)
		}
		r, err := d.Reverse()
		if err != nil {
			t.Errorf("%s: %v", e.ID, err)
			continue
		}
		for _, x := range []*drill.Drill{d, m, r} {
			checkWithin(t, x)
		}
	}
}

// checkWithin holds Within to what its comment says.
func checkWithin(t interface {
	Errorf(string, ...any)
	Helper()
}, d *drill.Drill) {
	t.Helper()
	w, err := drills.Within(d)
	if err != nil {
		t.Errorf("%s: %v", d.Steps, err)
		return
	}
	if len(w.Notes) < len(d.Notes)+8 {
		t.Errorf("%s: within a stream %s", d.Steps, w.Steps)
		return
	}
	// The pattern stands in it, note by note.
	shift := w.Notes[4].Slot - d.Notes[0].Slot
	for i, n := range d.Notes {
		if got := w.Notes[4+i]; got.Slot != n.Slot+shift || got.Panel != n.Panel || got.Hold != n.Hold {
			t.Errorf("%s: note %d in %s", d.Steps, i, w.Steps)
			return
		}
	}
	// The stream's notes are evenly spaced and repeat no panel of their neighbours.
	set := make(map[int64]pad.PanelSet)
	var slots []int64
	for rep := range int64(2) {
		for _, n := range w.Notes {
			at := rep*w.Slots + int64(n.Slot)
			if len(slots) == 0 || slots[len(slots)-1] != at {
				slots = append(slots, at)
			}
			set[at] = set[at].With(n.Panel)
		}
	}
	gap := slots[1] - slots[0]
	core := func(at int64) bool {
		at %= w.Slots
		return at >= int64(w.Notes[4].Slot) && at <= int64(w.Notes[3+len(d.Notes)].Slot)
	}
	for i := 1; i < len(slots); i++ {
		if core(slots[i-1]) && core(slots[i]) {
			continue
		}
		if slots[i]-slots[i-1] != gap {
			t.Errorf("%s: in %s slot %d comes %d after the one before, not %d", d.Steps, w.Steps, slots[i], slots[i]-slots[i-1], gap)
		}
		if set[slots[i]]&set[slots[i-1]] != 0 {
			t.Errorf("%s: in %s slot %d repeats a panel", d.Steps, w.Steps, slots[i])
		}
	}
}

func TestWithinOfAny(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		layout := rapid.SampledFrom([]*pad.Layout{pad.Single, pad.Double}).Draw(t, "layout")
		var ids []string
		for _, p := range layout.Panels {
			ids = append(ids, p.ID)
		}
		token := rapid.Custom(func(t *rapid.T) string {
			n := rapid.SampledFrom([]int{0, 1, 1, 1, 2, 3}).Draw(t, "joined")
			if n == 0 {
				return "."
			}
			return strings.Join(rapid.Permutation(ids).Draw(t, "panels")[:n], "+")
		})
		steps := rapid.SliceOfN(token, 1, 20).Draw(t, "steps")
		d, err := drill.New(drill.Spec{Name: "any", Layout: layout.Name, BPM: 100, PerBeat: rapid.Int64Range(1, 12).Draw(t, "per_beat"),
			Reps: 3, Steps: strings.Join(steps, " ")}, nil)
		if err != nil {
			t.Skip("no note")
		}
		checkWithin(t, d)
	})
}
