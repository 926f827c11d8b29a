package lesson_test

import (
	"encoding/json"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"heeltoe/footing/pad"
	"heeltoe/trainer/lesson"
)

func homework(t testing.TB) []byte {
	h := lesson.Homework{Heeltoe: "homework", Version: lesson.HomeworkVersion, Given: time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC), Player: "ada",
		Drill: load(t, "corner-hook").Spec, Landing: 2, Exercises: []lesson.Given{{File: "1-slower.toml", BPM: 90, Reps: 12, Sets: 3}},
		Before: lesson.Before{Runs: 4, Landing: []lesson.Trials{{BPM: 110, Good: 7, N: 9}}, Whole: []lesson.Trials{}}}
	text, err := json.Marshal(h)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func write(t testing.TB, text []byte) string {
	file := filepath.Join(t.TempDir(), "homework.json")
	if err := os.WriteFile(file, text, 0o600); err != nil {
		t.Fatal(err)
	}
	return file
}

func TestHomeworkComesBack(t *testing.T) {
	h, d, err := lesson.ReadHomework(write(t, homework(t)))
	if err != nil {
		t.Fatal(err)
	}
	if h.Player != "ada" || d.Spec.Footing != load(t, "corner-hook").Spec.Footing || len(lesson.Played(h.Before.Landing)) != 1 {
		t.Errorf("%+v", h)
	}
	if got := lesson.TrialsOf(lesson.Played(h.Before.Landing)); !reflect.DeepEqual(got, h.Before.Landing) {
		t.Errorf("%v", got)
	}
	good := string(homework(t))
	for what, text := range map[string]string{
		"nothing":              "",
		"another format":       `{"heeltoe":"run","version":1}`,
		"another version":      strings.Replace(good, `"version":1`, `"version":2`, 1),
		"an unknown key":       strings.Replace(good, `"given"`, `"gave":1,"given"`, 1),
		"no such landing":      strings.Replace(good, `"landing":2`, `"landing":4`, 1),
		"a drill that is none": strings.Replace(good, `"bpm":110,"per_beat"`, `"bpm":0,"per_beat"`, 1),
		"more good than reps":  strings.Replace(good, `"good":7`, `"good":70`, 1),
	} {
		if _, _, err := lesson.ReadHomework(write(t, []byte(text))); !pad.IsBadInput(err) {
			t.Errorf("%s: %v", what, err)
		}
	}
	if _, _, err := lesson.ReadHomework(filepath.Join(t.TempDir(), "none.json")); !pad.IsBadInput(err) {
		t.Errorf("no file: %v", err)
	}
}

// FuzzReadHomework: whatever the file holds, it is read or bad input.
func FuzzReadHomework(f *testing.F) {
	f.Add(homework(f))
	f.Add([]byte(`{"heeltoe":"homework","version":1}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		h, d, err := lesson.ReadHomework(write(t, text))
		switch {
		case err != nil && (!pad.IsBadInput(err) || h != nil || d != nil):
			t.Fatalf("%v", err)
		case err == nil && (h == nil || d == nil || len(d.Notes) == 0):
			t.Fatalf("%+v, %+v", h, d)
		}
	})
}
