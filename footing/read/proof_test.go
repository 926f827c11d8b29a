package read_test

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"runtime"
	"slices"
	"strings"
	"testing"
	"text/tabwriter"

	"golang.org/x/sync/errgroup"
	"gonum.org/v1/gonum/floats"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/footing/read"
	"heeltoe/footing/read/walker"
	"heeltoe/judge"
	"heeltoe/judge/drill"
	"heeltoe/trainer/drills"
)

const lead = 2 * pad.Second

// ways gives for each technique the easiest footing of d that works, as the planner has it.
func ways(t testing.TB, d *drill.Drill) map[string]*footing.Footing {
	t.Helper()
	body := footing.DefaultBody()
	all, err := footing.Plan(d, body, drill.DefaultWindows, footing.Filter{}, 16)
	if err != nil {
		t.Fatal(err)
	}
	more, err := footing.Best(d, body, drill.DefaultWindows, footing.Filter{}, 300)
	if err != nil {
		t.Fatal(err)
	}
	of := make(map[string]*footing.Footing)
	for _, f := range append(all, more...) {
		if f.Feasible && of[f.Technique] == nil {
			of[f.Technique] = f
		}
	}
	return of
}

// judged gives a run as the trainer has it: pressed, and judged.
func judged(d *drill.Drill, touches []walker.Touch) *read.Run {
	j := judge.New(d, judge.Options{Lead: lead})
	var c read.Collector
	take := func() {
		for _, v := range j.Verdicts() {
			c.Judged(&v)
		}
	}
	for _, e := range walker.Edges(touches) {
		c.Feed(e)
		j.Feed(e)
		take()
	}
	j.Finish()
	take()
	return &read.Run{Lead: lead, Reps: int(d.Reps), Presses: c.Presses()}
}

// pattern is a drill at a tempo, with the ways to play it.
type pattern struct {
	id    string
	tempo float64 // times the drill's own
	d     *drill.Drill
	ways  map[string]*footing.Footing
}

// patterns gives drills of the library at so many times their tempo, of so many reps.
func patterns(t testing.TB, ids []string, tempi []float64, reps int64) (of []pattern) {
	t.Helper()
	for _, id := range ids {
		plain, err := drills.Load(id)
		if err != nil {
			t.Fatal(err)
		}
		for _, k := range tempi {
			d, err := plain.WithTempo(math.Round(plain.BPM * k))
			if err != nil {
				t.Fatal(err)
			}
			if d, err = d.WithReps(reps); err != nil {
				t.Fatal(err)
			}
			of = append(of, pattern{id, k, d, ways(t, d)})
		}
	}
	return of
}

// techniques gives the techniques of p in a fixed order.
func (p *pattern) techniques() (of []string) {
	for t := range p.ways {
		of = append(of, t)
	}
	slices.Sort(of)
	return of
}

// player draws a player: the seed says all of it. Every third has a kind that misleads.
func player(seed uint64, faulty bool) (walker.Habits, *rand.Rand) {
	r := rand.New(rand.NewPCG(seed, 77))
	h := walker.Draw(r, faulty)
	if seed%3 == 2 {
		if k := walker.Kinds[seed/3%uint64(len(walker.Kinds))]; !k.Faulty || faulty {
			k.Change(&h, r)
		}
	}
	return h, r
}

// play lets a player play p by one technique.
func (p *pattern) play(technique string, h walker.Habits, r *rand.Rand) *read.Run {
	run, _ := p.playBeside(technique, h, r)
	return run
}

// playBeside is play with a genie beside the player.
func (p *pattern) playBeside(technique string, h walker.Habits, r *rand.Rand) (*read.Run, *walker.Genie) {
	reps := make([]walker.Rep, p.d.Reps)
	for i := range reps {
		reps[i].Footing = p.ways[technique]
	}
	touches, genie := walker.PlayBeside(p.d, reps, h, lead, r)
	return judged(p.d, touches), genie
}

// told gives the genie's probability of each technique that may have been played; those whose
// feet come down in another way than was played it is taken to know apart.
func (p *pattern) told(t *testing.T, g *walker.Genie, played string) map[string]float64 {
	t.Helper()
	own := g.LogLikelihood(p.ways[played])
	if math.IsInf(own, 0) || math.IsNaN(own) {
		t.Fatalf("%s by %s: what was played has the likelihood %v", p.id, played, own)
	}
	return p.weighed(played, g.LogLikelihood)
}

