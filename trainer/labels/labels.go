// Package labels keeps what an observer saw of a run: a teacher, or somebody with a
// video, says for each rep which technique it was. What a player meant is not what
// the feet did, so the player's own word is no label. A file of labels lies beside
// the run log whose name it has, and is shared with it.
package labels

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"slices"
	"strings"

	"github.com/google/renameio/v2"
	"github.com/pelletier/go-toml/v2"

	"heeltoe/footing/read"
	"heeltoe/judge/drill"
	"heeltoe/judge/drill/tomldoc"
)

// Unsure is the label of a rep that was looked at and could not be told. A rep
// that was not looked at has the empty label.
const Unsure = "unsure"

// Words are all labels that a rep can have.
var Words = append(slices.Clone(read.Labels), Unsure)

// Labels are an observer's labels of a run.
type Labels struct {
	By   string   `toml:"by"`   // who or what they come from, such as teacher or video
	Reps []string `toml:"reps"` // one for each rep, of Words or empty
}

// maxBy is the longest name of an observer, in bytes.
const maxBy = 200

// Path gives the file of the labels of the run log given.
func Path(log string) string { return strings.TrimSuffix(log, ".jsonl") + ".labels.toml" }

// Parse reads labels; file stands for them in messages. Faults are *pad.BadInput.
func Parse(file string, text []byte) (*Labels, error) {
	var l Labels
	doc, err := tomldoc.Decode(file, text, &l)
	if err != nil {
		return nil, err
	}
	switch {
	case len(l.By) > maxBy:
		return nil, doc.Errorf("by", "takes at most %d bytes", maxBy)
	case len(l.Reps) > drill.MaxReps:
		return nil, doc.Errorf("reps", "has labels of %d reps, more than a run can have", len(l.Reps))
	}
	for i, w := range l.Reps {
		if w != "" && !slices.Contains(Words, w) {
			return nil, doc.Errorf("reps", "the label of rep %d is %q, none of %s", i+1, w, strings.Join(Words, ", "))
		}
	}
	return &l, nil
}

// Read reads the labels of a run log. Without a file there are none, and no fault.
func Read(log string) (*Labels, error) {
	file := Path(log)
	if _, err := os.Stat(file); errors.Is(err, fs.ErrNotExist) {
		return &Labels{}, nil
	}
	text, err := tomldoc.ReadFile(file, tomldoc.MaxBytes)
	if err != nil {
		return nil, err
	}
	return Parse(file, text)
}

// Write keeps the labels of a run log.
func (l *Labels) Write(log string) error {
	text, err := toml.Marshal(l)
	if err != nil {
		return err
	}
	if err := renameio.WriteFile(Path(log), text, 0o644); err != nil {
		return fmt.Errorf("the labels cannot be written: %w", err)
	}
	return nil
}

// Set labels the reps from one to another, counted from 0, of a run of so many.
func (l *Labels) Set(from, to, reps int, word string) {
	for len(l.Reps) < reps {
		l.Reps = append(l.Reps, "")
	}
	for i := from; i <= to; i++ {
		l.Reps[i] = word
	}
}

// Check compares a reading with labels.
type Check struct {
	Sure, Unsure int               // reps with a label, and those that the observer was unsure of
	Right        int               // of the sure ones
	Unclear      int               // of the sure ones, those that the reading left unclear
	Confident    int               // of the sure ones, those read with p ≥ 0.95
	WrongOfThem  int               // and of these, those that were read wrong
	Read         map[[2]string]int // by label and reading
}

// Compare compares the techniques that reps were read as, and their probabilities, with the labels.
func (l *Labels) Compare(techniques []string, p []float64) Check {
	c := Check{Read: make(map[[2]string]int)}
	for i, w := range l.Reps {
		switch {
		case i >= len(techniques) || w == "":
			continue
		case w == Unsure:
			c.Unsure++
			continue
		}
		c.Sure++
		c.Read[[2]string{w, techniques[i]}]++
		right := techniques[i] == w
		if right {
			c.Right++
		}
		if techniques[i] == read.Unclear {
			c.Unclear++
		}
		if p[i] >= .95 {
			c.Confident++
			if !right {
				c.WrongOfThem++
			}
		}
	}
	return c
}
