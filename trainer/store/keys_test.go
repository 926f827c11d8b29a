package store_test

import (
	"testing"

	"pgregory.net/rapid"

	"heeltoe/judge/drill"
	"heeltoe/trainer/drills"
	"heeltoe/trainer/store"
)

// What is played makes the key: not its name, tempo, reps, technique or
// footing, nor the order in which joined notes are written; the mirror image's
// key is that of the drill mirrored.
func TestKeys(t *testing.T) {
	list := drills.List()
	owner := map[string]string{}
	for _, e := range list {
		d, err := drills.Load(e.ID)
		if err != nil {
			t.Fatal(err)
		}
		key, mirror := store.Keys(d)
		m, err := d.Mirror()
		if err != nil {
			t.Fatal(err)
		}
		if k, back := store.Keys(m); k != mirror || back != key {
			t.Errorf("%s: mirrored it has %s, %s, want %s, %s", e.ID, k, back, mirror, key)
		}
		if was, ok := owner[key]; ok && was != d.Steps {
			t.Errorf("%q and %q have one key", was, d.Steps)
		}
		owner[key] = d.Steps
	}
	rapid.Check(t, func(t *rapid.T) {
		d, err := drills.Load(list[rapid.IntRange(0, len(list)-1).Draw(t, "drill")].ID)
		if err != nil {
			t.Fatal(err)
		}
		key, _ := store.Keys(d)
		s := d.Spec
		s.Name, s.Technique, s.Footing = "another", "", ""
		s.BPM = rapid.Float64Range(10, 1000).Draw(t, "bpm")
		s.Reps = rapid.Int64Range(1, 50).Draw(t, "reps")
		e, err := drill.New(s, nil)
		if err != nil {
			t.Fatal(err)
		}
		if k, _ := store.Keys(e); k != key {
			t.Fatalf("the key changed")
		}
		s.Steps += " ."
		e, err = drill.New(s, nil)
		if err != nil {
			t.Fatal(err)
		}
		if k, _ := store.Keys(e); k == key {
			t.Fatalf("a longer rep has the same key")
		}
	})
	spec := drill.Spec{Name: "x", Layout: "single", BPM: 100, PerBeat: 2, Reps: 2, Steps: "nw+ne c"}
	a, err := drill.New(spec, nil)
	if err != nil {
		t.Fatal(err)
	}
	spec.Steps = "ne+nw  c"
	b, err := drill.New(spec, nil)
	if err != nil {
		t.Fatal(err)
	}
	ka, ma := store.Keys(a)
	kb, _ := store.Keys(b)
	if ka != kb || ma != ka {
		t.Errorf("keys %s, %s, mirrored %s", ka, kb, ma)
	}
}