// toldStranger is told of a genie that knows how players differ, but not who this one is. Noise of
// its estimates makes it too sure on the mean; so where it is not sure it looks again.
func (p *pattern) toldStranger(g *walker.Genie, played string, of walker.Population, particles int, r *rand.Rand) (told map[string]float64) {
	const looks = 4
	logs := make(map[*footing.Footing][]float64)
	for range looks {
		told = p.weighed(played, func(f *footing.Footing) float64 {
			logs[f] = append(logs[f], g.LogEvidence(f, of, particles, r))
			return floats.LogSumExp(logs[f])
		})
		if told[top(told)] >= unsureUnder {
			break
		}
	}
	return told
}

// weighed makes probabilities of the logarithms of weights of all techniques whose feet come down
// as those of what was played.
func (p *pattern) weighed(played string, log func(*footing.Footing) float64) map[string]float64 {
	var names []string
	var logs []float64
	for _, o := range p.techniques() {
		if walker.SameShape(p.ways[o], p.ways[played]) {
			names, logs = append(names, o), append(logs, log(p.ways[o]))
		}
	}
	total := floats.LogSumExp(logs)
	of := make(map[string]float64)
	for i, o := range names {
		of[o] = math.Exp(logs[i] - total)
	}
	return of
}

// people gives how the players of player differ.
func people(faulty bool) walker.Population {
	return func(r *rand.Rand) walker.Habits {
		kind := r.Float64() * 3 * float64(len(walker.Kinds))
		h := walker.Draw(r, faulty)
		if kind < float64(len(walker.Kinds)) {
			if k := walker.Kinds[int(kind)]; !k.Faulty || faulty {
				k.Change(&h, r)
			}
		}
		return h
	}
}

// features gives for each rep what a classifier is trained on: offsets, dwell, intervals,
// and gaps to the next two presses, in ms; with the whole run's means beside them where whole.
func features(d *drill.Drill, run *read.Run, whole bool) [][]float64 {
	const absent = -999
	n, g := len(d.Notes), d.Grid(run.Lead)
	down, up := make([]float64, n*(run.Reps+1)), make([]float64, n*(run.Reps+1))
	for i := range down {
		down[i], up[i] = math.NaN(), math.NaN()
	}
	for _, p := range run.Presses {
		if p.Rep >= 0 {
			i := int(p.Rep)*n + int(p.Note)
			down[i] = float64(p.Down) / 1000
			if p.Up != pad.Never {
				up[i] = float64(p.Up) / 1000
			}
		}
	}
	rows := make([][]float64, run.Reps)
	for rep := range rows {
		for i := range n {
			at := rep*n + i
			due := float64(g.Due(int64(rep), int64(d.Notes[i].Slot))) / 1000
			row := []float64{down[at] - due, up[at] - down[at], down[at+1] - down[at], up[at] - down[at+1], math.NaN()}
			if at+2 < len(down) {
				row[4] = up[at] - down[at+2]
			}
			rows[rep] = append(rows[rep], row...)
		}
	}
	if whole {
		means := make([]float64, len(rows[0]))
		for k := range means {
			sum, count := 0.0, 0.0
			for _, row := range rows {
				if !math.IsNaN(row[k]) {
					sum, count = sum+row[k], count+1
				}
			}
			means[k] = sum / count
		}
		for rep := range rows {
			rows[rep] = append(rows[rep], means...)
		}
	}
	for _, row := range rows {
		for k, v := range row {
			if math.IsNaN(v) {
				row[k] = absent
			}
		}
	}
	return rows
}

// forests is a process of scikit-learn's random forests (testdata/read/forest.py;
// Debian's python3-sklearn).
type forests struct {
	enc *json.Encoder
	dec *json.Decoder
}

type job struct {
	Train  [][]float64 `json:"train"`
	Labels []string    `json:"labels"`
	Test   [][]float64 `json:"test"`
}

