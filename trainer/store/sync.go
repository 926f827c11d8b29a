package store

import (
	"context"
	"database/sql"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"

	"golang.org/x/sync/errgroup"

	"heeltoe/footing/pad"
)

// batch is how many logs are read between two commits: what was read before a
// kill need not be read again.
const batch = 256

// logFile is a file in the folder of run logs, as it was before it was read.
type logFile struct {
	path    string // within the folder, with slashes
	size    int64
	mtimeNS int64
}

// entry is a log that was read: the run, or why there is none.
type entry struct {
	logFile
	run   *Run
	fault string
}

// Told is told how far reading logs is; it may be nil.
type Told func(done, of int)

// Sync brings the index up to date with the folder of run logs: what is new or
// changed is read, what is gone is forgotten. An index that turns out to be
// damaged is made anew. It can be broken off by ctx and goes on where it was
// another time.
func (x *Index) Sync(ctx context.Context, told Told) error {
	err := x.sync(ctx, told)
	if damaged(err) {
		if err = errors.Join(x.db.Close(), x.discard()); err == nil {
			if err = x.open(ctx); err == nil {
				err = x.sync(ctx, told)
			}
		}
	}
	return x.fault(err)
}

func (x *Index) sync(ctx context.Context, told Told) error {
	// Both take as long with many logs: side by side.
	var known map[string]logFile
	var look errgroup.Group
	look.Go(func() (err error) { known, err = x.known(ctx); return err })
	files, err := walk(x.runs())
	if err := errors.Join(err, look.Wait()); err != nil {
		return err
	}
	var fresh []logFile
	for _, f := range files {
		if known[f.path] != f {
			fresh = append(fresh, f)
		}
		delete(known, f.path)
	}
	gone := len(known) > 0
	if err := x.forget(ctx, known); err != nil {
		return err
	}
	var waiting []entry
	commit := func() error {
		defer func() { waiting = waiting[:0] }()
		return x.change(ctx, func(tx *sql.Tx) error { return put(ctx, tx, waiting) })
	}
	err = x.read(ctx, fresh, told, func(e entry) error {
		if waiting = append(waiting, e); len(waiting) < batch {
			return nil
		}
		return commit()
	})
	if len(waiting) > 0 {
		err = errors.Join(err, commit())
	}
	if err == nil && (gone || len(fresh) > 0) {
		err = x.change(ctx, func(tx *sql.Tx) error { return dropReadings(ctx, tx) })
	}
	return err
}

// Rebuild reads every log again and puts the index made of that in the place of
// the old one, at once: until then other processes read the old one, and a kill
// leaves it as it was. What the feet did in runs whose logs are the same is kept: reading
// them all again would take hours.
func (x *Index) Rebuild(ctx context.Context, told Told) error {
	files, err := walk(x.runs())
	if err != nil {
		return x.fault(err)
	}
	all := make([]entry, 0, len(files))
	if err := x.read(ctx, files, told, func(e entry) error { all = append(all, e); return nil }); err != nil {
		return x.fault(err)
	}
	return x.fault(x.change(ctx, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, "DELETE FROM logs; DELETE FROM runs"); err != nil {
			return err
		}
		if err := put(ctx, tx, all); err != nil {
			return err
		}
		return dropReadings(ctx, tx)
	}))
}

// Add takes a log into the index that is in the folder of run logs; one from
// elsewhere it leaves alone.
func (x *Index) Add(ctx context.Context, file string) error {
	path, ok := within(x.dir, file)
	if !ok {
		return nil
	}
	info, err := os.Stat(file)
	if err != nil {
		return x.fault(err)
	}
	e := x.entry(fileOf(path, info))
	return x.fault(x.change(ctx, func(tx *sql.Tx) error { return put(ctx, tx, []entry{e}) }))
}

// walk gives the run logs in a folder, in order of name. A folder that is not
// there has none.
func walk(dir string) ([]logFile, error) {
	var files []logFile
	err := filepath.WalkDir(dir, func(file string, d fs.DirEntry, err error) error {
		if errors.Is(err, fs.ErrNotExist) {
			return nil // removed meanwhile
		}
		if err != nil || d.IsDir() || !isLog(d.Name()) {
			return err
		}
		info, err := d.Info()
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		if err != nil {
			return err
		}
		path, err := filepath.Rel(dir, file)
		if err == nil && info.Mode().IsRegular() {
			files = append(files, fileOf(filepath.ToSlash(path), info))
		}
		return err
	})
	return files, err
}

// isLog tells whether a file of that name can be a run log; a name with a dot
// before it is one that is still being written.
func isLog(name string) bool {
	return strings.HasSuffix(name, ".jsonl") && !strings.HasPrefix(name, ".")
}

