package recovery_test

import (
	"math"
	"testing"
	"time"

	"heeltoe/trainer/estimate"
	"heeltoe/trainer/internal/outside"
	"heeltoe/trainer/recovery"
)

var from = time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC)

// learner gives the runs of a player who drills on three evenings, rests on one, and
// so on: six runs an evening over which the spread falls by gain, and over each night
// between two evenings in a row it grows by loss. Runs vary by 8 in a hundred.
func learner(seed uint64, evenings int, gain, loss float64) []recovery.Run {
	rng := estimate.Rand(seed)
	var out []recovery.Run
	at, log := from, math.Log(18_000)
	for e := range evenings {
		for k := range 6 {
			r := recovery.Run{Started: at.Add(time.Duration(k) * 4 * time.Minute), Clear: 16}
			r.SpreadUS = math.Exp(log + float64(k)/5*math.Log1p(gain) + 0.08*rng.NormFloat64())
			for range r.Clear {
				if rng.Float64() < 0.8-2*(math.Log(r.SpreadUS)-log) {
					r.Good++
				}
			}
			out = append(out, r)
		}
		log += math.Log1p(gain) + math.Log1p(loss)
		at = at.AddDate(0, 0, 1)
		if e%3 == 2 {
			at = at.AddDate(0, 0, 1)
		}
	}
	return out
}

// What a night takes is measured: the interval holds the truth nine times in ten, a
// loss that is there is shown, and none where nothing is lost.
func TestNightIsMeasured(t *testing.T) {
	const players = 200
	for _, c := range []struct {
		name       string
		gain, loss float64
		least      int // of the players in whom a loss is shown
		most       int
	}{
		{"a tenth is lost", -0.12, 0.10, players * 9 / 10, players},
		{"nothing is lost", -0.12, 0, 0, players * 6 / 100},
	} {
		// The last two and the first two runs of an evening lie a tenth of its gain
		// inside of its ends.
		truth := math.Expm1(math.Log1p(c.loss) + 0.2*math.Log1p(c.gain))
		held, shown, learnt := 0, 0, 0
		for i := range uint64(players) {
			n := recovery.Overnight([][]recovery.Run{learner(i, 24, c.gain, c.loss)}, time.UTC)
			if n.Spread.N != 16 || n.Success.N != 16 || n.Day.N != 24 {
				t.Fatalf("%d, %d nights, %d days", n.Spread.N, n.Success.N, n.Day.N)
			}
			if n.Spread.Holds(truth) {
				held++
			}
			if n.Spread.Shown() && n.Spread.Low > 0 {
				shown++
			}
			if n.Day.Shown() && n.Day.High < 0 {
				learnt++
			}
		}
		t.Logf("%s: held %d of %d, a loss shown %d, a gain within the day shown %d", c.name, held, players, shown, learnt)
		outside.Near(t, "share held", float64(held)/players, estimate.Level, 0.06)
		if shown < c.least || shown > c.most || learnt < players*9/10 {
			t.Errorf("%s: shown %d, learnt %d", c.name, shown, learnt)
		}
	}
}

// Days that do not follow one another say nothing of a night, and clocks that are set
// forward do not part days.
func TestNightsFollowOneAnother(t *testing.T) {
	at := func(day int, hour int) recovery.Run {
		return recovery.Run{Started: time.Date(2026, 3, 27+day, hour, 0, 0, 0, time.UTC), SpreadUS: 10_000, Good: 3, Clear: 4}
	}
	for _, c := range []struct {
		name   string
		groups [][]recovery.Run
		nights int
	}{
		{"none", nil, 0},
		{"one evening", [][]recovery.Run{{at(0, 18), at(0, 19)}}, 0},
		{"two in a row", [][]recovery.Run{{at(0, 18), at(1, 18)}}, 1},
		{"over the change of clocks", [][]recovery.Run{{at(0, 18), at(1, 18), at(2, 18), at(3, 18)}}, 3},
		{"a day between", [][]recovery.Run{{at(0, 18), at(2, 18)}}, 0},
		{"in different groups", [][]recovery.Run{{at(0, 18)}, {at(1, 18)}}, 0},
		{"past midnight in that zone", [][]recovery.Run{{at(0, 21), at(0, 23)}}, 1},
	} {
		loc := time.UTC
		if c.name == "past midnight in that zone" {
			loc = time.FixedZone("east", 2*60*60)
		}
		if n := recovery.Overnight(c.groups, loc); n.Spread.N != c.nights || c.nights > 0 && n.Spread.Value != 0 || c.nights < 2 && n.Spread.Known() {
			t.Errorf("%s: %+v", c.name, n.Spread)
		}
	}
}