// newForests starts it; without scikit-learn the test is skipped.
func newForests(t testing.TB) *forests {
	t.Helper()
	const python = "/usr/bin/python3" // Debian's own, for which scikit-learn is installed
	if exec.Command(python, "-c", "import sklearn").Run() != nil {
		if os.Getenv("HEELTOE_STRICT") != "" {
			t.Fatal("python3-sklearn is missing; make test installs it")
		}
		t.Skip("not run: python3-sklearn is missing; make test installs it")
	}
	cmd := exec.Command(python, "../../testdata/read/forest.py")
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	var trouble bytes.Buffer
	cmd.Stderr = &trouble
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		in.Close()
		if err := cmd.Wait(); err != nil {
			t.Errorf("the forests: %v\n%s", err, trouble.String())
		}
	})
	return &forests{json.NewEncoder(in), json.NewDecoder(bufio.NewReader(out))}
}

// guess trains on a job and gives for each row of its test the probability of each technique.
func (f *forests) guess(t testing.TB, j *job) []map[string]float64 {
	t.Helper()
	if err := f.enc.Encode(j); err != nil {
		t.Fatal(err)
	}
	var got struct {
		Classes []string
		P       [][]float64
	}
	if err := f.dec.Decode(&got); err != nil {
		t.Fatal(err)
	}
	of := make([]map[string]float64, len(got.P))
	for i, row := range got.P {
		of[i] = make(map[string]float64)
		for k, p := range row {
			of[i][got.Classes[k]] = p
		}
	}
	return of
}

// byRule gives the technique of a rep by what a simple rule says: presses of different
// moments that come together are a hop; a panel still down for a third of its dwell when the
// next comes is a roll; else the feet take turns.
func byRule(d *drill.Drill, row []float64) string {
	const each = 5
	together, overlapped := false, false
	for i := range len(d.Notes) - 1 {
		dwell, gap, over := row[i*each+1], row[i*each+2], row[i*each+3]
		apart := d.Notes[i].Slot != d.Notes[i+1].Slot
		together = together || apart && gap > -200 && math.Abs(gap) < 30
		overlapped = overlapped || apart && over > dwell/3
	}
	switch {
	case together:
		return "hop"
	case overlapped:
		return "roll"
	}
	return "alternate"
}

// sample is one rep, played and read.
type sample struct {
	truth   string
	rule    string
	chances map[string]float64 // the reader's
	single  map[string]float64 // the forest's that sees the rep
	whole   map[string]float64 // the forest's that sees the run too
	genie   map[string]float64 // the genie's, of the run
	odd     *stranger          // what a stranger makes of the run, where one was asked
	run     int                // that it belongs to
	label   string             // the reader's
	p       float64
	runIs   string // the reader's label of the run
}

// byLabel names the chances that the reader gives.
func byLabel(c *read.Chances) map[string]float64 {
	m := make(map[string]float64)
	for i, v := range c {
		m[read.Labels[i]] = v
	}
	return m
}

// stranger is what a genie makes of a run that does not know the player, and how many runs it stands for.
type stranger struct {
	chances map[string]float64
	weight  float64
}

// askStrangers asks them of runs of which the reader is not sure, and of one in so many of the others.
const (
	unsureUnder = .97
	oneInSure   = 20
)

// top gives the likeliest of some techniques, of all where there are none.
func top(p map[string]float64, of ...string) (label string) {
	best := -1.0
	for _, t := range read.Labels {
		if v := p[t]; v > best && (len(of) == 0 || slices.Contains(of, t)) {
			label, best = t, v
		}
	}
	return label
}

// feetCount counts notes whose feet, up to exchange, and contacts were read as they were.
type feetCount struct{ notes, feet, contacts int }

func (c *feetCount) add(f *footing.Footing, g *read.Reading) {
	for _, rep := range g.Reps {
		same, other := 0, 0
		for i := range f.Contacts {
			k := &f.Contacts[i]
			for _, n := range k.NoteIndices() {
				note := &rep.Notes[n]
				if !note.Pressed {
					continue
				}
				c.notes++
				switch {
				case rep.Contacts == nil:
				case note.Foot == k.Foot:
					same++
				default:
					other++
				}
				if rep.Contacts != nil && note.Kind == k.Kind {
					c.contacts++
				}
			}
		}
		c.feet += max(same, other)
	}
}

