package store

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"

	"heeltoe/judge/drill"
)

// Keys gives the key of what a drill plays, and that of its mirror image:
// hashes of the layout, the slots in a beat, the rest and the steps, with joined
// notes in the layout's order. Name, tempo, number of reps, technique and footing
// do not count: they are compared apart. A layout that has no mirror image gives
// one key for both.
func Keys(d *drill.Drill) (key, mirror string) {
	key = keyOf(d, d.Notes)
	notes := slices.Clone(d.Notes)
	for i := range notes {
		p, ok := d.Layout.Mirror(notes[i].Panel)
		if !ok {
			return key, key
		}
		notes[i].Panel = p
	}
	return key, keyOf(d, notes)
}

func keyOf(d *drill.Drill, notes []drill.Note) string {
	notes = slices.Clone(notes)
	slices.SortFunc(notes, func(a, b drill.Note) int {
		return cmp.Or(cmp.Compare(a.Slot, b.Slot), cmp.Compare(a.Panel, b.Panel))
	})
	text := fmt.Sprintf("%s\n%d\n%d\n%s", d.Layout.Name, d.PerBeat, d.RestBeats, drill.StepsText(d.Layout, notes, d.Slots))
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:8])
}
