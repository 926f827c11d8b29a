package footing

import (
	"math"
	"slices"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// Default gives contacts for every note of a rep of d, in due order. It is
// plain alternation and not a plan: it knows nothing of how far or how fast a
// foot can go, gathers no notes of different slots and turns the hips as the
// pattern has it.
//
//   - Notes alone in their slot are stepped by the feet in turn. Of the two feet
//     to begin with it takes the one that crosses the legs less often.
//   - Two joined notes are one landing of both feet, the left foot on the panel
//     further left; of three or more, a foot that must take two takes those
//     closest together. More than four in a slot, which two feet cannot press at
//     once, follow in further landings.
//   - A foot that holds a note stays; the other one plays, two joined notes as a
//     bracket, until the hold ends. Where both feet hold, or more than two
//     notes come, the hold that ends first is given up.
//
// Holds that last into the next rep are not followed there.
func Default(d *drill.Drill) []drill.Contact {
	left, crossedLeft := alternation(d, pad.Left)
	right, crossedRight := alternation(d, pad.Right)
	if crossedRight < crossedLeft {
		return right
	}
	return left
}

// alternation is Default with the foot to begin with; crossed counts the
// contacts that come down on the other foot's far side.
func alternation(d *drill.Drill, foot pad.Foot) (contacts []drill.Contact, crossed int) {
	contacts = make([]drill.Contact, 0, len(d.Notes))
	var busy [2]int64 // slot up to which each foot holds
	x := [2]float64{math.NaN(), math.NaN()}
	landing := 0
	add := func(f pad.Foot, notes ...int32) {
		c := drill.Contact{Foot: f, Landing: landing, Notes: [2]int32{notes[0], 0}}
		if len(notes) == 2 {
			c.Kind, c.Notes[1] = drill.Bracket, notes[1]
		}
		contacts = append(contacts, c)
		x[f] = 0
		for _, i := range notes {
			n := d.Notes[i]
			busy[f] = max(busy[f], int64(n.Slot)+int64(n.Hold))
			cx, _ := d.Layout.Panels[n.Panel].Rect.Centre()
			x[f] += cx / float64(len(notes))
		}
	}
	for i := 0; i < len(d.Notes); {
		slot := d.Notes[i].Slot
		var together []int32
		for ; i < len(d.Notes) && d.Notes[i].Slot == slot; i++ {
			together = append(together, int32(i))
		}
		for len(together) > 0 {
			held := func(f pad.Foot) bool { return busy[f] > int64(slot) }
			k := min(len(together), 4)
			now := together[:k]
			together = together[k:]
			one := held(pad.Left) != held(pad.Right) // which leaves one foot to play
			switch {
			case k == 1 || k == 2 && one && adjacent(d, now):
				f := foot
				if one && held(f) || held(f) && held(f.Other()) && busy[f.Other()] < busy[f] {
					f = f.Other()
				}
				add(f, now...)
				foot = f.Other()
			default:
				l, r := share(d, now)
				add(pad.Left, l...)
				add(pad.Right, r...)
			}
			if x[pad.Left] > x[pad.Right] { // false while a foot has not come down yet
				crossed++
			}
			landing++
		}
	}
	return contacts, crossed
}

// adjacent tells whether the two notes lie close enough that one might think of
// one foot for both: no further apart than a corner from its pad's centre.
func adjacent(d *drill.Drill, notes []int32) bool {
	return distance(d, notes[0], notes[1]) <= math.Hypot(pad.CellMM, pad.CellMM)+0.5
}

// distance gives how far apart the panels of two notes are, in mm.
func distance(d *drill.Drill, a, b int32) float64 {
	ax, ay := d.Layout.Panels[d.Notes[a].Panel].Rect.Centre()
	bx, by := d.Layout.Panels[d.Notes[b].Panel].Rect.Centre()
	return math.Hypot(ax-bx, ay-by)
}

// share splits two to four joined notes between the feet, one or two a foot:
// pairs as close together as can be, the left foot's further left.
func share(d *drill.Drill, notes []int32) (left, right []int32) {
	best := math.Inf(1)
	for mask := 1; mask < 1<<len(notes)-1; mask++ {
		var a, b []int32
		for i, n := range notes {
			if mask>>i&1 == 1 {
				a = append(a, n)
			} else {
				b = append(b, n)
			}
		}
		if len(a) > 2 || len(b) > 2 {
			continue
		}
		cost := 0.0
		for _, s := range [][]int32{a, b} {
			if len(s) == 2 {
				cost += distance(d, s[0], s[1])
			}
		}
		ax, bx := centreX(d, a), centreX(d, b)
		if ax > bx || ax == bx && !slices.Contains(a, notes[0]) {
			continue // its exchange is another mask
		}
		if cost < best {
			best, left, right = cost, a, b
		}
	}
	return left, right
}

// centreX gives the mean place of the notes' panels from left to right, in mm.
func centreX(d *drill.Drill, notes []int32) float64 {
	sum := 0.0
	for _, n := range notes {
		x, _ := d.Layout.Panels[d.Notes[n].Panel].Rect.Centre()
		sum += x
	}
	return sum / float64(len(notes))
}
