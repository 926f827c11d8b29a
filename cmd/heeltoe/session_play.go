package main

import (
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"heeltoe/trainer/evening"
	"heeltoe/trainer/live"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/store"
	"heeltoe/trainer/view"
)

// eveningPlan is how a log says that its run is a part of an evening.
const eveningPlan = "evening"

// eveningPlayer plays an evening part by part and keeps how far it has come.
type eveningPlayer struct {
	sets
	dir    string // the program's data folder
	window bool   // parts are played in it
	state  *evening.State
	watch  evening.Watch
	tired  []int              // parts after which feet were told to be tired
	came   map[string]*cameTo // by what was drilled
	order  []string           // in which it was
}

// cameTo is what tonight's sets of one drill at one tempo came to.
type cameTo struct {
	sets, good, clear int
	scatter           float64 // sum over the sets that have one, µs
	measured          int     // sets with one
}

// play plays what is left of the evening.
func (p *eveningPlayer) play() error {
	p.came = map[string]*cameTo{}
	longer := false
	for first := true; ; first = false {
		i := p.state.Next()
		if i < 0 {
			return evening.Forget(p.dir)
		}
		rest := p.state.Parts[i].Rest
		if longer {
			rest *= 2
		}
		if rest > 0 && !first && !p.c.Fast && !p.rest(rest) {
			return p.ended()
		}
		going, err := p.part(i)
		if err != nil {
			return err
		}
		if !going {
			return p.ended()
		}
		longer = len(p.tired) > 0 && p.tired[len(p.tired)-1] == i
	}
}

// ended keeps the evening where the program was told to stop, and lets it go where
// the player ended it.
func (p *eveningPlayer) ended() error {
	if p.a.ctx.Err() != nil {
		p.a.say("Cut off; heeltoe session --resume goes on.")
		return p.state.Save(p.dir)
	}
	return evening.Forget(p.dir)
}

// outcome is what came of a part.
type outcome struct {
	report *view.Report
	done   int64 // reps that are over
	whole  bool  // it was not broken off
	paused bool  // the player broke it off to go on later
	lost   bool  // the pad gave nothing more
}

// part plays part i; going is false where it is to be the last.
func (p *eveningPlayer) part(i int) (going bool, err error) {
	part := &p.state.Parts[i]
	p.number = i
	mark := store.Block{Plan: eveningPlan, Number: i + 1, WarmUp: part.Kind != evening.Main}
	part.Begun = time.Now()
	if err := p.state.Save(p.dir); err != nil {
		return false, err
	}
	play := p.asText
	if p.window {
		play = p.inWindow
	}
	o, err := play(i, mark)
	if o == nil || err != nil {
		return false, err
	}
	played := o.report.Reps[:min(int64(len(o.report.Reps)), o.done)]
	d, kind := part.Drill, part.Kind
	if err := p.state.Over(i, o.done, o.paused || o.lost || p.a.ctx.Err() != nil); err != nil {
		return false, err
	}
	if err := p.state.Save(p.dir); err != nil {
		return false, err
	}
	if kind == evening.Main {
		p.take(fmt.Sprintf("%s %.4g", wayName(d), d.BPM), o.report.Summary.Scatter, played)
		if p.watch.Tired(d.Name, d.BPM, played) {
			p.tired = append(p.tired, i)
			p.a.say("The scatter has risen or fewer notes were inner over the sets of %s, as happens with tired feet: rest well, the next\nrest is doubled, or end here (e and Enter). Stop at pain; never push through it.", d.Name)
		}
	}
	switch {
	case o.lost:
		return false, practice.Lackf("the pad gave nothing more: it was unplugged or failed. What was played is kept. Plug it in, and heeltoe session --resume goes on.")
	case o.paused && p.a.ctx.Err() == nil:
		p.a.say("Paused. Type p and Enter to go on, e and Enter to end.")
		return p.wait(), nil
	}
	return o.whole && p.a.ctx.Err() == nil, nil
}

// announce says what part i is.
func (p *eveningPlayer) announce(i int, source string) {
	part := &p.state.Parts[i]
	p.a.say("\nPart %d of %d, %s: %s at %.4g beats a minute, %d reps; presses from %s", i+1, len(p.state.Parts), part.Kind,
		wayName(part.Drill), part.Drill.BPM, part.Drill.Reps, source)
}

// asText plays part i as text.
func (p *eveningPlayer) asText(i int, mark store.Block) (*outcome, error) {
	part := &p.state.Parts[i]
	pl, err := p.run(part.Drill, mark)
	if err != nil {
		return nil, err
	}
	defer pl.p.Source.Close()
	pl.begun = func(log string) error {
		part.Log = log
		return p.state.Save(p.dir)
	}
	p.announce(i, pl.p.Source.Name)
	paused, res, err := pl.part(p.orders)
	if err != nil {
		return nil, err
	}
	return &outcome{pl.report, res.Done, res.Ending == live.Played, paused, res.Ending == live.Lost}, nil
}

// take adds a set to what its drill came to.
func (p *eveningPlayer) take(what string, scatter view.Number, reps []view.Rep) {
	c := p.came[what]
	if c == nil {
		c = &cameTo{}
		p.came[what], p.order = c, append(p.order, what)
	}
	c.sets++
	for i := range reps {
		switch reps[i].Outcome {
		case view.Good:
			c.good, c.clear = c.good+1, c.clear+1
		case view.Bad:
			c.clear++
		}
	}
	if scatter.Defined() {
		c.scatter, c.measured = c.scatter+float64(scatter), c.measured+1
	}
}

// mean gives the mean scatter of the sets in µs.
func (c *cameTo) mean() view.Number {
	if c.measured == 0 {
		return view.Number(math.NaN())
	}
	return view.Number(c.scatter / float64(c.measured))
}

// sum prints what the evening came to, in one line.
func (p *eveningPlayer) sum(w io.Writer) {
	done := 0
	for i := range p.state.Parts {
		if p.state.Parts[i].Played > 0 {
			done++
		}
	}
	parts := []string{fmt.Sprintf("evening    %d of %d parts, %d landings in %.0f min", done, len(p.state.Parts), p.state.Landings(), time.Since(p.state.Begun).Minutes())}
	for _, what := range p.order {
		c := p.came[what]
		parts = append(parts, fmt.Sprintf("%s: %d of %d clear reps good, scatter %s ms (%s)", what, c.good, c.clear, size(c.mean()), number(c.sets, "set")))
	}
	if len(p.tired) > 0 {
		parts = append(parts, "tired feet, so it seemed, after part "+strings.Trim(strings.Join(strings.Fields(fmt.Sprint(plusOne(p.tired))), ", "), "[]"))
	}
	fmt.Fprintln(w, "\n"+strings.Join(parts, "; "))
}

// plusOne gives places as they are counted by people.
func plusOne(places []int) []int {
	out := make([]int, len(places))
	for i, n := range places {
		out[i] = n + 1
	}
	return out
}
