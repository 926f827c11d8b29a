package evening_test

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"heeltoe/footing/pad"
	"heeltoe/trainer/evening"
)

func begun(t testing.TB) *evening.State {
	e, err := evening.New(options(t, 900, "corner-hook", "square-walk"))
	if err != nil {
		t.Fatal(err)
	}
	return evening.NewState(e, time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC))
}

// What was kept of an evening comes back, and is gone once it is over.
func TestStateComesBack(t *testing.T) {
	dir := t.TempDir()
	if s, err := evening.Load(dir); s != nil || err != nil {
		t.Fatalf("of none: %v, %v", s, err)
	}
	s := begun(t)
	s.Parts[0].Done, s.Parts[0].Played, s.Parts[0].Begun, s.Parts[0].Log = true, s.Parts[0].Drill.Reps, s.Begun, "a.jsonl"
	if err := s.Save(dir); err != nil {
		t.Fatal(err)
	}
	got, err := evening.Load(dir)
	if err != nil {
		t.Fatal(err)
	}
	if got.Next() != 1 || len(got.Parts) != len(s.Parts) || !got.Begun.Equal(s.Begun) || got.Landings() != s.Landings() || got.Landings() == 0 {
		t.Errorf("%+v", got)
	}
	for i := range s.Parts {
		a, b := &s.Parts[i], &got.Parts[i]
		if a.Kind != b.Kind || a.Rest != b.Rest || a.Part.Landings() != b.Part.Landings() || a.Drill.BPM != b.Drill.BPM || a.Log != b.Log || a.Done != b.Done || !a.Begun.Equal(b.Begun) {
			t.Errorf("part %d: %+v became %+v", i+1, a, b)
		}
	}
	if err := errors.Join(evening.Forget(dir), evening.Forget(dir)); err != nil {
		t.Fatal(err)
	}
	if s, err := evening.Load(dir); s != nil || err != nil {
		t.Errorf("forgotten: %v, %v", s, err)
	}
}

// After a cut the part goes on with the reps that are left, by its log.
func TestResume(t *testing.T) {
	for _, c := range []struct {
		name   string
		played int64 // of 10
		parts  int   // more than before
		next   int
		left   int64
	}{{"nothing yet", 0, 0, 1, 10}, {"some", 4, 1, 2, 6}, {"all but one", 9, 0, 2, 0}, {"all", 10, 0, 2, 0}} {
		s := begun(t)
		n := len(s.Parts)
		d, err := s.Parts[1].Drill.WithReps(10)
		if err != nil {
			t.Fatal(err)
		}
		s.Parts[1].Drill = d
		s.Parts[0].Done = true
		s.Parts[1].Begun, s.Parts[1].Log = s.Begun, "b.jsonl"
		if err := s.Resume(func(log string) (int64, error) {
			if log != "b.jsonl" {
				t.Errorf("%s: asked for %q", c.name, log)
			}
			return c.played, nil
		}); err != nil {
			t.Fatal(err)
		}
		if got := s.Next(); got != c.next || len(s.Parts) != n+c.parts || c.left > 0 && s.Parts[got].Drill.Reps != c.left {
			t.Errorf("%s: next %d of %d parts", c.name, got, len(s.Parts))
		}
		if s.Parts[1].Played != c.played {
			t.Errorf("%s: %d reps played", c.name, s.Parts[1].Played)
		}
	}
	s := begun(t)
	s.Parts[0].Begun, s.Parts[0].Log = s.Begun, "gone.jsonl"
	if err := s.Resume(func(string) (int64, error) { return 0, os.ErrNotExist }); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a log that is gone: %v", err)
	}
}

// A file that is no evening is bad input that says what to do, whatever it holds.
func TestLoadRefuses(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "evening.json")
	for _, text := range []string{"", "{", `{}`, `{"heeltoe":"evening","version":2}`, `{"heeltoe":"run","version":1}`,
		`{"heeltoe":"evening","version":1,"parts":[{"kind":"drill"}]}`,
		`{"heeltoe":"evening","version":1,"parts":[{"kind":"x","drill":{"name":"a","layout":"single","bpm":100,"per_beat":1,"reps":2,"steps":"c"}}]}`,
		`{"heeltoe":"evening","version":1,"parts":[{"kind":"drill","rest_s":-1,"drill":{"name":"a","layout":"single","bpm":100,"per_beat":1,"reps":2,"steps":"c"}}]}`,
	} {
		if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		if s, err := evening.Load(dir); !pad.IsBadInput(err) {
			t.Errorf("%q: %v, %v", text, s, err)
		}
	}
}

// FuzzLoad: whatever is in the file, it is read or refused, and what is read is kept the same.
func FuzzLoad(f *testing.F) {
	dir := f.TempDir()
	if err := begun(f).Save(dir); err != nil {
		f.Fatal(err)
	}
	text, err := os.ReadFile(filepath.Join(dir, "evening.json"))
	if err != nil {
		f.Fatal(err)
	}
	f.Add(text)
	f.Add([]byte(`{"heeltoe":"evening","version":1}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		dir := t.TempDir()
		if err := os.WriteFile(filepath.Join(dir, "evening.json"), text, 0o600); err != nil {
			t.Fatal(err)
		}
		s, err := evening.Load(dir)
		if err != nil {
			if s != nil || !pad.IsBadInput(err) {
				t.Fatalf("%v, %v", s, err)
			}
			return
		}
		if s.Begun.Year() < 0 || s.Begun.Year() > 9999 {
			return // JSON has no such year
		}
		if err := s.Save(dir); err != nil {
			t.Fatal(err)
		}
		again, err := evening.Load(dir)
		if err != nil || len(again.Parts) != len(s.Parts) || again.Next() != s.Next() || again.Landings() != s.Landings() {
			t.Fatalf("%v: %+v became %+v", err, s, again)
		}
	})
}