func fileOf(path string, info fs.FileInfo) logFile {
	return logFile{path: path, size: info.Size(), mtimeNS: info.ModTime().UnixNano()}
}

// read reads logs, as many at a time as there are processors, and hands each on
// to take, one after another. An error of take, or the end of ctx, ends it.
func (x *Index) read(ctx context.Context, files []logFile, told Told, take func(entry) error) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	jobs := make(chan logFile)
	done := make(chan entry)
	go func() {
		defer close(jobs)
		for _, f := range files {
			select {
			case jobs <- f:
			case <-ctx.Done():
				return
			}
		}
	}()
	var workers sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), max(1, len(files))) {
		workers.Go(func() {
			for f := range jobs {
				done <- x.entry(f)
			}
		})
	}
	go func() { workers.Wait(); close(done) }()
	var failed error
	n := 0
	for e := range done {
		n++
		if told != nil {
			told(n, len(files))
		}
		if failed == nil {
			if failed = take(e); failed != nil {
				cancel()
			}
		}
	}
	if failed == nil && n < len(files) {
		failed = ctx.Err()
	}
	return failed
}

// entry reads one log.
func (x *Index) entry(f logFile) entry {
	run, err := readRun(x.File(f.path))
	if err != nil {
		return entry{logFile: f, fault: reason(err)}
	}
	return entry{logFile: f, run: run}
}

// reason gives what is wrong with a log without its folder, so that the index
// says the same wherever the folder lies.
func reason(err error) string {
	var bad *pad.BadInput
	if errors.As(err, &bad) {
		b := *bad
		b.File = filepath.Base(b.File)
		return b.Error()
	}
	return err.Error()
}

// known gives the files as the index has them.
func (x *Index) known(ctx context.Context) (map[string]logFile, error) {
	rows, err := x.db.QueryContext(ctx, "SELECT path, size, mtime_ns FROM logs")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	files := map[string]logFile{}
	for rows.Next() {
		var f logFile
		if err := rows.Scan(&f.path, &f.size, &f.mtimeNS); err != nil {
			return nil, err
		}
		files[f.path] = f
	}
	return files, rows.Err()
}

// put writes what was read, in the place of what was there of these files.
func put(ctx context.Context, tx *sql.Tx, entries []entry) error {
	var names, marks []string
	for _, c := range new(Run).columns() {
		names = append(names, c.name)
		marks = append(marks, "?")
	}
	// A run is known by the content of its log: where it is there, it is the same.
	run, err := tx.PrepareContext(ctx, "INSERT INTO runs ("+strings.Join(names, ",")+") VALUES ("+strings.Join(marks, ",")+") ON CONFLICT DO NOTHING")
	if err != nil {
		return err
	}
	defer run.Close()
	log, err := tx.PrepareContext(ctx, "INSERT OR REPLACE INTO logs (path, size, mtime_ns, run, fault) VALUES (?,?,?,?,?)")
	if err != nil {
		return err
	}
	defer log.Close()
	for i := range entries {
		e := &entries[i]
		id := ""
		if e.run != nil {
			id = e.run.ID
			var values []any
			for _, c := range e.run.columns() {
				values = append(values, c.at)
			}
			if _, err := run.ExecContext(ctx, values...); err != nil {
				return err
			}
		}
		if _, err := log.ExecContext(ctx, e.path, e.size, e.mtimeNS, id, e.fault); err != nil {
			return err
		}
	}
	return drop(ctx, tx)
}

// forget takes files out that are gone.
func (x *Index) forget(ctx context.Context, gone map[string]logFile) error {
	if len(gone) == 0 {
		return nil
	}
	return x.change(ctx, func(tx *sql.Tx) error {
		for path := range gone {
			if _, err := tx.ExecContext(ctx, "DELETE FROM logs WHERE path = ?", path); err != nil {
				return err
			}
		}
		return drop(ctx, tx)
	})
}

// drop takes runs out that no file holds any more.
func drop(ctx context.Context, tx *sql.Tx) error {
	_, err := tx.ExecContext(ctx, "DELETE FROM runs WHERE NOT EXISTS (SELECT 1 FROM logs WHERE logs.run = runs.id)")
	return err
}

// dropReadings takes out what was read of runs that are not there. It is for an index that
// has all runs: one that is being filled anew would lose what it will need.
func dropReadings(ctx context.Context, tx *sql.Tx) error {
	_, err := tx.ExecContext(ctx, "DELETE FROM readings WHERE NOT EXISTS (SELECT 1 FROM runs WHERE runs.id = readings.run)")
	return err
}
