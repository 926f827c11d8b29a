package live

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"time"

	"github.com/google/renameio/v2/maybe"

	"heeltoe/footing/pad"
	"heeltoe/input/record"
)

// FlushEvery is how long an edge waits at most before it is handed to the system.
const FlushEvery = 20 * time.Millisecond

// Log writes a run log while the run goes on. Write puts an edge into memory
// and never waits; another goroutine hands whole lines to the system every
// FlushEvery, so that a killed process leaves a whole file. What the disk does
// not take is kept and tried again.
type Log struct {
	path   string
	header record.Header

	mu   sync.Mutex // guards w
	w    *record.LogWriter
	idle []byte // for the writing goroutine

	mark *mark
	file *os.File
	rest []byte // not taken by the disk yet
	err  error  // why, or nil
	errs chan error
	full chan chan struct{}
	stop chan struct{}
	done chan struct{}
}

// Create makes the log file, which must not exist, and writes the header.
func Create(path string, h record.Header) (*Log, error) {
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return nil, err
	}
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return nil, err
	}
	m, err := takeMark(path + markSuffix)
	if err != nil {
		f.Close()
		os.Remove(path)
		return nil, err
	}
	w, err := record.NewLogWriter(io.Discard, h)
	if err == nil {
		_, err = f.Write(w.Take(nil))
	}
	if err != nil {
		f.Close()
		os.Remove(path)
		m.remove()
		return nil, err
	}
	l := &Log{path: path, header: h, w: w, mark: m, file: f, errs: make(chan error, 1),
		full: make(chan chan struct{}), stop: make(chan struct{}), done: make(chan struct{})}
	go l.run()
	return l, nil
}

// Path gives the file's name.
func (l *Log) Path() string { return l.path }

// Write takes an edge. It does not allocate once its buffers have grown.
func (l *Log) Write(e pad.Edge) {
	l.mu.Lock()
	// The panel is of the drill's layout, so the writer takes it.
	_ = l.w.Write(e)
	l.mu.Unlock()
}

// Relieve waits until what was written is handed on, where there is much of it.
// It is for a run that goes faster than real time; a live loop does not wait.
func (l *Log) Relieve() {
	l.mu.Lock()
	much := l.w.Buffered() > 1<<16
	l.mu.Unlock()
	if much {
		ack := make(chan struct{})
		l.full <- ack
		<-ack
	}
}

// Errors gives the first trouble in writing, as it happens.
func (l *Log) Errors() <-chan error { return l.errs }

func (l *Log) run() {
	defer close(l.done)
	tick := time.NewTicker(FlushEvery)
	defer tick.Stop()
	synced := time.Now()
	dirty, told := false, false
	for {
		select {
		case <-tick.C:
		case ack := <-l.full:
			dirty = l.flush() || dirty
			close(ack)
			continue
		case <-l.stop:
			l.flush()
			return
		}
		dirty = l.flush() || dirty
		if dirty && time.Since(synced) > time.Second {
			_ = l.file.Sync() // what fails here fails again at the end, where it is told
			synced, dirty = time.Now(), false
			if l.gone() && !told {
				told = true
				l.trouble(errGone)
			}
		}
	}
}

// flush hands on what waits and tells whether there was any.
func (l *Log) flush() bool {
	l.mu.Lock()
	l.idle = l.w.Take(l.idle)
	l.mu.Unlock()
	// After trouble new lines wait behind the rest, in order.
	l.rest = append(l.rest, l.idle...)
	if len(l.rest) == 0 {
		return false
	}
	n, err := l.file.Write(l.rest)
	l.rest = l.rest[:copy(l.rest, l.rest[n:])]
	if err != nil && l.err == nil {
		l.trouble(err)
	}
	l.err = err
	return true
}

// trouble tells of what went wrong, where nothing before it waits to be told.
func (l *Log) trouble(err error) {
	select {
	case l.errs <- err:
	default:
	}
}

// errGone is told while a run goes on.
var errGone = errors.New("the file or its folder was removed; it is written anew when the run is over")

// gone tells whether the log was removed or replaced while it is written.
func (l *Log) gone() bool {
	now, err := os.Stat(l.path)
	if err != nil {
		return errors.Is(err, fs.ErrNotExist)
	}
	ours, err := l.file.Stat()
	return err == nil && !os.SameFile(now, ours)
}

// again writes a log that was removed anew: the open file still has all of it.
func (l *Log) again() error {
	info, err := l.file.Stat()
	if err != nil {
		return err
	}
	text := make([]byte, info.Size())
	if _, err := l.file.ReadAt(text, 0); err != nil {
		return err
	}
	if _, err := os.Stat(l.path); err == nil {
		l.rest = text
		return errors.New("another file has taken its place")
	}
	err = os.MkdirAll(filepath.Dir(l.path), 0o755)
	if err == nil {
		err = maybe.WriteFile(l.path, text, 0o644)
	}
	if err != nil {
		l.rest = text // for the caller to keep elsewhere
	}
	return err
}

// Close ends the log. begun is the number of reps that were begun: where it is
// less than the drill has, the header is written again with that number, since
// the rest was never played; the edges stay as they are.
func (l *Log) Close(begun int64) error {
	close(l.stop)
	<-l.done
	defer l.mark.remove()
	err := l.err
	if e := l.file.Sync(); err == nil {
		err = e
	}
	if err == nil && l.gone() {
		err = l.again()
	}
	if e := l.file.Close(); err == nil {
		err = e
	}
	if err != nil {
		return fmt.Errorf("the run log %s is not whole: %w", l.path, err)
	}
	if begun < l.header.Drill.Reps {
		return l.shorten(max(begun, 1))
	}
	return nil
}

// Unwritten gives the lines that the disk did not take. Call it after Close.
func (l *Log) Unwritten() []byte { return l.rest }

// shorten writes the file anew with fewer reps in its header, whole or not at all.
func (l *Log) shorten(reps int64) error {
	text, err := os.ReadFile(l.path)
	if err != nil {
		return err
	}
	w, err := record.NewLogWriter(io.Discard, shorter(l.header, reps))
	if err != nil {
		return err
	}
	_, edges, _ := bytes.Cut(text, []byte{'\n'})
	return maybe.WriteFile(l.path, append(w.Take(nil), edges...), 0o644)
}
