package consistency

import (
	"cmp"
	"fmt"
	"slices"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
	"heeltoe/trainer/estimate"
	"heeltoe/trainer/view"
)

// techniques sums up the offsets of the reps read as each technique.
func techniques(r *view.Report, byRep [][]pad.Time, inner drill.Bound) []view.TechniqueTimes {
	out := []view.TechniqueTimes{}
	var of [][]pad.Time
	for k := range r.Reps {
		name := r.Reps[k].Technique
		if name == "" || len(byRep[k]) == 0 {
			continue // not read, or not played
		}
		i := slices.IndexFunc(out, func(t view.TechniqueTimes) bool { return t.Technique == name })
		if i < 0 {
			i = len(out)
			out, of = append(out, view.TechniqueTimes{Technique: name}), append(of, nil)
		}
		out[i].Reps++
		of[i] = append(of[i], byRep[k]...)
	}
	for i := range out {
		out[i].Figures = figures(of[i], inner)
	}
	slices.SortStableFunc(out, func(a, b view.TechniqueTimes) int { return b.Reps - a.Reps })
	return out
}

// landings sums up the landings that played the same notes by contacts of the same
// kinds, whichever the feet.
func landings(r *view.Report) []view.LandingTimes {
	type group struct {
		view.LandingTimes
		offset, spread []pad.Time
		missed, n      int
	}
	groups := map[string]*group{}
	var order []*group
	for i := range r.Landings {
		l := &r.Landings[i]
		kinds := make([]string, len(l.Contacts))
		for c := range l.Contacts {
			kinds[c] = l.Contacts[c].Kind
		}
		k := fmt.Sprint(l.Notes, kinds)
		g := groups[k]
		if g == nil {
			g = &group{LandingTimes: view.LandingTimes{Notes: l.Notes, Kinds: kinds, Asked: l.Asked, First: map[string]int{}}}
			groups[k] = g
			order = append(order, g)
		}
		g.n++
		if len(l.Missed) > 0 {
			g.missed++
		} else if l.Spread.Defined() {
			g.spread = append(g.spread, pad.Time(l.Spread))
		}
		if l.Offset.Defined() {
			g.offset = append(g.offset, pad.Time(l.Offset))
		}
		for c := range l.Contacts {
			if first := string(l.Contacts[c].First); first != "" {
				g.First[first]++
			}
		}
	}
	slices.SortStableFunc(order, func(a, b *group) int { return cmp.Or(slices.Compare(a.Notes, b.Notes), b.n-a.n) })
	out := make([]view.LandingTimes, len(order))
	for i, g := range order {
		half := estimate.Share(g.missed, g.n, estimate.Level)
		g.Offset, g.Spread, g.Half = times(g.offset), times(g.spread), known(half.Value, half.Interval, g.n)
		out[i] = g.LandingTimes
	}
	return out
}

// contacts sums up the contacts of each kind.
func contacts(r *view.Report) []view.ContactTimes {
	out := []view.ContactTimes{}
	if len(r.Reps) == 0 {
		return out
	}
	perRep := len(r.Notes) / len(r.Reps)
	for _, kind := range []drill.ContactKind{drill.Step, drill.Bracket, drill.Roll} {
		var dwell, between, uneven []pad.Time
		for i := range r.Landings {
			l := &r.Landings[i]
			for c := range l.Contacts {
				if l.Contacts[c].Kind != kind.String() {
					continue
				}
				var of []*view.Note
				for _, n := range l.Contacts[c].Notes {
					note := &r.Notes[l.Rep*perRep+n]
					of = append(of, note)
					if d, ok := lasted(note); ok {
						dwell = append(dwell, d)
					}
				}
				if len(of) == 2 && of[0].Press.Defined() && of[1].Press.Defined() {
					gap := pad.Time(of[1].Press - of[0].Press)
					uneven = append(uneven, gap-pad.Time(of[1].Due-of[0].Due))
					between = append(between, gap.Abs())
				}
			}
		}
		if len(dwell)+len(between) > 0 {
			out = append(out, view.ContactTimes{Kind: kind.String(), Dwell: times(dwell), Between: times(between), Uneven: times(uneven)})
		}
	}
	return out
}
