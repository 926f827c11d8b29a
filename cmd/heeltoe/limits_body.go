package main

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/trainer/profile"
	"heeltoe/trainer/success"
)

// leastReps is how many clear reps at one tempo tell that it is played well (design value).
const leastReps = 6

// playedWell gives the tempo up to which a way is played well, and whether it gets too fast
// there: the limit where the runs tell it; where it may lie above them all, the fastest tempo
// at which enough reps were good. n is the number of clear reps behind it, 0 where no tempo is.
func (y *way) playedWell(share float64) (bpm float64, reached bool, n int) {
	if len(y.trials) == 0 {
		return 0, false, 0
	}
	slowest, fastest := y.trials[0].BPM, y.trials[len(y.trials)-1].BPM
	if slowest < fastest {
		switch limit := success.Believe(y.trials, slowest, fastest).Tempo(share); {
		case limit.N == 0 || limit.Low < slowest && limit.High <= fastest:
			return 0, false, 0
		case limit.High <= fastest:
			return limit.Value, true, limit.N
		}
	}
	for _, t := range slices.Backward(y.trials) {
		if t.N >= leastReps && float64(t.Good) >= share*float64(t.N) {
			return t.BPM, false, t.N
		}
	}
	return 0, false, 0
}

// bodyLimits gives what a way says of the player's body: how much time its footing leaves for
// what feet do at the tempo up to which it is played well. It fails in words where it says nothing.
func (y *way) bodyLimits(share float64) ([]profile.Limit, error) {
	if y.drill.Footing == nil {
		return nil, fmt.Errorf("the drill has no footing (heeltoe plan --write puts one in)")
	}
	bpm, reached, n := y.playedWell(share)
	if n == 0 {
		return nil, fmt.Errorf("no tempo is played well: that takes %.0f %% good of %d clear reps or more", 100*share, leastReps)
	}
	d, err := y.drill.WithTempo(bpm)
	if err != nil {
		return nil, err
	}
	body := footing.DefaultBody()
	asked, err := footing.Asks(d, d.Footing, body)
	if err != nil {
		return nil, err
	}
	var out []profile.Limit
	for i, a := range asked {
		// Only what is tightest can be why it gets too fast; of the rest just that so much is enough.
		l := profile.Limit{Of: a.Limit, Time: pad.Time(a.Time.Microseconds()), Reached: reached && i == 0, Drill: d.Name, BPM: bpm, Reps: int64(n)}
		if l.Time <= 0 {
			continue
		}
		if l.Reached || a.Time < body.Limit(a.Limit) {
			out = append(out, l)
		}
		for _, e := range a.Limit.Easier() {
			if l.Of, l.Reached = e, false; a.Time < body.Limit(e) {
				out = append(out, l)
			}
		}
	}
	out = shortest(out)
	if len(out) == 0 {
		return nil, fmt.Errorf("at %.1f beats a minute it leaves more time for everything than the default limits ask for: play it faster", bpm)
	}
	return out, nil
}

// printBodyLimits prints what the ways say of the player's body, and gives it.
func printBodyLimits(w io.Writer, ways []*way, share float64) (all []profile.Limit) {
	fmt.Fprintln(w, "What that says of the body, for heeltoe plan:")
	for _, y := range ways {
		of, err := y.bodyLimits(share)
		if err != nil {
			fmt.Fprintf(w, "  %s: nothing; %v\n", y.name, err)
			continue
		}
		for _, l := range of {
			how := "is what it takes"
			if !l.Reached {
				how = "is enough, less may do"
			}
			fmt.Fprintf(w, "  %s: %.0f ms %s (%s at %.1f beats a minute, n %d clear reps)\n", l.Of, l.Time.Milliseconds(), how, y.name, l.BPM, l.Reps)
		}
		all = append(all, of...)
	}
	fmt.Fprintln(w)
	return all
}

// keepLimits keeps limits for the player of the runs, and says where.
func keepLimits(w io.Writer, ways []*way, limits []profile.Limit) error {
	var players []string
	for _, y := range ways {
		for _, name := range y.players {
			if !slices.Contains(players, name) {
				players = append(players, name)
			}
		}
	}
	if len(players) != 1 {
		return usagef("--store: the runs are of several players: %s; of a drill --player names one", strings.Join(quoted(players), ", "))
	}
	if len(limits) == 0 {
		fmt.Fprintln(w, "Nothing is kept.")
		return nil
	}
	p, err := profile.LoadPlayer(players[0])
	if err != nil {
		return err
	}
	for _, l := range shortest(limits) {
		p.Keep(l)
	}
	file, err := profile.SavePlayer(p)
	if err != nil {
		return err
	}
	fmt.Fprintf(w, "Kept in %s; heeltoe plan goes by it.\n", file)
	return nil
}

func quoted(names []string) (out []string) {
	for _, n := range names {
		out = append(out, strconv.Quote(n))
	}
	return out
}

// shortest leaves of the limits of each kind the shortest: what was enough once is enough.
func shortest(limits []profile.Limit) []profile.Limit {
	out := slices.Clone(limits)
	slices.SortStableFunc(out, func(a, b profile.Limit) int {
		if a.Of != b.Of {
			return int(a.Of) - int(b.Of)
		}
		return int(a.Time - b.Time)
	})
	return slices.CompactFunc(out, func(a, b profile.Limit) bool { return a.Of == b.Of })
}
