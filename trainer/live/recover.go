package live

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/google/renameio/v2/maybe"

	"heeltoe/input/record"
)

// While a log is written a mark lies beside it: a file of the log's name with
// this after it, which the writing process holds locked. The system lets go of
// the lock when the process ends, in whatever way, so a mark that nobody holds is
// that of a run that was cut off.
const markSuffix = ".playing"

// Recovered is a run that was cut off, by a kill, a crash or a power cut, and
// has been closed now.
type Recovered struct {
	Path   string
	Edges  int
	Begun  int64 // reps begun
	Reps   int64 // of those planned
	Reason error // why it could not be closed, or nil
}

func (r *Recovered) String() string {
	if r.Reason != nil {
		return fmt.Sprintf("A run was cut off, and its log cannot be closed: %v", r.Reason)
	}
	return fmt.Sprintf("A run was cut off in rep %d of %d; its %d edges are kept. heeltoe review %s judges what was played.",
		r.Begun, r.Reps, r.Edges, r.Path)
}

// Recover looks through a folder and those in it for logs of runs that were cut
// off, and closes each: a last line that is not whole is taken off, and the header
// gets the number of reps that were begun. A run that goes on is left alone.
func Recover(dir string) ([]Recovered, error) {
	var out []Recovered
	err := filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		switch {
		case err != nil && errors.Is(err, fs.ErrNotExist):
			return nil
		case err != nil:
			return err
		case e.IsDir() || !strings.HasSuffix(path, markSuffix):
			return nil
		}
		m, err := takeMark(path)
		if err != nil {
			return nil // somebody holds it: that run goes on
		}
		r := Recovered{Path: strings.TrimSuffix(path, markSuffix)}
		if _, err := os.Stat(r.Path); !errors.Is(err, fs.ErrNotExist) {
			r.Reason = r.close()
			out = append(out, r)
		}
		m.remove()
		return nil
	})
	return out, err
}

// close closes the log.
func (r *Recovered) close() error {
	l, err := record.ReadLog(r.Path)
	if err != nil {
		return err
	}
	r.Edges, r.Reps = len(l.Edges), l.Drill.Reps
	if len(l.Edges) > 0 {
		last := l.Edges[len(l.Edges)-1].T
		grid := l.Drill.Grid(l.Header.Lead)
		for r.Begun < r.Reps && grid.Due(r.Begun, 0) <= last {
			r.Begun++
		}
	}
	var b strings.Builder
	w, err := record.NewLogWriter(&b, shorter(l.Header, max(r.Begun, 1)))
	if err != nil {
		return err
	}
	for _, e := range l.Edges {
		if err := w.Write(e); err != nil {
			return err
		}
	}
	if err := w.Flush(); err != nil {
		return err
	}
	return maybe.WriteFile(r.Path, []byte(b.String()), 0o644)
}

// shorter gives a header with fewer reps than were planned; it says how many those were.
func shorter(h record.Header, reps int64) record.Header {
	if reps >= h.Drill.Reps {
		return h
	}
	h.Extra = append(append([]record.Member(nil), h.Extra...),
		record.Member{Key: "planned_reps", Value: fmt.Appendf(nil, "%d", h.Drill.Reps)})
	h.Drill.Reps = reps
	return h
}

// mark is the mark of a log that this process writes.
type mark struct{ f *os.File }

// takeMark makes the mark, or takes over one that nobody holds.
func takeMark(path string) (*mark, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return nil, err
	}
	if err := lock(f); err != nil {
		f.Close()
		return nil, err
	}
	return &mark{f}, nil
}

// remove takes the mark away.
func (m *mark) remove() {
	// Where it stays, the next start finds a run that is closed already, and says so.
	_ = os.Remove(m.f.Name())
	m.f.Close()
}
