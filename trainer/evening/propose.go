package evening

import (
	"cmp"
	"slices"
	"time"

	"heeltoe/trainer/store"
)

// Proposal is a drill that the history proposes for an evening.
type Proposal struct {
	Run    store.Run // the newest of the drill, or of its mirror image: its log has the drill
	Mirror bool      // the drill is the mirror image of that run's
	Why    string
}

// What is proposed from. All are design values.
const (
	Proposed = 3 // drills at most

	lately     = 3 * 7 * 24 * time.Hour // drills of which the least steady one is chosen
	notSince   = 6 * 24 * time.Hour     // a drill not played since then may have been forgotten
	everPlayed = 8 * 7 * 24 * time.Hour // drills that are looked at
	newest     = 3                      // runs of a drill whose steadiness is taken
	neglected  = 3                      // times as often as its mirror image a drill is played
)

// history is the runs of one drill, the newest last.
type history struct {
	key  string
	runs []store.Run
}

func (h *history) last() *store.Run { return &h.runs[len(h.runs)-1] }

// steadiness is the mean of the newest runs'; above 1 where none has any.
func (h *history) steadiness() float64 {
	sum, n := 0.0, 0
	for _, r := range h.runs[max(0, len(h.runs)-newest):] {
		if r.Steadiness.Defined() {
			sum, n = sum+float64(r.Steadiness), n+1
		}
	}
	if n == 0 {
		return 2
	}
	return sum / float64(n)
}

// Propose chooses drills for an evening at the moment given, of the layout given, from
// the runs of a player in the order in which they were begun: the least steady of
// the last three weeks, one that was not played for six days, a side that is neglected, and
// else what was played last. Warm-ups do not count.
func Propose(runs []store.Run, layout string, now time.Time) []Proposal {
	var all []*history
	for _, r := range runs {
		if r.WarmUp || r.Layout != layout || r.Started.IsZero() || now.Sub(r.Started) > everPlayed {
			continue
		}
		i := slices.IndexFunc(all, func(h *history) bool { return h.key == r.Drill })
		if i < 0 {
			i, all = len(all), append(all, &history{key: r.Drill})
		}
		all[i].runs = append(all[i].runs, r)
	}
	slices.SortStableFunc(all, func(a, b *history) int { return b.last().Started.Compare(a.last().Started) })
	var out []Proposal
	add := func(r *store.Run, mirror bool, why string) {
		key := r.Drill
		if mirror {
			key = r.Mirror
		}
		if len(out) < Proposed && !slices.ContainsFunc(out, func(p Proposal) bool {
			return !p.Mirror && p.Run.Drill == key || p.Mirror && p.Run.Mirror == key
		}) {
			out = append(out, Proposal{*r, mirror, why})
		}
	}
	recent := slices.DeleteFunc(slices.Clone(all), func(h *history) bool {
		return now.Sub(h.last().Started) > lately || h.steadiness() > 1
	})
	if len(recent) > 0 {
		h := slices.MinFunc(recent, func(a, b *history) int { return cmp.Compare(a.steadiness(), b.steadiness()) })
		add(h.last(), false, "the least steady of the last three weeks")
	}
	if n := len(all); n > 0 && now.Sub(all[n-1].last().Started) > notSince {
		add(all[n-1].last(), false, "not played for the longest time")
	}
	for _, h := range all {
		m := h.last().Mirror
		other := slices.IndexFunc(all, func(o *history) bool { return o.key == m })
		if m != h.key && len(h.runs) >= neglected && (other < 0 || len(h.runs) >= neglected*len(all[other].runs)) {
			add(h.last(), true, "its other side is played far more often")
		}
	}
	for _, h := range all {
		add(h.last(), false, "played lately")
	}
	return out
}
