package footing_test

import (
	"math"
	"testing"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
	"heeltoe/trainer/drills"
)

// What stances say of the landings of a footing, one foot each, adds up to its load.
func TestStancesAddUpToTheLoad(t *testing.T) {
	seen := 0
	for _, entry := range drills.List() {
		d, err := drills.Load(entry.ID)
		if err != nil {
			t.Fatal(err)
		}
		body := footing.DefaultBody()
		all, err := footing.Plan(d, body, drill.DefaultWindows, footing.Filter{}, 8)
		if err != nil {
			t.Fatal(err)
		}
		s := footing.NewStances(d.Layout, body)
		for _, f := range all {
			if f.Landings != len(f.Contacts) || len(f.Aims) > 0 || !f.Feasible || holds(d) || !bothFeet(f) {
				continue
			}
			seen++
			if got, want := loadOf(t, d, f, s), f.Load-1e-3*f.EffortJ; math.Abs(got-want) > 1e-9*(1+want) {
				t.Errorf("%s by %s: the landings add up to %v, the footing's load without effort is %v", entry.ID, f.Technique, got, want)
			}
		}
	}
	if seen < 50 {
		t.Errorf("only %d footings were compared", seen)
	}
}

func holds(d *drill.Drill) bool {
	for _, n := range d.Notes {
		if n.Hold > 0 {
			return true
		}
	}
	return false
}

func bothFeet(f *footing.Footing) bool {
	var seen [2]bool
	for _, c := range f.Contacts {
		seen[c.Foot] = true
	}
	return seen[0] && seen[1]
}

// loadOf walks a footing three times round its loop and gives the load of the last.
func loadOf(t *testing.T, d *drill.Drill, f *footing.Footing, s *footing.Stances) (load float64) {
	t.Helper()
	slotUS := 60e6 / (d.BPM * float64(d.PerBeat))
	at := [2]footing.Place{footing.Nowhere, footing.Nowhere}
	var press [2]int64
	last, run := pad.Foot(2), 0
	for rep := range int64(3) {
		load = 0
		for i := range f.Contacts {
			c := &f.Contacts[i]
			var set pad.PanelSet
			for _, n := range c.NoteIndices() {
				set = set.With(d.Notes[n].Panel)
			}
			to, ok := s.Place(c.Kind, set)
			if !ok {
				t.Fatalf("no foot gets to %v", set)
			}
			if run++; c.Foot != last {
				last, run = c.Foot, 1
			}
			notes := c.NoteIndices()
			slot := func(n int32) int64 { return rep*d.RepSlots() + int64(d.Notes[n].Slot) }
			if at[c.Foot] != footing.Nowhere {
				haste, late := s.Haste(at[c.Foot], to, float64(slot(notes[0])-press[c.Foot])*slotUS, run-1)
				if load += haste; late {
					t.Errorf("contact %d of a footing that works is late", i)
				}
			}
			at[c.Foot], press[c.Foot] = to, slot(notes[len(notes)-1])
			turn, can, _ := s.Stand(at[pad.Left], at[pad.Right])
			if load += turn + s.Contact(to); rep > 0 && !can[c.Foot] {
				t.Errorf("contact %d of a footing that works: its foot cannot turn so", i)
			}
		}
	}
	return load
}
