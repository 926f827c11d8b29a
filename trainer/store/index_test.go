package store_test

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"heeltoe/trainer/drills"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/store"
	"heeltoe/trainer/store/storetest"
)

var monday = time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC)

// archive makes a data folder with runs in it.
func archive(t testing.TB, p storetest.Plan) (dir string, made []storetest.Made) {
	t.Helper()
	dir = t.TempDir()
	p.Dir, p.From = filepath.Join(dir, "runs"), monday
	made, err := p.Make()
	if err != nil {
		t.Fatal(err)
	}
	return dir, made
}

func sync(t testing.TB, x *store.Index) {
	t.Helper()
	if err := x.Sync(t.Context(), nil); err != nil {
		t.Fatal(err)
	}
}

// dump gives all that an index holds, as text.
func dump(t testing.TB, dir string) string {
	t.Helper()
	db, err := sql.Open("sqlite", filepath.Join(dir, "history.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	var b strings.Builder
	for _, q := range []string{"SELECT * FROM logs ORDER BY path", "SELECT * FROM runs ORDER BY id", "SELECT * FROM readings ORDER BY run"} {
		rows, err := db.Query(q)
		if err != nil {
			t.Fatal(err)
		}
		names, _ := rows.Columns()
		at := make([]any, len(names))
		for i := range at {
			at[i] = new(any)
		}
		for rows.Next() {
			if err := rows.Scan(at...); err != nil {
				t.Fatal(err)
			}
			for i, v := range at {
				fmt.Fprintf(&b, "%s=%v ", names[i], *v.(*any))
			}
			b.WriteByte('\n')
		}
		if err := rows.Err(); err != nil {
			t.Fatal(err)
		}
	}
	return b.String()
}

// The figures of the index are those of the review of each log, whole runs of every drill.
func TestFiguresAreTheReviews(t *testing.T) {
	dir, made := archive(t, storetest.Plan{Runs: 2 * len(drills.List()), Presses: 60, Weeks: 2, MissRate: 0.05})
	x := storetest.Index(t, dir)
	sync(t, x)
	got := storetest.Runs(t, x, store.Filter{})
	if len(got) != len(made) {
		t.Fatalf("%d runs of %d are in the index", len(got), len(made))
	}
	for i, r := range got {
		m := made[i]
		want, err := practice.Figures(m.File)
		if err != nil {
			t.Fatal(err)
		}
		s := want.Summary
		if r.Counts != s.Counts || r.Offset != s.Offset || r.Steadiness != s.Steadiness || r.BestShiftUS != s.BestShift || r.Presses != s.Presses ||
			r.EndedUS != s.Ended || int(r.Reps) != s.RepsBegun || r.Presses != m.Presses {
			t.Errorf("%s: the index has\n%+v\nthe review\n%+v", m.File, r, s)
		}
		if !r.Started.Equal(m.Header.Started) || r.Name != m.Header.Drill.Name || r.BPM != m.Header.Drill.BPM || r.ShoeMM != 290 || r.Bar != "none" ||
			filepath.Join(dir, "runs", filepath.FromSlash(r.Log)) != m.File {
			t.Errorf("%s is kept as %+v", m.File, r)
		}
	}
}

// However the index came about, it is the same: log by log, in one go, rebuilt, or
// made anew after it was damaged.
func TestRebuiltEqualsItself(t *testing.T) {
	dir, made := archive(t, storetest.Plan{Runs: 40, Presses: 40, Weeks: 4, Drills: []string{"corner-hook", "stair-ten", "run-five-lower"}})
	if err := os.WriteFile(filepath.Join(dir, "runs", "broken.jsonl"), []byte("{\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	x := storetest.Index(t, dir)
	for _, m := range made {
		if err := x.Add(t.Context(), m.File); err != nil {
			t.Fatal(err)
		}
	}
	sync(t, x) // finds the broken one
	want := dump(t, dir)
	if n := strings.Count(want, "\n"); n != 81 {
		t.Fatalf("the index has %d lines", n)
	}
	check := func(how string) {
		t.Helper()
		if got := dump(t, dir); got != want {
			t.Errorf("%s the index differs:\n%.2000s\nfrom\n%.2000s", how, got, want)
		}
	}
	sync(t, x)
	check("synced again")
	for range 2 {
		if err := x.Rebuild(t.Context(), nil); err != nil {
			t.Fatal(err)
		}
		check("rebuilt")
	}
	x.Close()
	os.Remove(filepath.Join(dir, "history.db"))
	x = storetest.Index(t, dir)
	sync(t, x)
	check("made anew")
	x.Close()
	// Damaged, from its head on or in the middle.
	file := filepath.Join(dir, "history.db")
	whole, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	for name, damage := range map[string]func([]byte) []byte{
		"no database": func(b []byte) []byte { return []byte(strings.Repeat("not a database. ", 400)) },
		"cut short":   func(b []byte) []byte { return b[:len(b)/2] },
		"overwritten": func(b []byte) []byte {
			for i := 4096; i < len(b); i++ {
				b[i] = byte(i * 7)
			}
			return b
		},
		"empty": func(b []byte) []byte { return nil },
	} {
		if err := os.WriteFile(file, damage(slices.Clone(whole)), 0o644); err != nil {
			t.Fatal(err)
		}
		x := storetest.Index(t, dir)
		sync(t, x)
		check(name + ", then made anew,")
		x.Close()
	}
}

// The C library of SQLite, as Python brings it along, finds the index whole and
// reads the same figures (the program's own SQLite is a translation).
func TestIndexIsPlainSQLite(t *testing.T) {
	dir, _ := archive(t, storetest.Plan{Runs: 20, Presses: 40, Weeks: 1, MissRate: 0.1})
	x := storetest.Index(t, dir)
	sync(t, x)
	const script = `
import json, sqlite3, sys
db = sqlite3.connect("file:%s?mode=ro" % sys.argv[1], uri=True)
print(json.dumps([db.execute("PRAGMA integrity_check").fetchall(),
                  db.execute("SELECT id, notes, inner, absent, steadiness FROM runs ORDER BY started_us").fetchall()]))`
	python, err := exec.LookPath("python3")
	if err != nil {
		if os.Getenv("HEELTOE_STRICT") != "" {
			t.Fatal("python3 is missing; make test installs it")
		}
		t.Skip("not run: python3 is missing; make test installs it")
	}
	out, err := exec.Command(python, "-c", script, filepath.Join(dir, "history.db")).CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	var want []any
	for _, r := range storetest.Runs(t, x, store.Filter{}) {
		want = append(want, []any{r.ID, r.Notes, r.Inner, r.Absent, float64(r.Steadiness)})
	}
	text, err := json.Marshal([]any{[]any{[]any{"ok"}}, want})
	if err != nil {
		t.Fatal(err)
	}
	var a, b any
	if json.Unmarshal(out, &a) != nil || json.Unmarshal(text, &b) != nil || !reflect.DeepEqual(a, b) {
		t.Errorf("SQLite says\n%s\nthe index\n%s", out, text)
	}
}

// Logs that change, come, go and are copied are followed.
func TestSyncFollowsTheFolder(t *testing.T) {
	dir, made := archive(t, storetest.Plan{Runs: 6, Presses: 40, Weeks: 1, Drills: []string{"corner-hook"}})
	x := storetest.Index(t, dir)
	sync(t, x)
	text, err := os.ReadFile(made[0].File)
	if err != nil {
		t.Fatal(err)
	}
	// A copy is the same run; the run stays while one of the two does.
	other := filepath.Join(dir, "runs", "copy.jsonl")
	if err := os.WriteFile(other, text, 0o644); err != nil {
		t.Fatal(err)
	}
	sync(t, x)
	if got := storetest.Runs(t, x, store.Filter{}); len(got) != 6 {
		t.Errorf("with a copy there are %d runs", len(got))
	}
	if err := os.Remove(made[0].File); err != nil {
		t.Fatal(err)
	}
	sync(t, x)
	if got := storetest.Runs(t, x, store.Filter{}); len(got) != 6 || got[0].Log != "copy.jsonl" {
		t.Errorf("of two copies one is gone: %d runs, the first in %s", len(got), got[0].Log)
	}
	if err := os.Remove(other); err != nil {
		t.Fatal(err)
	}
	// A log that still grows is read as far as it is, and again when it has grown.
	half := text[:len(text)/2]
	if err := os.WriteFile(made[0].File, half, 0o644); err != nil {
		t.Fatal(err)
	}
	sync(t, x)
	got := storetest.Runs(t, x, store.Filter{})
	if len(got) != 6 || got[0].Reps >= got[0].Planned || got[0].Absent > 0 {
		t.Errorf("half a run has %d of %d reps, %d notes absent", got[0].Reps, got[0].Planned, got[0].Absent)
	}
	if err := os.WriteFile(made[0].File, text, 0o644); err != nil {
		t.Fatal(err)
	}
	sync(t, x)
	if got := storetest.Runs(t, x, store.Filter{}); len(got) != 6 || got[0].Reps != got[0].Planned {
		t.Errorf("the whole run has %d of %d reps", got[0].Reps, got[0].Planned)
	}
	// What is no run log is named, and nothing else suffers.
	if err := os.WriteFile(filepath.Join(dir, "runs", "notes.jsonl"), []byte(`{"heeltoe":"run"}`+"\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	sync(t, x)
	faults, err := x.Faults(t.Context())
	if err != nil || len(faults) != 1 || faults[0].Log != "notes.jsonl" || !strings.Contains(faults[0].Why, "version") {
		t.Errorf("faults are %v, %v", faults, err)
	}
	if err := os.RemoveAll(filepath.Join(dir, "runs")); err != nil {
		t.Fatal(err)
	}
	sync(t, x)
	if got := storetest.Runs(t, x, store.Filter{}); len(got) != 0 {
		t.Errorf("%d runs of no log", len(got))
	}
}

// A second process reads what was there before, at once, while one writes.
func TestReaderBesideWriter(t *testing.T) {
	dir, _ := archive(t, storetest.Plan{Runs: 5, Presses: 20, Weeks: 1, Drills: []string{"corner-hook"}})
	x := storetest.Index(t, dir)
	sync(t, x)
	writer, err := sql.Open("sqlite", "file:"+filepath.Join(dir, "history.db")+"?_txlock=immediate")
	if err != nil {
		t.Fatal(err)
	}
	defer writer.Close()
	tx, err := writer.Begin()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := tx.Exec("DELETE FROM runs"); err != nil {
		t.Fatal(err)
	}
	began := time.Now()
	reader := storetest.Index(t, dir)
	if got := storetest.Runs(t, reader, store.Filter{}); len(got) != 5 {
		t.Errorf("beside a writer %d runs are read", len(got))
	}
	if d := time.Since(began); d > 2*time.Second {
		t.Errorf("reading waited for the writer, %v", d)
	}
	// Another writer waits, as long as it is given.
	ctx, cancel := context.WithTimeout(t.Context(), 300*time.Millisecond)
	defer cancel()
	if err := reader.Rebuild(ctx, nil); err == nil {
		t.Error("two write at once")
	}
	if err := tx.Commit(); err != nil {
		t.Fatal(err)
	}
	if err := reader.Rebuild(t.Context(), nil); err != nil {
		t.Error(err)
	}
	if got := storetest.Runs(t, x, store.Filter{}); len(got) != 5 {
		t.Errorf("afterwards there are %d runs", len(got))
	}
}

// An index of a later version is left alone, with what to do.
func TestLaterVersionIsRefused(t *testing.T) {
	dir := t.TempDir()
	storetest.Index(t, dir).Close()
	db, err := sql.Open("sqlite", filepath.Join(dir, "history.db"))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec("PRAGMA user_version = 1000"); err != nil {
		t.Fatal(err)
	}
	db.Close()
	if _, err := store.Open(t.Context(), dir); err == nil || !strings.Contains(err.Error(), "later version") {
		t.Errorf("got %v", err)
	}
}

// Broken off, a sync keeps what it has and is taken up again.
func TestSyncIsTakenUpAgain(t *testing.T) {
	dir, _ := archive(t, storetest.Plan{Runs: 600, Presses: 5, Weeks: 1, Drills: []string{"corner-hook"}})
	x := storetest.Index(t, dir)
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	err := x.Sync(ctx, func(done, of int) {
		if done == 300 {
			cancel()
		}
	})
	if err == nil {
		t.Error("a sync that was broken off says that it is done")
	}
	some := len(storetest.Runs(t, x, store.Filter{}))
	if some == 0 || some == 600 {
		t.Errorf("%d runs are kept", some)
	}
	reads := 0
	if err := x.Sync(t.Context(), func(_, of int) { reads = of }); err != nil {
		t.Fatal(err)
	}
	if n := len(storetest.Runs(t, x, store.Filter{})); n != 600 || reads != 600-some {
		t.Errorf("then %d runs; %d were read", n, reads)
	}
}

// A disk that is full, or a folder that cannot be written, is said in words that
// help, and the logs are as they were. A full disk is made of a small one; root
// alone may mount it.
func TestNoRoom(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(file, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := store.Open(t.Context(), filepath.Join(file, "heeltoe")); err == nil || !strings.Contains(err.Error(), "the history's index") {
		t.Errorf("a folder that cannot be: %v", err)
	}
	dir := t.TempDir()
	if out, err := exec.Command("mount", "-t", "tmpfs", "-o", "size=1500k", "none", dir).CombinedOutput(); err != nil {
		t.Skipf("the full disk: not run: mounting takes root: %s", bytes.TrimSpace(out))
	}
	defer exec.Command("umount", dir).Run()
	p := storetest.Plan{Dir: filepath.Join(dir, "runs"), From: monday, Runs: 60, Presses: 100, Weeks: 1, Drills: []string{"corner-hook"}}
	if _, err := p.Make(); err != nil {
		t.Fatal(err)
	}
	fill, err := os.Create(filepath.Join(dir, "fill"))
	if err != nil {
		t.Fatal(err)
	}
	defer fill.Close()
	for {
		if _, err := fill.Write(make([]byte, 4096)); err != nil {
			break
		}
	}
	x, err := store.Open(t.Context(), dir)
	if err == nil {
		err = x.Sync(t.Context(), nil)
		x.Close()
	}
	if err == nil || !strings.Contains(err.Error(), "full") && !strings.Contains(err.Error(), "writable") {
		t.Errorf("on a full disk: %v", err)
	}
	if err := os.Truncate(filepath.Join(dir, "fill"), 0); err != nil {
		t.Fatal(err)
	}
	x = storetest.Index(t, dir)
	sync(t, x)
	if n := len(storetest.Runs(t, x, store.Filter{})); n != 60 {
		t.Errorf("with room again there are %d runs of 60", n)
	}
	x.Close()
}
