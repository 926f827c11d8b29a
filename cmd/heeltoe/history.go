package main

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"path/filepath"
	"runtime"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"

	"heeltoe/trainer/practice"
	"heeltoe/trainer/store"
	"heeltoe/trainer/view"
)

type historyCmd struct {
	List    historyListCmd    `cmd:"" help:"List the runs that are kept."`
	Import  historyImportCmd  `cmd:"" help:"Take in run logs of another folder or machine."`
	Read    historyReadCmd    `cmd:"" help:"Read the feet of runs of which nobody asked yet what they did."`
	Rebuild historyRebuildCmd `cmd:"" help:"Make the index of the runs anew from their logs."`
}

// Help is shown by history --help.
func (c *historyCmd) Help() string {
	return `Every run is a log in the data folder; an index beside the logs answers questions
without reading them all. The logs are the truth: the index is brought up to date
whenever it is used, a run that was killed is found then, and it may be removed.`
}

// slowly is from when on the player is told how far reading is.
const slowly = time.Second

// history opens the history and brings it up to date with the logs.
func (a *app) history() (*store.Index, error) {
	x, err := store.Open(a.ctx, store.Dir())
	if err != nil {
		return nil, err
	}
	if err := x.Sync(a.ctx, a.reading()); err != nil {
		return nil, errors.Join(err, x.Close())
	}
	faults, err := x.Faults(a.ctx)
	if err != nil {
		return nil, errors.Join(err, x.Close())
	}
	if n := len(faults); n > 0 {
		a.warn("%d of the run logs cannot be read, the first for this: %s: %s; heeltoe history list names them all", n, faults[0].Log, faults[0].Why)
	}
	return x, nil
}

// reading tells how far reading logs is, where it takes long.
func (a *app) reading() store.Told {
	next := time.Now().Add(slowly)
	return func(done, of int) {
		if now := time.Now(); now.After(next) {
			next = now.Add(slowly)
			a.warn("%d of %d run logs read", done, of)
		}
	}
}

// ofRuns choose runs of the history.
type ofRuns struct {
	Drill   string `arg:"" optional:"" help:"Drill, with its mirror image: an id of the library, a drill file, or the name that runs have. All drills where not given."`
	Player  string `help:"Only the runs of this player."`
	Reverse bool   `help:"Of the drill played from its end to its start."`
	Within  bool   `help:"Of the drill within a stream of notes."`
}

// filter says which runs are asked for.
func (o *ofRuns) filter(a *app, x *store.Index) (store.Filter, error) {
	f := store.Filter{Player: o.Player}
	if o.Drill == "" {
		if o.Reverse || o.Within {
			return f, usagef("--reverse and --within are of a drill: name one")
		}
		return f, nil
	}
	var err error
	f.Drill, err = findDrill(a, x, o.Drill, o.Reverse, o.Within)
	return f, err
}

// findDrill gives the key of a drill that is named as in live or, where it is
// not there any more, as its runs are.
func findDrill(a *app, x *store.Index, name string, reverse, within bool) (string, error) {
	d, err := practice.LoadDrill(name, false, reverse, within)
	if err == nil {
		key, _ := store.Keys(d)
		return key, nil
	}
	played, e := x.Drills(a.ctx)
	if e != nil {
		return "", e
	}
	for _, p := range played {
		if store.Slug(p.Name) == store.Slug(name) {
			return p.Key, nil
		}
	}
	return "", err
}

// runs opens the history, which the caller closes, and gives the runs that are chosen.
func (o *ofRuns) runs(a *app) (*store.Index, []store.Run, error) {
	x, err := a.history()
	if err != nil {
		return nil, nil, err
	}
	f, err := o.filter(a, x)
	if err == nil {
		var runs []store.Run
		if runs, err = x.Runs(a.ctx, f); err == nil {
			return x, runs, nil
		}
	}
	return nil, nil, errors.Join(err, x.Close())
}

type historyListCmd struct {
	ofRuns
	JSON bool `name:"json" help:"Print one JSON object for each run."`
}

