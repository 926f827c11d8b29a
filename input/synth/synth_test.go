package synth_test

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/input/synth"
	"heeltoe/judge/drill"
)

const lead = 2 * pad.Second

func makeDrill(t interface{ Fatal(...any) }, s drill.Spec) *drill.Drill {
	if s.Name == "" {
		s.Name = "x"
	}
	if s.Layout == "" {
		s.Layout = "single"
	}
	d, err := drill.New(s, nil)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func play(t interface{ Fatal(...any) }, d *drill.Drill, contacts []drill.Contact, p synth.Params, seed uint64) []pad.Edge {
	y, err := synth.New(d, contacts, lead, p, seed)
	if err != nil {
		t.Fatal(err)
	}
	var edges []pad.Edge
	for {
		e, err := y.Next()
		if errors.Is(err, io.EOF) {
			if _, err := y.Next(); !errors.Is(err, io.EOF) {
				t.Fatal("an edge after the end")
			}
			return edges
		}
		if err != nil {
			t.Fatal(err)
		}
		edges = append(edges, e)
	}
}

// check holds edges to what a pad can report and gives the presses by panel.
func check(t interface {
	Fatalf(string, ...any)
}, edges []pad.Edge) map[pad.Panel][]pad.Press {
	presses := make(map[pad.Panel][]pad.Press)
	var down pad.PanelSet
	last := pad.Time(math.MinInt64)
	for i, e := range edges {
		if e.T < last {
			t.Fatalf("edge %d at %d comes after one at %d", i, e.T, last)
		}
		last = e.T
		switch e.Kind {
		case pad.Down:
			if down.Has(e.Panel) {
				t.Fatalf("edge %d: panel %d goes down while down", i, e.Panel)
			}
			down = down.With(e.Panel)
			presses[e.Panel] = append(presses[e.Panel], pad.Press{Panel: e.Panel, Down: e.T, Up: pad.Never})
		case pad.Up:
			if !down.Has(e.Panel) {
				t.Fatalf("edge %d: panel %d goes up while up", i, e.Panel)
			}
			down = down.Without(e.Panel)
			p := &presses[e.Panel][len(presses[e.Panel])-1]
			p.Up = e.T
			if p.Up <= p.Down {
				t.Fatalf("edge %d: a press of %d µs", i, p.Up-p.Down)
			}
		default:
			t.Fatalf("edge %d is %v", i, e.Kind)
		}
	}
	if down != 0 {
		t.Fatalf("panels %b are down at the end", down)
	}
	return presses
}

// silent gives a player without noise.
func silent() synth.Params {
	p := synth.Defaults()
	p.ClockSDMS, p.MotorSDMS, p.MeanAsynchronyMS = 0, 0, 0
	p.BracketLeadMS, p.BracketSpreadSDMS, p.StaggerSDMS, p.RollOverlapSDMS, p.DwellSDMS = 0, 0, 0, 0, 0
	return p
}

// offsets gives press minus due for each note of a drill in which every panel's
// presses belong to its notes in turn.
func offsets(t *testing.T, d *drill.Drill, presses map[pad.Panel][]pad.Press) []float64 {
	used := make(map[pad.Panel]int)
	g := d.Grid(lead)
	var out []float64
	for rep := range d.Reps {
		for _, n := range d.Notes {
			k := used[n.Panel]
			used[n.Panel]++
			if k >= len(presses[n.Panel]) {
				t.Fatalf("rep %d: no press for %v", rep, n)
			}
			out = append(out, (presses[n.Panel][k].Down - g.Due(rep, int64(n.Slot))).Milliseconds())
		}
	}
	return out
}

// autocov is the autocovariance at lag k about mean, divisor N.
func autocov(x []float64, mean float64, k int) float64 {
	sum := 0.0
	for i := range len(x) - k {
		sum += (x[i] - mean) * (x[i+k] - mean)
	}
	return sum / float64(len(x))
}

// The linear phase correction model's autocovariances: Vorberg and Wing (1996),
// Vorberg and Schulze (2002, J Math Psychol 46:56–87); the figures below were
// computed from their formulas apart from this program. The tolerance is the sampling
// error by Bartlett's formula, var ĝk ≈ (1/N) Σj (gj² + g(j+k)·g(j−k)), times 4.5.
func TestPhaseCorrection(t *testing.T) {
	const n = 100_000
	for _, c := range []struct{ alpha, clock, motor, g0, g1, g2 float64 }{
		{0.5, 10, 5, 166.6667, 58.3333, 29.1667},
		{0.25, 20, 10, 1028.5714, 671.4286, 503.5714},
		{0.3, 15, 5, 470.5882, 304.4118, 213.0882},
		{1, 10, 5, 150, -25, 0},
	} {
		p := silent()
		p.PhaseCorrection, p.ClockSDMS, p.MotorSDMS, p.MeanAsynchronyMS = c.alpha, c.clock, c.motor, -30
		if g0, g1, g2 := p.Asynchrony(); math.Abs(g0-c.g0) > 1e-4 || math.Abs(g1-c.g1) > 1e-4 || math.Abs(g2-c.g2) > 1e-4 {
			t.Errorf("α %v: formulas give %v %v %v", c.alpha, g0, g1, g2)
		}
		d := makeDrill(t, drill.Spec{BPM: 60, PerBeat: 1, Reps: n / 2, Steps: "sw se"})
		x := offsets(t, d, check(t, play(t, d, footing.Default(d), p, 11)))
		g := func(k int) float64 {
			if k < 0 {
				k = -k
			}
			if k == 0 {
				return c.g0
			}
			return c.g1 * math.Pow(1-c.alpha, float64(k-1))
		}
		for k, want := range []float64{c.g0, c.g1, c.g2} {
			v := 0.0
			for j := -200; j <= 200; j++ {
				v += g(j)*g(j) + g(j+k)*g(j-k)
			}
			se := math.Sqrt(v / n)
			if got := autocov(x, -30, k); math.Abs(got-want) > 4.5*se {
				t.Errorf("α %v: g%d is %.3f ms², want %.3f ± %.3f", c.alpha, k, got, want, se)
			}
		}
		// The mean's variance is the sum of all autocovariances over N; for α = 1 almost nothing is left of it.
		sum := 0.0
		for j := -200; j <= 200; j++ {
			sum += g(j)
		}
		if got, se := stat.Mean(x, nil), math.Sqrt(sum/n); math.Abs(got+30) > 4.5*se+0.001 {
			t.Errorf("α %v: the mean is %.4f ms, want -30 ± %.4f", c.alpha, got, se)
		}
	}
}

func TestStartsInTheSteadyState(t *testing.T) {
	p := silent()
	p.ClockSDMS, p.MotorSDMS, p.PhaseCorrection = 20, 10, 0.25
	d := makeDrill(t, drill.Spec{BPM: 60, PerBeat: 1, Reps: 1, Steps: "sw se"})
	const n = 20_000
	first := make([]float64, n)
	for seed := range first {
		first[seed] = offsets(t, d, check(t, play(t, d, footing.Default(d), p, uint64(seed))))[0]
	}
	g0, _, _ := p.Asynchrony()
	if v := stat.Variance(first, nil); math.Abs(v-g0) > 4.5*g0*math.Sqrt(2.0/n) { // var of a normal sample's variance: 2σ⁴/n
		t.Errorf("the first asynchronies' variance is %.1f ms², want %.1f", v, g0)
	}
}

// Dwell has the mean and SD asked for and is log normal; bracket lead and spread too.
func TestDwellAndSpread(t *testing.T) {
	p := silent()
	p.DwellMeanMS, p.DwellSDMS = 200, 60
	d := makeDrill(t, drill.Spec{BPM: 30, PerBeat: 1, Reps: 20_000, Steps: "sw se"})
	presses := check(t, play(t, d, footing.Default(d), p, 3))
	var dwell []float64
	for _, q := range []pad.Panel{1, 4} {
		for _, pr := range presses[q] {
			dwell = append(dwell, (pr.Up - pr.Down).Milliseconds())
		}
	}
	n := float64(len(dwell))
	mean, sd := stat.MeanStdDev(dwell, nil)
	if len(dwell) != 40_000 || math.Abs(mean-200) > 4.5*60/math.Sqrt(n) || math.Abs(sd-60) > 1.5 {
		t.Errorf("%d dwells: mean %.2f, SD %.2f", len(dwell), mean, sd)
	}
	for i := range dwell {
		dwell[i] = math.Log(dwell[i])
	}
	if skew := stat.Skew(dwell, nil); math.Abs(skew) > 4.5*math.Sqrt(6/n) {
		t.Errorf("the logarithms' skewness is %.3f", skew)
	}

	p = silent()
	p.BracketLeadMS, p.BracketSpreadSDMS = 5, 9
	d = makeDrill(t, drill.Spec{BPM: 60, PerBeat: 1, Reps: 20_000, Steps: "sw+c", Footing: "L:sw&c"})
	presses = check(t, play(t, d, d.Footing, p, 4))
	var spread, centre []float64
	g := d.Grid(lead)
	for i := range presses[1] {
		a, b := presses[1][i].Down, presses[2][i].Down
		spread = append(spread, (b - a).Milliseconds())
		centre = append(centre, ((a+b)/2 - g.Due(int64(i), 0)).Milliseconds())
	}
	n = float64(len(spread))
	if mean, sd := stat.MeanStdDev(spread, nil); math.Abs(mean-5) > 4.5*9/math.Sqrt(n) || math.Abs(sd-9) > 4.5*9/math.Sqrt(2*n) {
		t.Errorf("spread: mean %.3f, SD %.3f", mean, sd)
	}
	if m, sd := stat.MeanStdDev(centre, nil); math.Abs(m) > 0.01 || sd > 0.01 {
		t.Errorf("a bracket's centre is off by %.3f ± %.3f ms", m, sd)
	}
}

// Contract: a landing that gathers notes is aimed (late − early)/2 after the
// middle of its notes, in the tightest band that can hold them.
func TestGatheredLandingsComeAtTheAim(t *testing.T) {
	for _, c := range []struct {
		bpm   float64 // in fours: a slot is 15000/bpm ms
		steps string
		foot  string
		late  pad.Time // of the aim, after the middle
	}{
		{250, "sw c", "L:sw&c", 5 * pad.Millisecond},            // span 60 ms ≤ 40 + 50
		{125, "sw c", "L:sw&c", 10 * pad.Millisecond},           // 120 ms ≤ 70 + 90
		{75, "sw c", "L:sw&c", 15 * pad.Millisecond},            // 200 ms ≤ 105 + 135
		{200, "nw c ne", "(L:nw R:c&ne)", 10 * pad.Millisecond}, // 150 ms
		{125, "sw+c", "L:sw&c", 0},                              // nothing gathered
	} {
		d := makeDrill(t, drill.Spec{BPM: c.bpm, PerBeat: 4, Reps: 3, RestBeats: 4, Steps: c.steps, Footing: c.foot})
		presses := check(t, play(t, d, d.Footing, silent(), 1))
		g := d.Grid(lead)
		for _, n := range d.Notes {
			for rep, p := range presses[n.Panel] {
				want := (g.Due(int64(rep), 0)+g.Due(int64(rep), d.Slots-1))/2 + c.late
				if (p.Down - want).Abs() > 1 {
					t.Errorf("%v bpm, %s, rep %d: %s comes down at %d, want %d", c.bpm, c.foot, rep, d.Layout.ID(n.Panel), p.Down, want)
				}
			}
		}
	}
}

// A roll's panels come down each at its own moment, the first goes up the overlap after the second came down.
func TestRolls(t *testing.T) {
	p := silent()
	d := makeDrill(t, drill.Spec{BPM: 125, PerBeat: 4, Reps: 50, Steps: "sw c se . ", Footing: "L:sw>c R:se"})
	presses := check(t, play(t, d, d.Footing, p, 1))
	g := d.Grid(lead)
	for rep := range 50 {
		heel, toe := presses[1][rep], presses[2][rep]
		if heel.Down != g.Due(int64(rep), 0) || toe.Down != g.Due(int64(rep), 1) || heel.Up != toe.Down+30*pad.Millisecond {
			t.Errorf("rep %d: %v %v", rep, heel, toe)
		}
	}
}

// Held notes are held to their ends, and a foot's press ends before its next
// contact by the swing: own part and distance.
func TestHoldsAndSwing(t *testing.T) {
	p := silent()
	p.DwellMeanMS = 5000
	d := makeDrill(t, drill.Spec{BPM: 120, PerBeat: 4, Reps: 20, Steps: "sw=6 c ne c . . . .", Footing: "L:sw R:c R:ne R:c"})
	presses := check(t, play(t, d, d.Footing, p, 1))
	g := d.Grid(lead)
	corner := math.Hypot(pad.CellMM, pad.CellMM) // from the centre to a corner
	for rep := range int64(20) {
		if up := presses[1][rep].Up; up != g.Due(rep, 6) {
			t.Errorf("rep %d: the hold ends at %d, want %d", rep, up, g.Due(rep, 6))
		}
		want := g.Due(rep, 2) - pad.Time(1000*(p.SwingMS+p.SwingPerMetreMS*corner/1000))
		if up := presses[2][2*rep].Up; (up - want).Abs() > 1 {
			t.Errorf("rep %d: the foot leaves the centre at %d, want %d", rep, up, want)
		}
	}
}

// A release that is decided late still comes in its own time: the left foot
// leaves before an edge of the right foot that was known long before.
func TestReleasesKeepTheirTime(t *testing.T) {
	p := silent()
	p.DwellMeanMS = 5000
	d := makeDrill(t, drill.Spec{BPM: 125, PerBeat: 16, Reps: 20, Steps: "sw . . . se=2 . . . nw . . . . . . .", Footing: "L:sw R:se L:nw"})
	presses := check(t, play(t, d, d.Footing, p, 1))
	g := d.Grid(lead)
	for rep := range int64(20) {
		want := g.Due(rep, 8) - pad.Time(1000*(p.SwingMS+p.SwingPerMetreMS*2*pad.CellMM/1000))
		if up := presses[1][rep].Up; (up-want).Abs() > 1 || up >= presses[4][rep].Up {
			t.Errorf("rep %d: the left foot leaves at %d, want %d", rep, up, want)
		}
	}
}

// anyDrill draws a drill and a footing of it, good or bad for the feet.
func anyDrill(t *rapid.T) (*drill.Drill, []drill.Contact) {
	layout := rapid.SampledFrom([]*pad.Layout{pad.Single, pad.Double}).Draw(t, "layout")
	var ids []string
	for _, p := range layout.Panels {
		ids = append(ids, p.ID)
	}
	token := rapid.Custom(func(t *rapid.T) string {
		n := rapid.SampledFrom([]int{0, 1, 1, 1, 1, 2, 3, 4, 5}).Draw(t, "joined")
		if n == 0 {
			return "."
		}
		return strings.Join(rapid.Permutation(ids).Draw(t, "panels")[:n], "+")
	})
	steps := rapid.SliceOfN(token, 1, 12).Draw(t, "steps")
	if rapid.Bool().Draw(t, "held") {
		held := rapid.IntRange(1, 20).Draw(t, "hold")
		for i := range steps {
			parts := slices.DeleteFunc(strings.Split(steps[i], "+"), func(s string) bool { return s == ids[0] })
			steps[i] = strings.Join(parts, "+")
			if steps[i] == "" {
				steps[i] = "."
			}
		}
		steps = append([]string{fmt.Sprintf("%s=%d", ids[0], min(held, len(steps)+1))}, steps...)
	}
	if !slices.ContainsFunc(steps, func(s string) bool { return s != "." }) {
		t.Skip("no note")
	}
	d := makeDrill(t, drill.Spec{Layout: layout.Name, BPM: rapid.Float64Range(60, 900).Draw(t, "bpm"), PerBeat: 4,
		Reps: rapid.Int64Range(1, 30).Draw(t, "reps"), RestBeats: rapid.Int64Range(0, 2).Draw(t, "rest"), Steps: strings.Join(steps, " ")})
	contacts := footing.Default(d)
	switch rapid.IntRange(0, 2).Draw(t, "footing") {
	case 1: // gather neighbours into brackets and rolls, whatever they are
		contacts = nil
		for i := 0; i < len(d.Notes); i++ {
			c := drill.Contact{Landing: len(contacts), Foot: pad.Foot(rapid.IntRange(0, 1).Draw(t, "foot")), Notes: [2]int32{int32(i), 0}}
			if i+1 < len(d.Notes) && d.Notes[i+1].Panel != d.Notes[i].Panel {
				if k := rapid.SampledFrom([]drill.ContactKind{drill.Step, drill.Bracket, drill.Roll}).Draw(t, "kind"); k != drill.Step {
					c.Kind, c.Notes[1] = k, int32(i+1)
					i++
				}
			}
			contacts = append(contacts, c)
		}
	case 2: // one foot for everything
		for i := range contacts {
			contacts[i].Foot = pad.Left
		}
	}
	return d, contacts
}

// At any tempo, with any footing, the edges are such as a pad can report; with
// no slips each note has its press and each press its note.
func TestAnyDrill(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, contacts := anyDrill(t)
		p := synth.Defaults()
		seed := rapid.Uint64().Draw(t, "seed")
		count := func(edges []pad.Edge) []int {
			out := make([]int, len(d.Layout.Panels))
			for p, pr := range check(t, edges) {
				out[p] = len(pr)
			}
			return out
		}
		want := make([]int, len(d.Layout.Panels))
		for _, n := range d.Notes {
			want[n.Panel] += int(d.Reps)
		}
		edges := play(t, d, contacts, p, seed)
		if got := count(edges); !slices.Equal(got, want) {
			t.Fatalf("%s: presses %v, notes %v", d.Steps, got, want)
		}
		if again := play(t, d, contacts, p, seed); !slices.Equal(again, edges) {
			t.Fatal("the same seed plays otherwise")
		}
		p.MissRate, p.StrayRate, p.ChatterRate = 0.2, 0.3, 0.2
		p.ClockSDMS = rapid.Float64Range(0, 200).Draw(t, "clock")
		count(play(t, d, contacts, p, seed))
	})
}

