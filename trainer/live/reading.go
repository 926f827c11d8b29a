package live

import (
	"context"
	"fmt"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/footing/read"
	"heeltoe/judge/drill"
	"heeltoe/trainer"
	"heeltoe/trainer/turns"
	"heeltoe/trainer/view"
)

// RepRead is what the feet of a rep were read as while the run goes on. It is
// provisional: the reading of the whole run may say otherwise.
type RepRead struct {
	Rep       int
	Technique string // of read.Labels, or read.Unclear
	P         float64
	Asked     string // technique of the drill; empty: none
	Feet      []Step
}

// Step is a press and the foot that made it, up to the exchange of left and right in the rep.
type Step struct {
	Panel pad.Panel
	Down  pad.Time // as the pad gave it
	Foot  pad.Foot
}

// leastP is the least probability with which a foot is shown.
const leastP = 0.5

// readReps is how many of the last reps the feet are read from.
const readReps = 32

// reading reads feet beside the loop. The loop asks and never waits: a rep that
// comes while the reading is far behind is left out. Between refits the
// parameters are frozen; a rep is read with them first and they are refitted
// afterwards, from then on when the number of reps has doubled, later every readReps.
type reading struct {
	drill   *drill.Drill
	windows drill.Windows
	asked   string
	own     read.Own
	jobs    chan job
	read    chan RepRead

	values read.Values
	fitted bool
	refit  int // rep after which the parameters are fitted again
}

// job is a rep to be read, as the last of a run of its own.
type job struct {
	rep int
	run *read.Run
}

func newReading(c *Config) *reading {
	r := &reading{drill: c.Drill, windows: drill.DefaultWindows, asked: Asked(c.Drill), own: c.Own, jobs: make(chan job, 8), read: make(chan RepRead, 8)}
	if c.Options.Windows != nil {
		r.windows = *c.Options.Windows
	}
	return r
}

// Asked gives the technique that a drill asks for, or nothing.
func Asked(d *drill.Drill) string {
	if d.Technique == "" && d.Footing != nil {
		return footing.Technique(d, d.Footing)
	}
	return d.Technique
}

// ask has rep k of a run read.
func (r *reading) ask(run *trainer.Run, k int) {
	_, of := run.Latest(k, readReps)
	select {
	case r.jobs <- job{k, of}:
	default:
	}
}

// run reads what is asked for until ctx ends, behind the threads that read the pad and judge.
func (r *reading) run(ctx context.Context) {
	turns.Late()
	reader, err := read.New(r.drill, r.windows)
	if err != nil {
		return // a drill too long to plan: its feet are not read
	}
	reader.Suit(r.own)
	for {
		select {
		case j := <-r.jobs:
			for _, out := range r.rep(reader, j) {
				select {
				case r.read <- out:
				case <-ctx.Done():
					return
				}
			}
		case <-ctx.Done():
			return
		}
	}
}

// rep reads a rep, and again after a refit.
func (r *reading) rep(reader *read.Reader, j job) (out []RepRead) {
	last := j.run.Reps - 1
	if r.fitted {
		out = append(out, r.result(j, &reader.At(j.run, r.values, last, last+1)[0]))
	}
	if !r.fitted || j.rep >= r.refit && len(r.jobs) == 0 {
		got := reader.Read(j.run)
		r.values, r.fitted = got.Values, true
		r.refit = j.rep + min(j.rep+1, readReps)
		out = append(out, r.result(j, &got.Reps[last]))
	}
	return out
}

// result puts what was read into what is told.
func (r *reading) result(j job, rep *read.Rep) RepRead {
	out := RepRead{Rep: j.rep, Technique: rep.Technique, P: rep.P, Asked: r.asked}
	if rep.Contacts == nil {
		return out
	}
	turned := r.turned(rep)
	for _, p := range j.run.Presses {
		if int(p.Rep) != j.run.Reps-1 || !rep.Notes[p.Note].Pressed || rep.Notes[p.Note].P < leastP {
			continue
		}
		foot := rep.Notes[p.Note].Foot
		if turned {
			foot = foot.Other()
		}
		out.Feet = append(out.Feet, Step{p.Panel, p.Down, foot})
	}
	return out
}

// turned tells whether a rep read with left and right exchanged, which the
// presses tell as well, agrees better with the drill's footing.
func (r *reading) turned(rep *read.Rep) bool {
	agree, differ := 0, 0
	for i := range r.drill.Footing {
		c := &r.drill.Footing[i]
		for _, n := range c.NoteIndices() {
			switch {
			case !rep.Notes[n].Pressed:
			case rep.Notes[n].Foot == c.Foot:
				agree++
			default:
				differ++
			}
		}
	}
	return differ > agree
}

// Names of the figures that say what a rep, or a run, was read as.
const (
	readName  = "read as"
	askedName = "asked for"
)

const readHelp = "The technique that the presses speak for, and the probability that this is right: of the last rep, or once the run is over of all of it. The pad reports panels, never feet: where presses do not tell, it says unclear. While a run goes on this is provisional; the review reads the whole run."

// readFigures are the figures that say what was read, and p of it, NaN where there is nothing yet.
func readFigures(read, asked string, p float64) [2]view.Figure {
	f := [2]view.Figure{
		{Name: readName, Text: fmt.Sprintf("%s, p %.2f", read, p), Value: view.Undefined, Of: view.Undefined, Help: readHelp},
		{Name: askedName, Text: asked, Value: view.Undefined, Of: view.Undefined,
			Help: "The technique that the drill is to be played with: what it says itself, or what its footing is."},
	}
	if read == "" {
		f[0].Text = "–"
	}
	if asked == "" {
		f[1].Text = "any"
	}
	return f
}

// putRead puts them in place of those that are there, or behind all others.
func putRead(v *view.Live, f [2]view.Figure) {
	for i := range v.Figures {
		if v.Figures[i].Name == readName {
			copy(v.Figures[i:], f[:])
			return
		}
	}
	v.Figures = append(v.Figures, f[:]...)
}