// tired gives bouts of 18 reps over which the spread grows by a third; a pause takes
// back a share of that which grows with its length.
func tired(seed uint64, back func(rest time.Duration) float64) []recovery.Bout {
	rng := estimate.Rand(seed)
	var out []recovery.Bout
	at, log := from, math.Log(16_000)
	for k := range 40 {
		b := recovery.Bout{Started: at, Ended: at.Add(40 * time.Second)}
		for i := range 18 {
			b.RepSpreadsUS = append(b.RepSpreadsUS, math.Exp(log+float64(i)/17*math.Log(4./3)+0.15*rng.NormFloat64()))
		}
		rest := []time.Duration{30 * time.Second, 90 * time.Second, 4 * time.Minute, 10 * time.Minute}[k%4]
		log = math.Log(16_000) + (1-back(rest))*math.Log(4./3)
		at = b.Ended.Add(rest)
		out = append(out, b)
	}
	return out
}

// Where longer pauses bring more back it is shown, where the length is of no matter it is not.
func TestPausesAreMeasured(t *testing.T) {
	const players = 100
	longer, same, tiring := 0, 0, 0
	for i := range uint64(players) {
		p := recovery.Between([][]recovery.Bout{tired(i, func(rest time.Duration) float64 { return min(1, rest.Minutes()/8) })})
		if p.Pause.N != 39 || len(p.ByRest) != 4 || p.ByRest[3].Change.N != 9 || p.Why != nil {
			t.Fatalf("%+v", p)
		}
		if p.Doubling.High < 0 && p.ByRest[3].Change.Value < p.ByRest[0].Change.Value {
			longer++
		}
		if p.Run.Low > 0 {
			tiring++
		}
		q := recovery.Between([][]recovery.Bout{tired(i, func(time.Duration) float64 { return 1 })})
		if q.Doubling.Shown() {
			same++
		}
	}
	t.Logf("a longer rest helps: shown in %d of %d; told where it does not: %d; tiring within the run %d", longer, players, same, tiring)
	if longer < 95 || same > 16 || tiring < 95 {
		t.Errorf("%d, %d, %d", longer, same, tiring)
	}
}

// What is too short or too long ago is left out, and said to be so.
func TestBetweenRefuses(t *testing.T) {
	bout := func(minute, reps int) recovery.Bout {
		b := recovery.Bout{Started: from.Add(time.Duration(minute) * time.Minute)}
		b.Ended = b.Started.Add(30 * time.Second)
		for range reps {
			b.RepSpreadsUS = append(b.RepSpreadsUS, 9000)
		}
		return b
	}
	p := recovery.Between([][]recovery.Bout{{bout(0, 9), bout(5, 5), bout(10, 9), bout(50, 9), bout(52, 9), bout(52, 9)}})
	if p.Pause.N != 1 || p.Pause.Value != 0 || p.Run.N != 5 || p.Why == nil || p.Doubling.Known() {
		t.Errorf("%+v", p)
	}
	if p := recovery.Between(nil); p.Pause.N != 0 || p.Pause.Known() || p.Why == nil {
		t.Errorf("of none: %+v", p)
	}
}