func TestRates(t *testing.T) {
	d := makeDrill(t, drill.Spec{BPM: 60, PerBeat: 1, Reps: 10_000, Steps: "sw se"})
	const n = 20_000.0
	total := func(p synth.Params) float64 {
		sum := 0
		for _, pr := range check(t, play(t, d, footing.Default(d), p, 9)) {
			sum += len(pr)
		}
		return float64(sum)
	}
	for name, c := range map[string]struct {
		set  func(*synth.Params)
		sign float64
	}{
		"miss":    {func(p *synth.Params) { p.MissRate = 0.1 }, -1},
		"stray":   {func(p *synth.Params) { p.StrayRate = 0.1 }, 0.6},
		"chatter": {func(p *synth.Params) { p.ChatterRate = 0.1 }, 1},
	} {
		p := silent()
		c.set(&p)
		got := (total(p) - n) / n
		se := math.Sqrt(0.1 * 0.9 / n)
		lo, hi := c.sign*0.1-4.5*se, c.sign*0.1+4.5*se
		if name == "stray" { // one that meets a panel that is down is none, and two of five panels are played
			hi = 0.1 + 4.5*se
		}
		if got < lo || got > hi {
			t.Errorf("%s: presses change by %.4f of the notes, want %.4f to %.4f", name, got, lo, hi)
		}
	}
}

