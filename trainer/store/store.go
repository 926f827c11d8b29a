// Package store keeps the history: the folder of run logs, and an index of them
// in SQLite that answers questions without reading them all. The logs are the
// truth. The index holds nothing that cannot be computed from them again, so it
// may be lost, cut short or out of date at any moment: Sync brings it up to date.
package store

import (
	"fmt"
	"path/filepath"
	"time"

	"github.com/adrg/xdg"

	"heeltoe/trainer/filename"
)

// Dir gives the program's folder within the data folder: heeltoe in $XDG_DATA_HOME, or
// where that is unset or not absolute in the system's usual place. It need not exist.
func Dir() string {
	return filename.Folder("XDG_DATA_HOME", xdg.DataHome)
}

// RunsDir gives the folder of run logs within the program's folder.
func RunsDir(dir string) string { return filepath.Join(dir, "runs") }

// Holds tells whether a file lies in the folder of run logs within dir.
func Holds(dir, file string) bool {
	_, ok := within(dir, file)
	return ok
}

// within gives a file's name within the folder of run logs within dir, with slashes;
// false where it is not in there.
func within(dir, file string) (string, bool) {
	whole, err1 := filepath.Abs(file)
	runs, err2 := filepath.Abs(RunsDir(dir))
	if err1 != nil || err2 != nil {
		return "", false
	}
	path, err := filepath.Rel(runs, whole)
	return filepath.ToSlash(path), err == nil && filepath.IsLocal(path)
}

// NewRunPath gives a file name for a run begun at the moment given, in the folder
// of run logs within dir: by year, then date, time and the drill's name in letters
// that every file system takes.
func NewRunPath(dir, drill string, started time.Time) string {
	return filepath.Join(RunsDir(dir), filepath.FromSlash(runName(drill, started)))
}

// runName gives the same within the folder of run logs, with slashes.
func runName(drill string, started time.Time) string {
	t := started.UTC()
	return fmt.Sprintf("%s/%s-%03d-%s.jsonl", t.Format("2006"), t.Format("20060102T150405Z"), t.Nanosecond()/1e6, Slug(drill))
}

// Slug gives the part of a file's name that a drill's name makes.
func Slug(name string) string { return filename.Of(name, "drill") }
