package evening_test

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"heeltoe/footing"
	"heeltoe/judge/drill"
	"heeltoe/trainer/drills"
	"heeltoe/trainer/evening"
	"heeltoe/trainer/sheet"
)

func options(t testing.TB, budget int64, ids ...string) evening.Options {
	o := evening.Options{Budget: budget, Rest: time.Minute, Body: footing.DefaultBody(), Windows: drill.DefaultWindows}
	for _, id := range ids {
		d, err := drills.Load(id)
		if err != nil {
			t.Fatal(err)
		}
		o.Drills = append(o.Drills, d)
	}
	return o
}

// gathers tells whether some landing of d plays notes of different slots.
func gathers(d *drill.Drill) bool {
	slot := map[int]int32{}
	for _, c := range d.Footing {
		for _, n := range c.NoteIndices() {
			if was, ok := slot[c.Landing]; ok && was != d.Notes[n].Slot && c.Kind != drill.Roll {
				return true
			}
			slot[c.Landing] = d.Notes[n].Slot
		}
	}
	return false
}

// Whatever drills and budget: the budget is kept, the parts come in order, the warm-up
// gets faster and gathers nothing, and what has no place is said to have none.
func TestEveningKeepsItsBudget(t *testing.T) {
	byLayout := map[string][]string{}
	for _, e := range drills.List() {
		byLayout[e.Layout] = append(byLayout[e.Layout], e.ID)
	}
	rapid.Check(t, func(rt *rapid.T) {
		ids := byLayout[rapid.SampledFrom([]string{"single", "double"}).Draw(rt, "layout")]
		tonight := rapid.SliceOfNDistinct(rapid.SampledFrom(ids), 1, 4, rapid.ID).Draw(rt, "drills")
		o := options(t, rapid.Int64Range(evening.LeastBudget, 4000).Draw(rt, "budget"), tonight...)
		e, err := evening.New(o)
		if err != nil {
			if o.Budget > 400 {
				rt.Fatal(err)
			}
			return
		}
		var landings int64
		order := map[evening.Kind]int{evening.WarmUp: 0, evening.Main: 1, evening.Easy: 2}
		at, sets := 0, map[string]int{}
		for i := range e.Parts {
			p := &e.Parts[i]
			landings += p.Landings()
			if order[p.Kind] < at {
				rt.Fatalf("part %d is a %s after part %d", i+1, p.Kind, i)
			}
			at = order[p.Kind]
			switch {
			case p.Kind != evening.Main && gathers(p.Drill):
				rt.Fatalf("%s gathers: %s", p.Kind, p.Drill.Spec.Footing)
			case p.Kind == evening.Main:
				sets[p.Drill.Name]++
			}
			if p.Drill.Reps < evening.LeastReps || (p.Rest == 0) != (i == 0) {
				rt.Fatalf("part %d has %d reps after a rest of %v", i+1, p.Drill.Reps, p.Rest)
			}
		}
		if landings > o.Budget || landings != e.Landings() {
			rt.Fatalf("%d landings of %d, said are %d", landings, o.Budget, e.Landings())
		}
		if len(sets)+len(e.LeftOut) != len(tonight) {
			rt.Fatalf("%v and %v of %v", sets, e.LeftOut, tonight)
		}
		for i := range e.Parts {
			p := &e.Parts[i]
			n := sets[p.Drill.Name]
			if n > evening.MostSets {
				rt.Fatalf("%s comes round %d times", p.Drill.Name, n)
			}
			if each := p.Landings() / p.Drill.Reps; p.Kind == evening.Main && n < evening.MostSets && o.Budget-landings >= evening.LeastReps*each {
				rt.Fatalf("%d landings of %d, though %s could come round once more", landings, o.Budget, p.Drill.Name)
			}
		}
		if at != 2 {
			rt.Fatal("there is no easy end")
		}
	})
}

// In quiet hours a foot stays down in every part, by where the drawn feet stand: no
// landing comes after a time free of pressed panels. What is drawn takes a swing before
// each landing, which at fast tempi leaves gaps of its own.
func TestQuietEveningHasNoPanelFreeTime(t *testing.T) {
	for _, ids := range [][]string{{"square-walk", "corner-hook"}, {"run-five-lower", "corner-jumps"}, {"seam-zigzag", "stair-middle-six"}} {
		o := options(t, 1200, ids...)
		o.Quiet = true
		e, err := evening.New(o)
		if err != nil {
			t.Fatal(err)
		}
		for i := range e.Parts {
			d := e.Parts[i].Drill
			f, err := footing.Check(d, d.Footing, o.Body, o.Windows)
			if err != nil {
				t.Fatal(err)
			}
			for k, l := range sheet.Of(d, f, o.Body, "").Landings {
				if l.Free && d.BPM < 120 {
					t.Errorf("part %d, %s by %s, is free of panels before landing %d", i+1, d.Name, d.Spec.Footing, k)
				}
			}
		}
		for _, l := range e.LeftOut {
			t.Logf("left out: %s: %s", l.Drill.Name, l.Why)
		}
	}
	// A jump over the seam has no quiet footing; alone it makes no evening.
	o := options(t, 1200, "inner-jumps")
	o.Quiet = true
	if _, err := evening.New(o); err == nil || !strings.Contains(err.Error(), "panel-free") {
		t.Errorf("jumps in quiet hours: %v", err)
	}
}

func TestNewRefuses(t *testing.T) {
	mixed := options(t, 1200, "corner-hook", "stair-ten")
	for what, o := range map[string]evening.Options{
		"too small": options(t, evening.LeastBudget-1, "corner-hook"),
		"layouts":   mixed,
		"no drill":  options(t, 1200),
	} {
		if e, err := evening.New(o); err == nil {
			t.Errorf("%s: %+v", what, e)
		}
	}
}
