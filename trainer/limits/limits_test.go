package limits_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"heeltoe/trainer/adapt"
	"heeltoe/trainer/internal/outside"
	"heeltoe/trainer/limits"
	"heeltoe/trainer/stamina"
	"heeltoe/trainer/success"
	"heeltoe/trainer/view"
)

var from = time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC)

// played gives runs of a way at several tempi, its reps good by the curve.
func played(rng *rand.Rand, way string, c success.Curve, tempi []float64, reps int) []limits.Run {
	var out []limits.Run
	for i, bpm := range tempi {
		r := limits.Run{Way: way, Started: from.Add(time.Duration(i) * time.Minute), BPM: bpm, Landings: 5, RepLength: time.Duration(120 / bpm * float64(time.Second))}
		for range reps {
			o := adapt.Good
			if rng.Float64() >= c.At(bpm) {
				o = adapt.Bad
			}
			r.Outcomes = append(r.Outcomes, o)
		}
		out = append(out, r)
	}
	return out
}

var tempi = []float64{120, 130, 140, 150, 160, 170}

// Over simulated players of a known curve the limit's interval holds the truth nine times
// in ten, of few reps and of very many, and the limit is not biased.
func TestLimitsHoldTheTruth(t *testing.T) {
	truth := success.Curve{Middle: 150, Width: 8, Lapse: success.Lapse}
	const players = 200
	for _, reps := range []int{12, 300} {
		held, told, sum := 0, 0, 0.0
		for seed := range uint64(players) {
			l := limits.Of(played(rand.New(rand.NewPCG(seed, 7)), "x", truth, tempi, reps), 0.8, nil)
			w := l.Ways[0]
			if w.WhyNot != "" {
				continue
			}
			told++
			sum += float64(w.Limit.Value)
			if at := truth.Tempo(0.8); float64(w.Limit.Low) <= at && at <= float64(w.Limit.High) {
				held++
			}
		}
		t.Logf("%d reps at each of %d tempi: told %d of %d, held %d, mean %.2f, true %.2f", reps, len(tempi), told, players, held, sum/float64(told), truth.Tempo(0.8))
		if told < players*9/10 {
			t.Errorf("%d reps: the limit of %d players in %d is told", reps, told, players)
		}
		outside.Near(t, "share held", float64(held)/float64(told), 0.90, 0.07) // chance alone: 0.06 at three standard errors
		outside.Near(t, "mean limit", sum/float64(told), truth.Tempo(0.8), 0.01*truth.Tempo(0.8))
	}
}

// How long a tempo is kept, by the published model of critical power: the demonstration data of the R package
// cyclingtools (after Mattioni Maturana et al. 2018, J Sci Med Sport 21:1489–1494) as
// landings a hundredth as many as watts. Reps are whole, so times agree to a rep.
func TestEnduranceOfPublishedData(t *testing.T) {
	var runs []limits.Run
	for i, b := range []stamina.Bout{{Rate: 446, Seconds: 100}, {Rate: 385, Seconds: 172}, {Rate: 324, Seconds: 434}, {Rate: 290, Seconds: 857}, {Rate: 280, Seconds: 1361}} {
		rate := b.Rate / 100
		rep := time.Duration(float64(time.Second) / rate) // of one landing
		r := limits.Run{Way: "x", Started: from.Add(time.Duration(i) * time.Hour), BPM: 60 * rate, Landings: 1, RepLength: rep, Plan: limits.HoldOut, Number: 1}
		r.Outcomes = make([]adapt.Outcome, int(math.Round(b.Seconds*rate)))
		for k := range adapt.Slips + 1 {
			r.Outcomes[len(r.Outcomes)-1-k] = adapt.Bad
		}
		runs = append(runs, r)
	}
	e := limits.Of(runs, 0.8, nil).Ways[0].Endurance
	if e == nil || e.WhyNot != "" || len(e.Bouts) != 5 {
		t.Fatalf("%+v", e)
	}
	outside.Near(t, "critical", float64(e.Critical.Value), 2.62205076849585, 2e-4)
	outside.Near(t, "reserve", float64(e.Reserve.Value), 241.74520058724578, 0.3)
	outside.Near(t, "tempo", float64(e.CriticalBPM.Value), 60*2.62205076849585, 0.02)
	if !e.Critical.Known() || e.Critical.N != 5 || len(e.Lasts) != 5 || !e.Lasts[4].Seconds.Known() {
		t.Errorf("%+v", e)
	}
}

// Plans are told apart, their blocks belong together while their numbers rise, a warm-up
// counts for nothing, and a run that is held does not count for the share.
func TestSearches(t *testing.T) {
	block := func(plan string, number int, bpm float64, outcomes string) limits.Run {
		r := limits.Run{Way: "x", Started: from, BPM: bpm, Landings: 5, RepLength: time.Second, Plan: plan, Number: number}
		for _, c := range outcomes {
			r.Outcomes = append(r.Outcomes, map[rune]adapt.Outcome{'g': adapt.Good, 'b': adapt.Bad, 'u': adapt.Unclear}[c])
		}
		return r
	}
	warm := block(limits.Ladder, 1, 90, "bbbb")
	warm.WarmUp = true
	runs := []limits.Run{
		warm,
		block(limits.Ladder, 1, 100, "ggggg"), block(limits.Ladder, 2, 110, "ggggb"), block(limits.Ladder, 3, 120, "gbbbb"),
		block(limits.Ladder, 1, 100, "ggggg"),
		block(limits.Adapt, 1, 100, "ggu"), block(limits.Adapt, 2, 110, "gb"),
		block(limits.Bursts, 1, 150, "gb"), block(limits.Bursts, 2, 150, "gb"),
		block("against", 1, 100, "bbb"),
		block(limits.HoldOut, 1, 130, "gggbbbg"),
		block("", 0, 100, "g"),
	}
	l := limits.Of(runs, 0.8, nil)
	var got []view.Search
	for _, s := range l.Searches {
		if s.Plan != limits.Ladder || s.Blocks > 1 || s.Held.Defined() {
			got = append(got, s)
		}
	}
	want := []struct {
		plan    string
		blocks  int
		held    float64
		seconds float64
		failed  bool
		n       int
	}{{limits.Ladder, 3, 110, -1, true, 15}, {limits.Ladder, 1, 100, -1, false, 5}, {limits.Adapt, 2, -1, -1, false, 4}, {limits.Bursts, 2, -1, -1, false, 4}, {limits.HoldOut, 1, -1, 6, true, 7}}
	for i, w := range want {
		s := got[len(got)-len(want)+i]
		if s.Plan != w.plan || s.Blocks != w.blocks || s.Failed != w.failed || s.Good.N != w.n || s.Held.Defined() != (w.held > 0) || w.held > 0 && float64(s.Held) != w.held ||
			s.Seconds.Defined() != (w.seconds > 0) || w.seconds > 0 && float64(s.Seconds) != w.seconds {
			t.Errorf("%+v, want %+v", s, w)
		}
	}
	n := 0
	for _, k := range l.Ways[0].Trials {
		if n += k.Reps.N; k.BPM == 90 || k.BPM == 130 {
			t.Errorf("reps at %.0f beats a minute count", k.BPM)
		}
	}
	if n != 15+5+4+4+3+1 {
		t.Errorf("%d reps count", n)
	}
	if l := limits.Of(nil, 0.8, nil); len(l.Ways) != 0 || len(l.Crossings) != 0 {
		t.Errorf("of none: %+v", l)
	}
}
