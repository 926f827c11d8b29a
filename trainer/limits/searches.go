package limits

import (
	"slices"

	"heeltoe/trainer/estimate"
	"heeltoe/trainer/success"
	"heeltoe/trainer/view"
)

// searches gives what plans of blocks came to. Blocks belong together whose numbers rise, of
// one plan and way, with no other plan between.
func searches(runs []Run, share float64) []view.Search {
	out := []view.Search{}
	for from := 0; from < len(runs); {
		to := from + 1
		for to < len(runs) && runs[to].Plan == runs[from].Plan && runs[to].Way == runs[from].Way && runs[to].Number > runs[to-1].Number {
			to++
		}
		if slices.Contains([]string{Adapt, Ladder, Bursts, HoldOut}, runs[from].Plan) {
			out = append(out, search(runs[from:to], share))
		}
		from = to
	}
	return out
}

// search sums up the blocks of one plan.
func search(blocks []Run, share float64) view.Search {
	first := &blocks[0]
	s := view.Search{Started: first.Started, Plan: first.Plan, Way: first.Way, Blocks: len(blocks), Held: view.Undefined, Seconds: view.Undefined,
		Tempo: view.NoEstimate(0)}
	good, n := 0, 0
	trials := Trials(blocks)
	for _, t := range trials {
		good, n = good+t.Good, n+t.N
	}
	s.Good = shown(estimate.Share(good, n, estimate.Level))
	switch first.Plan {
	case Adapt, Ladder:
		s.Tempo, s.WhyNot = tempo(trials, share)
	case HoldOut:
		h := held(first)
		s.Seconds, s.Failed = view.Number(float64(h.Reps)*first.RepLength.Seconds()), h.Failed
	}
	if first.Plan == Ladder {
		for _, t := range trials { // it climbs
			if s.Failed = float64(t.Good) < share*float64(t.N); s.Failed {
				break
			}
			s.Held = view.Number(t.BPM)
		}
	}
	return s
}

// tempo gives the tempo at which the share is reached by the reps of one search alone, or
// why it cannot be told. Curves far beyond the tempi that were tried are allowed for.
func tempo(trials []success.Trials, share float64) (view.Estimate, string) {
	n := 0
	for _, t := range trials {
		n += t.N
	}
	none := view.NoEstimate(n)
	if n == 0 {
		return none, "no rep is clear"
	}
	slowest, fastest := trials[0].BPM, trials[len(trials)-1].BPM
	p := success.Believe(trials, slowest/beyond, fastest*beyond)
	f, err := p.Within(share, slowest/beyond, fastest*beyond)
	if err != nil {
		return none, err.Error()
	}
	return shown(f), ""
}

// beyond is how far beyond the tempi tried the limit of a search is looked for.
const beyond = 1.5
