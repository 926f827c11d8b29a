package main

import (
	"fmt"
	"strings"

	"heeltoe/judge/drill"
	"heeltoe/trainer/adapt"
	"heeltoe/trainer/limits"
	"heeltoe/trainer/live"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/store"
	"heeltoe/trainer/view"
)

// blocks plays the blocks of a plan, each as a run with a log of its own.
type blocks struct {
	sets
	plan   *plan
	played []playedBlock
}

// playedBlock is a block and how its reps went.
type playedBlock struct {
	adapt.Block
	outcomes []adapt.Outcome
}

// playPlan plays the plan that the flags choose.
func (c *liveCmd) playPlan(a *app) error {
	d, err := c.Load()
	if err != nil {
		return err
	}
	p, err := c.planFlags.plan(d, &c.DrillChoice)
	if err != nil {
		return err
	}
	b := &blocks{sets: sets{a: a, c: c}, plan: p}
	done, err := b.begin(d)
	if err != nil {
		return err
	}
	defer done()
	err = b.play()
	b.sum()
	return err
}

// play plays block after block until the plan is over or the player ends it.
func (b *blocks) play() error {
	for {
		next, ok := b.plan.Next()
		if !ok {
			return nil
		}
		if next.Rest > 0 && !b.c.Fast && !b.rest(next.Rest) {
			return nil
		}
		outcomes, ended, err := b.block(next)
		if err != nil {
			return err
		}
		b.plan.Played(outcomes)
		b.played = append(b.played, playedBlock{next, outcomes})
		if ended {
			return nil
		}
	}
}

// block plays one block and gives how its reps went; ended: the player or the pad
// broke it off.
func (b *blocks) block(next adapt.Block) (outcomes []adapt.Outcome, ended bool, err error) {
	d, err := b.drill(next)
	if err != nil {
		return nil, false, err
	}
	number := len(b.played) + 1
	p, err := b.run(d, store.Block{Plan: strings.TrimPrefix(b.c.chosen()[0], "--"), Number: number, Way: next.Way, WarmUp: next.WarmUp})
	if err != nil {
		return nil, false, err
	}
	defer p.p.Source.Close()
	b.a.say("\nBlock %d: %s at %.1f beats a minute, %d reps%s; presses from %s", number, wayName(d), d.BPM, d.Reps, warmUp(next), p.p.Source.Name)
	enough := false
	if next.Enough != nil {
		var soFar []adapt.Outcome
		p.after = func(r *view.Rep) bool {
			soFar = append(soFar, byBands(r))
			enough = enough || next.Enough(soFar)
			return enough
		}
	}
	paused, res, err := p.part(b.orders)
	if err != nil {
		return nil, false, err
	}
	for i := range p.report.Reps[:min(int64(len(p.report.Reps)), res.Done)] {
		outcomes = append(outcomes, outcomeOf(&p.report.Reps[i]))
	}
	switch {
	case res.Ending == live.Lost:
		return outcomes, true, practice.Lackf("the pad gave nothing more: it was unplugged or failed. What was played is kept. Plug it in and start again.")
	case paused:
		b.a.say("Paused. Type p and Enter to go on with the next block, e and Enter to end.")
		return outcomes, !p.wait(b.orders), nil
	}
	return outcomes, res.Ending == live.Abandoned && !enough || b.a.ctx.Err() != nil, nil
}

func warmUp(b adapt.Block) string {
	if b.WarmUp {
		return " to warm up"
	}
	return ""
}

// drill gives the drill of a block.
func (b *blocks) drill(next adapt.Block) (*drill.Drill, error) {
	d, err := b.plan.ways[next.Way].WithTempo(next.BPM)
	if err == nil {
		d, err = d.WithReps(next.Reps)
	}
	if err != nil {
		return nil, usagef("at %.1f beats a minute: %v", next.BPM, err)
	}
	return d, nil
}

// outcomeOf gives how a rep went, bands and technique, as the review has it.
func outcomeOf(r *view.Rep) adapt.Outcome {
	switch r.Outcome {
	case view.Good:
		return adapt.Good
	case view.Unclear:
		return adapt.Unclear
	}
	return adapt.Bad
}

// byBands gives how a rep went by its bands alone, while the feet are not yet read.
func byBands(r *view.Rep) adapt.Outcome {
	if r.Outer+r.Absent+r.Stray > 0 {
		return adapt.Bad
	}
	return adapt.Good
}

// sum prints what the plan came to.
func (b *blocks) sum() {
	w := b.a.stdout
	if len(b.played) == 0 {
		return
	}
	fmt.Fprintln(w)
	var runs []limits.Run
	for _, p := range b.played {
		if !p.WarmUp {
			runs = append(runs, limits.Run{BPM: p.BPM, Outcomes: p.outcomes})
		}
	}
	printTrials(w, limits.Trials(runs))
	b.plan.result(w)
}