// prove plays and reads every pattern by every technique with so many players, whose
// seeds begin at from, and lets forests guess that were trained on so many others, of
// patterns at their own tempo: forests take long, and so do strangers, who are asked where wanted.
func prove(t *testing.T, ps []pattern, players, others int, from uint64, faulty, strangers bool) (all []sample, feet feetCount) {
	t.Helper()
	f := newForests(t)
	runs := 0
	var asked errgroup.Group
	asked.SetLimit(runtime.NumCPU())
	defer func() { _ = asked.Wait() }() // none fails
	for i := range ps {
		p := &ps[i]
		if len(p.ways) < 2 {
			continue
		}
		rd, err := read.New(p.d, drill.DefaultWindows)
		if err != nil {
			t.Fatal(err)
		}
		var single, whole job
		trained := others
		if p.tempo != 1 {
			trained = 0
		}
		for _, technique := range p.techniques() {
			for k := range trained {
				h, r := player(1_000_000+uint64(k), faulty)
				run := p.play(technique, h, r)
				single.Train = append(single.Train, features(p.d, run, false)...)
				whole.Train = append(whole.Train, features(p.d, run, true)...)
				for range run.Reps {
					single.Labels = append(single.Labels, technique)
				}
			}
		}
		whole.Labels = single.Labels
		begin := len(all)
		for _, technique := range p.techniques() {
			for k := range players {
				h, r := player(from+uint64(k), faulty)
				run, genie := p.playBeside(technique, h, r)
				told := p.told(t, genie, technique)
				got := rd.Read(run)
				feet.add(p.ways[technique], got)
				if got.Technique != technique {
					t.Logf("%s at %v, player %d by %s, was read as %s, p %.2f", p.id, p.d.BPM, from+uint64(k), technique, got.Technique, got.P)
				}
				var odd *stranger
				if chance := rand.New(rand.NewPCG(uint64(runs), 78)); strangers && (got.P < unsureUnder || chance.IntN(oneInSure) == 0) {
					odd = &stranger{weight: 1}
					particles := 250
					if got.P >= unsureUnder {
						odd.weight, particles = oneInSure, 100
					}
					asked.Go(func() error {
						odd.chances = p.toldStranger(genie, technique, people(faulty), particles, chance)
						return nil
					})
				}
				rows := features(p.d, run, false)
				single.Test = append(single.Test, rows...)
				whole.Test = append(whole.Test, features(p.d, run, true)...)
				for rep := range got.Reps {
					g := &got.Reps[rep]
					s := sample{truth: technique, rule: byRule(p.d, rows[rep]), run: runs, label: g.Technique, p: g.P, runIs: got.Technique, genie: told, odd: odd, chances: byLabel(&g.Chances)}
					all = append(all, s)
				}
				runs++
			}
		}
		if trained == 0 {
			continue
		}
		for k, p := range f.guess(t, &single) {
			all[begin+k].single = p
		}
		for k, p := range f.guess(t, &whole) {
			all[begin+k].whole = p
		}
	}
	return all, feet
}

// mixedUnder is the probability under which a run is called mixed, whatever it is.
const mixedUnder = .6

// figures are what the proof asks of the reader.
type figures struct {
	reps, runs, unclear, calibration, sureWrong, feet, contacts float64
	limit, limitRuns                                            float64 // what the genie gets of reps, and of runs; a stranger where one was asked
	askedRuns, strangerSure, strangerRight                      float64 // runs that strangers were asked of, how sure they were on the mean, and how often right
	rule                                                        float64
	beside, forest, forestRuns                                  float64 // of the reps that forests saw: right by the reader, and by them
}

// tellsRun gives how often the best label of such chances is right for a run as a whole.
func tellsRun(chances map[string]float64) float64 {
	if p := chances[top(chances)]; p >= mixedUnder {
		return p
	}
	return 0
}

