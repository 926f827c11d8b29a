package store_test

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"heeltoe/trainer/store"
	"heeltoe/trainer/store/storetest"
)

func read(t testing.TB, file string) []byte {
	t.Helper()
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func write(t testing.TB, file string, text []byte) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, text, 0o644); err != nil {
		t.Fatal(err)
	}
}

func merge(t testing.TB, x *store.Index, from string) store.Imported {
	t.Helper()
	sync(t, x)
	done, err := x.Import(t.Context(), from, nil)
	if err != nil {
		t.Fatal(err)
	}
	return *done
}

// Two machines that share some runs are merged: each run once, in both orders
// the same, and a second time nothing changes.
func TestImportMerges(t *testing.T) {
	plan := storetest.Plan{Runs: 30, Presses: 30, Weeks: 2, Drills: []string{"corner-hook", "stair-ten"}, Players: []string{"ada", "ben"}}
	_, made := archive(t, plan)
	one, two := t.TempDir(), t.TempDir()
	for i, m := range made {
		if i < 20 {
			write(t, filepath.Join(one, "runs", "2026", filepath.Base(m.File)), read(t, m.File))
		}
		if i >= 10 {
			write(t, filepath.Join(two, "runs", "elsewhere", "x"+filepath.Base(m.File)), read(t, m.File))
		}
	}
	x, y := storetest.Index(t, one), storetest.Index(t, two)
	if got := merge(t, x, filepath.Join(two, "runs")); got.Taken != 10 || got.Known != 10 || got.Longer != 0 || len(got.Faults) != 0 {
		t.Errorf("merged: %+v", got)
	}
	if got := merge(t, y, filepath.Join(one, "runs")); got.Taken != 10 || got.Known != 20 {
		t.Errorf("merged the other way: %+v", got)
	}
	if got := merge(t, x, filepath.Join(two, "runs")); got.Taken != 0 || got.Known != 30 {
		t.Errorf("merged again: %+v", got)
	}
	a, b := storetest.Runs(t, x, store.Filter{}), storetest.Runs(t, y, store.Filter{})
	if len(a) != 30 || len(b) != 30 {
		t.Fatalf("%d and %d runs", len(a), len(b))
	}
	for i := range a {
		if a[i].ID != b[i].ID {
			t.Errorf("run %d differs", i)
		}
		if !bytes.Equal(read(t, filepath.Join(one, "runs", filepath.FromSlash(a[i].Log))), read(t, made[i].File)) {
			t.Errorf("the log of run %d is not what it was", i)
		}
	}
	if got := storetest.Runs(t, x, store.Filter{Player: "ben"}); len(got) != 14 {
		t.Errorf("ben has %d runs", len(got)) // every second round of two drills
	}
	if got := storetest.Runs(t, x, store.Filter{ID: a[3].ID[:12]}); len(got) != 1 || got[0].ID != a[3].ID {
		t.Errorf("by its id: %+v", got)
	}
}

// A copy taken in the middle of a run is the same run: the longer one stays,
// whichever comes first. Runs that only began at one moment are two.
func TestImportKnowsBeginnings(t *testing.T) {
	_, made := archive(t, storetest.Plan{Runs: 1, Presses: 40, Weeks: 1, Drills: []string{"corner-hook"}})
	whole := read(t, made[0].File)
	half := whole[:len(whole)/2] // in the middle of a line
	// Closed after a pause, the header has fewer reps; the edges are the same.
	closed := bytes.Replace(half[:bytes.LastIndexByte(half, '\n')+1], []byte(`"reps":8`), []byte(`"reps":4`), 1)
	if bytes.Equal(closed, half) {
		t.Fatal("the header is not as it was thought")
	}
	another := []byte(strings.NewReplacer(`"panel":"c"`, `"panel":"ne"`, `"panel":"ne"`, `"panel":"c"`).Replace(string(whole)))
	dir := t.TempDir()
	x := storetest.Index(t, dir)
	from := t.TempDir()
	for i, c := range []struct {
		name string
		text []byte
		want store.Imported
	}{
		{"half", half, store.Imported{Taken: 1}},
		{"closed", closed, store.Imported{Known: 1}},
		{"whole", whole, store.Imported{Longer: 1}},
		{"half again", half, store.Imported{Known: 1}},
		{"another", another, store.Imported{Taken: 1}},
	} {
		file := filepath.Join(from, c.name+".jsonl")
		write(t, file, c.text)
		got := merge(t, x, file)
		if len(got.Faults) > 0 {
			t.Fatalf("%s: %v", c.name, got.Faults)
		}
		if got.Taken != c.want.Taken || got.Known != c.want.Known || got.Longer != c.want.Longer {
			t.Errorf("%d, %s: %+v, want %+v", i, c.name, got, c.want)
		}
	}
	got := storetest.Runs(t, x, store.Filter{})
	if len(got) != 2 || got[0].Log == got[1].Log {
		t.Fatalf("there are %d runs", len(got))
	}
}

// What cannot be read is named and left; logs without a date are taken too.
func TestImportFaults(t *testing.T) {
	_, made := archive(t, storetest.Plan{Runs: 1, Presses: 10, Weeks: 1, Drills: []string{"corner-hook"}})
	text := read(t, made[0].File)
	i, j := bytes.Index(text, []byte(`"started":`)), 0
	j = i + bytes.IndexByte(text[i:], ',') + 1
	undated := append(bytes.Clone(text[:i]), text[j:]...)
	from := t.TempDir()
	write(t, filepath.Join(from, "deep", "er", "undated.jsonl"), undated)
	write(t, filepath.Join(from, "reports.jsonl"), []byte(`{"heeltoe":"reports","version":1}`+"\n"))
	write(t, filepath.Join(from, "picture.png"), []byte("x"))
	write(t, filepath.Join(from, ".half-copied.jsonl"), text)
	dir := t.TempDir()
	x := storetest.Index(t, dir)
	got := merge(t, x, from)
	if got.Taken != 1 || len(got.Faults) != 1 || !strings.Contains(got.Faults[0].Why, "run") || filepath.Base(got.Faults[0].Log) != "reports.jsonl" {
		t.Errorf("%+v", got)
	}
	if r := storetest.Runs(t, x, store.Filter{}); len(r) != 1 || !r[0].Started.IsZero() || !strings.HasPrefix(r[0].Log, "undated/corner-hook-") {
		t.Errorf("%+v", r)
	}
	if _, err := x.Import(t.Context(), filepath.Join(from, "none"), nil); err == nil {
		t.Error("a folder that is not there is imported")
	}
}
