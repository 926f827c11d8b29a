package main

import (
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"time"

	"heeltoe/trainer/practice"
	"heeltoe/trainer/store"
)

// inWindow plays part i in the window, where a keyboard is a pad, too: one run, until
// the window is closed. It gives nil where nothing was played.
func (p *eveningPlayer) inWindow(i int, mark store.Block) (*outcome, error) {
	part := &p.state.Parts[i]
	choice, err := p.choice(mark)
	if err != nil {
		return nil, err
	}
	if choice.Out == "" {
		choice.Out = store.NewRunPath(p.dir, part.Drill.Name, time.Now())
	}
	dir, err := os.MkdirTemp("", "heeltoe-part-*")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	file := filepath.Join(dir, "part.toml")
	text, err := part.Drill.MarshalTOML()
	if err == nil {
		err = os.WriteFile(file, text, 0o600)
	}
	if err != nil {
		return nil, err
	}
	part.Log = choice.Out
	if err := p.state.Save(p.dir); err != nil {
		return nil, err
	}
	p.announce(i, "the window; close it when the run is over")
	show := *p.a
	show.args = append([]string{"live", file}, runFlags(choice)...)
	whyNot, err := (&liveCmd{}).inWindow(&show)
	if err != nil {
		return nil, err
	}
	if whyNot != "" {
		return nil, practice.Lackf("the window cannot be opened: %s; leave --window away to play as text", whyNot)
	}
	rep, err := practice.Recall(p.a.ctx, p.dir, choice.Out)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, nil
	case err != nil:
		return nil, err
	}
	o := &outcome{report: rep, done: int64(rep.Summary.RepsBegun)}
	if o.whole = o.done >= part.Drill.Reps; !o.whole {
		o.done, o.paused = max(0, o.done-1), true // the last one that was begun is played again
	}
	return o, nil
}

// runFlags gives a choice as the flags of a run, its drill left out.
func runFlags(c *practice.Choice) []string {
	flags := []string{"--source=" + c.Source, "--out=" + c.Out, "--mark=" + c.Mark, fmt.Sprintf("--seed=%d", c.Seed),
		fmt.Sprintf("--subdivide=%d", c.Click.Subdivide), fmt.Sprintf("--silent-after=%d", c.Click.SilentAfter), fmt.Sprintf("--silent-every=%d", c.Click.SilentEvery)}
	given := func(flag, value string) {
		if value != "" {
			flags = append(flags, flag+"="+value)
		}
	}
	number := func(flag string, ms *float64) {
		if ms != nil {
			given(flag, strconv.FormatFloat(*ms, 'g', -1, 64))
		}
	}
	given("--pad", c.Pad)
	given("--windows", c.Windows)
	number("--shift-ms", c.ShiftMS)
	number("--debounce-ms", c.DebounceMS)
	given("--click", c.Click.Sound)
	if !math.IsNaN(c.Click.LoudnessDB) {
		number("--loudness-db", &c.Click.LoudnessDB)
	}
	given("--player", c.Player)
	if c.Shoe != 0 {
		given("--shoe", strconv.FormatInt(c.Shoe, 10))
	}
	given("--bar", c.Bar)
	return flags
}