// sum works the figures out.
func sum(all []sample, feet feetCount) (f figures) {
	const bins = 10
	var inBin, rightInBin, pInBin [bins]float64
	clear, sure, seen := 0.0, 0.0, 0.0
	runs, runsRight := make(map[int]bool), 0.0
	for i := range all {
		s := &all[i]
		right := 0.0
		if s.label == s.truth {
			right = 1
		}
		f.reps += right
		if s.label == read.Unclear {
			f.unclear++
		} else {
			clear++
			b := min(bins-1, int(s.p*bins))
			inBin[b]++
			rightInBin[b] += right
			pInBin[b] += s.p
		}
		if s.p >= .95 && s.label != read.Unclear {
			sure++
			f.sureWrong += 1 - right
		}
		if !runs[s.run] {
			runs[s.run] = true
			if s.runIs == s.truth {
				runsRight++
			}
			f.limitRuns += tellsRun(s.genie)
			if s.odd != nil {
				f.limitRuns += s.odd.weight * (tellsRun(s.odd.chances) - tellsRun(s.genie))
				f.askedRuns++
				f.strangerSure += s.odd.chances[top(s.odd.chances)]
				if top(s.odd.chances) == s.truth {
					f.strangerRight++
				}
			}
		}
		if s.rule == s.truth {
			f.rule++
		}
		if s.single != nil {
			seen++
			f.beside += right
			if top(s.single) == s.truth {
				f.forest++
			}
			if top(s.whole) == s.truth {
				f.forestRuns++
			}
		}
		f.limit += s.genie[top(s.genie)] // it is right so often, whichever it was
		if s.odd != nil {
			f.limit += s.odd.weight * (s.odd.chances[top(s.odd.chances)] - s.genie[top(s.genie)])
		}
	}
	n := float64(len(all))
	for b := range bins {
		if inBin[b] > 0 {
			f.calibration += math.Abs(rightInBin[b]-pInBin[b]) / clear
		}
	}
	f.reps, f.unclear, f.rule, f.limit = f.reps/n, f.unclear/n, f.rule/n, f.limit/n
	f.beside, f.forest, f.forestRuns = f.beside/seen, f.forest/seen, f.forestRuns/seen
	f.runs, f.limitRuns = runsRight/float64(len(runs)), f.limitRuns/float64(len(runs))
	if sure > 0 {
		f.sureWrong /= sure
	}
	if f.askedRuns > 0 {
		f.strangerSure, f.strangerRight = f.strangerSure/f.askedRuns, f.strangerRight/f.askedRuns
	}
	f.feet, f.contacts = float64(feet.feet)/float64(feet.notes), float64(feet.contacts)/float64(feet.notes)
	return f
}

func (f figures) String() string {
	text := fmt.Sprintf("reps %.4f (limit %.4f, rule %.4f); beside forests %.4f (forest of reps %.4f, of whole runs %.4f); runs %.4f (limit %.4f); unclear %.4f; calibration error %.4f; wrong of those with p ≥ 0.95 %.4f; feet %.4f; contacts %.4f",
		f.reps, f.limit, f.rule, f.beside, f.forest, f.forestRuns, f.runs, f.limitRuns, f.unclear, f.calibration, f.sureWrong, f.feet, f.contacts)
	if f.askedRuns > 0 {
		text += fmt.Sprintf("; of %.0f runs strangers were sure by %.4f and right in %.4f", f.askedRuns, f.strangerSure, f.strangerRight)
	}
	return text
}

// pairs are techniques that presses tell apart the least.
var pairs = []struct{ name, a, b string }{
	{"roll–alternate", "roll", "alternate"},
	{"roll–double-step", "roll", "double-step"},
	{"alternate–double-step", "alternate", "double-step"},
	{"hop–alternate (fast steps)", "hop", "alternate"},
	{"hop–double-step (fast steps)", "hop", "double-step"},
	{"bracket–jump", "alternate", "jump"},
	{"hop–foot-switch", "hop", "foot-switch"},
}

// tableOf prints how often each means tells the two of a pair apart.
func tableOf(all []sample) string {
	var text strings.Builder
	w := tabwriter.NewWriter(&text, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "pair\treps\trule\tforest of reps\tforest of runs\treader\tlimit")
	for _, p := range pairs {
		var n, rule, single, whole, reader, limit float64
		is := func(got, truth string) float64 {
			if got == truth {
				return 1
			}
			return 0
		}
		for i := range all {
			s := &all[i]
			_, a := s.single[p.a]
			_, b := s.single[p.b]
			if !a || !b || s.truth != p.a && s.truth != p.b {
				continue
			}
			n++
			rule += is(s.rule, s.truth)
			single += is(top(s.single, p.a, p.b), s.truth)
			whole += is(top(s.whole, p.a, p.b), s.truth)
			reader += is(top(s.chances, p.a, p.b), s.truth)
			limit += max(s.genie[p.a], s.genie[p.b]) / (s.genie[p.a] + s.genie[p.b])
		}
		if n > 0 {
			fmt.Fprintf(w, "%s\t%.0f\t%.4f\t%.4f\t%.4f\t%.4f\t%.4f\n", p.name, n, rule/n, single/n, whole/n, reader/n, limit/n)
		}
	}
	w.Flush()
	return text.String()
}