func TestRefusals(t *testing.T) {
	d := makeDrill(t, drill.Spec{BPM: 60, PerBeat: 1, Reps: 1, Steps: "sw se"})
	c := footing.Default(d)
	for name, change := range map[string]func(*synth.Params){
		"nan": func(p *synth.Params) { p.ClockSDMS = math.NaN() }, "negative": func(p *synth.Params) { p.DwellSDMS = -1 },
		"alpha 0": func(p *synth.Params) { p.PhaseCorrection = 0 }, "alpha 2": func(p *synth.Params) { p.PhaseCorrection = 2 },
		"rate": func(p *synth.Params) { p.MissRate = 1.5 }, "windows": func(p *synth.Params) { p.Windows[0].Early = 5 },
		"dwell": func(p *synth.Params) { p.DwellMeanMS = 0 },
	} {
		p := synth.Defaults()
		change(&p)
		if _, err := synth.New(d, c, lead, p, 1); err == nil {
			t.Errorf("%s is taken", name)
		}
	}
	for name, contacts := range map[string][]drill.Contact{"none": nil, "one": c[:1], "twice": {c[0], c[0]}, "beyond": {c[0], {Notes: [2]int32{7, 0}}}} {
		if _, err := synth.New(d, contacts, lead, synth.Defaults(), 1); err == nil {
			t.Errorf("a footing with %s is taken", name)
		}
	}
}

