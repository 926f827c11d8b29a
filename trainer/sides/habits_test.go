package sides_test

import (
	"errors"
	"io"
	"testing"

	"heeltoe/footing/pad"
	"heeltoe/input/synth"
	"heeltoe/judge"
	"heeltoe/judge/drill"
	"heeltoe/trainer"
	"heeltoe/trainer/sides"
)

// runsOf gives runs of a drill by a synthetic player with the footing given, reviewed
// with their feet by a drill that has none.
func runsOf(t *testing.T, steps, footing string, seed uint64) []sides.Feet {
	t.Helper()
	spec := drill.Spec{Name: "habit", Layout: "single", BPM: 100, PerBeat: 4, Reps: 12, Steps: steps, Footing: footing}
	played, err := drill.New(spec, nil)
	if err != nil {
		t.Fatal(err)
	}
	spec.Footing = ""
	d, err := drill.New(spec, nil)
	if err != nil {
		t.Fatal(err)
	}
	var out []sides.Feet
	for k := range uint64(8) {
		player, err := synth.New(played, played.Footing, pad.Second, synth.Defaults(), 100*seed+k)
		if err != nil {
			t.Fatal(err)
		}
		r := trainer.New(d, judge.Options{Lead: pad.Second})
		for {
			e, err := player.Next()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				t.Fatal(err)
			}
			r.Feed(e)
		}
		r.Finish()
		out = append(out, sides.RunOf(r.Report()).Feet)
	}
	return out
}

// A player who takes the centre with the right foot on both sides does so by habit, as far
// as the reading can tell; of one who mirrors the feet with the drill there is none.
func TestHabitOfASyntheticPlayer(t *testing.T) {
	first := sides.HabitsOf(runsOf(t, "sw c se .", "L:sw R:c R:se", 1))
	same := sides.HabitsOf(runsOf(t, "se c sw .", "R:se R:c L:sw", 2))
	mirrored := sides.HabitsOf(runsOf(t, "se c sw .", "R:se L:c L:sw", 3))
	t.Logf("centre: L in %.2f, %.2f with the same foot, %.2f mirrored; begins: L in %.2f, %.2f", first.Centre.Value, same.Centre.Value, mirrored.Centre.Value,
		first.Lead.Value, mirrored.Lead.Value)
	if foot, ok := sides.ByHabit(first.Centre, same.Centre); !ok || foot != pad.Right {
		t.Errorf("the centre is taken by %v, %v: %+v, %+v", foot, ok, first.Centre, same.Centre)
	}
	if foot, ok := sides.ByHabit(first.Centre, mirrored.Centre); ok {
		t.Errorf("a habit of %v where the feet are mirrored", foot)
	}
	if foot, ok := sides.ByHabit(first.Lead, mirrored.Lead); ok {
		t.Errorf("begins with %v by habit where the feet are mirrored", foot)
	}
}