// shortList are drills of several families, for the daily tests.
var shortList = []string{"anchor-corner", "bracket-taps", "corner-hook", "corner-roll", "crossing-lower", "jump-and-step",
	"seam-switch", "stair-middle-six"}

// asked is what the figures have to be; check says which are not.
type asked struct {
	name                                                        string
	reps, runs, unclear, calibration, sureWrong, feet, contacts float64
	behind                                                      float64 // how far reps may be behind the forests
}

func (a asked) check(t *testing.T, f figures) {
	t.Helper()
	least := func(what string, got, want float64) {
		if got < want {
			t.Errorf("%s: %s is %.4f, less than %.4f", a.name, what, got, want)
		}
	}
	most := func(what string, got, want float64) {
		if got > want {
			t.Errorf("%s: %s is %.4f, more than %.4f", a.name, what, got, want)
		}
	}
	const ofLimit = .98 // of what can be told at all
	least("the share of reps read right over what can be told", f.reps/f.limit, ofLimit)
	least("the share of runs read right over what can be told", f.runs/f.limitRuns, ofLimit)
	least("the share of reps read right less that of the forest that sees reps", f.beside-f.forest, -a.behind)
	least("the share of reps read right less that of the forest that sees runs", f.beside-f.forestRuns, -a.behind)
	// What is asked, unless it is more than can be told: a run whose techniques are equally likely is called mixed.
	reach := func(asked, limit float64) float64 {
		if asked > limit {
			return ofLimit * limit
		}
		return asked
	}
	least("the share of reps read right", f.reps, reach(a.reps, f.limit))
	least("the share of runs read right", f.runs, reach(a.runs, f.limitRuns))
	most("the share of unclear reps", f.unclear, a.unclear)
	most("the calibration error", f.calibration, a.calibration)
	most("the share of wrong readings of those with p ≥ 0.95", f.sureWrong, a.sureWrong)
	least("the share of feet read right", f.feet, a.feet)
	least("the share of contacts read right", f.contacts, a.contacts)
}

// The reader on drills of several families, in small, against forests trained on the very
// generator of these players.
func TestLongProof(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	if testing.Short() {
		t.Skip("not run: -short")
	}
	all, feet := prove(t, patterns(t, shortList, []float64{1}, 12), 4, 16, 0, false, false)
	f := sum(all, feet)
	t.Logf("clean pads: %v\n%s", f, tableOf(all))
	asked{"clean pads", .975, .97, .05, .03, .015, .97, .97, 0}.check(t, f)
}

// The figures that the reader has to reach, over all drills, techniques, mirrors and three tempi.
func TestMeasureProof(t *testing.T) {
	if os.Getenv("HEELTOE_MEASURE") == "" {
		t.Skip("not run: make measure runs it")
	}
	var ids []string
	for _, e := range drills.List() {
		ids = append(ids, e.ID)
	}
	ps := patterns(t, ids, []float64{.8, 1, 1.25}, 12)
	for i := range ps {
		if i%2 == 1 {
			m, err := ps[i].d.Mirror()
			if err != nil {
				t.Fatal(err)
			}
			ps[i] = pattern{ps[i].id + " mirrored", ps[i].tempo, m, ways(t, m)}
		}
	}
	for _, a := range []asked{
		{"clean pads", .975, .98, .05, .03, .015, .97, .97, 0},
		{"faulty pads", .965, .98, .05, .03, .015, .97, .97, 0},
	} {
		t.Run(a.name, func(t *testing.T) {
			all, feet := prove(t, ps, 20, 24, 5000, a.name == "faulty pads", true)
			f := sum(all, feet)
			if math.Abs(f.strangerSure-f.strangerRight) > .05 {
				t.Errorf("%s: strangers were sure by %.4f and right in %.4f", a.name, f.strangerSure, f.strangerRight)
			}
			t.Logf("%s: %v\n%s", a.name, f, tableOf(all))
			a.check(t, f)
		})
	}
}
