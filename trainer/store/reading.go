package store

import (
	"bytes"
	"compress/flate"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"os"
	"slices"
	"strings"

	"heeltoe/trainer"
	"heeltoe/trainer/view"
)

// Keep keeps what the feet did in the run of a log in the folder of run logs, as its
// reviewed report says, so that it need not be read again. Where the log is not that run
// any more, since a run that goes on writes to it, nothing is kept.
func (x *Index) Keep(ctx context.Context, file string, r *view.Report) error {
	log, err := x.current(ctx, file)
	if log == nil || err != nil {
		return x.fault(err)
	}
	if slices.ContainsFunc(r.Reps, func(k view.Rep) bool { return k.Outcome == "" }) {
		return nil // its feet were not read
	}
	whole, err := pack(trainer.ReadingOf(r))
	if err != nil {
		return err
	}
	ended := r.Summary.Ended
	_, err = x.db.ExecContext(ctx, `INSERT OR REPLACE INTO readings (run, reader, technique, technique_p, outcomes, whole)
		SELECT id, ?, ?, ?, ?, ? FROM runs WHERE id = (SELECT run FROM logs WHERE path = ?) AND presses = ? AND ended_us IS ?`,
		trainer.ReaderVersion, r.Run.Technique, (*number)(&r.Run.P), outcomes(r), whole, log.path, r.Summary.Presses, (*moment)(&ended))
	return x.fault(err)
}

// Recall puts what is kept of the feet of a log's run into its figures. It is false
// where nothing is kept, or by another version of the reader.
func (x *Index) Recall(ctx context.Context, file string, r *view.Report) (bool, error) {
	log, err := x.current(ctx, file)
	if log == nil || err != nil {
		return false, x.fault(err)
	}
	var whole []byte
	err = x.db.QueryRowContext(ctx, "SELECT whole FROM readings WHERE run = (SELECT run FROM logs WHERE path = ?) AND reader = ?",
		log.path, trainer.ReaderVersion).Scan(&whole)
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	if err != nil {
		return false, x.fault(err)
	}
	g, err := unpack(whole)
	// A reading that is no longer whole is taken anew, like one that is not there.
	return err == nil && g.Into(r) == nil, nil
}

// current gives a log as the index has it, once it has it as the file is; nil where it
// is not in the folder of run logs.
func (x *Index) current(ctx context.Context, file string) (*logFile, error) {
	path, ok := within(x.dir, file)
	if !ok {
		return nil, nil
	}
	info, err := os.Stat(file)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	want, got := fileOf(path, info), logFile{path: path}
	err = x.db.QueryRowContext(ctx, "SELECT size, mtime_ns FROM logs WHERE path = ?", path).Scan(&got.size, &got.mtimeNS)
	if err == nil && got == want {
		return &got, nil
	}
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return nil, err
	}
	return &want, x.Add(ctx, file)
}

// letters are how outcomes are kept.
var letters = map[view.Outcome]byte{view.Good: 'g', view.Bad: 'b', view.Unclear: 'u'}

// outcomes gives a letter for each rep that was begun.
func outcomes(r *view.Report) string {
	var b strings.Builder
	for i := range r.Reps[:min(len(r.Reps), r.Summary.RepsBegun)] {
		b.WriteByte(letters[r.Reps[i].Outcome])
	}
	return b.String()
}

// pack writes a reading as compressed JSON (RFC 1951), some 15 bytes a note.
func pack(g *trainer.Reading) ([]byte, error) {
	var b bytes.Buffer
	w, err := flate.NewWriter(&b, flate.BestSpeed)
	if err != nil {
		return nil, err
	}
	if err := errors.Join(json.NewEncoder(w).Encode(g), w.Close()); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

func unpack(whole []byte) (*trainer.Reading, error) {
	text, err := io.ReadAll(flate.NewReader(bytes.NewReader(whole)))
	if err != nil {
		return nil, err
	}
	var g trainer.Reading
	return &g, json.Unmarshal(text, &g)
}
