package lesson

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"time"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
	"heeltoe/trainer/success"
)

// Homework is what a pupil takes home, and what the comparison later starts from. It is
// written as JSON.
type Homework struct {
	Heeltoe   string     `json:"heeltoe"` // homework
	Version   int        `json:"version"` // HomeworkVersion
	Given     time.Time  `json:"given"`
	Player    string     `json:"player"`
	Drill     drill.Spec `json:"drill"`   // with the footing that names the landings
	Landing   int        `json:"landing"` // that breaks first, from 0
	Name      string     `json:"landing_name"`
	First     float64    `json:"first_p"` // probability that it is the first to break
	Exercises []Given    `json:"exercises"`
	Before    Before     `json:"before"`
}

// Given is an exercise of a Homework.
type Given struct {
	File string  `json:"file"` // drill file beside the homework
	Name string  `json:"name"`
	Why  string  `json:"why"`
	BPM  float64 `json:"bpm"`
	Reps int64   `json:"reps"`
	Sets int     `json:"sets"`
}

// Before is how the reps went until the lesson.
type Before struct {
	Runs    int      `json:"runs"`
	Landing []Trials `json:"landing"`
	Whole   []Trials `json:"whole"`
}

// Trials are reps at one tempo as a Homework has them.
type Trials struct {
	BPM  float64 `json:"bpm"`
	Good int     `json:"good"`
	N    int     `json:"n"`
}

// HomeworkVersion is that of the format.
const HomeworkVersion = 1

// mostHomework is the largest file that is read, in bytes.
const mostHomework = 1 << 20

// TrialsOf gives trials as a Homework has them.
func TrialsOf(all []success.Trials) []Trials {
	out := []Trials{}
	for _, t := range all {
		out = append(out, Trials(t))
	}
	return out
}

// Played gives trials of a Homework as they are compared.
func Played(all []Trials) []success.Trials {
	var out []success.Trials
	for _, t := range all {
		out = append(out, success.Trials(t))
	}
	return out
}

// ReadHomework reads a homework file and gives it with its drill. Faults are
// *pad.BadInput.
func ReadHomework(file string) (*Homework, *drill.Drill, error) {
	info, err := os.Stat(file)
	if err != nil {
		return nil, nil, pad.FileFault(file, "opened", err)
	}
	if info.Size() > mostHomework {
		return nil, nil, &pad.BadInput{File: file, Msg: fmt.Sprintf("is longer than %d bytes: it is no homework", mostHomework)}
	}
	text, err := os.ReadFile(file)
	if err != nil {
		return nil, nil, pad.FileFault(file, "read", err)
	}
	return parseHomework(file, text)
}

func parseHomework(file string, text []byte) (*Homework, *drill.Drill, error) {
	fault := func(format string, args ...any) (*Homework, *drill.Drill, error) {
		return nil, nil, &pad.BadInput{File: file, Msg: fmt.Sprintf(format, args...)}
	}
	var h Homework
	dec := json.NewDecoder(bytes.NewReader(text))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&h); err != nil {
		return fault("is no homework: %v", err)
	}
	if h.Heeltoe != "homework" || h.Version != HomeworkVersion {
		return fault("is no homework of version %d; heeltoe lesson give writes one", HomeworkVersion)
	}
	d, err := drill.New(h.Drill, nil)
	if err != nil {
		return fault("its drill: %v", err)
	}
	if h.Landing < 0 || h.Landing >= len(landings(d)) {
		return fault("its drill has no landing %d: its footing has %d", h.Landing, len(landings(d)))
	}
	for _, t := range append(h.Before.Landing, h.Before.Whole...) {
		if !(t.BPM >= drill.MinBPM && t.BPM <= drill.MaxBPM) || t.Good < 0 || t.N < t.Good || t.N > drill.MaxNotes {
			return fault("%d of %d good reps at %g beats a minute cannot be", t.Good, t.N, t.BPM)
		}
	}
	return &h, d, nil
}
