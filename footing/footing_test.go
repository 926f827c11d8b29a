package footing_test

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

func makeDrill(t interface{ Fatal(...any) }, layout, steps string) *drill.Drill {
	d, err := drill.New(drill.Spec{Name: "x", Layout: layout, BPM: 120, PerBeat: 4, Reps: 1, Steps: steps}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func TestDefaultByHand(t *testing.T) {
	for _, c := range []struct{ layout, steps, want string }{
		{"single", "sw se nw ne", "L:sw R:se L:nw R:ne"},
		{"single", "se sw ne nw", "R:se L:sw R:ne L:nw"},               // begun by the foot on that side
		{"single", "ne+sw . se+nw", "(L:sw R:ne) (L:nw R:se)"},         // two joined: both feet
		{"single", "nw+c+se . sw+c+ne", "(L:nw R:c&se) (L:sw R:c&ne)"}, // three: one foot takes two that are closest
		{"single", "nw+sw+ne+se", "(L:nw&sw R:ne&se)"},                 // four
		{"single", "sw=4 c ne c", "L:sw R:c R:ne R:c"},                 // the foot that holds stays
		{"single", "sw=4 c ne+c .", "L:sw R:c R:ne&c"},                 // and the other one brackets
		{"double", "1c 2c 1se 2sw", "L:1c R:2c L:1se R:2sw"},
		{"double", "1se+2sw+2c", "(L:1se&2sw R:2c)"}, // over the seam 300 mm, from corner to centre 396 mm
	} {
		d := makeDrill(t, c.layout, c.steps)
		if got := drill.FootingText(d, footing.Default(d)); got != c.want {
			t.Errorf("%s: %s, want %s", c.steps, got, c.want)
		}
	}
}

// Every note is played once, the text reads back as it was meant, joined notes
// stand left foot left, a foot that holds is let stay while the other can play.
func TestDefaultOfAny(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		layout := rapid.SampledFrom([]*pad.Layout{pad.Single, pad.Double}).Draw(t, "layout")
		var ids []string
		for _, p := range layout.Panels {
			ids = append(ids, p.ID)
		}
		token := rapid.Custom(func(t *rapid.T) string {
			n := rapid.SampledFrom([]int{0, 1, 1, 1, 1, 2, 3, 4, 5}).Draw(t, "joined")
			if n == 0 {
				return "."
			}
			return strings.Join(rapid.Permutation(ids).Draw(t, "panels")[:n], "+")
		})
		steps := rapid.SliceOfN(token, 0, 16).Draw(t, "steps")
		hold := rapid.IntRange(0, 8).Draw(t, "hold")
		if hold > 0 { // a held corner first, which the rest leaves alone
			for i := range steps {
				steps[i] = strings.ReplaceAll(steps[i], ids[0], ids[1])
				seen := strings.Split(steps[i], "+")
				slices.Sort(seen)
				steps[i] = strings.Join(slices.Compact(seen), "+")
			}
			steps = append([]string{ids[0] + "=" + string(rune('0'+hold))}, steps...)
		}
		if !slices.ContainsFunc(steps, func(s string) bool { return s != "." }) {
			t.Skip("no note")
		}
		d := makeDrill(t, layout.Name, strings.Join(steps, " "))
		contacts := footing.Default(d)
		played := make([]int, len(d.Notes))
		at := make(map[int]int32)
		for i := range contacts {
			c := &contacts[i]
			for _, n := range c.NoteIndices() {
				played[n]++
				slot := d.Notes[n].Slot
				if s, ok := at[c.Landing]; ok && s != slot {
					t.Fatalf("landing %d gathers slots %d and %d", c.Landing, s, slot)
				}
				at[c.Landing] = slot
			}
		}
		for i, n := range played {
			if n != 1 {
				t.Fatalf("note %d is played %d times", i, n)
			}
		}
		if hold > 0 {
			holder := contacts[0].Foot
			for i := range contacts[1:] {
				c := &contacts[i+1]
				n := d.Notes[c.Notes[0]]
				alone := true
				for j, o := range d.Notes {
					alone = alone && (o.Slot != n.Slot || int32(j) == c.Notes[0])
				}
				if !alone {
					break // more than one foot can do: the hold may be given up
				}
				if int(n.Slot) < hold && c.Foot == holder {
					t.Fatalf("%s: the foot that holds plays slot %d", drill.FootingText(d, contacts), n.Slot)
				}
			}
		}
		for i := 1; i < len(contacts); i++ {
			a, b := contacts[i-1], contacts[i]
			if a.Landing == b.Landing && (a.Foot != pad.Left || b.Foot != pad.Right || meanX(d, a) > meanX(d, b)) {
				t.Fatalf("landing %d: %s", a.Landing, drill.FootingText(d, contacts))
			}
		}
		s := d.Spec
		s.Footing = drill.FootingText(d, contacts)
		e, err := drill.New(s, nil)
		if err != nil || !slices.Equal(e.Footing, contacts) {
			t.Fatalf("%s: %v", s.Footing, err)
		}
	})
}

func meanX(d *drill.Drill, c drill.Contact) float64 {
	sum := 0.0
	for _, n := range c.NoteIndices() {
		x, _ := d.Layout.Panels[d.Notes[n].Panel].Rect.Centre()
		sum += x
	}
	return sum / float64(len(c.NoteIndices()))
}
