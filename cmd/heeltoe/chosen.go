package main

import (
	"context"
	"runtime"
	"slices"
	"strings"
	"sync"

	"golang.org/x/sync/errgroup"

	"heeltoe/input/record"
	"heeltoe/judge/drill"
	"heeltoe/trainer/limits"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/store"
	"heeltoe/trainer/view"
)

// chosenRuns choose runs to look into, feet and all: those of a drill in the history, or
// the logs that are given.
type chosenRuns struct {
	Of     []string `arg:"" name:"drill-or-runs" help:"A drill, whose runs are taken from the history; or run logs, each ending in .jsonl."`
	Player string   `help:"From the history: the runs of this player."`
	Last   int      `default:"60" help:"How many runs to look at, the newest."`
}

// chosenRun is a run that was looked into.
type chosenRun struct {
	key, mirror string // of what is played, and of its mirror image
	drill       *drill.Drill
	alike       conditions
	report      *view.Report
}

// conditions are what runs must have in common to be taken together here: all but side and tempo.
type conditions struct {
	player, pad, bar, asked string
	windows                 drill.Windows
	shoeMM                  int64
}

// logs tells whether run logs are given.
func (c *chosenRuns) logs() bool {
	return !slices.ContainsFunc(c.Of, func(s string) bool { return !strings.HasSuffix(s, ".jsonl") })
}

// load gives the runs of the drill that was chosen and of its mirror image, oldest first,
// and the key of that drill; of the history those under the conditions of the newest. Runs
// that were a warm-up, or held until they failed, are left out; it says how many were.
func (c *chosenRuns) load(a *app) (key string, runs []chosenRun, err error) {
	if c.Last < 1 {
		return "", nil, usagef("--last: %d runs are none", c.Last)
	}
	if c.logs() {
		runs, err = look(a, c.Of[max(0, len(c.Of)-c.Last):], anew)
		if err == nil && len(runs) > 0 {
			key = runs[0].key
		}
	} else {
		key, runs, err = c.kept(a)
	}
	if err != nil {
		return "", nil, err
	}
	all := len(runs)
	runs = slices.DeleteFunc(runs, func(r chosenRun) bool { return r.key != key && r.mirror != key || r.report == nil })
	if len(runs) == 0 {
		return "", nil, usagef("there is no such run yet")
	}
	if !c.logs() {
		newest := runs[len(runs)-1].alike
		runs = slices.DeleteFunc(runs, func(r chosenRun) bool { return r.alike != newest })
	}
	if n := all - len(runs); n > 0 {
		a.warn("left out: %s: a warm-up, held until it failed, of another drill, or under other conditions than the newest", number(n, "run"))
	}
	return key, runs, nil
}

// anew reviews a log that is in no history.
func anew(_ context.Context, file string) (*view.Report, error) { return practice.Review(file) }

// kept gives the runs of the history.
func (c *chosenRuns) kept(a *app) (key string, runs []chosenRun, err error) {
	if len(c.Of) != 1 {
		return "", nil, usagef("name one drill, or run logs, each ending in .jsonl")
	}
	x, err := a.history()
	if err != nil {
		return "", nil, err
	}
	defer x.Close()
	if key, err = findDrill(a, x, c.Of[0], false, false); err != nil {
		return "", nil, err
	}
	files, err := keptLogs(a, x, store.Filter{Drill: key, Player: c.Player}, c.Last, func(*store.Run) bool { return true })
	if err != nil {
		return "", nil, err
	}
	runs, err = look(a, files, func(ctx context.Context, file string) (*view.Report, error) { return practice.RecallIn(ctx, x, file) })
	return key, runs, err
}

// keptLogs gives the logs of the newest runs of the history that count, oldest first.
func keptLogs(a *app, x *store.Index, f store.Filter, last int, counts func(*store.Run) bool) ([]string, error) {
	rows, err := x.Runs(a.ctx, f)
	if err != nil {
		return nil, err
	}
	var files []string
	for i := range rows {
		if counts(&rows[i]) {
			files = append(files, x.File(rows[i].Log))
		}
	}
	return files[max(0, len(files)-last):], nil
}

// look looks into run logs.
func look(a *app, files []string, review func(context.Context, string) (*view.Report, error)) ([]chosenRun, error) {
	return eachLog(a, files, func(file string) (chosenRun, error) { return lookInto(a.ctx, file, review) })
}

// eachLog has logs looked into, as many at a time as there are processors, and gives what
// came of them in their order, or the fault of the first that has one.
func eachLog[T any](a *app, files []string, look func(file string) (T, error)) ([]T, error) {
	out, faults := make([]T, len(files)), make([]error, len(files))
	var mu sync.Mutex // guards done and told
	done, told := 0, a.reading()
	var all errgroup.Group
	all.SetLimit(runtime.NumCPU())
	for i, file := range files {
		all.Go(func() error {
			if faults[i] = a.ctx.Err(); faults[i] != nil {
				return nil
			}
			out[i], faults[i] = look(file)
			mu.Lock()
			defer mu.Unlock()
			done++
			told(done, len(files))
			return nil
		})
	}
	_ = all.Wait() // faults has what went wrong
	for _, err := range faults {
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}

// lookInto looks into one log. Of a run that does not count there is no report.
func lookInto(ctx context.Context, file string, review func(context.Context, string) (*view.Report, error)) (r chosenRun, err error) {
	h, d, err := record.ReadHead(file)
	if err != nil {
		return r, err
	}
	r = chosenRun{drill: d, alike: conditions{h.Player, h.Pad, h.Bar, h.Drill.Technique, h.Bounds(), h.ShoeMM}}
	r.key, r.mirror = store.Keys(d)
	if b := store.BlockOf(h); b.WarmUp || b.Plan == limits.HoldOut {
		return r, nil
	}
	r.report, err = review(ctx, file)
	return r, err
}
