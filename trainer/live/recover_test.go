package live_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"heeltoe/footing/pad"
	"heeltoe/input/record"
	"heeltoe/trainer/live"
)

// A run that goes on is left alone; one that was cut off is closed with the reps
// that were begun, once, and its edges are kept.
func TestRecover(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "runs", "2026")
	going, cut := filepath.Join(dir, "going.jsonl"), filepath.Join(dir, "cut.jsonl")
	d := short(t, 50)
	log, err := live.Create(going, logHeader(d))
	if err != nil {
		t.Fatal(err)
	}
	// What a killed process leaves: a log with a line that is not whole, and a mark that nobody holds.
	var b strings.Builder
	w, err := record.NewLogWriter(&b, logHeader(d))
	if err != nil {
		t.Fatal(err)
	}
	grid := d.Grid(pad.Second)
	edges := []pad.Edge{{T: grid.Due(0, 0), Panel: 1, Kind: pad.Down}, {T: grid.Due(0, 1), Panel: 1}, {T: grid.Due(6, 0) + 1, Panel: 2, Kind: pad.Down}}
	for _, e := range edges {
		if err := w.Write(e); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Flush(); err != nil {
		t.Fatal(err)
	}
	for file, text := range map[string]string{cut: b.String() + `{"t":99`, cut + ".playing": "", filepath.Join(dir, "none.jsonl.playing"): ""} {
		if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	found, err := live.Recover(filepath.Dir(dir))
	if err != nil || len(found) != 1 || found[0].Path != cut || found[0].Begun != 7 || found[0].Reps != 50 || found[0].Edges != 3 || found[0].Reason != nil {
		t.Fatalf("found %+v, %v", found, err)
	}
	if s := found[0].String(); !strings.Contains(s, "rep 7 of 50") || !strings.Contains(s, "heeltoe review "+cut) {
		t.Errorf("it says %q", s)
	}
	l, err := record.ReadLog(cut)
	if err != nil || len(l.Warnings) > 0 || l.Drill.Reps != 7 || len(l.Edges) != 3 {
		t.Errorf("closed as %+v, %v", l, err)
	}
	if again, err := live.Recover(filepath.Dir(dir)); err != nil || len(again) != 0 {
		t.Errorf("then found %+v, %v", again, err)
	}
	if err := log.Close(d.Reps); err != nil {
		t.Error(err)
	}
	if marks, _ := filepath.Glob(filepath.Join(dir, "*.playing")); len(marks) != 0 {
		t.Errorf("marks are left: %v", marks)
	}
	if none, err := live.Recover(filepath.Join(dir, "not there")); err != nil || len(none) != 0 {
		t.Errorf("of no folder: %v, %v", none, err)
	}
}

// A log whose folder is removed while it is written is there again at the end;
// where another file has taken its place, all of it can be kept elsewhere.
func TestRemovedLogIsWrittenAnew(t *testing.T) {
	for _, taken := range []bool{false, true} {
		path := filepath.Join(t.TempDir(), "runs", "run.jsonl")
		d := short(t, 2)
		log, err := live.Create(path, logHeader(d))
		if err != nil {
			t.Fatal(err)
		}
		log.Write(pad.Edge{T: 1, Panel: 1, Kind: pad.Down})
		if err := os.RemoveAll(filepath.Dir(path)); err != nil {
			t.Fatal(err)
		}
		if taken {
			if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(path, []byte("mine"), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		log.Write(pad.Edge{T: 2, Panel: 1})
		if err := <-log.Errors(); !strings.Contains(err.Error(), "removed") {
			t.Errorf("told of %v", err)
		}
		err = log.Close(d.Reps)
		text := log.Unwritten()
		if !taken {
			text, _ = os.ReadFile(path)
		}
		if (err != nil) != taken || strings.Count(string(text), "\n") != 3 {
			t.Errorf("taken %v: %v, %q", taken, err, text)
		}
	}
}
