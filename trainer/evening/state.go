package evening

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"

	"github.com/google/renameio/v2"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// stateName is the file in the program's data folder that holds how far an evening has come.
const stateName = "evening.json"

// stateVersion is that of the file's format.
const stateVersion = 1

// mostState is the largest file that is read, in bytes.
const mostState = 4 << 20

// Fresh is how long an evening that was cut off can go on (design value): the next day
// wants a warm-up of its own.
const Fresh = 6 * time.Hour

// State is an evening under way: what was laid out, and what has been played of it.
type State struct {
	Begun time.Time
	Parts []PartState
}

// PartState is a part and how far it has come.
type PartState struct {
	Part
	Begun  time.Time // zero: not yet
	Done   bool      // it is over, whether or not all its reps were played
	Log    string    // file of its run log; empty: none is kept
	Played int64     // reps that were played
}

// NewState begins an evening.
func NewState(e *Evening, begun time.Time) *State {
	s := &State{Begun: begun}
	for _, p := range e.Parts {
		s.Parts = append(s.Parts, PartState{Part: p})
	}
	return s
}

// Next gives the first part that is not done; −1: the evening is over.
func (s *State) Next() int {
	for i := range s.Parts {
		if !s.Parts[i].Done {
			return i
		}
	}
	return -1
}

// Over says that part i is over, and how many of its reps were played. Where it is to go
// on, what is left of it becomes a part of its own that comes next; fewer reps than
// LeastReps are let go.
func (s *State) Over(i int, played int64, goOn bool) error {
	p := &s.Parts[i]
	p.Done, p.Played = true, played
	left := p.Drill.Reps - played
	if !goOn || left < LeastReps {
		return nil
	}
	rest := PartState{Part: Part{Kind: p.Kind}} // the break was its rest
	var err error
	if rest.Drill, err = p.Drill.WithReps(left); err != nil {
		return err
	}
	s.Parts = slices.Insert(s.Parts, i+1, rest)
	return nil
}

// Resume prepares what is left after the evening was cut off: reps gives how many reps of
// a log were played, and the part goes on with the ones that are left.
func (s *State) Resume(reps func(log string) (int64, error)) error {
	i := s.Next()
	if i < 0 || s.Parts[i].Log == "" {
		return nil
	}
	n, err := reps(s.Parts[i].Log)
	if err != nil || n <= 0 {
		return err
	}
	return s.Over(i, min(n, s.Parts[i].Drill.Reps), true)
}

// Touched gives when the evening last went on.
func (s *State) Touched() time.Time {
	t := s.Begun
	for i := range s.Parts {
		if b := s.Parts[i].Begun; b.After(t) {
			t = b
		}
	}
	return t
}

// Landings gives the landings of the reps that were played.
func (s *State) Landings() (n int64) {
	for i := range s.Parts {
		if p := &s.Parts[i]; p.Played > 0 {
			n += p.Played * landings(p.Drill)
		}
	}
	return n
}

// stateFile is a State as it is written.
type stateFile struct {
	Heeltoe string          `json:"heeltoe"` // evening
	Version int             `json:"version"`
	Begun   time.Time       `json:"begun"`
	Parts   []partStateFile `json:"parts"`
}

type partStateFile struct {
	Kind        Kind       `json:"kind"`
	Drill       drill.Spec `json:"drill"`
	RestSeconds float64    `json:"rest_s"`
	Begun       *time.Time `json:"begun,omitempty"`
	Done        bool       `json:"done"`
	Log         string     `json:"log,omitempty"`
	Played      int64      `json:"reps_played"`
}

// Save writes the state into the program's data folder, whole or not at all.
func (s *State) Save(dir string) error {
	f := stateFile{Heeltoe: "evening", Version: stateVersion, Begun: s.Begun}
	for i := range s.Parts {
		p := &s.Parts[i]
		w := partStateFile{Kind: p.Kind, Drill: p.Drill.Spec, RestSeconds: p.Rest.Seconds(), Done: p.Done, Log: p.Log, Played: p.Played}
		if !p.Begun.IsZero() {
			w.Begun = &p.Begun
		}
		f.Parts = append(f.Parts, w)
	}
	text, err := json.MarshalIndent(f, "", "  ")
	if err != nil {
		return err
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	return renameio.WriteFile(filepath.Join(dir, stateName), append(text, '\n'), 0o644)
}

// Load reads the state from the program's data folder; nil where there is none.
// A file that is no state is a *pad.BadInput.
func Load(dir string) (*State, error) {
	file := filepath.Join(dir, stateName)
	info, err := os.Stat(file)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	if info.Size() > mostState {
		return nil, &pad.BadInput{File: file, Msg: fmt.Sprintf("is longer than %d bytes; begin another evening with --anew", mostState)}
	}
	text, err := os.ReadFile(file)
	if err != nil {
		return nil, err
	}
	return parseState(file, text)
}

func parseState(file string, text []byte) (*State, error) {
	fault := func(format string, args ...any) error {
		return &pad.BadInput{File: file, Msg: fmt.Sprintf(format, args...) + "; begin another evening with --anew"}
	}
	var f stateFile
	if err := json.Unmarshal(text, &f); err != nil {
		return nil, fault("is no evening: %v", err)
	}
	if f.Heeltoe != "evening" || f.Version != stateVersion {
		return nil, fault("is no evening of version %d", stateVersion)
	}
	s := &State{Begun: f.Begun}
	for i, w := range f.Parts {
		d, err := drill.New(w.Drill, nil)
		if err != nil {
			return nil, fault("part %d: %v", i+1, err)
		}
		rest := time.Duration(w.RestSeconds * float64(time.Second))
		if w.Kind != WarmUp && w.Kind != Main && w.Kind != Easy || rest < 0 || rest > time.Hour || w.Played < 0 || w.Played > d.Reps {
			return nil, fault("part %d is none", i+1)
		}
		p := PartState{Part: Part{Kind: w.Kind, Drill: d, Rest: rest}, Done: w.Done, Log: w.Log, Played: w.Played}
		if w.Begun != nil {
			p.Begun = *w.Begun
		}
		s.Parts = append(s.Parts, p)
	}
	return s, nil
}

// Forget removes the state: the evening is over.
func Forget(dir string) error {
	if err := os.Remove(filepath.Join(dir, stateName)); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}
