package main

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"heeltoe/judge/drill"
	"heeltoe/trainer/adapt"
	"heeltoe/trainer/estimate"
	"heeltoe/trainer/limits"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/store"
)

// planFlags choose a plan of blocks, each a run of its own, in place of one run.
type planFlags struct {
	Adapt   bool   `help:"Look for the tempo at which the drill is played well."`
	Ladder  string `placeholder:"FROM:STEP:TO" help:"Climb by fixed steps of tempo, with rests, until a block fails."`
	Bursts  int    `placeholder:"N" help:"Play N short blocks with rests, at --bpm."`
	HoldOut bool   `name:"hold-out" help:"Stay at the tempo until it fails."`
	Against string `placeholder:"DRILL" help:"Play this drill and another way in turn (A B B A): a drill, or mirror for its mirror image."`

	Share       float64 `default:"0.8" help:"Share of the reps that must be good, 0.5 to 0.95."`
	Rule        string  `default:"bayesian" enum:"bayesian,up-down" help:"How --adapt chooses the next tempo: bayesian or up-down."`
	Slowest     float64 `placeholder:"BPM" help:"Slowest tempo of --adapt; half the drill's unless given."`
	Fastest     float64 `placeholder:"BPM" help:"Fastest tempo of --adapt; twice the drill's unless given."`
	Tempi       string  `placeholder:"BPM,BPM" help:"Tempi of --against; the drill's unless given."`
	Block       int64   `default:"6" help:"Reps of a block."`
	MostReps    int64   `name:"most-reps" default:"120" help:"Reps of --adapt in all, at most."`
	RestSeconds float64 `name:"rest-seconds" default:"20" help:"Rest between two blocks, in seconds."`

	MostMinutes  float64 `name:"most-minutes" default:"5" help:"How long --hold-out lasts at most."`
	MostLandings int64   `name:"most-landings" default:"2000" help:"Landings of --hold-out at most, one for each moment at which notes are due."`
}

// precision ends a search: its interval reaches so far to either side, as a share
// of the tempo (design value).
const precision = 0.03

// warmUpReps of each way are played before --against and do not count (design value).
const warmUpReps = 4

