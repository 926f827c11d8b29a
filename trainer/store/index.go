package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	"modernc.org/sqlite" // the driver, a translation of SQLite's C code
	sqlite3 "modernc.org/sqlite/lib"
)

// indexName is the index's file in the program's data folder.
const indexName = "history.db"

// busyMS is how long a process waits for another that writes the index.
const busyMS = 10_000

// Index is the index of a folder of run logs. It is safe for use by several
// goroutines, and its file by several processes: one writes while others read.
type Index struct {
	dir  string // the program's data folder
	file string
	db   *sql.DB
}

// Open opens the index in the program's data folder dir, or makes it. An index
// that is damaged is made anew, since nothing is lost by it. What Open gives is as
// it was left: Sync brings it up to date with the logs.
func Open(ctx context.Context, dir string) (*Index, error) {
	x := &Index{dir: dir, file: filepath.Join(dir, indexName)}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, x.fault(err)
	}
	err := x.open(ctx)
	if damaged(err) {
		if err = x.discard(); err == nil {
			err = x.open(ctx)
		}
	}
	if err != nil {
		return nil, x.fault(err)
	}
	return x, nil
}

// Close lets go of the index's file.
func (x *Index) Close() error { return x.db.Close() }

// File gives the file of a log that the index names.
func (x *Index) File(log string) string { return filepath.Join(x.runs(), filepath.FromSlash(log)) }

func (x *Index) runs() string { return RunsDir(x.dir) }

func (x *Index) open(ctx context.Context) error {
	path, err := filepath.Abs(x.file)
	if err != nil {
		return err
	}
	pragmas := url.Values{"_txlock": {"immediate"}, "_pragma": {
		fmt.Sprintf("busy_timeout(%d)", busyMS), "journal_mode(WAL)", "synchronous(NORMAL)"}}
	dsn := url.URL{Scheme: "file", Path: filepath.ToSlash(path), RawQuery: pragmas.Encode()}
	if x.db, err = sql.Open("sqlite", dsn.String()); err != nil {
		return err
	}
	if err := x.migrate(ctx); err != nil {
		return errors.Join(err, x.db.Close())
	}
	return nil
}

// migrate brings the schema up to date, each step whole or not at all.
func (x *Index) migrate(ctx context.Context) error {
	var version int
	if err := x.db.QueryRowContext(ctx, "PRAGMA user_version").Scan(&version); err != nil {
		return err
	}
	if version > len(migrations) {
		return fmt.Errorf("it was made by a later version of the program (schema %d, this one knows %d): use that one, or remove the file, which is made anew from the logs", version, len(migrations))
	}
	for version < len(migrations) {
		err := x.change(ctx, func(tx *sql.Tx) error {
			// Another process may have come first.
			if err := tx.QueryRowContext(ctx, "PRAGMA user_version").Scan(&version); err != nil || version >= len(migrations) {
				return err
			}
			if _, err := tx.ExecContext(ctx, migrations[version]); err != nil {
				return err
			}
			version++
			_, err := tx.ExecContext(ctx, fmt.Sprintf("PRAGMA user_version = %d", version))
			return err
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// change runs f in a transaction.
func (x *Index) change(ctx context.Context, f func(*sql.Tx) error) error {
	tx, err := x.db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	if err := f(tx); err != nil {
		return errors.Join(err, tx.Rollback())
	}
	return tx.Commit()
}

// discard removes a damaged index.
func (x *Index) discard() error {
	for _, end := range []string{"", "-wal", "-shm"} {
		if err := os.Remove(x.file + end); err != nil && !errors.Is(err, os.ErrNotExist) {
			return err
		}
	}
	return nil
}

// code gives SQLite's primary result code of err, or 0.
func code(err error) int {
	var e *sqlite.Error
	if errors.As(err, &e) {
		return e.Code() & 0xff // the rest is the extended code
	}
	return 0
}

// damaged tells whether err says that the file is no whole index.
func damaged(err error) bool {
	c := code(err)
	return c == sqlite3.SQLITE_NOTADB || c == sqlite3.SQLITE_CORRUPT
}

// fault says what is wrong with the index, and what to do.
func (x *Index) fault(err error) error {
	if err == nil || errors.Is(err, context.Canceled) || strings.HasPrefix(err.Error(), faultHead) {
		return err
	}
	advice := ""
	switch code(err) {
	case sqlite3.SQLITE_FULL:
		advice = "; the disk is full: make room and try again; no run is lost, the logs are whole"
	case sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_IOERR:
		advice = "; make its folder writable, or name another data folder with XDG_DATA_HOME"
	case sqlite3.SQLITE_BUSY:
		advice = "; another heeltoe is writing it: try again when that one is done"
	}
	return fmt.Errorf("%s %s: %w%s", faultHead, x.file, err, advice)
}

const faultHead = "the history's index"
