package main

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"heeltoe/render/page"
	"heeltoe/trainer/played"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/progress"
	"heeltoe/trainer/store"
	"heeltoe/trainer/view"
)

type reportCmd struct {
	Of      string `arg:"" name:"run-or-drill" help:"A run, by its log or the beginning of its id (see heeltoe history list), or a drill."`
	Beside  string `arg:"" optional:"" name:"run" help:"Another run, to be shown beside the first."`
	Player  string `help:"Of a drill: only the runs of this player."`
	Reverse bool   `help:"Of the drill played from its end to its start."`
	Within  bool   `help:"Of the drill within a stream of notes."`
	Out     string `placeholder:"FILE" help:"File to write, instead of one named for the run or drill in this folder; - is standard output."`
	Force   bool   `help:"Replace a file that is there."`
}

// Help is shown by report --help.
func (c *reportCmd) Help() string {
	return `Writes one HTML file, to be opened in a browser, printed or sent: of a run every rep as
a strip, offsets, overlaps, techniques and landings; of two runs both side by side; of a
drill, its mirror image beside it, the weeks, the tempi at which each way of playing
breaks, and stamina. Feet that nobody read yet are read for it, once: about half a second
for each run. The page holds all it needs, has no scripts and asks nothing of the network.`
}

// Run writes the page.
func (c *reportCmd) Run(a *app) error {
	log, x, err := c.log(a, c.Of)
	if x != nil {
		defer x.Close()
	}
	if err != nil {
		return err
	}
	if log == "" {
		if c.Beside != "" {
			return usagef("a drill's page shows its runs by week already: name two runs to see them side by side")
		}
		return c.drill(a, x)
	}
	review := func(file string) (*view.Report, error) { return practice.Recall(a.ctx, store.Dir(), file) }
	r, err := played.Of(log, review)
	if err != nil {
		return err
	}
	if c.Beside == "" {
		return c.write(a, store.Slug(strings.TrimSuffix(filepath.Base(log), ".jsonl")), func(w io.Writer) error { return page.Run(w, r) })
	}
	other, y, err := c.log(a, c.Beside)
	if y != nil {
		defer y.Close()
	}
	if err == nil && other == "" {
		err = usagef("there is no run %q", c.Beside)
	}
	if err != nil {
		return err
	}
	s, err := played.Of(other, review)
	if err != nil {
		return err
	}
	return c.write(a, store.Slug(r.Report.Drill)+"-two-runs", func(w io.Writer) error { return page.Pair(w, r, s) })
}

// leastID is how much of a run's id names it at least.
const leastID = 6

// log gives the log of a run that is named by its file or by the beginning of
// its id, or nothing where the name is neither. The history is opened where the file
// does not say it all.
func (c *reportCmd) log(a *app, name string) (string, *store.Index, error) {
	if strings.HasSuffix(name, ".jsonl") {
		return name, nil, nil
	}
	x, err := a.history()
	if err != nil || len(name) < leastID || strings.Trim(name, "0123456789abcdef") != "" {
		return "", x, err
	}
	runs, err := x.Runs(a.ctx, store.Filter{ID: name})
	switch {
	case err != nil:
		return "", x, err
	case len(runs) > 1:
		return "", x, usagef("%d runs have an id that begins with %s: write more of it", len(runs), name)
	case len(runs) == 0:
		return "", x, nil
	}
	return x.File(runs[0].Log), x, nil
}

// drill writes the page of a drill.
func (c *reportCmd) drill(a *app, x *store.Index) error {
	key, err := findDrill(a, x, c.Of, c.Reverse, c.Within)
	if err != nil {
		var w *practice.Wrong
		if errors.As(err, &w) {
			return usagef("%q is neither a run nor a drill: %v", c.Of, err)
		}
		return err
	}
	f := store.Filter{Drill: key, Player: c.Player}
	if _, err := a.readFeet(x, f); err != nil {
		return err
	}
	runs, err := x.Runs(a.ctx, f)
	if err != nil {
		return err
	}
	p := progress.OfDrill(runs, time.Local)
	if len(p.Groups) == 0 {
		return usagef("there is no dated run of %s yet: heeltoe live plays it", c.Of)
	}
	name := newest(p)
	return c.write(a, store.Slug(name), func(w io.Writer) error { return page.Drill(w, name, p) })
}

// newest gives the name of the drill as it was played last, without its side.
func newest(p *view.Progress) string { return strings.TrimSuffix(p.Groups[0].Drill, ", mirrored") }

// write writes the page, to a file named for what it shows unless told otherwise.
func (c *reportCmd) write(a *app, name string, page func(io.Writer) error) error {
	file := c.Out
	switch file {
	case "-":
		return a.writeFile("", false, page)
	case "":
		file = name + ".html"
	}
	if err := a.writeFile(file, c.Force, page); err != nil {
		if errors.Is(err, fs.ErrPermission) || errors.Is(err, os.ErrNotExist) {
			return usagef("%v; name another file with --out", err)
		}
		return err
	}
	a.say("The report is %s", file)
	return nil
}