// chosen gives the flags that name a plan, of which one may be given.
func (f *planFlags) chosen() []string {
	var names []string
	for name, on := range map[string]bool{"--adapt": f.Adapt, "--ladder": f.Ladder != "", "--bursts": f.Bursts != 0,
		"--" + limits.HoldOut: f.HoldOut, "--against": f.Against != ""} {
		if on {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	return names
}

// plan is a plan that was chosen, with the drill of each way and what to say of
// what it came to.
type plan struct {
	adapt.Plan
	ways   []*drill.Drill
	result func(w io.Writer)
}

// plan makes the plan that the flags choose for d; c says how another drill is changed.
func (f *planFlags) plan(d *drill.Drill, c *practice.DrillChoice) (*plan, error) {
	if names := f.chosen(); len(names) != 1 {
		return nil, usagef("%s: give one of them", strings.Join(names, " "))
	}
	switch {
	case f.Block < 1 || f.Block > drill.MaxReps:
		return nil, usagef("--block: %d is not from 1 to %d", f.Block, drill.MaxReps)
	case !(f.RestSeconds >= 0 && f.RestSeconds <= 3600):
		return nil, usagef("--rest-seconds: %v is not from 0 to 3600", f.RestSeconds)
	}
	if err := checkShare(f.Share); err != nil {
		return nil, err
	}
	rest := time.Duration(f.RestSeconds * float64(time.Second))
	p := &plan{ways: []*drill.Drill{d}}
	switch {
	case f.Adapt:
		return p, f.search(p, d, rest)
	case f.Ladder != "":
		return p, f.ladder(p, rest)
	case f.Bursts != 0:
		if f.Bursts < 1 || f.Bursts > 100 {
			return nil, usagef("--bursts: %d is not from 1 to 100", f.Bursts)
		}
		b := &adapt.Bursts{BPM: d.BPM, Reps: f.Block, Count: f.Bursts, Rest: rest}
		p.Plan, p.result = b, func(w io.Writer) { sayBursts(w, b) }
		return p, nil
	case f.HoldOut:
		return p, f.holdOut(p, d)
	}
	return p, f.against(p, d, c, rest)
}

func (f *planFlags) search(p *plan, d *drill.Drill, rest time.Duration) error {
	o := adapt.SearchOptions{Target: f.Share, Start: d.BPM, Slowest: f.Slowest, Fastest: f.Fastest, Reps: f.Block,
		MostReps: f.MostReps, Precision: precision, Rest: rest}
	if o.Slowest == 0 {
		o.Slowest = max(drill.MinBPM, d.BPM/2)
	}
	if o.Fastest == 0 {
		o.Fastest = min(drill.MaxBPM, 2*d.BPM)
	}
	if o.Slowest < drill.MinBPM || o.Fastest > drill.MaxBPM {
		return usagef("--slowest and --fastest lie between %v and %v", drill.MinBPM, drill.MaxBPM)
	}
	if f.Rule == "up-down" {
		o.Rule = adapt.UpDown
	}
	s, err := adapt.NewSearch(o)
	if err != nil {
		return usagef("--adapt: %v", err)
	}
	p.Plan, p.result = s, func(w io.Writer) {
		saySearch(w, s)
		if d.Footing != nil {
			fmt.Fprintf(w, "           heeltoe limits %s --store keeps what your runs say of your body, for heeltoe plan\n", store.Slug(d.Name))
		}
	}
	return nil
}

func saySearch(w io.Writer, s *adapt.Search) {
	t, err := s.Tempo()
	if err != nil {
		fmt.Fprintf(w, "tempo      not estimated: %v\n", err)
		return
	}
	fmt.Fprintf(w, "tempo      %.1f beats a minute (%.1f to %.1f): there %.0f %% of your reps are good (n %d clear reps)\n",
		t.Value, t.Low, t.High, 100*s.Target, t.N)
	if !s.Precise() {
		fmt.Fprintln(w, "           The interval is wide still: more reps (--most-reps) make it narrower.")
	}
	for _, part := range []float64{0.9, 1, 1.1} {
		share := s.Belief().Share(part * t.Value)
		fmt.Fprintf(w, "           at %.0f beats a minute %.0f %% of the reps would be good (%.0f to %.0f)\n",
			part*t.Value, 100*share.Value, 100*share.Low, 100*share.High)
	}
}

func (f *planFlags) ladder(p *plan, rest time.Duration) error {
	v, err := numbers(f.Ladder, ":")
	if err != nil || len(v) != 3 || v[0] < drill.MinBPM || v[1] <= 0 || v[2] < v[0] || v[2] > drill.MaxBPM {
		return usagef("--ladder takes FROM:STEP:TO in beats a minute, rising, such as 100:5:160")
	}
	l := &adapt.Ladder{From: v[0], Step: v[1], To: v[2], Reps: f.Block, Share: f.Share, Rest: rest}
	p.Plan, p.result = l, func(w io.Writer) { sayLadder(w, l) }
	return nil
}

func sayLadder(w io.Writer, l *adapt.Ladder) {
	switch {
	case l.Held > 0 && l.Failed > 0:
		fmt.Fprintf(w, "ladder     held up to %.1f beats a minute; %.1f failed (blocks of %d reps)\n", l.Held, l.Failed, l.Reps)
	case l.Held > 0:
		fmt.Fprintf(w, "ladder     held up to %.1f beats a minute, where it ended\n", l.Held)
	default:
		fmt.Fprintf(w, "ladder     not held at %.1f beats a minute: begin slower\n", l.From)
	}
}

func sayBursts(w io.Writer, b *adapt.Bursts) {
	good, n := 0, 0
	for _, burst := range b.Outcomes {
		for _, o := range burst {
			if n++; o == adapt.Good {
				good++
			}
		}
	}
	fmt.Fprintf(w, "bursts     %d at %.1f beats a minute: %d of %d reps good, %s\n", len(b.Outcomes), b.BPM, good, n, shareText(good, n))
}

// shareText writes a share with its interval.
func shareText(good, n int) string {
	s := estimate.Share(good, n, estimate.Level)
	if !s.Known() {
		return "–"
	}
	return fmt.Sprintf("%.0f %% (%.0f to %.0f)", 100*s.Value, 100*s.Low, 100*s.High)
}

func (f *planFlags) holdOut(p *plan, d *drill.Drill) error {
	rep := repLength(d)
	if !(f.MostMinutes > 0 && f.MostMinutes <= 60) {
		return usagef("--most-minutes: %v is not above 0 and up to 60", f.MostMinutes)
	}
	reps := min(int64(f.MostMinutes*float64(time.Minute)/float64(rep)), f.MostLandings/d.Moments(), int64(drill.MaxNotes/len(d.Notes)), drill.MaxReps)
	if reps < 1 {
		return usagef("--most-minutes and --most-landings leave no room for a rep of %.1f s and %d landings", rep.Seconds(), d.Moments())
	}
	h := &adapt.HoldOut{BPM: d.BPM, Slips: adapt.Slips, Of: adapt.SlipsOf, MostReps: reps}
	p.Plan = h
	p.result = func(w io.Writer) {
		lasted := time.Duration(h.Reps) * rep
		how := "ended without failing"
		if h.Failed {
			how = fmt.Sprintf("failed: more than %d of the last %d reps were bad", adapt.Slips, adapt.SlipsOf)
		}
		fmt.Fprintf(w, "held       %d reps, %.0f s, %d landings at %.1f beats a minute (%.2f landings a second); %s\n",
			h.Reps, lasted.Seconds(), int64(h.Reps)*d.Moments(), h.BPM, landingRate(d), how)
		if h.Failed {
			fmt.Fprintln(w, "           Rest well before you go on. Never push through pain.")
		}
	}
	return nil
}

func (f *planFlags) against(p *plan, d *drill.Drill, c *practice.DrillChoice, rest time.Duration) error {
	var other *drill.Drill
	var err error
	if f.Against == "mirror" {
		if other, err = d.Mirror(); err != nil {
			return usagef("--against mirror: %v", err)
		}
	} else if other, err = practice.LoadDrill(f.Against, c.Mirror, c.Reverse, c.Within); err != nil {
		return err
	}
	if other.Layout.Name != d.Layout.Name {
		return usagef("--against: %s is of the layout %s, %s of %s", d.Name, d.Layout.Name, other.Name, other.Layout.Name)
	}
	tempi := []float64{d.BPM}
	if f.Tempi != "" {
		if tempi, err = numbers(f.Tempi, ","); err != nil || slices.Min(tempi) < drill.MinBPM || slices.Max(tempi) > drill.MaxBPM {
			return usagef("--tempi takes beats a minute with commas between, such as 120,140")
		}
	}
	t := &adapt.TwoWays{Tempi: tempi, Reps: f.Block, Rest: rest, WarmUp: warmUpReps}
	p.ways = append(p.ways, other)
	p.Plan, p.result = t, func(w io.Writer) { sayTwoWays(w, t, d, other) }
	return nil
}

func sayTwoWays(w io.Writer, t *adapt.TwoWays, a, b *drill.Drill) {
	fmt.Fprintf(w, "two ways   A is %s, B is %s; warm-up left out\n", wayName(a), wayName(b))
	for _, d := range t.Differences() {
		fmt.Fprintf(w, "           at %.1f beats a minute: A %d of %d reps good, B %d of %d", d.BPM, d.Good[0], d.N[0], d.Good[1], d.N[1])
		switch {
		case !d.Share.Known():
			fmt.Fprintln(w, ": too few to compare")
		case d.Shown():
			fmt.Fprintf(w, ": A less B %+.0f percentage points (%+.0f to %+.0f)\n", 100*d.Share.Value, 100*d.Share.Low, 100*d.Share.High)
		default:
			fmt.Fprintf(w, ": no difference shown (A less B %+.0f to %+.0f percentage points)\n", 100*d.Share.Low, 100*d.Share.High)
		}
	}
	fmt.Fprintln(w, "           Repeat it another day before you settle on one.")
}

// wayName tells two ways of one drill apart.
func wayName(d *drill.Drill) string {
	if d.Technique != "" {
		return d.Name + " (" + d.Technique + ")"
	}
	return d.Name
}

// numbers reads numbers with sep between; at least one.
func numbers(text, sep string) ([]float64, error) {
	var v []float64
	for part := range strings.SplitSeq(text, sep) {
		x, err := strconv.ParseFloat(strings.TrimSpace(part), 64)
		if err != nil {
			return nil, err
		}
		v = append(v, x)
	}
	return v, nil
}