func longPlayer(t testing.TB, reps int64) (*synth.Player, *drill.Drill) {
	d := makeDrill(t, drill.Spec{BPM: 130, PerBeat: 4, Reps: reps, Steps: "se ne c sw . nw . sw=4 c+ne c", Footing: "R:se>ne L:c R:sw L:nw L:sw R:c&ne R:c"})
	p := synth.Defaults()
	p.MissRate, p.StrayRate, p.ChatterRate = 0.01, 0.01, 0.01
	y, err := synth.New(d, d.Footing, lead, p, 1)
	if err != nil {
		t.Fatal(err)
	}
	return y, d
}

// 8 simulated hours and more: nothing is kept but what is open.
func TestLongRunsDoNotAllocate(t *testing.T) {
	y, _ := longPlayer(t, 30_000)
	var last pad.Edge
	next := func(n int) {
		for range n {
			e, err := y.Next()
			if err != nil {
				t.Fatal(err)
			}
			last = e
		}
	}
	next(20_000)
	if n := testing.AllocsPerRun(1, func() { next(200_000) }); n != 0 {
		t.Errorf("%v allocations in 200,000 edges", n)
	}
	for {
		e, err := y.Next()
		if err != nil {
			break
		}
		last = e
	}
	if last.T < 8*pad.Hour {
		t.Errorf("the run ends after %v", last.T.Duration())
	}
}

// Must reach: 1 million edges a second, the same for long runs as for short ones.
func BenchmarkNext(b *testing.B) {
	for _, reps := range []int64{100, 10_000, 100_000} {
		b.Run(fmt.Sprint(reps, " reps"), func(b *testing.B) {
			edges := 0
			for b.Loop() {
				y, _ := longPlayer(b, reps)
				for {
					if _, err := y.Next(); err != nil {
						break
					}
					edges++
				}
			}
			b.ReportMetric(float64(edges)/b.Elapsed().Seconds()/1e6, "Medges/s")
		})
	}
}
