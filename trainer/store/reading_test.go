package store_test

import (
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"heeltoe/trainer"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/store"
	"heeltoe/trainer/store/storetest"
	"heeltoe/trainer/view"
)

func asJSON(t testing.TB, r *view.Report) string {
	t.Helper()
	text, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// keep reviews a log and keeps what was read.
func keep(t testing.TB, x *store.Index, file string) *view.Report {
	t.Helper()
	rep, err := practice.Review(file)
	if err == nil {
		err = x.Keep(t.Context(), file, rep)
	}
	if err != nil {
		t.Fatal(err)
	}
	return rep
}

// recalled gives the figures of a log with the reading that is kept, if one is.
func recalled(t testing.TB, x *store.Index, file string) (*view.Report, bool) {
	t.Helper()
	rep, err := practice.Figures(file)
	if err != nil {
		t.Fatal(err)
	}
	kept, err := x.Recall(t.Context(), file, rep)
	if err != nil {
		t.Fatal(err)
	}
	return rep, kept
}

// A reading that is kept gives the report that reading the feet gave, to the last
// figure, of every kind of drill; a rebuild keeps it, and it goes with its run.
func TestReadingsAreKept(t *testing.T) {
	dir, made := archive(t, storetest.Plan{Runs: 8, Presses: 40, MissRate: 0.1,
		Drills: []string{"corner-hook", "stair-ten", "corner-jumps", "switched-centre", "held-corner", "run-five-lower"}})
	x := storetest.Index(t, dir)
	for _, m := range made { // none is in the index yet
		if _, kept := recalled(t, x, m.File); kept {
			t.Fatalf("%s was read before anybody asked", m.File)
		}
		rep := keep(t, x, m.File)
		got, kept := recalled(t, x, m.File)
		if !kept || asJSON(t, got) != asJSON(t, rep) {
			t.Errorf("%s is kept otherwise than it was read", m.File)
		}
	}
	all := storetest.Runs(t, x, store.Filter{})
	for _, r := range all {
		if r.Technique == "" || len(r.Outcomes) != int(r.Reps) || strings.Trim(r.Outcomes, "gbu") != "" || r.Stale {
			t.Errorf("%s is listed as %q, %q of %d reps", r.Log, r.Technique, r.Outcomes, r.Reps)
		}
	}
	if n := len(storetest.Runs(t, x, store.Filter{Unread: true})); n != 0 {
		t.Errorf("%d runs are unread", n)
	}
	before := dump(t, dir)
	if err := x.Rebuild(t.Context(), nil); err != nil {
		t.Fatal(err)
	}
	if dump(t, dir) != before {
		t.Error("rebuilt, the index is another")
	}
	if err := os.Remove(made[0].File); err != nil {
		t.Fatal(err)
	}
	sync(t, x)
	if n := count(t, dir, "SELECT count(*) FROM readings"); n != len(made)-1 {
		t.Errorf("%d readings of %d runs", n, len(made)-1)
	}
	// A log from elsewhere has none, and is not taken in.
	other, rest := archive(t, storetest.Plan{Runs: 1, Presses: 120, Drills: []string{"corner-hook"}})
	if _, kept := recalled(t, x, rest[0].File); kept || store.Holds(dir, rest[0].File) || !store.Holds(other, rest[0].File) {
		t.Error("a log from elsewhere is taken for one of the history")
	}
}

// count asks the index for a number.
func count(t testing.TB, dir, query string, args ...any) (n int) {
	t.Helper()
	db, err := sql.Open("sqlite", filepath.Join(dir, "history.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if err := db.QueryRow(query, args...).Scan(&n); err != nil {
		t.Fatal(err)
	}
	return n
}

// change changes the index behind the program's back.
func change(t testing.TB, dir, statement string, args ...any) {
	t.Helper()
	db, err := sql.Open("sqlite", filepath.Join(dir, "history.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.Exec(statement, args...); err != nil {
		t.Fatal(err)
	}
}

// A reading by another version of the reader, of a log that has changed since, or one
// that is not whole is taken anew, and what is taken is kept.
func TestStaleReadings(t *testing.T) {
	dir, made := archive(t, storetest.Plan{Runs: 1, Presses: 120, Drills: []string{"corner-hook"}})
	file := made[0].File
	x := storetest.Index(t, dir)
	recall := func(what string) *view.Report {
		t.Helper()
		if _, kept := recalled(t, x, file); kept {
			t.Errorf("%s: the reading still counts", what)
		}
		rep, err := practice.RecallIn(t.Context(), x, file)
		if err != nil {
			t.Fatal(err)
		}
		if _, kept := recalled(t, x, file); !kept {
			t.Errorf("%s: what was read again is not kept", what)
		}
		return rep
	}
	first := recall("unread")
	change(t, dir, "UPDATE readings SET reader = ?, technique = 'hop'", trainer.ReaderVersion+1)
	if r := storetest.Runs(t, x, store.Filter{Unread: true}); len(r) != 1 || !r[0].Stale || r[0].Technique != "hop" {
		t.Errorf("of another reader: %+v", r)
	}
	if asJSON(t, recall("of another reader")) != asJSON(t, first) {
		t.Error("read again, it is another")
	}
	if r := storetest.Runs(t, x, store.Filter{}); r[0].Stale || r[0].Technique != first.Run.Technique {
		t.Errorf("read again, it is listed as %+v", r[0])
	}
	change(t, dir, "UPDATE readings SET whole = substr(whole, 1, length(whole) / 2)")
	recall("cut short")
	// The log of a drill that was changed is another run.
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	changed := strings.Replace(string(text), `"technique":"roll"`, `"technique":"alternate"`, 1)
	if changed == string(text) {
		t.Fatal("the drill asks for no roll")
	}
	if err := os.WriteFile(file, []byte(changed), 0o644); err != nil {
		t.Fatal(err)
	}
	later := time.Now().Add(time.Hour)
	if err := os.Chtimes(file, later, later); err != nil {
		t.Fatal(err)
	}
	if r := recall("of a changed drill"); r.Run.Asked != "alternate" || r.Run.Good >= first.Run.Good {
		t.Errorf("of the changed drill %d reps are good, of the first %d", r.Run.Good, first.Run.Good)
	}
	// A run that goes on is not kept as the part of it that was read.
	rep, err := practice.Review(file)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, []byte(changed[:strings.LastIndex(changed[:len(changed)-1], "\n")+1]), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := x.Keep(t.Context(), file, rep); err != nil {
		t.Fatal(err)
	}
	if _, kept := recalled(t, x, file); kept {
		t.Error("a reading of another log is kept")
	}
}

// readingsSum is the SHA-256 of what version trainer.ReaderVersion of the reader makes
// of some runs, with probabilities to two places, by its first 16 digits.
const readingsSum = "b2a3fd403699f6f7"

// The reader reads as the version that it says it is: else readings that were kept would
// be taken for its own.
func TestReaderVersion(t *testing.T) {
	_, made := archive(t, storetest.Plan{Runs: 10, Presses: 60, MissRate: 0.05, ClockSDMS: [2]float64{18, 10}})
	sum := sha256.New()
	for _, m := range made {
		rep, err := practice.Review(m.File)
		if err != nil {
			t.Fatal(err)
		}
		for _, k := range rep.Reps {
			fmt.Fprintf(sum, "%s %.2f %s\n", k.Technique, k.P, k.Outcome)
		}
		for _, l := range rep.Landings {
			fmt.Fprintln(sum, l.Rep, l.Aim, l.Notes, l.Contacts)
		}
	}
	if got := hex.EncodeToString(sum.Sum(nil))[:16]; got != readingsSum {
		t.Errorf("the reader makes something else of these runs than its version %d did: raise trainer.ReaderVersion, and set readingsSum to %q", trainer.ReaderVersion, got)
	}
}

// An index of the first schema is brought up to date, and filled anew.
func TestMigration(t *testing.T) {
	dir, made := archive(t, storetest.Plan{Runs: 4, Presses: 30})
	x := storetest.Index(t, dir)
	sync(t, x)
	want := dump(t, dir)
	if err := x.Close(); err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(filepath.Join(dir, "history.db")); err != nil {
		t.Fatal(err)
	}
	change(t, dir, firstSchema)
	x = storetest.Index(t, dir)
	sync(t, x)
	if got := dump(t, dir); got != want || len(storetest.Runs(t, x, store.Filter{})) != len(made) {
		t.Errorf("brought up to date, the index is\n%s\nnot\n%s", got, want)
	}
}

// firstSchema is that of an index as the program first made it.
const firstSchema = `CREATE TABLE runs (id TEXT PRIMARY KEY, started_us INTEGER,
	drill TEXT NOT NULL, mirror TEXT NOT NULL, name TEXT NOT NULL, layout TEXT NOT NULL,
	bpm REAL NOT NULL, per_beat INTEGER NOT NULL, reps INTEGER NOT NULL, planned INTEGER NOT NULL,
	asked TEXT NOT NULL, footing TEXT NOT NULL, continues INTEGER NOT NULL,
	technique TEXT NOT NULL, technique_p REAL,
	player TEXT NOT NULL, pad TEXT NOT NULL, bar TEXT NOT NULL, shoe_mm INTEGER NOT NULL,
	windows_us TEXT NOT NULL, shift_us INTEGER NOT NULL, debounce_us INTEGER NOT NULL,
	notes INTEGER NOT NULL, inner INTEGER NOT NULL, middle INTEGER NOT NULL, outer INTEGER NOT NULL,
	absent INTEGER NOT NULL, stray INTEGER NOT NULL,
	offset_mean_us REAL, offset_sd_us REAL, offset_median_us REAL, offset_mad_us REAL,
	steadiness REAL, best_shift_us REAL,
	presses INTEGER NOT NULL, merged INTEGER NOT NULL, gaps INTEGER NOT NULL, lost INTEGER NOT NULL,
	ended_us INTEGER) STRICT, WITHOUT ROWID;
	CREATE INDEX runs_drill ON runs (drill);
	CREATE INDEX runs_mirror ON runs (mirror);
	CREATE TABLE logs (path TEXT PRIMARY KEY, size INTEGER NOT NULL, mtime_ns INTEGER NOT NULL,
		run TEXT NOT NULL, fault TEXT NOT NULL) STRICT, WITHOUT ROWID;
	CREATE INDEX logs_run ON logs (run, path);
	INSERT INTO logs VALUES ('gone.jsonl', 1, 1, 'x', '');
	PRAGMA user_version = 1`
