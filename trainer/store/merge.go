package store

import (
	"bytes"
	"context"
	"errors"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/google/renameio/v2"

	"heeltoe/footing/pad"
)

// Imported is what an import came to.
type Imported struct {
	Taken  int // logs that were new here
	Known  int // that were here already, or are the beginning of one that is
	Longer int // that took the place of their own beginning
	Faults []Fault
}

// Import copies the run logs at from, a file or a folder with all below it, into
// the folder of run logs, unless they are here already: by their content, or as the
// beginning of a longer log of the same run, which a copy taken in the middle of a
// run is. Of two such the longer one stays. What cannot be read is left where it is.
// Call Sync before. A kill leaves every log whole; another import finishes the work.
func (x *Index) Import(ctx context.Context, from string, told Told) (*Imported, error) {
	files, err := sources(from)
	if err != nil {
		return nil, err
	}
	have, err := x.Runs(ctx, Filter{})
	if err != nil {
		return nil, err
	}
	m := &merge{x: x, byID: map[string]bool{}, byStart: map[string][]Run{}}
	for _, r := range have {
		m.know(r)
	}
	var done Imported
	for i, f := range files {
		if err := ctx.Err(); err != nil {
			return &done, err
		}
		if err := m.take(f, &done); err != nil {
			return &done, err
		}
		if told != nil {
			told(i+1, len(files))
		}
	}
	return &done, x.Sync(ctx, nil)
}

// sources gives the files at from that can be run logs.
func sources(from string) ([]string, error) {
	info, err := os.Stat(from)
	if err != nil {
		return nil, pad.FileFault(from, "opened", err)
	}
	if !info.IsDir() {
		return []string{from}, nil
	}
	var files []string
	err = filepath.WalkDir(from, func(file string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() && isLog(d.Name()) {
			files = append(files, file)
		}
		return err
	})
	if err != nil {
		return nil, pad.FileFault(from, "read", err)
	}
	return files, nil
}

// merge is an import that goes on.
type merge struct {
	x       *Index
	byID    map[string]bool
	byStart map[string][]Run // runs that may be the same: begun at one moment, of one drill
}

// same gives the key under which runs are found that may be one; empty for a run
// that is not dated.
func same(r *Run) string {
	if r.Started.IsZero() {
		return ""
	}
	return strconv.FormatInt(r.Started.UnixMicro(), 10) + r.Drill
}

func (m *merge) know(r Run) {
	m.byID[r.ID] = true
	if k := same(&r); k != "" {
		m.byStart[k] = append(m.byStart[k], r)
	}
}

// take imports one file.
func (m *merge) take(file string, done *Imported) error {
	r, err := readRun(file)
	if err != nil {
		done.Faults = append(done.Faults, Fault{file, reason(err)})
		return nil
	}
	if m.byID[r.ID] {
		done.Known++
		return nil
	}
	text, err := os.ReadFile(file)
	if err != nil {
		return pad.FileFault(file, "read", err)
	}
	alike := m.byStart[same(r)]
	for i := range alike {
		old := &alike[i]
		was, err := os.ReadFile(m.x.File(old.Log))
		if err != nil {
			return pad.FileFault(m.x.File(old.Log), "read", err)
		}
		switch {
		case bytes.HasPrefix(edges(was), edges(text)):
			done.Known++
			return nil
		case bytes.HasPrefix(edges(text), edges(was)):
			if err := m.write(old.Log, text); err != nil {
				return err
			}
			done.Longer++
			delete(m.byID, old.ID)
			m.byID[r.ID] = true
			old.ID = r.ID
			return nil
		}
	}
	if r.Log, err = m.free(r); err != nil {
		return err
	}
	if err := m.write(r.Log, text); err != nil {
		return err
	}
	done.Taken++
	m.know(*r)
	return nil
}

// edges gives the whole lines of a log after its header.
func edges(log []byte) []byte {
	_, rest, _ := bytes.Cut(log, []byte{'\n'})
	return rest[:bytes.LastIndexByte(rest, '\n')+1]
}

// free gives a name for a log that no file has.
func (m *merge) free(r *Run) (string, error) {
	name := runName(r.Name, r.Started)
	if r.Started.IsZero() {
		name = path.Join("undated", Slug(r.Name)+"-"+r.ID[:8]+".jsonl")
	}
	stem := strings.TrimSuffix(name, ".jsonl")
	for n := 2; ; n++ {
		_, err := os.Lstat(m.x.File(name))
		if errors.Is(err, fs.ErrNotExist) {
			return name, nil
		}
		if err != nil {
			return "", err
		}
		name = stem + "-" + strconv.Itoa(n) + ".jsonl"
	}
}

// write writes a log, whole or not at all.
func (m *merge) write(log string, text []byte) error {
	file := m.x.File(log)
	if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
		return err
	}
	return renameio.WriteFile(file, text, 0o644)
}
