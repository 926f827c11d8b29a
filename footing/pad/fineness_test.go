package pad_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat"

	"heeltoe/footing/pad"
)

// Moments at random, reported at the next multiple of an interval, are spread by interval/√12 (the
// standard deviation of a uniform distribution; gonum's sample standard deviation of 200,000).
func TestFinenessAgainstReports(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, interval := range []pad.Time{pad.Millisecond, 8 * pad.Millisecond, 10 * pad.Millisecond} {
		late := make([]float64, 200_000)
		for i := range late {
			at := rng.Float64() * 1e6
			late[i] = math.Ceil(at/float64(interval))*float64(interval) - at
		}
		if got, want := pad.Fineness(interval).SD(), stat.StdDev(late, nil); math.Abs(got-want) > 0.01*want {
			t.Errorf("every %v µs: %v, of reports %v", interval, got, want)
		}
	}
}

// Where the pad's own spread is as large as the player's is the boundary: of presses with
// a normal spread, seen through a pad of 8 ms, the observed spread is hidden below it and not above.
func TestFinenessBoundary(t *testing.T) {
	const interval = 8 * pad.Millisecond
	f := pad.Fineness(interval)
	rng := rand.New(rand.NewPCG(3, 4))
	for part, hidden := range map[float64]bool{0.8: true, 1.25: false} {
		seen := make([]float64, 100_000)
		for i := range seen {
			at := 1e6 + rng.NormFloat64()*part*f.SD()
			phase := rng.Float64() * float64(interval)
			seen[i] = math.Ceil((at+phase)/float64(interval))*float64(interval) - phase
		}
		sd := stat.StdDev(seen, nil)
		if f.HidesSD(sd) != hidden {
			t.Errorf("a player of %.1f µs is seen with %.1f µs, hidden %v", part*f.SD(), sd, f.HidesSD(sd))
		}
		slices.Sort(seen)
		middle := seen[len(seen)/2]
		for i := range seen {
			seen[i] = math.Abs(seen[i] - middle)
		}
		slices.Sort(seen)
		if mad := seen[len(seen)/2]; f.HidesMAD(mad) != hidden {
			t.Errorf("a player of %.1f µs is seen with a mad of %.1f µs, hidden %v", part*f.SD(), mad, f.HidesMAD(mad))
		}
	}
	if !f.Hides(-7999) || f.Hides(8000) || pad.Fineness(0).HidesSD(0) || pad.Fineness(0).Hides(0) {
		t.Error("two moments")
	}
	if got := f.String(); !strings.Contains(got, "every 8.0 ms") || !strings.Contains(got, "2.31 ms") || !strings.Contains(got, "3.3 ms") {
		t.Error(got)
	}
}
