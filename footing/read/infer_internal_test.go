package read

import (
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"gonum.org/v1/gonum/diff/fd"
	"pgregory.net/rapid"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// short makes a drill of few notes, and a run of it of a few reps whose presses
// are drawn anywhere about their moments.
func short(t *rapid.T) (*drill.Drill, *Run) {
	steps := rapid.SampledFrom([]string{"sw se", "sw c se", "c c", "nw+ne . c", "sw se nw ne", "sw=3 . c se"}).Draw(t, "steps")
	reps := rapid.IntRange(1, 3).Draw(t, "reps")
	d, err := drill.New(drill.Spec{Name: "short", Layout: "single", BPM: rapid.SampledFrom([]float64{80, 130, 190}).Draw(t, "bpm"),
		PerBeat: 4, Reps: int64(reps), Steps: steps}, nil)
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
	run := &Run{Lead: pad.Second, Reps: reps}
	g := d.Grid(run.Lead)
	for rep := range reps {
		for i, n := range d.Notes {
			if r.Float64() < .1 {
				continue
			}
			down := g.Due(int64(rep), int64(n.Slot)) + pad.Time(r.Int64N(60_000)-25_000)
			run.Presses = append(run.Presses, Press{pad.Press{Panel: n.Panel, Down: down, Up: down + pad.Time(20_000+r.Int64N(250_000))}, int32(rep), int32(i)})
		}
	}
	return d, run
}

// shortEngine makes the engine of such a run.
func shortEngine(t *rapid.T) *engine {
	d, run := short(t)
	rd, err := New(d, drill.DefaultWindows)
	if err != nil {
		t.Fatal(err)
	}
	return newEngine(rd.sheet, prepare(d, drill.DefaultWindows, run), 0, run.Reps, 0)
}

// path is a footing for every rep, with the feet exchanged in some.
type path struct {
	cands  []int
	turned []bool
}

// paths yields every path.
func paths(cands, reps int, yield func(path)) {
	p := path{make([]int, reps), make([]bool, reps)}
	var at func(rep int)
	at = func(rep int) {
		if rep == reps {
			yield(p)
			return
		}
		for c := range cands {
			for x := range 2 {
				if rep == 0 && x == 1 {
					continue // which foot begins is not told
				}
				p.cands[rep], p.turned[rep] = c, x == 1
				at(rep + 1)
			}
		}
	}
	at(0)
}

// footstep is one contact of a whole run.
type footstep struct {
	rep, landing int
	foot         pad.Foot
	id           int32
}

// told gives the logarithm of a path's density with all that was seen, from the contacts of
// the whole run: nothing of what the sheet knows of a rep's edges is used. The candidate
// after the last is mash.
func told(e *engine, p path) float64 {
	mash := len(e.s.cands)
	prior := func(n int) float64 {
		if n == mash {
			return math.Log(priorOfMash)
		}
		return e.s.cands[n].logPrior
	}
	sum := prior(p.cands[0])
	var steps []footstep
	for rep, n := range p.cands {
		if rep > 0 {
			change := (1 - stayRate) * math.Exp(prior(n))
			if p.cands[rep-1] == n {
				change += stayRate
			}
			sum += math.Log(change)
			turns := p.turned[rep] != p.turned[rep-1]
			switch {
			case n != mash && p.cands[rep-1] != mash && turns:
				sum += logTurns[1]
			case n != mash && p.cands[rep-1] != mash:
				sum += logTurns[0]
			case turns: // where feet are not known they do not turn
				return math.Inf(-1)
			}
		}
		if n == mash {
			sum += e.mash[rep]
			continue
		}
		c := &e.s.cands[n]
		for i := range c.contacts {
			f := c.contacts[i].Foot
			if p.turned[rep] {
				f = f.Other()
			}
			steps = append(steps, footstep{rep, c.contacts[i].Landing, f, c.ids[i]})
		}
		sum += poisson(e.p.strays[rep], strayRate*float64(e.p.notes))
		for _, t := range c.terms {
			if k := e.s.terms[t].kind; k != releaseTerm && k != middleTerm && k != gatherTerm {
				sum += e.score(rep, t)
			}
		}
	}
	sum += toldOfMiddles(e, steps)
	f := facting{sheet: e.s, p: e.p, usual: usual(e.p)}
	for i, s := range steps {
		t := about(releaseTerm, s.id, none)
		for _, n := range steps[i+1:] {
			if n.rep > s.rep+1 {
				break
			}
			if n.foot == s.foot {
				t.b, t.across = n.id, n.rep > s.rep
				break
			}
		}
		for _, n := range steps[i+1:] {
			if n.rep > s.rep+1 || n.foot == s.foot {
				break
			}
			if n.rep == s.rep && n.landing == s.landing {
				continue
			}
			both := false // the foot's own next contact is of the same landing
			for _, m := range steps {
				both = both || m.foot == s.foot && m.rep == n.rep && m.landing == n.landing
			}
			if !both {
				t.other, t.otherAcross = n.id, n.rep > s.rep
			}
			break
		}
		fact := f.fact(s.rep, &t)
		sum += e.law.log(&fact, nil)
	}
	return sum
}

// toldOfMiddles is what the middles of all landings say: each after the one before it, whichever rep that
// is of, but for a rep of mash between them.
func toldOfMiddles(e *engine, steps []footstep) (sum float64) {
	f := facting{sheet: e.s, p: e.p, usual: usual(e.p)}
	before, rep := math.NaN(), 0
	for i := 0; i < len(steps); {
		of := [2]int32{steps[i].id, none}
		first := steps[i]
		if i++; i < len(steps) && steps[i].rep == first.rep && steps[i].landing == first.landing {
			of[1] = steps[i].id
			i++
		}
		if first.rep > rep+1 {
			before = math.NaN()
		}
		rep = first.rep
		x, ok := f.middle(rep, of[0], of[1])
		if !ok {
			before = math.NaN()
			continue
		}
		kind := middleTerm
		if low, high := e.s.span(of[0], of[1]); low != high {
			kind = gatherTerm
		}
		sum += e.law.log(&fact{kind: kind, x: x, before: before}, nil)
		before = x
	}
	return sum
}

// On short runs every footing of every rep can be tried with every exchange of the
// feet: the density of what was seen and the posterior of every rep are those of the enumeration.
func TestLongInferenceEqualsEnumeration(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	rapid.Check(t, func(t *rapid.T) {
		e := shortEngine(t)
		reps, mash := e.reps(), len(e.s.cands)
		most := 6
		if reps == 3 {
			most = 4
		}
		k := min(most, mash+1)
		some := make([]int, k)
		for i := range some {
			some[i] = i
		}
		some[k-1] = mash
		e.at(drawValues(t))
		got, posterior := e.infer(some)
		share := make([]float64, k*reps)
		most64 := math.Inf(-1)
		of := func(p path) path { // places in some to candidates
			p.cands = slices.Clone(p.cands)
			for i, c := range p.cands {
				p.cands[i] = some[c]
			}
			return p
		}
		paths(k, reps, func(p path) { most64 = max(most64, told(e, of(p))) })
		total := 0.0
		paths(k, reps, func(p path) {
			v := math.Exp(told(e, of(p)) - most64)
			total += v
			for rep, c := range p.cands {
				share[rep*k+c] += v
			}
		})
		if want := math.Log(total) + most64; math.Abs(got-want) > 1e-8 {
			t.Fatalf("the logarithm of the density is %v, by enumeration %v", got, want)
		}
		for i, p := range posterior {
			if math.Abs(p-share[i]/total) > 1e-8 {
				t.Fatalf("a posterior is %v, by enumeration %v", p, share[i]/total)
			}
		}
	})
}

// What each term was part of what was played makes its slopes those of the density of all that was
// seen (Fisher's identity): held against gonum's finite differences, mash among the candidates.
func TestLongWeightsMakeSlopes(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	rapid.Check(t, func(t *rapid.T) {
		e := shortEngine(t)
		v := drawValues(t)
		e.at(v)
		logP, posterior := e.infer(e.all())
		e.weigh(logP, posterior)
		var got, size Values
		var s slopes
		for i, w := range e.weight {
			if w < leastShare || e.facts[i].kind == constTerm {
				continue
			}
			e.law.log(&e.facts[i], &s)
			for k := range s.n {
				got[s.of[k]] += w * s.by[k]
				size[s.of[k]] += w * math.Abs(s.by[k])
			}
		}
		want := fd.Gradient(nil, func(x []float64) float64 {
			e.at(Values(x))
			logP, _ := e.infer(e.all())
			return logP
		}, v[:], &fd.Settings{Formula: fd.Central, Step: 1e-5})
		for i := range got {
			if math.Abs(got[i]-want[i]) > 1e-2*(1+size[i]) { // what is below leastShare is left out
				t.Fatalf("the slope by %s is %v, by differences %v", Priors[i].Name, got[i], want[i])
			}
		}
	})
}
