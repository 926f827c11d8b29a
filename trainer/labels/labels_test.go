package labels_test

import (
	"path/filepath"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/footing/pad"
	"heeltoe/footing/read"
	"heeltoe/trainer/labels"
)

// Labels that are written are read again.
func TestWrittenIsRead(t *testing.T) {
	log := filepath.Join(t.TempDir(), "run.jsonl")
	none, err := labels.Read(log)
	if err != nil || len(none.Reps) != 0 {
		t.Fatalf("without a file there are labels %v, %v", none, err)
	}
	rapid.Check(t, func(t *rapid.T) {
		l := labels.Labels{By: rapid.StringN(0, 20, 40).Draw(t, "by"),
			Reps: rapid.SliceOfN(rapid.SampledFrom(append([]string{""}, labels.Words...)), 1, 50).Draw(t, "reps")}
		if err := l.Write(log); err != nil {
			t.Fatal(err)
		}
		got, err := labels.Read(log)
		if err != nil || got.By != l.By || !slices.Equal(got.Reps, l.Reps) {
			t.Fatalf("%+v is read as %+v, %v", l, got, err)
		}
	})
}

func TestWrongLabels(t *testing.T) {
	for _, text := range []string{`reps = ["trot"]`, `reps = [3]`, `whom = "me"`, `by = "x`} {
		if _, err := labels.Parse("x.toml", []byte(text)); !pad.IsBadInput(err) {
			t.Errorf("%s gives %v", text, err)
		}
	}
}

// A small comparison worked by hand.
func TestCompareByHand(t *testing.T) {
	var l labels.Labels
	l.Set(0, 2, 6, "roll")
	l.Set(3, 3, 6, labels.Unsure)
	l.Set(4, 4, 6, "hop")
	c := l.Compare([]string{"roll", "alternate", read.Unclear, "roll", "hop", "hop"}, []float64{.99, .97, .4, .9, .6, .9})
	if c.Sure != 4 || c.Unsure != 1 || c.Right != 2 || c.Unclear != 1 || c.Confident != 2 || c.WrongOfThem != 1 {
		t.Errorf("%+v", c)
	}
	if c.Read[[2]string{"roll", "alternate"}] != 1 || len(c.Read) != 4 {
		t.Errorf("%v", c.Read)
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte("by = \"video\"\nreps = [\"roll\", \"unsure\", \"\"]\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		l, err := labels.Parse("x.toml", text)
		if err != nil {
			if !pad.IsBadInput(err) {
				t.Fatalf("%v is no fault of the input", err)
			}
			return
		}
		for _, w := range l.Reps {
			if w != "" && !slices.Contains(labels.Words, w) {
				t.Fatalf("the label %q got through", w)
			}
		}
	})
}