// Run lists runs, the newest last, and the logs that cannot be read.
func (c *historyListCmd) Run(a *app) error {
	x, runs, err := c.runs(a)
	if err != nil {
		return err
	}
	defer x.Close()
	w := bufio.NewWriter(a.stdout)
	if c.JSON {
		enc := json.NewEncoder(w)
		for i := range runs {
			if err := enc.Encode(runRowOf(&runs[i])); err != nil {
				return err
			}
		}
		return w.Flush()
	}
	if len(runs) == 0 {
		fmt.Fprintln(w, "There is no such run yet.")
		return w.Flush()
	}
	table(w, "run started drill bpm reps notes absent steadiness sd,ms player", func(row func(...any)) {
		for i := range runs {
			r := &runs[i]
			reps := fmt.Sprint(r.Reps)
			if r.Reps < r.Planned {
				reps = fmt.Sprintf("%d of %d", r.Reps, r.Planned)
			}
			row(r.ID[:shortID], startedText(r.Started), r.Name, fmt.Sprintf("%g", r.BPM), reps, r.Notes, r.Absent, percent(r.Steadiness), size(r.Offset.SD), r.Player)
		}
	})
	faults, err := x.Faults(a.ctx)
	if err != nil {
		return err
	}
	for _, f := range faults {
		fmt.Fprintf(w, "cannot be read: %s: %s\n", filepath.Join(store.RunsDir(store.Dir()), filepath.FromSlash(f.Log)), f.Why)
	}
	return w.Flush()
}

// shortID is how much of a run's id is shown; a beginning of it that no other
// run has is enough to name it.
const shortID = 10

func startedText(t time.Time) string {
	if t.IsZero() {
		return "not dated"
	}
	return t.Local().Format("2006-01-02 15:04")
}

func percent(n view.Number) string {
	if !n.Defined() {
		return "–"
	}
	return fmt.Sprintf("%.1f %%", 100*float64(n))
}

type historyRebuildCmd struct{}

// Run makes the index anew.
func (c *historyRebuildCmd) Run(a *app) error {
	x, err := store.Open(a.ctx, store.Dir())
	if err != nil {
		return err
	}
	defer x.Close()
	if err := x.Rebuild(a.ctx, a.reading()); err != nil {
		return err
	}
	runs, err := x.Runs(a.ctx, store.Filter{})
	if err != nil {
		return err
	}
	faults, err := x.Faults(a.ctx)
	if err != nil {
		return err
	}
	a.say("The index has been made anew: %s; %s cannot be read.", number(len(runs), "run"), number(len(faults), "log"))
	return nil
}

type historyImportCmd struct {
	From string `arg:"" help:"Run log, or folder with run logs in it or below, such as the runs folder of another machine."`
}

// Run takes logs in.
func (c *historyImportCmd) Run(a *app) error {
	x, err := a.history()
	if err != nil {
		return err
	}
	defer x.Close()
	done, err := x.Import(a.ctx, c.From, a.reading())
	if done != nil {
		a.say("%s taken in, %d here already, %d longer than what was here; %s cannot be read.",
			number(done.Taken, "run"), done.Known, done.Longer, number(len(done.Faults), "file"))
		for _, f := range done.Faults {
			a.warn("left out: %s: %s", f.Log, f.Why)
		}
	}
	return err
}

type historyReadCmd struct{ ofRuns }

// Help is shown by history read --help.
func (c *historyReadCmd) Help() string {
	return `The feet of a run are read as it ends. Runs from elsewhere, or that were killed, have to be
read before progress can tell their techniques apart: about half a second for each.`
}

// Run reads runs, as many at a time as there are processors.
func (c *historyReadCmd) Run(a *app) error {
	x, err := a.history()
	if err != nil {
		return err
	}
	defer x.Close()
	f, err := c.filter(a, x)
	if err != nil {
		return err
	}
	n, err := a.readFeet(x, f)
	a.say("%s read.", number(n, "run"))
	return err
}

// readFeet reads the feet of the runs that are asked for, where nobody did yet, as many at
// a time as there are processors, and keeps what they did.
func (a *app) readFeet(x *store.Index, f store.Filter) (done int, err error) {
	f.Unread = true
	runs, err := x.Runs(a.ctx, f)
	if err != nil {
		return 0, err
	}
	var mu sync.Mutex // guards done and told
	told := a.reading()
	var read errgroup.Group
	read.SetLimit(runtime.GOMAXPROCS(0))
	for i := range runs {
		read.Go(func() error {
			if err := a.ctx.Err(); err != nil {
				return err
			}
			file := x.File(runs[i].Log)
			rep, err := practice.Review(file)
			if err == nil {
				err = x.Keep(a.ctx, file, rep)
			}
			if err != nil {
				return err
			}
			mu.Lock()
			defer mu.Unlock()
			done++
			told(done, len(runs))
			return nil
		})
	}
	err = read.Wait()
	return done, err
}
