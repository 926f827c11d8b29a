package evening_test

import (
	"math"
	"testing"
	"time"

	"heeltoe/trainer/estimate"
	"heeltoe/trainer/evening"
	"heeltoe/trainer/store"
	"heeltoe/trainer/view"
)

var tonight = time.Date(2026, 4, 1, 18, 0, 0, 0, time.UTC)

func past(key string, daysAgo int, steadiness float64) store.Run {
	return store.Run{Drill: key, Mirror: key + "'", Layout: "single", Started: tonight.AddDate(0, 0, -daysAgo), Steadiness: view.Number(steadiness)}
}

func TestPropose(t *testing.T) {
	warm, double := past("w", 1, 0.1), past("d", 1, 0.1)
	warm.WarmUp, double.Layout = true, "double"
	for _, c := range []struct {
		name string
		runs []store.Run
		want []string
	}{
		{"no history", nil, nil},
		{"one drill", []store.Run{past("a", 2, 0.9)}, []string{"a"}},
		{"the least steady first, then what rested", []store.Run{past("b", 20, 0.95), past("a", 2, 0.9), past("c", 1, 0.7)}, []string{"c", "b", "a"}},
		{"what was steady once counts no more", []store.Run{past("a", 9, 0.2), past("a", 3, 0.9), past("a", 3, 0.9), past("a", 2, 0.9), past("b", 1, 0.8)}, []string{"b", "a mirrored", "a"}},
		{"a side that is neglected", []store.Run{past("a", 4, 0.9), past("a", 3, 0.9), past("a", 2, 0.9)}, []string{"a", "a mirrored"}},
		{"a side that is not", []store.Run{past("a", 4, 0.9), past("a", 3, 0.9), past("a'", 2, 0.9), past("a'", 2, 0.9)}, []string{"a'", "a"}},
		{"warm-ups and other pads", []store.Run{warm, double, past("a", 2, 0.9)}, []string{"a"}},
		{"too long ago", []store.Run{past("a", 80, 0.9)}, nil},
		{"four", []store.Run{past("a", 4, 0.9), past("b", 3, 0.9), past("c", 2, 0.9), past("d", 1, 0.95)}, []string{"c", "d", "b"}},
	} {
		for i := range c.runs {
			if r := &c.runs[i]; r.Drill == "a'" {
				r.Mirror = "a"
			}
		}
		var got []string
		for _, p := range evening.Propose(c.runs, "single", tonight) {
			name := p.Run.Drill
			if p.Mirror {
				name += " mirrored"
			}
			if p.Why == "" {
				t.Errorf("%s: %s without a reason", c.name, name)
			}
			got = append(got, name)
		}
		if len(got) != len(c.want) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
			continue
		}
		for i := range got {
			if got[i] != c.want[i] {
				t.Errorf("%s: %q, want %q", c.name, got, c.want)
				break
			}
		}
	}
}

// Feet that tire are noticed, and those that do not seldom: of simulated players of five
// sets of eight reps, the spread of half of whom doubles over the evening.
func TestTiredFeetAreNoticed(t *testing.T) {
	const players = 200
	noticed := [2]int{}
	for i := range uint64(players) {
		for tires := range 2 {
			rng := estimate.Rand(2*i + uint64(tires))
			var w evening.Watch
			told := false
			for set := range 5 {
				var reps []view.Rep
				for k := range 8 {
					sd := 18_000 * (1 + float64(tires)*float64(8*set+k)/39)
					var r view.Rep
					r.Notes = 5
					sum, squares := 0.0, 0.0
					for range r.Notes {
						x := sd * rng.NormFloat64()
						sum, squares = sum+x, squares+x*x
						if x > -40_000 && x < 50_000 {
							r.Inner++
						}
					}
					r.Scatter = view.Number(math.Sqrt(squares/4 - sum*sum/20))
					reps = append(reps, r)
				}
				told = w.Tired("hook", 120, reps) || told
			}
			if told {
				noticed[tires]++
			}
		}
	}
	t.Logf("noticed in %d of %d who tire, told to %d of %d who do not", noticed[1], players, noticed[0], players)
	if noticed[1] < players*70/100 || noticed[0] > players*6/100 {
		t.Errorf("noticed %v", noticed)
	}
	// Another drill or tempo is another course.
	var w evening.Watch
	reps := make([]view.Rep, 8)
	for i := range reps {
		reps[i].Scatter, reps[i].Notes = view.Number(100*(i+1)), 5
	}
	if !w.Tired("a", 100, reps) || w.Tired("b", 100, reps[:1]) || w.Tired("a", 110, reps[:1]) {
		t.Error("courses are mixed up")
	}
}
